"""Workbooks of plain tables for the office: a title, what it is about, headings, rows, and sums that stay live."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workbook_tools.contract.look import default_look
from workbook_tools.contract.names import a1, sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import TEXT_FORMAT, BookWriter, SheetWriter
from workbook_tools.program.wrapped import most_lines

TITLE_ROW, ABOUT_ROW, HEADING_ROW, FIRST_ROW = 0, 1, 3, 4
"""0-based rows of every sheet."""
_A4 = 9
_TITLE_HEIGHT, _LINE_HEIGHT = 34, 18
_ABOUT_CHARACTERS = 110
"""Characters of small type that stand on a line of the sheet's width."""


@dataclass(frozen=True)
class Column:
    """A column by its heading, its width in pixels, and whether its numbers are summed at the bottom."""

    heading: str
    width: int = 110
    is_summed: bool = False


class TableBook:
    """One such workbook being written to memory; `close()` gives its bytes."""

    def __init__(self, title: str, words: Words) -> None:
        look = default_look()
        self.words = words
        self._book = BookWriter(look, title=title)
        colour = look.colour
        line = {"border": 1, "border_color": colour("grid")}
        self._title = self._book.format(bold=True, font_size=look.type_sizes["title"])
        self._about = self._book.format(font_color=colour("quiet_ink"), text_wrap=True, valign="top")
        self._heading = self._book.format(
            bold=True, bg_color=colour("heading"), font_color=colour("heading_ink"), text_wrap=True, **line
        )
        self._text = self._book.format(num_format=TEXT_FORMAT, text_wrap=True, **line)
        self._number = self._book.format(num_format="#,##0.##", **line)
        self._whole = self._book.format(num_format="#,##0", **line)
        self._sum = self._book.format(bold=True, num_format="#,##0", bg_color=colour("shelf_bar"), **line)

    def sheet(
        self, name: str, title: str, about: str, columns: Sequence[Column], rows: Sequence[Sequence[object]]
    ) -> SheetWriter:
        """Add a sheet with one table. A value is a text, a number, or None for a blank cell."""
        sheet = self._book.sheet(sheet_name(name))
        sheet.set_row_pixels(TITLE_ROW, _TITLE_HEIGHT)
        sheet.text(TITLE_ROW, 0, title, self._title)
        last = len(columns) - 1
        sheet.set_row_pixels(ABOUT_ROW, _LINE_HEIGHT * (1 + len(about) // _ABOUT_CHARACTERS))
        sheet.merged_text((ABOUT_ROW, 0, ABOUT_ROW, max(last, 5)), about, self._about)
        for number, column in enumerate(columns):
            sheet.set_column_pixels(number, number, column.width)
            sheet.text(HEADING_ROW, number, column.heading, self._heading)
        sheet.set_row_pixels(HEADING_ROW, 3 * _LINE_HEIGHT)
        for row, values in enumerate(rows, start=FIRST_ROW):
            for number, value in enumerate(values):
                self._cell(sheet, row, number, value)
            texts = [(one, column.width) for one, column in zip(values, columns, strict=True) if isinstance(one, str)]
            lines = most_lines(texts)
            if lines > 1:
                sheet.set_row_pixels(row, _LINE_HEIGHT * lines)
        self._sums(sheet, columns, rows)
        if rows:
            sheet.autofilter(HEADING_ROW, 0, HEADING_ROW + len(rows), last)
        self._page(sheet)
        return sheet

    def close(self) -> bytes:
        """The bytes of the file. Raises BuildError when it cannot be written."""
        return self._book.close()

    def _cell(self, sheet: SheetWriter, row: int, column: int, value: object) -> None:
        if value is None or value == "":
            sheet.write_blank(row, column, None, self._text)
        elif isinstance(value, int):
            sheet.write_number(row, column, value, self._whole)
        elif isinstance(value, float):
            sheet.write_number(row, column, value, self._number)
        else:
            sheet.text(row, column, str(value), self._text)

    def _sums(self, sheet: SheetWriter, columns: Sequence[Column], rows: Sequence[Sequence[object]]) -> None:
        """A row of sums under the table, with its results, so that programs that do not reckon show them too."""
        if not rows or not any(column.is_summed for column in columns):
            return
        end = FIRST_ROW + len(rows)
        for number, column in enumerate(columns):
            if not column.is_summed:
                sheet.text(end, number, self.words("tables_out.sum") if number == 0 else "", self._sum)
                continue
            total = sum(value for row in rows if isinstance(value := row[number], int | float))
            cells = f"{a1(FIRST_ROW, number)}:{a1(end - 1, number)}"
            sheet.write_formula(end, number, f"=SUM({cells})", self._sum, total)

    def _page(self, sheet: SheetWriter) -> None:
        sheet.freeze_panes(FIRST_ROW, 1)
        sheet.set_landscape()
        sheet.set_paper(_A4)
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(HEADING_ROW)
        sheet.hide_gridlines(2)
