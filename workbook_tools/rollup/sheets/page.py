"""What all sheets of a roll-up share while they are written: words, look, tables, links, page set-up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeAlias

from workbook_tools.contract.look import Look
from workbook_tools.contract.names import a1, quoted, sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import TEXT_FORMAT, BookWriter, SheetWriter
from workbook_tools.program.model import Program
from workbook_tools.rollup.sheets.columns import (
    DEFAULT_WIDTH,
    LINE,
    PADDING,
    RIGHT,
    TRANSLATED,
    WIDTHS,
    WRAPPED,
    lines_of,
)

CellFormat: TypeAlias = Any
Area = tuple[int, int, int, int]
"""First row, first column, last row, last column; 0-based."""
TITLE_ROW, ABOUT_ROW, LINK_ROW, HEADING_ROW = 0, 1, 2, 3
A4 = 9
TABLE_STYLE = "Table Style Light 15"


@dataclass(frozen=True)
class Place:
    """Where rows stand, for links: the sheet's name and the area, both ends included; None when there are none."""

    sheet: str
    area: Area | None = None

    @property
    def target(self) -> str:
        """What a link to these rows leads to; the sheet's heading when there are none."""
        if self.area is None:
            return f"internal:{quoted(self.sheet)}!A1"
        first_row, first_column, last_row, last_column = self.area
        cells = f"{a1(first_row, first_column)}:{a1(last_row, last_column)}"
        return f"internal:{quoted(self.sheet)}!{cells}"

    @property
    def count(self) -> int:
        """How many rows there are."""
        return self.area[2] - self.area[0] + 1 if self.area else 0

    def columns(self, first: int) -> Place:
        """The same rows from a column on."""
        return Place(self.sheet, (self.area[0], first, *self.area[2:])) if self.area else self

    def column(self, number: int) -> Place:
        """One column of the rows, by its 0-based number in the table."""
        if self.area is None:
            return self
        column = self.area[1] + number
        return Place(self.sheet, (self.area[0], column, self.area[2], column))

    def rows(self, first: int, count: int) -> Place:
        """A part of the rows, by their 0-based number."""
        if self.area is None or count <= 0:
            return Place(self.sheet)
        top = self.area[0] + first
        return Place(self.sheet, (top, self.area[1], top + count - 1, self.area[3]))


@dataclass(frozen=True)
class TableOptions:
    """How a table is laid out. `headings` are texts for columns whose heading is not `rollup.columns.<column>`;
    `formats` are for columns that differ from what their values ask for; `open` columns are for people to fill in,
    the first `hidden` ones are not seen.
    """

    top: int = HEADING_ROW
    left: int = 0
    headings: Mapping[str, str] | None = None
    formats: Mapping[str, CellFormat] | None = None
    open: Sequence[str] = ()
    hidden: int = 0
    widths: bool = True


class Page:
    """One roll-up workbook being written."""

    def __init__(self, program: Program, words: Words, look: Look, title: str) -> None:
        self.program = program
        self.words = words
        self.look = look
        self.book = BookWriter(look, title=title)
        self.sheets: dict[str, SheetWriter] = {}
        self.tables = 0
        self._widths: dict[tuple[str, int], int] = {}

    def style(self, **properties: object) -> CellFormat:
        """A cell format; colours are given by their names in look.toml, or as `#RRGGBB`."""
        for key in ("bg_color", "font_color", "border_color", "bottom_color", "top_color"):
            value = str(properties.get(key, "#"))
            if not value.startswith("#"):
                properties[key] = self.look.colour(value)
        return self.book.format(**properties)

    @cached_property
    def title(self) -> CellFormat:
        """The format of a sheet's title."""
        return self.style(bold=True, font_size=self.look.type_sizes["title"])

    @cached_property
    def quiet(self) -> CellFormat:
        """The format of what explains."""
        return self.style(font_color="quiet_ink")

    @cached_property
    def linked(self) -> CellFormat:
        """The format of a text that leads elsewhere."""
        return self.style(font_color="link_ink", underline=1)

    @cached_property
    def heading(self) -> CellFormat:
        """The format of a table's headings."""
        return self.style(bold=True, bg_color="heading", font_color="heading_ink", text_wrap=True)

    @cached_property
    def heading_right(self) -> CellFormat:
        """The format of the headings of numbers."""
        edge = {"bg_color": "heading", "font_color": "heading_ink", "align": "right", "indent": 1}
        return self.style(bold=True, text_wrap=True, **edge)

    @cached_property
    def section(self) -> CellFormat:
        """The format of a heading inside a sheet."""
        return self.style(bold=True, font_size=self.look.type_sizes["subtitle"], bottom=2, bottom_color="heading")

    @cached_property
    def text(self) -> CellFormat:
        """The format of a table's texts."""
        return self.style(num_format=TEXT_FORMAT, valign="top")

    @cached_property
    def wrapped(self) -> CellFormat:
        """The format of a table's long texts."""
        return self.style(num_format=TEXT_FORMAT, valign="top", text_wrap=True)

    @cached_property
    def answer(self) -> CellFormat:
        """The format of cells to write in."""
        frame = {"border": 1, "border_color": "answer_frame", "bg_color": "answer"}
        return self.style(num_format=TEXT_FORMAT, valign="top", text_wrap=True, **frame)

    @cached_property
    def number(self) -> CellFormat:
        """The format of a table's whole numbers."""
        return self.style(valign="top", num_format="0", align="right", indent=1)

    @cached_property
    def share(self) -> CellFormat:
        """The format of a table's shares."""
        return self.style(valign="top", num_format="0.0%", align="right", indent=1)

    @cached_property
    def date(self) -> CellFormat:
        """The format of a table's dates."""
        return self.style(num_format="d mmm yyyy", valign="top", align="left")

    def sheet_name(self, key: str) -> str:
        """The name of a sheet."""
        return sheet_name(self.words(f"rollup.sheets.{key}"))

    def add(self, *keys: str) -> None:
        """Add sheets, in this order."""
        for key in keys:
            self.sheets[key] = self.book.sheet(self.sheet_name(key))

    def head(self, key: str, about: str, left: int = 0) -> SheetWriter:
        """Title, a sentence about the sheet and the way back to the first one; gives the sheet."""
        sheet = self.sheets[key]
        sheet.set_row_pixels(TITLE_ROW, 40)
        sheet.text(TITLE_ROW, left, self.words(f"rollup.titles.{key}"), self.title)
        sheet.text(ABOUT_ROW, left, about, self.quiet)
        sheet.set_row_pixels(ABOUT_ROW, 24)
        sheet.set_row_pixels(LINK_ROW, 26)
        first = next(iter(self.sheets))
        back = Place(self.sheet_name(first)).target
        sheet.write_url(LINK_ROW, left, back, self.linked, f"← {self.sheet_name(first)}")
        return sheet

    def table(
        self,
        sheet: SheetWriter,
        columns: Sequence[str],
        rows: Iterable[Mapping[str, object]],
        options: TableOptions | None = None,
    ) -> Place:
        """A native table with filters; gives the place of its rows. Blank values leave their cells empty."""
        options = options or TableOptions()
        top, left = options.top, options.left
        kinds = self._kinds(columns, options)
        number = top
        for number, record in enumerate(rows, start=top + 1):
            lines = 1
            for column, (name, spoken, width, cell_format) in enumerate(kinds, start=left):
                value = record.get(name)
                if value is None or value == "":
                    if name in options.open:
                        sheet.write_blank(number, column, None, cell_format)
                    continue
                if spoken:
                    value = self.words.table.get(f"{spoken}.{value}", value)
                self._cell(sheet, number, column, value, cell_format)
                if width and isinstance(value, str):
                    lines = max(lines, lines_of(value, width))
            if lines > 1:
                sheet.set_row_pixels(number, lines * LINE + PADDING)
        self._frame(sheet, columns, options, number)
        if number == top:
            sheet.text(top + 1, left + options.hidden, self.words("rollup.empty"), self.quiet)
        return Place(sheet.name, (top + 1, left, number, left + len(columns) - 1) if number > top else None)

    def _frame(self, sheet: SheetWriter, columns: Sequence[str], options: TableOptions, last_row: int) -> None:
        """Headings, filters, stripes and widths of a table whose cells are written."""
        said = options.headings or {}
        headings = [
            {
                "header": said.get(name) or self.words(f"rollup.columns.{name}"),
                "header_format": self.heading_right if name in RIGHT else self.heading,
            }
            for name in columns
        ]
        self.tables += 1
        about = {"columns": headings, "style": TABLE_STYLE, "name": f"table_{self.tables}"}
        top, left = options.top, options.left
        sheet.add_table(top, left, max(last_row, top + 1), left + len(columns) - 1, about)
        sheet.set_row_pixels(top, 40)
        if options.widths:
            for column, name in enumerate(columns, start=left):
                self.widen(sheet, column, WIDTHS.get(name, DEFAULT_WIDTH))

    def _kinds(self, columns: Sequence[str], options: TableOptions) -> list[tuple[str, str, int, CellFormat]]:
        """Each column's name, where the words of its keys stand ("" for none), its width if it wraps, its format."""
        formats = {**dict.fromkeys(options.open, self.answer), **(options.formats or {})}
        wrapped = {name: WIDTHS.get(name, DEFAULT_WIDTH) for name in columns if name in WRAPPED}
        return [
            (
                name,
                TRANSLATED.get(name, ""),
                wrapped.get(name, 0),
                formats.get(name) or (self.wrapped if name in wrapped else None),
            )
            for name in columns
        ]

    def _cell(self, sheet: SheetWriter, row: int, column: int, value: object, cell_format: CellFormat) -> None:
        if isinstance(value, str):
            sheet.text(row, column, value, cell_format or self.text)
        elif isinstance(value, dt.date):
            sheet.write_datetime(row, column, value, cell_format or self.date)
        elif isinstance(value, int | float):
            sheet.write_number(row, column, value, cell_format or self.number)
        else:
            sheet.text(row, column, str(value), cell_format or self.text)

    def widen(self, sheet: SheetWriter, column: int, width: int) -> None:
        """Make a column at least so many pixels wide."""
        known = self._widths.get((sheet.name, column), 0)
        if width > known:
            self._widths[sheet.name, column] = width
            sheet.set_column_pixels(column, column, width)

    def link_number(
        self, sheet: SheetWriter, cell: tuple[int, int], count: int, place: Place, style: CellFormat
    ) -> None:
        """A number that leads to the rows behind it and stays a number; `cell` is its row and column."""
        row, column = cell
        sheet.write_url(row, column, place.target, style, str(count))
        sheet.write_number(row, column, count, style)

    def finish(
        self, sheet: SheetWriter, *, freeze: tuple[int, int] = (HEADING_ROW + 1, 1), repeat: int = HEADING_ROW
    ) -> None:
        """Frozen headings and page set-up of a sheet of tables: landscape, one page wide."""
        sheet.freeze_panes(*freeze)
        sheet.repeat_rows(repeat)
        sheet.set_landscape()
        self.paper(sheet)
        sheet.fit_to_pages(1, 0)

    def paper(self, sheet: SheetWriter) -> None:
        """Paper, margins and a footer with program, sheet and pages."""
        sheet.hide_gridlines(2)
        sheet.set_paper(A4)
        sheet.set_margins(left=0.4, right=0.4, top=0.45, bottom=0.6)
        name = self.program.settings.name[:100].replace("&", "&&")
        pages = self.words("page.of", page="&P", pages="&N")
        sheet.set_footer(f"&L&9 {name}&C&9 &A&R&9 {pages}")


def serial_day(when: dt.date) -> int:
    """A day as cells hold it: days since 30 December 1899."""
    return (when - dt.date(1899, 12, 30)).days


def day(when: dt.date) -> str:
    """A day as sentences show it."""
    return when.isoformat()


def join_words(parts: Iterable[str], between: str = " · ") -> str:
    """The parts that are not blank, in one line."""
    return between.join(part for part in parts if part)
