"""The small program of tests/small_program.py, taken in once, and what a roll-up is made of."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.apps.conftest import office
from tests.small_program import (
    ALL_AS_PLANNED,
    GOOD_VISIT,
    SECOND_STORE,
    SECOND_VISIT,
    THIRD_STORE,
    THIRD_VISIT,
    WORDS,
    fill_in,
    issued_folder,
)
from workbook_tools.folder import ProgramFolder
from workbook_tools.returns.intake import Intake, take_in
from workbook_tools.rollup.merge import Facts, merge

__all__ = ["office"]

AS_OF = dt.date(2026, 3, 5)
"""A day inside the small program's window of 2 to 8 March."""


@pytest.fixture(scope="session")
def intake(tmp_path_factory: pytest.TempPathFactory) -> Intake:
    """Three stores' returns: one all right, one with seventeen flags, one to correct."""
    folder, books = issued_folder(tmp_path_factory.mktemp("small"))
    fill_in(books["001"], folder.returns / "1 first.xlsx", GOOD_VISIT, ALL_AS_PLANNED)
    fill_in(books["002"], folder.returns / "2 second.xlsx", SECOND_VISIT, SECOND_STORE, [("P2", "missing", 1)])
    fill_in(books["003"], folder.returns / "3 third.xlsx", THIRD_VISIT, THIRD_STORE)
    return take_in(folder, [folder.returns], WORDS)


@pytest.fixture(scope="session")
def facts(intake: Intake) -> Facts:
    """What those returns say, on a day inside the window."""
    return merge(intake, AS_OF)


@pytest.fixture
def folder(tmp_path: Path) -> ProgramFolder:
    """A program folder without a roll-up yet."""
    return ProgramFolder(tmp_path / "small")
