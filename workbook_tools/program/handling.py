"""What people did to the sheets of a setup: merged cells are read as meant where they can be, the rest is said."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence

from workbook_tools.contract.findings import Finding, shown
from workbook_tools.contract.model import Block
from workbook_tools.contract.names import a1, column_letters
from workbook_tools.contract.sheet_state import Area, SheetState, filled_down
from workbook_tools.contract.sheets import RawBlock, RawCell
from workbook_tools.contract.tables import BlockReader
from workbook_tools.contract.values import Unread, is_blank

_ENOUGH_ROWS = 3
"""Rows of a column without a key, half of all or more, from which on it is taken for one that somebody fills in."""


def as_meant(
    reader: BlockReader, block: Block, raw: RawBlock, state: SheetState
) -> tuple[RawBlock, tuple[Finding, ...]]:
    """A block with merged cells filled down, and what there is to say about its sheet."""
    if block.rows == "fixed":
        return raw, ()
    filled, merged = filled_down(_without_live_rows(block, raw), state.merged)
    found = (
        *_merged_down(reader, block, filled, merged),
        *_merged_across(reader, block, filled, state),
        *_hidden(reader, block, filled, state),
        *_without_key(reader, block, filled),
    )
    return filled, found


def _without_live_rows(block: Block, raw: RawBlock) -> RawBlock:
    """The block without rows that are blank but for a check that the workbook makes by itself."""
    live = {raw.columns[field.key] for field in block.fields if field.source == "formula" and field.key in raw.columns}
    if not live:
        return raw
    rows = tuple(line for line in raw.rows if not any(_is_live_only(line[1], column) for column in live))
    return raw if len(rows) == len(raw.rows) else dataclasses.replace(raw, rows=rows)


def _is_live_only(cells: Sequence[object], live: int) -> bool:
    return (
        live < len(cells)
        and isinstance(cells[live], Unread)
        and all(column == live or is_blank(cell) for column, cell in enumerate(cells))
    )


def _key_of(raw: RawBlock, column: int) -> str:
    return next((key for key, index in raw.columns.items() if index == column), "")


def _cell(rows: Mapping[int, Sequence[object]], row: int, column: int) -> RawCell:
    cells = rows[row]
    return RawCell(row, column, cells[column] if column < len(cells) else None)


def _name(area: Area) -> str:
    return f"{a1(area.first_row, area.first_column)}:{a1(area.last_row, area.last_column)}"


def _merged_down(reader: BlockReader, block: Block, raw: RawBlock, areas: list[Area]) -> Iterator[Finding]:
    rows = dict(raw.rows)
    for area in areas:
        cell = _cell(rows, area.first_row, area.first_column)
        key = _key_of(raw, area.first_column)
        yield reader.finding("merged_down", block, raw, key, cell, area=_name(area), read=shown(cell.value))


def _merged_across(reader: BlockReader, block: Block, raw: RawBlock, state: SheetState) -> Iterator[Finding]:
    """Cells merged over two columns or more: their value is that of the first."""
    rows = dict(raw.rows)
    for area in state.merged:
        reached = [index for index in raw.columns.values() if area.first_column <= index <= area.last_column]
        if area.first_row in rows and area.first_column != area.last_column and len(reached) > 1:
            cell = _cell(rows, area.first_row, area.first_column)
            if not is_blank(cell.value):
                yield reader.finding("merged_across", block, raw, _key_of(raw, reached[0]), cell, area=_name(area))


def _hidden(reader: BlockReader, block: Block, raw: RawBlock, state: SheetState) -> Iterator[Finding]:
    hidden = [number for number, _ in raw.rows if number in state.hidden]
    if hidden:
        cell = _cell(dict(raw.rows), hidden[0], min(raw.columns.values(), default=0))
        rule = "rows_filtered" if state.is_filtered else "rows_hidden"
        yield reader.finding(rule, block, raw, "", cell, count=len(hidden), row=hidden[0] + 1)


def _without_key(reader: BlockReader, block: Block, raw: RawBlock) -> Iterator[Finding]:
    """Columns that are filled in row by row and that nobody reads, because no key stands over them.

    Where the key of a column is missing, that is found as such.
    """
    if any(field.key not in raw.columns for field in block.fields if field.source != "formula"):
        return
    known = set(raw.columns.values())
    width = max((len(cells) for _, cells in raw.rows), default=0)
    others = [column for column in range(1, width) if column not in known]
    counts: dict[int, int] = {}
    for _, cells in raw.rows:
        for column in others:
            if column < len(cells) and not is_blank(cells[column]):
                counts[column] = counts.get(column, 0) + 1
    for column, count in counts.items():
        if count >= _ENOUGH_ROWS and 2 * count >= len(raw.rows):
            first = next(number for number, cells in raw.rows if column < len(cells) and not is_blank(cells[column]))
            letters = column_letters(column)
            cell = _cell(dict(raw.rows), first, column)
            yield reader.finding("column_not_read", block, raw, "", cell, letters=letters, row=raw.key_row + 1)
