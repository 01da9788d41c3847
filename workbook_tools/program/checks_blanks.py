"""Cells that may be blank, and are in a few rows only: what nearly all others tell was likely forgotten there."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.program.view import View

_FEW, _SHORT = Fraction(1, 10), Fraction(1, 2)
"""The share of rows that are few: in lists, and in tables of a few rows, of which each row counts."""
_LOOKED_AT = {
    "stores": (10, _FEW, ("street", "city", "region", "postcode", "district", "phone")),
    "items": (10, _FEW, ("gtin", "description", "case_pack", "picture")),
    "labels": (3, _SHORT, ("wording",)),
    "steps": (3, _SHORT, ("minutes",)),
}
"""Block → rows from which on this is said, the share of them that is few, and the fields; others have a note of their
own or are blank as often as not.
"""


def check_blanks(view: View) -> Iterator[Finding]:
    """A note for each column that few rows leave blank, at the first of them."""
    for block, (enough, few, keys) in _LOOKED_AT.items():
        rows = view.rows(block)
        for key in keys if len(rows) >= enough else ():
            blank = [row for row in rows if _is_blank(row, key)]
            if blank and len(blank) <= few * len(rows) and key in view.tables[block].raw.columns:
                yield view.at(block, "left_blank", blank[0], key, count=len(blank), total=len(rows))


def _is_blank(row: Row, key: str) -> bool:
    return key not in row.values and key not in row.broken
