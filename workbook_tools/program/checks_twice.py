"""Texts that stand twice where each is told once: copied down by mistake, or one thing under two names."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.program.view import View, text

_TOLD_ONCE = (("parts", "name"), ("steps", "do"), ("merchandisers", "name"))
_FEW = 0.02
"""The share of stores that may have the name of another in their city before names are taken not to tell them apart."""


def check_twice(view: View) -> Iterator[Finding]:
    """Parts, steps and people of one name in two rows, and stores of one city."""
    yield from _stores(view)
    for block, key in _TOLD_ONCE:
        for first, row in doubled_texts(view, block, key):
            yield view.at(block, "text_twice", row, key, first=view.cell(block, first, key))


def _stores(view: View) -> Iterator[Finding]:
    named = [(name, row.values.get("city"), row) for name, row in view.told("stores", "name")]
    if len({(name, city) for name, city, _ in named}) == len(named):
        return
    seen: dict[tuple[str, object], Row] = {}
    pairs = [(seen.setdefault((name, city), row), row) for name, city, row in named if city]
    twice = [(first, row) for first, row in pairs if first is not row]
    for first, row in twice if len(twice) <= max(1, _FEW * len(named)) else ():
        yield view.at("stores", "text_twice", row, "name", first=view.cell("stores", first, "name"))


def doubled_texts(view: View, block: str, key: str) -> Iterator[tuple[Row, Row]]:
    """Rows whose text in a field stands already in an earlier row, cases and spaces aside: (earlier, row)."""
    seen: dict[str, Row] = {}
    for row in view.rows(block):
        value = " ".join(text(row, key).casefold().split())
        if value and value in seen:
            yield seen[value], row
        elif value:
            seen[value] = row
