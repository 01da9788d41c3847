"""What all sheets of one field book share while they are written: words, look, lists, placeholders, page set-up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from io import BytesIO

from xlsxwriter.format import Format
from xlsxwriter.utility import xl_rowcol_to_cell

from workbook_tools.contract.look import Look
from workbook_tools.contract.model import Contract
from workbook_tools.contract.names import quoted, sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import BookWriter, ListSheet, SheetWriter, legal_text
from workbook_tools.field_book.cutout import cut_out
from workbook_tools.field_book.layout import ReturnLayout, plan_return
from workbook_tools.field_book.paging import A4, BOTTOM, LEFT_RIGHT, LETTER, TOP
from workbook_tools.field_book.particulars import PLAIN, Particulars
from workbook_tools.program.formula_texts import quoted_text, sought
from workbook_tools.program.joined import joined
from workbook_tools.program.model import Position, Program
from workbook_tools.program.pictures import Picture

STORE_TEXTS = ("store.store", "store.name", "store.address", "store.phone", "store.district")
"""Texts that differ from store to store and can be looked up once the store is known."""
LONGEST_TEXT_BESIDE = 255
"""Characters of the text that stands for a picture (MS-OI29500 on `descr`)."""
INDENT = 15
"""Pixels that an indented cell keeps free at its edges."""
_LONGEST_FOOTER = 110

Area = tuple[int, int, int, int]
"""First row, first column, last row, last column; 0-based."""


class Canvas:
    """One field book being built. In a shared one, store texts are live formulas that follow the store picked."""

    def __init__(
        self,
        contract: Contract,
        program: Program,
        words: Words,
        look: Look,
        pictures: dict[str, Picture],
        particulars: Particulars = PLAIN,
    ) -> None:
        self.contract = contract
        self.program = program
        self.words = words
        self.look = look
        self.pictures = pictures
        self.particulars = particulars
        self.shared = particulars.shared
        self.book = BookWriter(look, title=f"{program.settings.name} {placeholder('book.token')}")
        sheet = sheet_name(words("field_book.sheets.return"))
        self.layout: ReturnLayout = plan_return(program, contract, sheet, particulars)
        self.walk = particulars.walk(program)
        self.parts = particulars.parts(program)
        self.lists: ListSheet
        self._cut_out: dict[str, Picture | None] = {}
        self._stamped: list[tuple[SheetWriter, int, int, str, Format]] = []
        self._brand_numbers = {label.brand: number for number, label in enumerate(program.labels)}

    @property
    def asks_all_trays(self) -> bool:
        """True when no position is left out: the display is to be built."""
        return len(self.walk) == len(self.program.walk)

    def asks(self, position: Position) -> bool:
        """True when a position has a row on the Return sheet."""
        return position.key in self.layout.position_rows

    def style(self, **properties: object) -> Format:
        """A cell format; colours are given by their names in look.toml."""
        for key in ("bg_color", "font_color", "border_color"):
            if key in properties:
                properties[key] = self.look.colour(str(properties[key]))
        return self.book.format(**properties)

    def brand_style(self, brand: str, **properties: object) -> Format:
        """The format of a brand's band."""
        paint = self.look.brand(self._brand_numbers.get(brand, 0))
        fill = {"bg_color": f"#{paint.fill}", "font_color": f"#{paint.ink}"}
        return self.book.format(**{**fill, "bold": True, "align": "center", "text_wrap": True, **properties})

    def stamped(self, sheet: SheetWriter, area: Area, key: str, cell_format: Format, *, live: bool = True) -> None:
        """A text that differs from store to store (a key of STORE_TEXTS, or another placeholder's name).

        In a shared book, those of STORE_TEXTS follow the store picked, unless `live` is false.
        """
        row, column = area[:2]
        if area[:2] != area[2:]:
            sheet.merge_range(*area, "", cell_format)
        if live and self.shared and key in STORE_TEXTS:
            sheet.write_formula(row, column, self._looked_up(key), cell_format, "")
        else:
            self._stamped.append((sheet, row, column, placeholder(key), cell_format))

    def _looked_up(self, key: str) -> str:
        picked = self.layout.visit_cell("store", sheet=True)
        stores, texts = self.lists.ranges["store"], self.lists.ranges[key]
        found = f"INDEX({texts[1:]},MATCH({sought(picked)},{stores[1:]},0))"
        return f'=IF({picked}="","",IFERROR({found},""))'

    def finish(self) -> bytes:
        """Write the placeholders last, so that they end up at the end of the shared strings, and close the book."""
        for sheet, row, column, text, cell_format in self._stamped:
            sheet.write_string(row, column, text, cell_format)
        return self.book.close()

    def page(
        self,
        sheet: SheetWriter,
        *,
        landscape: bool = False,
        repeat: tuple[int, int] | None = None,
        breaks: Sequence[int] = (),
        down: int = 0,
        tab: str = "notice",
        photos: bool = False,
    ) -> None:
        """Page set-up of a visible sheet, and its protection.

        One page wide and `down` pages high (0: as many as it takes), `breaks` before these 0-based rows, the rows
        `repeat` on every page; a footer with program, store and page of pages. `tab` is the tab's colour. Pictures
        are fixed; with `photos`, people can put their own beside the answers.
        """
        sheet.hide_gridlines(2)
        sheet.hide_row_col_headers()
        if landscape:
            sheet.set_landscape()
        sheet.set_paper(LETTER if self.program.settings.units.startswith("in") else A4)
        sheet.set_margins(left=LEFT_RIGHT, right=LEFT_RIGHT, top=TOP, bottom=BOTTOM)
        sheet.center_horizontally()
        sheet.fit_to_pages(1, down)
        if repeat:
            sheet.repeat_rows(*repeat)
        if breaks:
            sheet.set_h_pagebreaks(list(breaks))
        name = self.program.settings.name[:_LONGEST_FOOTER].replace("&", "&&")
        store = "" if self.shared else placeholder("footer:store.line")
        pages = self.words("page.of", page="&P", pages="&N")
        sheet.set_footer(f"&L&9 {name}&C&9 {store}&R&9 {pages}")
        sheet.set_tab_color(self.look.colour(tab))
        sheet.protect("", {"objects": photos, "select_locked_cells": True, "format_columns": False})

    def link(self, sheet: SheetWriter, row: int, column: int, target: str, text: str, cell_format: Format) -> None:
        """A link to a cell of this book; target is `'Sheet'!A1`."""
        sheet.write_url(row, column, f"internal:{target}", cell_format, text)

    def rich(self, sheet: SheetWriter, area: Area, pieces: Sequence[tuple[Format, str]], cell_format: Format) -> None:
        """A text over an area, in pieces of different type; blank pieces are left out."""
        shown = [(style, text) for style, text in ((style, legal_text(text)) for style, text in pieces) if text]
        if len(shown) < 2:
            sheet.merged_text(area, shown[0][1] if shown else "", cell_format)
            return
        if area[:2] != area[2:]:
            sheet.merge_range(*area, "", cell_format)
        sheet.write_rich_string(*area[:2], *(part for piece in shown for part in piece), cell_format)

    def date(self, day: dt.date) -> str:
        """A day as people write it in the book's language."""
        return date_in(self.words, day)

    @property
    def cover_link(self) -> tuple[str, str]:
        """The cover's name and where a link to it leads."""
        name = self.words("cover.sheet")
        return name, cell_in(sheet_name(name), 0, 0)

    def face_sheet(self, face: str) -> str:
        """The name of a face's sheet."""
        return sheet_name(self.words("faces.sheet", face=face))

    def cut_out(self, name: str) -> Picture | None:
        """An item's picture without its white edges; None when there is none."""
        if name not in self._cut_out:
            picture = self.pictures.get(name)
            self._cut_out[name] = cut_out(picture) if picture else None
        return self._cut_out[name]

    def picture(
        self, sheet: SheetWriter, row: int, column: int, picture: Picture, box: Area, text: str, target: str = ""
    ) -> None:
        """Put a picture into the middle of a box (x, y, width, height in pixels from the cell's corner).

        It keeps its proportions; `text` tells what it shows, `target` is where a tap on it leads.
        """
        x, y, width, height = box
        scale = min(width / picture.width, height / picture.height, 1)
        shown = (picture.width * scale, picture.height * scale)
        options = {
            "image_data": BytesIO(picture.data),
            "x_offset": x + (width - shown[0]) / 2,
            "y_offset": y + (height - shown[1]) / 2,
            "x_scale": scale,
            "y_scale": scale,
            "object_position": 1,
            "description": text[:LONGEST_TEXT_BESIDE],
        }
        if target:
            options["url"] = f"internal:{target}"
        sheet.insert_image(row, column, f"picture.{picture.suffix}", options)

    def state_colours(self, sheet: SheetWriter, area: Area, first_cell: str) -> None:
        """Colour an area by the mark that the text in a cell of the same sheet begins with."""
        for name in ("right", "again"):
            style = self.book.format(bg_color=self.look.colour(name), font_color=self.look.colour(f"{name}_ink"))
            criteria = f"=LEFT({first_cell},1)={quoted_text(self.words(f'state.{name}_mark'))}"
            sheet.conditional_format(*area, {"type": "formula", "criteria": criteria, "format": style})

    def count(self, cells: str, state: str) -> str:
        """A formula's part that counts the states of a range that are "todo", "right" or "again"."""
        begins = self.words(f"state.{state}_mark")
        return f"COUNTIF({cells},{quoted_text(f'{begins}*')})"

    def counted(self, cells: str, total: int) -> tuple[str, str]:
        """A formula that says how many states of a range are which, and its result while all of `total` are to do."""
        named = {state: self.words(f"faces.count_{state}") for state in ("todo", "again", "right")}
        counts = (f"{self.count(cells, state)}&{quoted_text(f' {name}')}" for state, name in named.items())
        blank = (f"{total if state == 'todo' else 0} {name}" for state, name in named.items())
        return "=" + '&" · "&'.join(counts), joined(blank)


def date_in(words: Words, day: dt.date) -> str:
    """A day as people write it in a language."""
    return f"{day.day} {words('page.months').split()[day.month - 1]} {day.year}"


def placeholder(key: str) -> str:
    """What stands in the built book where a store's text is to be stamped."""
    return "{{" + key + "}}"


def cell_in(sheet: str, row: int, column: int) -> str:
    """The address of a cell in another sheet, as links and formulas write it."""
    return f"{quoted(sheet)}!{xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)}"
