"""Locked cells held against what was issued: those that say what an answer means, and those that only help to read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import polars as pl

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.values import plain_form
from workbook_tools.program.model import Program
from workbook_tools.returns.answers import BROKEN, KEY, RETURN, Answers

Expected = Mapping[str, Mapping[str, str]]
"""Field → row key → what was issued."""


def locked_cells(answers: Answers, program: Program) -> Iterator[tuple[int, Finding]]:
    """(file number, finding) for every locked cell that reads otherwise than it was issued.

    locked_changed: the item code or the brand of a position, which say what was asked. locked_text_changed: a text
    beside the answers; the answers are read by their keys all the same.
    """
    items = {position.key: program.item_at(position) for position in program.walk}
    meaning: Expected = {
        "item_code": {key: item.item_code for key, item in items.items()},
        "brand": {key: item.brand for key, item in items.items()},
    }
    yield from _changed(answers, "positions", meaning, "locked_changed")
    beside: Expected = {"position": {key: key for key in items}, "item": {key: one.item for key, one in items.items()}}
    yield from _changed(answers, "positions", beside, "locked_text_changed")
    of_parts: Expected = {
        "part": {one.part: one.part for one in program.parts},
        "name": {one.part: one.name for one in program.parts},
        "quantity": {one.part: str(one.quantity) for one in program.parts},
    }
    yield from _changed(answers, "parts", of_parts, "locked_text_changed")


def _changed(answers: Answers, block: str, issued: Expected, rule: str) -> Iterator[tuple[int, Finding]]:
    """The cells of a block that differ from what was issued; a text that only helps may go on with more."""
    table = answers.tables[block]
    found, due = pl.col("_found"), pl.col("_due")
    may_go_on = rule == "locked_text_changed"
    same = (found.str.starts_with(due) if may_go_on else found == due).fill_null(False)
    for field, expected in issued.items():
        wanted = pl.col(KEY).replace_strict(expected, default=None, return_dtype=pl.String)
        cells = table.select(RETURN, KEY, BROKEN, wanted.alias("_due"), pl.col(field).cast(pl.String).alias("_found"))
        differing = cells.filter(due.is_not_null() & ~same)
        for number, key, broken, planned, value in differing.iter_rows():
            if f";{field};" in broken or (may_go_on and plain_form(value or "").startswith(plain_form(planned))):
                continue
            yield number, answers.finding(rule, number, block, key, field, value=value, expected=planned)
