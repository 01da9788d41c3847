"""Plain tables as CSV that a double click opens right: UTF-8 with a byte-order mark, RFC 4180 quoting and line ends.

A text that a spreadsheet program would take for a formula gets an apostrophe in front (OWASP, CSV injection); numbers
stay numbers.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Iterable, Mapping, Sequence

BYTE_ORDER_MARK = "\ufeff"
_FIRST_OF_FORMULAS = frozenset("'=+-@\t\r\n")
"""Nothing else begins what the pattern finds, and looking here first takes a third of the time."""
_STARTS_A_FORMULA = re.compile(r"'*[=+\-@\t\r\n]")
"""Behind apostrophes too, so that one in front of any such text can be taken away again and no other is."""


def csv_bytes(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> bytes:
    """A whole table: its heading and its rows, by column."""
    body = csv_lines([row.get(column) for column in columns] for row in rows)
    return f"{BYTE_ORDER_MARK}{csv_lines([columns])}{body}".encode("utf-8", "replace")


def csv_lines(rows: Iterable[Iterable[object]]) -> str:
    """Rows as lines of CSV, without a heading."""
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\r\n").writerows([_plain(value) for value in row] for row in rows)
    return text.getvalue()


def text_meant(cell: str) -> str:
    """What a cell read back says: the text without the apostrophe that kept it from being a formula."""
    return cell[1:] if cell.startswith("'") and _STARTS_A_FORMULA.match(cell) else cell


def _plain(value: object) -> object:
    if isinstance(value, str):
        return f"'{value}" if value[:1] in _FIRST_OF_FORMULAS and _STARTS_A_FORMULA.match(value) else value
    if value is None:
        return ""
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value
