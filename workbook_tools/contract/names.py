"""How spreadsheets name things: cells, sheets and ranges."""

from __future__ import annotations

import re

LONGEST_SHEET_NAME = 31
TOKEN_NAME = "field_book_token"
"""The workbook-level name that holds a field book's token, beside the identity block and the core title."""
_ADDRESS = re.compile(r"\s*\$?([A-Za-z]{1,3})\$?([1-9][0-9]{0,6})\s*")


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


def row_and_column(address: str) -> tuple[int, int] | None:
    """The 0-based row and column of an address such as "C7"; None when it is none."""
    found = _ADDRESS.fullmatch(address)
    if not found:
        return None
    column = 0
    for letter in found[1].upper():
        column = column * 26 + ord(letter) - ord("A") + 1
    return int(found[2]) - 1, column - 1


def sheet_name(text: str) -> str:
    """A sheet name from words: at most 31 characters, none of those that are not allowed, and not `History`,
    which one spreadsheet program keeps for itself.
    """
    name = re.sub(r"[:\\/?*\[\]]+", " ", text).strip("' ")[:LONGEST_SHEET_NAME] or "Sheet"
    return f"{name}." if name.casefold() == "history" else name


def quoted(sheet: str) -> str:
    """A sheet name as formulas write it."""
    return "'" + sheet.replace("'", "''") + "'"
