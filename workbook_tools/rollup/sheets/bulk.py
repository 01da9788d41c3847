"""Many rows at once: a worksheet that turns rows into their XML as they are written.

xlsxwriter keeps an object a cell and writes each by several calls; a roll-up of ten thousand stores has three quarters
of a million cells. Here they take a third of the time, packing them included. What a row becomes is what xlsxwriter
would have written, and a test holds it to that.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias

from xlsxwriter.worksheet import Worksheet

from workbook_tools.contract.look import Look
from workbook_tools.contract.names import a1, column_letters
from workbook_tools.contract.serials import serial_day
from workbook_tools.contract.writing import BookWriter, legal_text

Value: TypeAlias = str | int | float | dt.date | None
Cell: TypeAlias = tuple[int, Value, Any]
"""0-based column, value (None: blank, with its format only), format."""
MOST_ROWS, MOST_COLUMNS = 1_048_576, 16_384
"""Rows and columns of a sheet (Excel specifications and limits)."""
_POINTS_A_PIXEL = 0.75


class Column(NamedTuple):
    """The cells of a 0-based column over some rows: a value a row, None or "" where there is no cell, and the formats
    of texts, of numbers and of dates.
    """

    place: int
    values: Sequence[Any]
    text: Any
    number: Any
    date: Any


class BulkWorksheet(Worksheet):  # type: ignore[misc]
    """A worksheet of xlsxwriter's with `write_bulk_row` and `write_bulk_rows` beside its own methods."""

    def __init__(self) -> None:
        super().__init__()
        self.dim_rowmin: int | None
        self.dim_rowmax: int | None
        self.dim_colmin: int | None
        self.dim_colmax: int | None
        self._bulk: list[tuple[int, int, str]] = []
        """First row, last row and XML of rows that were written in bulk."""
        self._texts: dict[str, int] = {}

    def add_table(self, top: int, left: int, last_row: int, last_column: int, options: Mapping[str, Any]) -> int:
        """As xlsxwriter's, with headings and without data, formulas and totals, for any number of rows.

        xlsxwriter remembers every cell of a table, half a million here, to refuse tables that lie over one another;
        of this one it remembers two rows.
        """
        result: int = super().add_table(top, left, top + 1, last_column, options)
        if result == 0:
            area = f"{a1(top, left)}:{a1(last_row, last_column)}"
            self.tables[-1] |= dict.fromkeys(self.tables[-1].keys() & {"range", "a_range", "autofilter"}, area)
        return result

    def write_bulk_row(self, row: int, cells: Sequence[Cell], height: int | None = None) -> int:
        """Write a whole 0-based row, its cells from left to right, its height in pixels; rows in ascending order.

        Nothing else may be written to such a row, and no chart can draw it. Gives 0, or -1 when it does not fit.
        """
        if not self._makes_room(row, row, [column for column, _, _ in cells]):
            return -1
        number = str(row + 1)
        made = [_start(column) + number + self._end(value, cell_format) for column, value, cell_format in cells]
        self._bulk.append((row, row, _row(number, _size(height), made)))
        return 0

    def write_bulk_rows(self, first_row: int, columns: Sequence[Column], heights: Sequence[int | None]) -> int:
        """Write whole rows one below another, the first of them 0-based, each with its height in pixels.

        `columns` go from left to right and hold a value a row. What is said of `write_bulk_row` holds for each row.
        """
        last_row = first_row + len(heights) - 1
        if not self._makes_room(first_row, last_row, [column.place for column in columns]):
            return -1
        numbers = [str(row + 1) for row in range(first_row, last_row + 1)]
        sizes = {height: _size(height) for height in set(heights)}
        rows = zip(*(self._column(column, numbers) for column in columns), strict=True)
        made = [_row(number, sizes[height], row) for number, height, row in zip(numbers, heights, rows, strict=True)]
        self._bulk.append((first_row, last_row, "".join(made)))
        return 0

    def _column(self, column: Column, numbers: Sequence[str]) -> list[str]:
        """A column's cells, "" for none. What follows the row's number is made once a value: most come often."""
        ends: dict[Any, str] = {}
        for value, times in Counter(column.values).items():
            if value is None or value == "":
                ends[value] = ""
            elif isinstance(value, str):
                ends[value] = self._end(value, column.text, times)
            else:
                ends[value] = self._end(value, column.date if isinstance(value, dt.date) else column.number)
        start = _start(column.place)
        found = map(ends.__getitem__, column.values)
        return [f"{start}{number}{end}" if end else "" for number, end in zip(numbers, found, strict=True)]

    def _makes_room(self, first_row: int, last_row: int, columns: Sequence[int]) -> bool:
        """Widen the sheet's dimensions; False when rows are outside the sheet or not below those before."""
        below = not self._bulk or first_row > self._bulk[-1][1]
        fits = 0 <= first_row <= last_row < MOST_ROWS
        if not (below and fits and (not columns or 0 <= columns[0] <= columns[-1] < MOST_COLUMNS)):
            return False
        self.dim_rowmin = first_row if self.dim_rowmin is None else min(first_row, self.dim_rowmin)
        self.dim_rowmax = last_row if self.dim_rowmax is None else max(last_row, self.dim_rowmax)
        if columns:
            first, last = columns[0], columns[-1]
            self.dim_colmin = first if self.dim_colmin is None else min(first, self.dim_colmin)
            self.dim_colmax = last if self.dim_colmax is None else max(last, self.dim_colmax)
        return True

    def _end(self, value: Value, cell_format: Any, times: int = 1) -> str:
        """What follows the row's number in the cells, so many, that hold a value."""
        style = cell_format._get_xf_index()
        if value is None:
            return f'" s="{style}"/>'
        if isinstance(value, str):
            return f'" s="{style}" t="s"><v>{self._text(value, times)}</v></c>'
        shown = serial_day(value) if isinstance(value, dt.date) else f"{value:.16G}"
        return f'" s="{style}"><v>{shown}</v></c>'

    def _text(self, value: str, times: int) -> int:
        """The number of a text among the workbook's shared ones, which are counted each time they are used."""
        index = self._texts.get(value)
        if index is None:
            index = self._texts[value] = self.str_table._get_shared_string_index(legal_text(value))
            times -= 1
        self.str_table.count += times
        return index

    def _write_rows(self) -> None:
        """Called by xlsxwriter when it writes the sheet: its own rows, and the bulk rows between them."""
        first, last = self.dim_rowmin, self.dim_rowmax
        if first is None or last is None:
            return
        start = first
        for first_row, last_row, text in self._bulk:
            self._own_rows(start, first_row - 1)
            self.fh.write(text)
            start = last_row + 1
        self._own_rows(start, last)
        self.dim_rowmin, self.dim_rowmax = first, last

    def _own_rows(self, first: int, last: int) -> None:
        if first <= last:
            self.dim_rowmin, self.dim_rowmax = first, last
            super()._write_rows()


def _start(column: int) -> str:
    """What stands before a cell's row number."""
    return f'<c r="{column_letters(column)}'


def _size(height: int | None) -> str:
    return f' ht="{height * _POINTS_A_PIXEL:.16G}" customHeight="1"' if height else ""


def _row(number: str, size: str, cells: Iterable[str]) -> str:
    return f'<row r="{number}"{size}>{"".join(cells)}</row>'


class BulkBookWriter(BookWriter):
    """A workbook all of whose sheets take rows in bulk."""

    def __init__(self, look: Look, title: str) -> None:
        super().__init__(look, title=title)
        self._workbook.worksheet_class = BulkWorksheet
