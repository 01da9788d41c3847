"""What all sheets of a roll-up share while they are written: words, look, tables, links, page set-up."""

from __future__ import annotations

import datetime as dt
from functools import cached_property
from typing import Any, TypeAlias

from workbook_tools.contract.look import Look
from workbook_tools.contract.names import sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import TEXT_FORMAT, SheetWriter
from workbook_tools.program.joined import joined
from workbook_tools.program.model import Program
from workbook_tools.rollup.sheets.bulk import BulkBookWriter
from workbook_tools.rollup.sheets.place import Place

CellFormat: TypeAlias = Any
TITLE_ROW, ABOUT_ROW, LINK_ROW, HEADING_ROW = 0, 1, 2, 3
A4 = 9
TITLE_LETTERS, TITLE_LINE = 50, 32
"""How many letters of a title go into a line of a screen's width, and the height of a line in pixels."""
FOOTER_LETTERS = 40
"""So many letters of a program's name in the footer of an upright page do not run into the sheet's name."""


class Page:
    """One roll-up workbook being written."""

    def __init__(self, program: Program, words: Words, look: Look, title: str) -> None:
        self.program = program
        self.words = words
        self.look = look
        self.book = BulkBookWriter(look, title=title)
        self.sheets: dict[str, SheetWriter] = {}
        self.tables = 0
        self._widths: dict[tuple[str, int], int] = {}
        self._abouts: dict[str, tuple[int, str]] = {}

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
    def warning(self) -> CellFormat:
        """The format of what must not be overlooked."""
        return self.style(bold=True)

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
        """Title, a sentence about the sheet ("": what is said where it has no rows) and the way back to the first one;
        gives the sheet.
        """
        sheet = self.sheets[key]
        sheet.set_row_pixels(TITLE_ROW, 40)
        sheet.text(TITLE_ROW, left, self.words(f"rollup.titles.{key}"), self.title)
        self._abouts[sheet.name] = (left, about or self.words(f"rollup.none.{key}"))
        sheet.text(ABOUT_ROW, *self._abouts[sheet.name], self.quiet)
        sheet.set_row_pixels(ABOUT_ROW, 24)
        sheet.set_row_pixels(LINK_ROW, 26)
        first = next(iter(self.sheets))
        back = Place(self.sheet_name(first)).target
        sheet.write_url(LINK_ROW, left, back, self.linked, f"← {self.sheet_name(first)}")
        return sheet

    def warn(self, sheet: SheetWriter, said: str) -> None:
        """Add to the sentence about a sheet what its reader must not overlook."""
        left, about = self._abouts[sheet.name]
        self._abouts[sheet.name] = (left, joined([about, said], " "))
        sheet.text(ABOUT_ROW, *self._abouts[sheet.name], self.warning)

    def section_line(self, sheet: SheetWriter, row: int, said: str, columns: int) -> None:
        """A heading over a table of so many columns, inside a sheet."""
        sheet.set_row_pixels(row, 30)
        sheet.text(row, 0, said, self.section)
        for column in range(1, columns):
            sheet.write_blank(row, column, None, self.section)

    def widen(self, sheet: SheetWriter, column: int, width: int, cell_format: CellFormat = None) -> None:
        """Make a column at least so many pixels wide; its blank cells have the format given."""
        known = self._widths.get((sheet.name, column), 0)
        if width > known:
            self._widths[sheet.name, column] = width
            sheet.set_column_pixels(column, column, width, cell_format)

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
        name = shortened(self.program.settings.name, FOOTER_LETTERS).replace("&", "&&")
        pages = self.words("page.of", page="&P", pages="&N")
        sheet.set_footer(f"&L&9 {name}&C&9 &A&R&9 {pages}")


def title_height(title: str) -> int:
    """The pixels of a row that holds a title, over as many lines as it takes."""
    return 10 + TITLE_LINE * max(-(-len(title) // TITLE_LETTERS), 1)


def shortened(text: str, letters: int) -> str:
    """At most so many letters of a text, with a sign that more was there."""
    return text if len(text) <= letters else f"{text[: letters - 1].rstrip()}…"


def day(when: dt.date) -> str:
    """A day as sentences show it."""
    return when.isoformat()
