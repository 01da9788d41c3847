"""Cells that may be blank, and are in a few rows only: what nearly all others tell was likely forgotten there."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.program.view import View

_FEW, _ENOUGH_ROWS = Fraction(1, 10), 10
_LOOKED_AT = {
    "stores": ("street", "city", "region", "postcode", "district", "phone"),
    "items": ("gtin", "description", "case_pack", "picture"),
    "steps": ("minutes",),
}
"""Block → the fields of which this is said; others have a note of their own or are blank as often as not."""


def check_blanks(view: View) -> Iterator[Finding]:
    """A note for each column that few rows leave blank, at the first of them."""
    for block, keys in _LOOKED_AT.items():
        rows = view.rows(block)
        for key in keys if len(rows) >= _ENOUGH_ROWS else ():
            blank = [row for row in rows if _is_blank(row, key)]
            if blank and len(blank) <= _FEW * len(rows) and key in view.tables[block].raw.columns:
                yield view.at(block, "left_blank", blank[0], key, count=len(blank), total=len(rows))


def _is_blank(row: Row, key: str) -> bool:
    return key not in row.values and key not in row.broken
