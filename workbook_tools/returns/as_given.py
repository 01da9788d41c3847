"""The answers of a return as they were typed, whether they can be used or not, and where each of them stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block, Field
from workbook_tools.contract.names import a1
from workbook_tools.contract.sheets import RawBlock, UnreadableWorkbookError, read_blocks
from workbook_tools.contract.tables import key_of
from workbook_tools.contract.values import Unread, counted_from_1900, is_blank
from workbook_tools.returns.read import ANSWER_BLOCKS, ReadReturn, read_return

Cell: TypeAlias = tuple[str, str, str]
"""(block, row key, field key); for the visit, row key and field key are both the question's key."""


@dataclass(frozen=True)
class AsGiven:
    """One return: what it said when it was read, every answer as typed, and the answer at each address.

    Numbers, texts, truth values, dates and times are as the reader gives them; error cells are left out. `cells` goes
    from (sheet, address such as "C7") to the answer, for locked cells of the answer blocks too.
    """

    read: ReadReturn
    values: Mapping[Cell, object] = field(default_factory=dict)
    cells: Mapping[tuple[str, str], Cell] = field(default_factory=dict)


def as_given(data: bytes, sha256: str) -> AsGiven:
    """Read a file's answers as typed. A file that cannot be read gives none."""
    read = read_return(data, sha256)
    if read.refusal:
        return AsGiven(read)
    try:
        blocks = read_blocks(data, ANSWER_BLOCKS, [block.sheet for block in read.blocks.values()])
    except UnreadableWorkbookError:
        return AsGiven(read)
    values: dict[Cell, object] = {}
    cells: dict[tuple[str, str], Cell] = {}
    for raw in reversed(blocks):
        block = default_contract().field_book.block(raw.key)
        for cell, one, address, value in _answers(block, raw):
            cells[raw.sheet, address] = cell
            if (one.open or one.source == "stamp") and not is_blank(value) and not isinstance(value, Unread):
                values[cell] = counted_from_1900(one.type, value) if raw.counts_from_1904 else value
    return AsGiven(read, values, cells)


def _answers(block: Block, raw: RawBlock) -> Iterator[tuple[Cell, Field, str, object]]:
    """Every cell of a block's rows: which answer it is, its field, its address, what it holds."""
    for row, content in reversed(raw.rows):
        key = key_of(content)
        if block.rows == "fixed":
            places = [(block.by_key[key], block.value_column)] if key in block.by_key else []
        else:
            places = [(one, one.key) for one in block.fields] if key else []
        for one, column in places:
            if column in raw.columns:
                at = raw.cell(row, content, column)
                yield (block.key, key, one.key), one, a1(at.row, at.column), at.value
