"""Setups as the checks across sheets see them, made from rows without a workbook in between."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block
from workbook_tools.contract.sheets import RawBlock
from workbook_tools.contract.tables import BlockReader
from workbook_tools.contract.words import words_for
from workbook_tools.demo.scenario import scenario
from workbook_tools.program.advice import advise
from workbook_tools.program.checks_fit import check_fit
from workbook_tools.program.view import View

Blocks = dict[str, list[dict[str, Any]]]
Change = Callable[[Blocks], object]
FIRST, KEYS = 4, 3
"""0-based rows of the first row of data and of the key row, as `new` writes them."""
TODAY = dt.date(2026, 10, 26)
"""A week before the first day of the demo's window."""
ENGLISH = words_for("en")


def demo(*changes: Change) -> Blocks:
    """The demo's setup: 36 trays filled as drawn, 60 stores, 9 people, with what is done to its rows."""
    blocks: Blocks = copy.deepcopy(scenario(1).blocks)
    for change in changes:
        change(blocks)
    return blocks


def put(block: str, number: int, **values: object) -> Change:
    """Other values in the row of a block, counted from 1; None clears a cell."""
    return lambda blocks: blocks[block][number - 1].update(values)


def add(block: str, **values: object) -> Change:
    """One more row at the end of a block."""
    return lambda blocks: blocks[block].append(values)


def drop(block: str, number: int) -> Change:
    """A row less, counted from 1."""
    return lambda blocks: blocks[block].pop(number - 1)


def view(blocks: Mapping[str, Sequence[Mapping[str, Any]]], today: dt.date = TODAY, *, is_issued: bool = False) -> View:
    """The setup as the checks see it on a day."""
    contract = default_contract()
    reader = BlockReader(contract, "setup", "program.xlsx")
    tables = {block.key: reader.read(block, _raw(block, blocks.get(block.key, ()))) for block in contract.setup.blocks}
    return View(contract, "program.xlsx", tables, today, is_issued)


def found(seen: View) -> list[Finding]:
    """Whether it fits and all advice; every finding is said once."""
    findings = [*check_fit(seen), *advise(seen)]
    for finding in findings:
        assert "{" not in finding.problem(ENGLISH) + finding.todo(ENGLISH)
    return findings


def _raw(block: Block, rows: Sequence[Mapping[str, Any]]) -> RawBlock:
    sheet = ENGLISH(f"setup.sheets.{block.key}")
    columns = block.columns
    if block.rows == "fixed":
        values = rows[0] if rows else {}
        lines = [[field.key, "", _cell(values.get(field.key))] for field in block.fields]
    else:
        lines = [["", *(_cell(row.get(field.key)) for field in block.fields)] for row in rows]
    return RawBlock(block.key, sheet, KEYS, columns, tuple(enumerate(lines, start=FIRST)))


def _cell(value: object) -> object:
    return "" if value is None else float(value) if isinstance(value, int) else value
