"""The sheet of the setup workbook that draws a face while the planogram is filled in: live formulas, pick the face.

It shows what stands where with brand and counts, not to scale and not beyond its grid; `check --draw` draws all of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from workbook_tools.contract.look import Look
from workbook_tools.contract.model import Contract
from workbook_tools.contract.names import a1, column_letters, quoted, sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import BookWriter, SheetWriter
from workbook_tools.program.formula_texts import quoted_text, sought

SHELVES, PLACES = 10, 12
"""The grid: shelves from the top, places from the left."""
READ_ROWS = 1_000
"""Rows of the planogram, of shelves, items and labels that are looked through."""
LETTERS = tuple("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
TITLE_ROW, PICK_ROW, HEAD_ROW, FIRST_ROW = 0, 1, 3, 4
SHELF_COLUMN, FIRST_COLUMN = 1, 2
ROW_HEIGHTS = (40, 20, 18, 8)
"""Pixels of a shelf's rows: item, brand, counts, a gap."""
_ROW_OF = FIRST_COLUMN + PLACES + 1
"""The first of the hidden columns beside the item: the row of the planogram in which each place stands, or 0."""
_BRAND_OF = _ROW_OF + PLACES
"""The first of the hidden columns beside the brand: its number on the Labels sheet from 1, or 0."""
_COUNTS = ("facings", "deep", "high")

Content = Mapping[str, Sequence[Mapping[str, object]]]
Cell = tuple[int, int, str, int]
"""0-based row and column, formula, result."""


class FaceSheet:
    """Writes the sheet. `first` is the 0-based first row of every table in the workbook."""

    def __init__(self, contract: Contract, look: Look, words: Words, content: Content, first: int) -> None:
        self.contract = contract
        self.look = look
        self.words = words
        self.content = content
        self.first = first
        faces = (row.get("face") for row in content.get("positions", ()))
        self.face = min((str(face) for face in faces if face in LETTERS), default=LETTERS[0])
        self.standing = {
            (row.get("shelf"), row.get("place")): (number, row)
            for number, row in enumerate(content.get("positions", ()), start=first + 1)
            if row.get("face") == self.face
        }
        self.picked = f"${column_letters(FIRST_COLUMN)}${PICK_ROW + 1}"
        self.brands = {_folded(row.get("item")): _shown(row.get("brand")) for row in reversed(content.get("items", ()))}
        self.labels = [_folded(row.get("brand")) for row in content.get("labels", ())]

    def write(self, book: BookWriter, sheet: SheetWriter) -> None:
        """The cell to pick a face in, then the grid."""
        quiet = self.look.colour("quiet_ink")
        line = {"align": "center", "text_wrap": True}
        styles = (
            book.format(font_size=9, **line),
            book.format(font_size=9, bold=True, **line),
            book.format(font_size=8, font_color=quiet, **line),
        )
        name = book.format(bold=True, font_color=quiet)
        self._head(book, sheet)
        for shelf in range(1, SHELVES + 1):
            top = FIRST_ROW + (shelf - 1) * len(ROW_HEIGHTS)
            for offset, height in enumerate(ROW_HEIGHTS):
                sheet.set_row_pixels(top + offset, height)
            sheet.write_formula(top, SHELF_COLUMN, *self._name(shelf, name))
            for place in range(1, PLACES + 1):
                self._tray(sheet, (top, place - 1), (shelf, place), styles)
        self._colours(book, sheet)

    def _head(self, book: BookWriter, sheet: SheetWriter) -> None:
        colour = self.look.colour
        title = book.format(bold=True, font_size=self.look.type_sizes["title"])
        quiet = book.format(font_color=colour("quiet_ink"))
        frame = {"border": 1, "border_color": colour("answer_frame")}
        answer = book.format(bold=True, align="center", bg_color=colour("answer"), **frame)
        heading = book.format(bold=True, align="center", bg_color=colour("heading"), font_color=colour("heading_ink"))
        for first, last, width in ((0, 0, 20), (1, 1, 90), (FIRST_COLUMN, FIRST_COLUMN + PLACES - 1, 116)):
            sheet.set_column_pixels(first, last, width)
        sheet.set_column_pixels(_ROW_OF, _BRAND_OF + PLACES - 1, 40, None, {"hidden": True})
        sheet.set_row_pixels(TITLE_ROW, 36)
        sheet.text(TITLE_ROW, SHELF_COLUMN, self.words("setup.faces.title"), title)
        sheet.text(PICK_ROW, SHELF_COLUMN, self.words("setup.faces.pick"), quiet)
        sheet.text(PICK_ROW, FIRST_COLUMN, self.face, answer)
        sheet.text(PICK_ROW, FIRST_COLUMN + 1, self.words("setup.faces.about"), quiet)
        sheet.data_validation(
            PICK_ROW, FIRST_COLUMN, PICK_ROW, FIRST_COLUMN, {"validate": "list", "source": list(LETTERS)}
        )
        sheet.text(HEAD_ROW, SHELF_COLUMN, "", heading)
        for place in range(1, PLACES + 1):
            sheet.write_number(HEAD_ROW, FIRST_COLUMN + place - 1, place, heading)
        sheet.freeze_panes(FIRST_ROW, FIRST_COLUMN)
        sheet.hide_gridlines(2)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)

    def _name(self, shelf: int, style: Any) -> tuple[str, Any, str]:
        """A shelf's name where it is described or holds something."""
        said = self.words("setup.faces.shelf", shelf=shelf)
        rows = [*self.content.get("shelves", ()), *self.content.get("positions", ())]
        is_there = any((row.get("face"), row.get("shelf")) == (self.face, shelf) for row in rows)
        counted = "+".join(
            f"COUNTIFS({self._column(block, 'face')},{self.picked},{self._column(block, 'shelf')},{shelf})"
            for block in ("shelves", "positions")
        )
        return f'=IF({counted}=0,"",{quoted_text(said)})', style, said if is_there else ""

    def _tray(self, sheet: SheetWriter, at: tuple[int, int], where: tuple[int, int], styles: Sequence[Any]) -> None:
        """The three cells of a place and its two hidden ones. `at`: 0-based top row and column in the grid."""
        top, number = at
        column = FIRST_COLUMN + number
        for offset, (style, (formula, result)) in enumerate(zip(styles, self._said(at, where), strict=True)):
            sheet.write_formula(top + offset, column, formula, style, result)
        for row, hidden, formula, counted in self._hidden(at, where):
            sheet.write_formula(row, hidden, formula, None, counted)

    def _said(self, at: tuple[int, int], where: tuple[int, int]) -> Iterator[tuple[str, str]]:
        """Item, brand and counts of a place: the formulas and their results; what is not told is a question mark."""
        top, number = at
        row = a1(top, _ROW_OF + number)
        _, position = self.standing.get(where, (0, None))
        item = f"INDEX({self._column('positions', 'item', 1)},{row})"
        yield f'=IF({row}=0,"",IF({item}="","?",{item}))', (_shown(position.get("item")) or "?") if position else ""
        named = sought(a1(top, FIRST_COLUMN + number))
        brand = f"INDEX({self._column('items', 'brand')},MATCH({named},{self._column('items', 'item')},0))"
        yield f'=IF({row}=0,"",IFERROR({brand}&"","?"))', self._brand(position) if position else ""
        counts = [f"INDEX({self._column('positions', key, 1)},{row})" for key in (*_COUNTS, "units")]
        drawn = '&" × "&'.join(f'IF({one}="","?",{one})' for one in counts[:-1])
        units = counts[-1]
        yield f'=IF({row}=0,"",{drawn}&IF({units}="",""," = "&{units}))', _counts(position) if position else ""

    def _hidden(self, at: tuple[int, int], where: tuple[int, int]) -> Iterator[Cell]:
        """The row of the planogram in which a place stands, and the number of its brand."""
        top, number = at
        columns = [self._column("positions", key) for key in ("face", "shelf", "place")]
        tests = "*".join(f"({column}={value})" for column, value in zip(columns, (self.picked, *where), strict=True))
        row, position = self.standing.get(where, (0, None))
        yield top, _ROW_OF + number, f"=SUMPRODUCT(MAX({tests}*ROW({columns[0]})))", row
        brand = a1(top + 1, FIRST_COLUMN + number)
        at_label = f"IFERROR(MATCH({sought(brand)},{self._column('labels', 'brand')},0),0)"
        name = self._brand(position).casefold() if position else ""
        found = self.labels.index(name) + 1 if name in self.labels and name else 0
        yield top + 1, _BRAND_OF + number, f'=IF({brand}="",0,{at_label})', found

    def _column(self, block: str, key: str, start: int | None = None) -> str:
        """A column of a table as formulas write it, from its first row or from a 1-based row."""
        setup = self.contract.setup
        letter = column_letters(setup.block(block).by_key[key].index)
        sheet = quoted(sheet_name(self.words(f"setup.sheets.{setup.sheet_of(block).key}")))
        return f"{sheet}!${letter}${start or self.first + 1}:${letter}${self.first + READ_ROWS}"

    def _brand(self, position: Mapping[str, object]) -> str:
        return self.brands.get(_folded(position.get("item")), "?")

    def _colours(self, book: BookWriter, sheet: SheetWriter) -> None:
        """A frame where something stands, and the brand's colour, as on its labels in the field book."""
        line = {"border": 1, "border_color": self.look.colour("grid")}
        last = FIRST_ROW + SHELVES * len(ROW_HEIGHTS) - 1
        area = (FIRST_ROW, FIRST_COLUMN, last, FIRST_COLUMN + PLACES - 1)
        paints = len(self.look.brands)
        number = a1(FIRST_ROW, _BRAND_OF)
        for paint in range(paints):
            look = self.look.brand(paint)
            style = book.format(bg_color=f"#{look.fill}", font_color=f"#{look.ink}", **line)
            test = f"=AND({number}>0,MOD({number}-1,{paints})={paint})"
            sheet.conditional_format(*area, {"type": "formula", "criteria": test, "format": style})
        stands = f'={a1(FIRST_ROW, FIRST_COLUMN)}<>""'
        sheet.conditional_format(*area, {"type": "formula", "criteria": stands, "format": book.format(**line)})


def _counts(position: Mapping[str, object]) -> str:
    drawn = " × ".join(_shown(position.get(key)) or "?" for key in _COUNTS)
    units = _shown(position.get("units"))
    return f"{drawn} = {units}" if units else drawn


def _folded(value: object) -> str:
    return _shown(value).casefold()


def _shown(value: object) -> str:
    """A value as a cell shows it."""
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, int | float) else str(value)
