"""A roll-up as a reader sees it: what stands on its sheets, and where its links lead."""

from __future__ import annotations

import re
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

from tests.rollup.sheet_edits import load


def texts(sheet: Worksheet) -> list[str]:
    """Every text on a sheet, in reading order."""
    return [cell.value for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]


def seen_texts(sheet: Worksheet) -> set[str]:
    """The texts of the rows and columns that are not hidden; none of a hidden sheet."""
    if sheet.sheet_state != "visible":
        return set()
    return {
        cell.value
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str)
        and not sheet.row_dimensions[cell.row].hidden
        and not _is_hidden(sheet, cell.column)
    }


def _is_hidden(sheet: Worksheet, column: int) -> bool:
    return any(one.hidden and one.min <= column <= one.max for one in sheet.column_dimensions.values())


def beside(sheet: Worksheet, label: str, right_of: int = 0) -> Cell:
    """The first number to the right of a cell that reads `label` (in a column after `right_of`)."""
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value == label and cell.column > right_of:
                return next(one for one in row[cell.column :] if isinstance(one.value, int | float))
    raise AssertionError(f"{sheet.title} has no {label!r}")


def above(sheet: Worksheet, label: str) -> Cell:
    """The number above the first cell that reads `label`."""
    found = next(cell for row in sheet.iter_rows() for cell in row if cell.value == label)
    return sheet.cell(found.row - 1, found.column)


def led_to(book: Workbook, cell: Cell) -> list[list[object]]:
    """The values of the cells a link leads to, row by row."""
    assert cell.hyperlink is not None, cell.coordinate
    sheet, _, area = cell.hyperlink.location.rpartition("!")
    sheet = re.sub("''", "'", sheet.strip("'"))
    cells = book[sheet][area]
    rows = cells if isinstance(cells, tuple) else ((cells,),)
    return [[one.value for one in row] for row in rows]


def opened(path: Path) -> Workbook:
    """The workbook, for reading."""
    return load(path)
