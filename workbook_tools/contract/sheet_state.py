"""What a person did to a sheet that its values do not show: merged cells, hidden rows, a filter left on.

Found in the sheet's XML as bytes; what cannot be found counts as not there.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from workbook_tools.contract.names import row_and_column
from workbook_tools.contract.sheets import RawBlock
from workbook_tools.contract.unread import Unreads
from workbook_tools.contract.values import is_blank

_MERGE = re.compile(rb"mergeCell\s[^<>]*?ref=[\"']([A-Z]{1,3}\d{1,7}):([A-Z]{1,3}\d{1,7})[\"']")
_ROW = re.compile(rb"<(?:[\w.-]{1,30}:)?row\s([^<>]*)>")
_NUMBER = re.compile(rb"(?<!\S)r=[\"'](\d{1,7})[\"']")
_HIDDEN = re.compile(rb"(?<!\S)hidden=[\"'](?:1|true)[\"']")
_LONGEST_TAG = 2_000
"""Bytes before the word that hides a row in which the row's tag is looked for."""


@dataclass(frozen=True)
class Area:
    """Merged cells: 0-based first row, first column, last row, last column."""

    first_row: int
    first_column: int
    last_row: int
    last_column: int


@dataclass(frozen=True)
class SheetState:
    """One sheet. `hidden` are 0-based rows that are hidden; `is_filtered` says whether a filter hides some."""

    merged: tuple[Area, ...] = ()
    hidden: frozenset[int] = frozenset()
    is_filtered: bool = False


def sheet_state(unreads: Unreads, sheet: str) -> SheetState:
    """The state of a sheet of a workbook."""
    xml = unreads.xml_of(sheet)
    return SheetState(tuple(_areas(xml)), frozenset(_hidden_rows(xml)), b"filterColumn" in xml)


def _areas(xml: bytes) -> Iterator[Area]:
    for found in _MERGE.finditer(xml, max(xml.find(b"mergeCell"), 0)) if b"mergeCell" in xml else ():
        first, last = (row_and_column(corner.decode("ascii")) for corner in found.groups())
        if first and last:
            yield Area(*first, *last)


def _hidden_rows(xml: bytes) -> Iterator[int]:
    """Rows are looked for from the few words that hide something: a large sheet has very many tags."""
    at = xml.find(b"hidden=")
    while at >= 0:
        row = _ROW.match(xml, max(xml.rfind(b"<", max(at - _LONGEST_TAG, 0), at), 0))
        if row and _HIDDEN.search(row[1]) and (number := _NUMBER.search(row[1])):
            yield int(number[1]) - 1
        at = xml.find(b"hidden=", at + 1)


def filled_down(raw: RawBlock, areas: Sequence[Area]) -> tuple[RawBlock, list[Area]]:
    """A block in which the value of cells merged downwards stands in every row that they reach, and those areas.

    Rows that are blank but for the merged cell stay blank. Cells merged across columns are left as they are.
    """
    columns = set(raw.columns.values())
    rows = {number: list(cells) for number, cells in raw.rows}
    used = []
    for area in areas:
        column = area.first_column
        if column != area.last_column or column not in columns or area.first_row not in rows:
            continue
        first = rows[area.first_row]
        value = first[column] if column < len(first) else None
        reached = [number for number in range(area.first_row + 1, area.last_row + 1) if number in rows]
        if is_blank(value) or not reached:
            continue
        for number in reached:
            cells = rows[number]
            cells += [""] * (column + 1 - len(cells))
            cells[column] = value
        used.append(area)
    return (dataclasses.replace(raw, rows=tuple(rows.items())), used) if used else (raw, [])
