"""Benchmarks, run by hand: `python -m tests.speed`. Every figure is a ratio measured in one run; nothing here is timed
by the test suite.
"""
