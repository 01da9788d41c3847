"""The tests; a package, so that helper modules are imported as `tests.…` from the repository's root."""
