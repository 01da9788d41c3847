"""How spreadsheets name things: cells, sheets and ranges."""

from __future__ import annotations

import re

LONGEST_SHEET_NAME = 31


def column_letters(column: int) -> str:
    """The letters of a 0-based column: 0 → "A", 26 → "AA"."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def a1(row: int, column: int) -> str:
    """A cell's address as people read it ("C7") from its 0-based row and column."""
    return f"{column_letters(column)}{row + 1}"


def sheet_name(text: str) -> str:
    """A sheet name from words: at most 31 characters and none of those that are not allowed."""
    return re.sub(r"[:\\/?*\[\]]+", " ", text).strip("' ")[:LONGEST_SHEET_NAME] or "Sheet"


def quoted(sheet: str) -> str:
    """A sheet name as formulas write it."""
    return "'" + sheet.replace("'", "''") + "'"
