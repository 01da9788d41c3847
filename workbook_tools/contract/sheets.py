"""A workbook's bytes → its blocks, found by their keys wherever they stand (the one place that knows calamine)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from io import BytesIO
from itertools import pairwise
from typing import Any, NamedTuple

from python_calamine import CalamineWorkbook

from workbook_tools.contract.model import KEY_COLUMN
from workbook_tools.contract.package import Package
from workbook_tools.contract.unread import Unreads
from workbook_tools.contract.values import clean_text, is_blank

BLOCK_MARK = "#"
_MOST_ROWS, _MOST_COLUMNS = 100_000, 16_384
"""As far as what the reader left out is looked for."""


class UnreadableWorkbookError(Exception):
    """The reader cannot open this file at all; a caller turns it into a finding."""


class RawCell(NamedTuple):
    """One cell as found: 0-based row and column, and what the reader gave for it."""

    row: int
    column: int
    value: object


@dataclass(frozen=True, slots=True)
class RawBlock:
    """One block as found: its sheet's name, its 0-based key row, column key → 0-based column, and its rows.

    `rows` are (0-based row number, cells) for every row under the key row up to the next block, blank ones
    passed over. `doubled` are column keys that stand more than once (the first one counts). Cells that the reader
    gives as empty and that are not hold an Unread. In a workbook that `counts_from_1904`, plain numbers count days
    from that year; dates have been read rightly.
    """

    key: str
    sheet: str
    key_row: int
    columns: dict[str, int]
    rows: tuple[tuple[int, Sequence[object]], ...]
    doubled: tuple[str, ...] = ()
    counts_from_1904: bool = False

    def cell(self, row: int, cells: Sequence[object], column: str) -> RawCell:
        """The cell of a row under a column key; KeyError when the block lacks the column."""
        index = self.columns[column]
        return RawCell(row, index, cells[index] if index < len(cells) else None)


def read_blocks(
    data: bytes,
    wanted: Iterable[str],
    likely: Iterable[str] = (),
    *,
    only_likely: bool = False,
    package: Package | None = None,
) -> list[RawBlock]:
    """All blocks named in `wanted`, in the order in which they are found.

    Sheets named in `likely` are looked at first; the others are parsed only while a wanted block is missing,
    so that renamed sheets cost time but nothing else, or not at all with `only_likely`. Without likely ones, every
    sheet is looked at. `package` is the same workbook where it was opened before. Raises UnreadableWorkbookError.
    """
    first = frozenset(likely)
    missing = set(wanted)
    every = frozenset(missing)
    found: list[RawBlock] = []
    with _native_reader():
        workbook = CalamineWorkbook.from_filelike(BytesIO(data))
    unreads = Unreads(package or Package(data))
    for name in _in_order(workbook.sheet_names, first):
        if name not in first and (only_likely or (first and not missing)):
            break
        with _native_reader():
            rows = workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
        blocks = [block for block in split_blocks(name, rows) if block.key in every]
        if blocks and _put_in(rows, unreads.of_sheet(name)):
            blocks = [block for block in split_blocks(name, rows) if block.key in every]
        found.extend(blocks)
        missing.difference_update(block.key for block in blocks)
    if found and unreads.counts_from_1904:
        return [replace(block, counts_from_1904=True) for block in found]
    return found


def _put_in(rows: list[Any], cells: Iterable[tuple[int, int, object]]) -> bool:
    """Put what the reader left out into the rows it gave; False when there is nothing to put in."""
    changed = False
    for row, column, content in cells:
        if row < _MOST_ROWS and column < _MOST_COLUMNS:
            rows += [[] for _ in range(row + 1 - len(rows))]
            rows[row] += [""] * (column + 1 - len(rows[row]))
            if rows[row][column] == "":
                rows[row][column], changed = content, True
    return changed


@contextmanager
def _native_reader() -> Iterator[None]:
    """Whatever the reader fails with becomes UnreadableWorkbookError; its native code's panics are no Exception. That
    memory ran out says nothing of the file.
    """
    try:
        yield
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as slip:
        raise UnreadableWorkbookError(str(slip) or type(slip).__name__) from None


def split_blocks(sheet: str, rows: Sequence[Sequence[object]]) -> Iterator[RawBlock]:
    """The blocks of one sheet, from its rows counted from row 1 and column A."""
    starts = [number for number, cells in enumerate(rows) if _opens_block(cells)]
    for start, end in pairwise([*starts, len(rows)]):
        header = rows[start]
        columns: dict[str, int] = {}
        doubled = []
        for index, cell in enumerate(header):
            if index == KEY_COLUMN or not isinstance(cell, str) or is_blank(cell):
                continue
            key = clean_text(cell)
            if key in columns:
                doubled.append(key)
            else:
                columns[key] = index
        body = tuple((n, rows[n]) for n in range(start + 1, end) if not all(map(is_blank, rows[n])))
        key = clean_text(str(header[KEY_COLUMN])).removeprefix(BLOCK_MARK)
        yield RawBlock(key, sheet, start, columns, body, tuple(doubled))


def _opens_block(cells: Sequence[object]) -> bool:
    first = cells[KEY_COLUMN] if cells else None
    return isinstance(first, str) and BLOCK_MARK in first and clean_text(first).startswith(BLOCK_MARK)


def _in_order(names: list[str], likely: frozenset[str]) -> list[str]:
    return sorted(names, key=lambda name: name not in likely)
