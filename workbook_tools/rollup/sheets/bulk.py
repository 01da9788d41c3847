"""Many rows at once: a worksheet that turns rows into their XML as they are written.

xlsxwriter keeps an object a cell and writes each by several calls; a roll-up of ten thousand stores has three quarters
of a million cells. Here a row costs a fifth of the time and of the memory. What a row becomes is what xlsxwriter would
have written, and a test holds it to that.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

from xlsxwriter.worksheet import Worksheet

from workbook_tools.contract.look import Look
from workbook_tools.contract.names import a1, column_letters
from workbook_tools.contract.serials import serial_day
from workbook_tools.contract.writing import BookWriter, legal_text

Cell: TypeAlias = tuple[int, str | int | float | dt.date | None, Any]
"""0-based column, value (None: blank, with its format only), format."""
MOST_ROWS, MOST_COLUMNS = 1_048_576, 16_384
"""Rows and columns of a sheet (Excel specifications and limits)."""
_POINTS_A_PIXEL = 0.75


class BulkWorksheet(Worksheet):  # type: ignore[misc]
    """A worksheet of xlsxwriter's with `write_bulk_row` beside its own methods."""

    def __init__(self) -> None:
        super().__init__()
        self.dim_rowmin: int | None
        self.dim_rowmax: int | None
        self.dim_colmin: int | None
        self.dim_colmax: int | None
        self._bulk: dict[int, str] = {}
        self._texts: dict[str, int] = {}
        self._places: dict[tuple[int, Any], tuple[str, str, str, str]] = {}

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
        if not self._makes_room(row, cells):
            return -1
        number = str(row + 1)
        size = f' ht="{height * _POINTS_A_PIXEL:.16G}" customHeight="1"' if height else ""
        pieces = [f'<row r="{number}"{size}>']
        places, texts = self._places, self._texts
        for column, value, cell_format in cells:
            place = places.get((column, cell_format))
            start, text, plain, blank = place or self._place(column, cell_format)
            if isinstance(value, str):
                index = texts.get(value)
                if index is None:
                    index = self._new_text(value)
                else:
                    self.str_table.count += 1
                pieces.append(f"{start}{number}{text}{index}</v></c>")
            elif value is None:
                pieces.append(f"{start}{number}{blank}")
            elif isinstance(value, dt.date):
                pieces.append(f"{start}{number}{plain}{serial_day(value)}</v></c>")
            else:
                pieces.append(f"{start}{number}{plain}{value:.16G}</v></c>")
        pieces.append("</row>")
        self._bulk[row] = "".join(pieces)
        return 0

    def _makes_room(self, row: int, cells: Sequence[Cell]) -> bool:
        """Widen the sheet's dimensions; False when the row is outside the sheet or not below the last one."""
        below = not self._bulk or row > next(reversed(self._bulk))
        if not (below and 0 <= row < MOST_ROWS and (not cells or 0 <= cells[0][0] <= cells[-1][0] < MOST_COLUMNS)):
            return False
        self.dim_rowmin = row if self.dim_rowmin is None else min(row, self.dim_rowmin)
        self.dim_rowmax = row if self.dim_rowmax is None else max(row, self.dim_rowmax)
        if cells:
            first, last = cells[0][0], cells[-1][0]
            self.dim_colmin = first if self.dim_colmin is None else min(first, self.dim_colmin)
            self.dim_colmax = last if self.dim_colmax is None else max(last, self.dim_colmax)
        return True

    def _place(self, column: int, cell_format: Any) -> tuple[str, str, str, str]:
        """What stands before a cell's row number, and after it for a text, for a number and for a blank."""
        style = f'" s="{cell_format._get_xf_index()}"'
        place = (f'<c r="{column_letters(column)}', f'{style} t="s"><v>', f"{style}><v>", f"{style}/>")
        self._places[column, cell_format] = place
        return place

    def _new_text(self, value: str) -> int:
        """The number of a text that this sheet has not held before among the workbook's shared ones, which are counted
        each time they are used.
        """
        index: int = self.str_table._get_shared_string_index(legal_text(value))
        self._texts[value] = index
        return index

    def _write_rows(self) -> None:
        """Called by xlsxwriter when it writes the sheet: its own rows, and the bulk rows between them."""
        first, last = self.dim_rowmin, self.dim_rowmax
        if first is None or last is None:
            return
        start = first
        for row, text in self._bulk.items():
            self._own_rows(start, row - 1)
            self.fh.write(text)
            start = row + 1
        self._own_rows(start, last)
        self.dim_rowmin, self.dim_rowmax = first, last

    def _own_rows(self, first: int, last: int) -> None:
        if first <= last:
            self.dim_rowmin, self.dim_rowmax = first, last
            super()._write_rows()


class BulkBookWriter(BookWriter):
    """A workbook all of whose sheets take rows in bulk."""

    def __init__(self, look: Look, title: str) -> None:
        super().__init__(look, title=title)
        self._workbook.worksheet_class = BulkWorksheet
