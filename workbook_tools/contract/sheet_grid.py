"""Sheets seen as bytes: whether a cell lies outside the grid a workbook may have, before any parser makes room for it.

The reader makes room for the whole rectangle between the first and the last cell that holds something, so one far
cell is enough to abort it. Blank far cells and rows do no harm and occur in honest files (a spreadsheet program
that saves a formatted sheet writes a row 1,048,576), so they pass.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import prod

from workbook_tools.contract.tags import Tag, UnclosedTagError, attributes, tags


@dataclass(frozen=True, slots=True)
class Grid:
    """What a kind of workbook may have: the last row and column, 1-based, that a cell with content may lie in; rows and
    cells of a sheet, blank ones too; merged areas, and the cells that all of them may cover, where they may reach out
    of the grid. `plain` matches addresses inside the grid in the form in which nearly all programs write them.
    """

    rows: int
    columns: int
    cells: int
    merges: int
    plain: bytes
    merged_cells: int = 0


FIELD_BOOK = Grid(5_000, 256, 250_000, 20_000, rb"[A-H]?[A-Z]\d{1,3}")
SETUP = Grid(200_000, 128, 4_000_000, 20_000, rb"[A-C]?[A-Z](?:1\d{5}|\d{1,5})", merged_cells=1_000_000)
"""A setup is prepared for 20,986 rows on a sheet; more can be pasted, and people write remarks beside and below."""
MAX_STRINGS = 2_000_000
"""Shared strings a workbook may promise; the reader reserves memory for what is promised."""

_SHORTEST_CELL = len(b"<c/>")
_SHORTEST_STRING = len(b"<si/>")
_HARMLESS_PROMISE = 100_000
_MORE = rb'(?: s="\w++")?+(?: t="\w++")?+(?: (?:[st]|cm|vm|ph)="\w++")*+'
"""A cell's other attributes; the first two are those that nearly all cells have, in that order."""
_PREFIXED = re.compile(rb":c")
"""A pattern, for it is found three times as fast as by `in`."""
_ADDRESS = re.compile(rb"\$?([A-Za-z]*+)\$?(\d*+)")
_PLAIN_MERGES = re.compile(
    rb'<mergeCells(?: count="\d{1,4}")?>'
    rb'(?:<mergeCell ref="[A-H]?[A-Z]\d{1,3}(?::[A-H]?[A-Z]\d{1,3})?"/>){0,9999}+</mergeCells>'
)
_MOST_OPENINGS = 1_000
_LONGEST_TAG = 1 << 16
_NOWHERE = (1 << 30, 1 << 30)


@lru_cache(maxsize=4)
def _not_plain(plain: bytes) -> re.Pattern[bytes]:
    """Any cell not in the form in which nearly all programs write cells: plainly inside the grid, or blank."""
    return re.compile(rb'<c(?! r="(?:' + plain + rb'"' + _MORE + rb'/?+>|[A-Z]++\d++"' + _MORE + rb"/>))")


def far_reference(xml: bytes, grid: Grid = FIELD_BOOK) -> tuple[str, str] | None:
    """Why a sheet's cells must not be read, as (rule, detail), or None.

    far_cell: the address of a cell with content, or of a merged area, outside the grid. too_many_cells,
    too_many_merges: how many there are, or which area is one too many. Raises UnclosedTagError.
    """
    start, end = xml.find(b"sheetData"), xml.rfind(b"sheetData")
    rows = xml[max(start, 0) : max(end, 0)]
    if len(rows) > grid.cells * _SHORTEST_CELL:
        count = sum(map(rows.count, (b"<c", b":c", b"<row", b":row")))
        if count > grid.cells:
            return "too_many_cells", str(count)
    if (_not_plain(grid.plain).search(rows) or _PREFIXED.search(rows)) and (cell := next(_far_cells(rows, grid), "")):
        return "far_cell", cell
    return _far_merge(xml[: max(start, 0)], grid) or _far_merge(xml[max(end, 0) :], grid)


def _far_cells(rows: bytes, grid: Grid) -> Iterator[str]:
    """Addresses of the cells with content outside the grid, counted as the reader counts: a row or cell that does
    not say where it lies follows the one before it.
    """
    row, column = 1, 1
    for tag in tags(rows, b"row", b"c"):
        said = None if tag.closing else _said(tag)
        if tag.name == b"row":
            row = said[1] if said else row
            if tag.closing or tag.is_empty:
                row, column = row + 1, 1
        elif not tag.closing:
            where = said or (column, row)
            column = where[0] + 1
            is_blank = tag.is_empty or rows.startswith(b"</", tag.end)
            if not is_blank and not _in_grid(*where, grid):
                yield _address(*where)


def _said(tag: Tag) -> tuple[int, int] | None:
    """The column and row a tag says it lies at, or None; a tag that says it twice lies nowhere."""
    places = [value for name, value in attributes(tag.inside) if name == b"r"]
    if not places:
        return None
    return parts_of(places[0]) if len(places) == 1 else _NOWHERE


def _far_merge(outside: bytes, grid: Grid) -> tuple[str, str] | None:
    outside = _PLAIN_MERGES.sub(b"", outside, 1) if b"<mergeCells" in outside else outside
    if b"mergeCell" not in outside:
        return None
    areas = [value for tag in tags(outside, b"mergeCell") for name, value in attributes(tag.inside) if name == b"ref"]
    if len(areas) > grid.merges:
        return "too_many_merges", str(len(areas))
    covered = 0
    for area in areas:
        first, *others = map(parts_of, area.split(b":"))
        covered += prod(abs(last - start) + 1 for start, last in zip(first, (others or [first])[-1], strict=True))
        if covered > grid.merged_cells > 0:
            return "too_many_merges", area.decode("ascii", "replace")
        if not grid.merged_cells and not all(_in_grid(*corner, grid) for corner in (first, *others)):
            return "far_cell", area.decode("ascii", "replace")
    return None


def parts_of(address: bytes) -> tuple[int, int]:
    """The 1-based column and row an address names; 1 for what it leaves out, far beyond any grid for nonsense."""
    found = _ADDRESS.fullmatch(address.strip())
    if not found or len(found[1]) > 3 or len(found[2]) > 9:
        return _NOWHERE
    column = 0
    for letter in found[1].upper():
        column = column * 26 + letter - 64
    return column or 1, int(found[2] or 1)


def _address(column: int, row: int) -> str:
    letters = ""
    while column and len(letters) < 4:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row}"


def _in_grid(column: int, row: int, grid: Grid) -> bool:
    return column <= grid.columns and row <= grid.rows


def false_promise(xml: bytes) -> int:
    """How many shared strings a part promises, if that is more than it can hold or than is allowed; else 0.

    Raises UnclosedTagError, also for a part that opens a thousand times.
    """
    most = min(MAX_STRINGS, max(_HARMLESS_PROMISE, len(xml) // _SHORTEST_STRING))
    for place in _places_of(xml, b"sst"):
        start = max(xml.rfind(b"<", 0, place + 1), 0)
        tag = next(tags(xml[start : place + _LONGEST_TAG], b"sst"), None)
        counts = [_number(value) for name, value in attributes(tag.inside) if name.endswith(b"ount")] if tag else []
        if max(counts, default=0) > most:
            return max(counts)
    return 0


def _places_of(xml: bytes, name: bytes) -> Iterator[int]:
    """Where tags with a name may stand, 0-based: its places after "<" or a prefix.

    Raises UnclosedTagError over a part that has far more of them than sense.
    """
    opening = 0
    for found in re.finditer(re.escape(name), xml):
        at = found.start()
        if at and xml[at - 1] in b"<:":
            opening += 1
            if opening > _MOST_OPENINGS:
                raise UnclosedTagError
            yield at


def _number(value: bytes) -> int:
    digits = value.strip().removeprefix(b"+")
    return int(digits[:15]) if digits.isdigit() else 0
