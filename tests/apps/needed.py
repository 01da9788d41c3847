"""A program that a test needs and that is not installed: the test is left out here, and fails in CI."""

from __future__ import annotations

import os
from pathlib import Path
from typing import NoReturn

import pytest

from tests.apps.locate import find_tool


def missing(what: str) -> NoReturn:
    """Skip the test, saying what is missing; fail it where CI is "true", as all programs must be there."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"{what} is not installed, and a run in CI must not leave its tests out")
    pytest.skip(f"{what} is not installed")


def needed_tool(name: str) -> Path:
    """The command-line program of that name, for a test that cannot do without."""
    return find_tool(name) or missing(name)
