"""Flat drawings of the demo's items and building steps."""
