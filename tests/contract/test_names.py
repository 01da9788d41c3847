"""Names of sheets and cells are legal in every spreadsheet program."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.contract.names import a1, column_letters, sheet_name


@pytest.mark.parametrize(
    ("column", "letters"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA"), (16383, "XFD")]
)
def test_columns_have_the_letters_people_read(column: int, letters: str) -> None:
    """16,384 columns end at XFD (Excel specifications and limits)."""
    assert column_letters(column) == letters
    assert a1(6, column) == f"{letters}7"


@pytest.mark.parametrize("text", ["History", "HISTORY", "'History'"])
def test_a_reserved_name_is_not_used(text: str) -> None:
    """One program refuses a sheet named History (secondary sources; not in its published limits)."""
    assert sheet_name(text).casefold() != "history"


@given(st.text())
def test_any_text_gives_a_legal_sheet_name(text: str) -> None:
    """1 to 31 characters, none of : \\ / ? * [ ], no apostrophe at either end."""
    name = sheet_name(text)
    assert 1 <= len(name) <= 31
    assert not set(name) & set(":\\/?*[]")
    assert not name.startswith("'")
