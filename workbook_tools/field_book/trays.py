"""One tray as it is drawn on a face sheet: name and state, the goods, and the lip with brand label and shelf tag."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from xlsxwriter.utility import xl_rowcol_to_cell

from workbook_tools.contract.lettering import Fit, PairFit, fit, fit_pair, lines
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import Canvas, cell_in
from workbook_tools.field_book.cutout import tray_picture
from workbook_tools.field_book.state import longest_states
from workbook_tools.program.exact import exact
from workbook_tools.program.face_plan import Line, Tray
from workbook_tools.program.joined import joined
from workbook_tools.program.model import Item, Position

WIDE_PX = 190
"""A tray at least this wide has its name beside its state, its words beside the goods, its tag beside the label."""
_STATE, _LIP, _TAG = 26, 32, 26
"""Least heights in pixels."""
_PADDING = 8
"""Pixels a cell keeps free at both edges together, or above and below."""
_LABEL_SHARE = Fraction(3, 5)
_SMALL = 9
"""Points of a state that stands under a tray's name."""
_WORDS_SHARE = Fraction(45, 100)
_MOST_LABEL_LINES = 2
_MOST_WORDS_HEIGHT = {True: 72, False: 96}
"""Pixels of height that name and details may take before they get smaller: beside the goods, and under them."""
_WORD_SIZES = ((11, 10), (11, 9), (10, 9), (9, 8), (8, 8))
"""Points of an item's name and of its details."""
_LABEL_SIZES = (12, 11, 10, 9, 8)


@dataclass(frozen=True)
class LineRows:
    """The heights in pixels of a line's rows, and which row (counted from the line's first) holds what."""

    heights: tuple[int, ...]
    wide: bool
    state: int
    goods: int
    words: int
    label: int
    tag: int


class TrayWriter:
    """Draws trays on one face sheet whose grid begins at a 0-based column; widths in pixels."""

    def __init__(self, canvas: Canvas, sheet: SheetWriter, first_column: int, column_width: int) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.first_column = first_column
        self.column_width = column_width
        edge = {"border_color": "frame"}
        self.sides = {"left": 2, "right": 2, **edge}
        self.name = canvas.style(bold=True, left=2, top=2, indent=1, font_color="link_ink", underline=1, **edge)
        self.state_beside = canvas.style(bold=True, right=2, top=2, align="center", shrink=True, **edge)
        self.name_above = canvas.style(
            bold=True, align="center", top=2, font_color="link_ink", underline=1, **self.sides
        )
        self.state_below = canvas.style(bold=True, align="center", font_size=_SMALL, text_wrap=True, **self.sides)
        self.quiet_name = canvas.style(left=2, top=2, indent=1, font_color="quiet_ink", **edge)
        self.tag = canvas.style(bold=True, border=2, align="center", shrink=True, **edge)

    def rows(self, line: Line, goods: int) -> LineRows:
        """The rows of a line whose goods are `goods` pixels high, or more where their words need it."""
        wide = all(self._px(tray.columns) >= WIDE_PX for tray in line.trays)
        words = max(self._words_height(tray, wide) for tray in line.trays)
        label = max(_LIP, *(self._label_fit(tray, wide).height + _PADDING for tray in line.trays))
        if wide:
            return LineRows((_STATE, max(goods, words), label), True, 0, 1, 1, 2, 2)
        if any(self.canvas.cut_out(self._item(tray).picture) for tray in line.trays):
            return LineRows((_STATE, self._state_height(line), goods, words, label, _TAG), False, 1, 2, 3, 4, 5)
        return LineRows((_STATE, self._state_height(line), max(goods, words), label, _TAG), False, 1, 2, 2, 3, 4)

    def _state_height(self, line: Line) -> int:
        """What the longest state takes under the name of the line's narrowest tray."""
        room = min(self._px(tray.columns) for tray in line.trays) - _PADDING
        return max(Fit(_SMALL, lines(text, room, _SMALL, True)).height for text in longest_states(self.canvas.words))

    def write(self, row: int, rows: LineRows, tray: Tray) -> str:
        """Draw a tray whose line begins at a 0-based row; returns the place of its first cell, for links."""
        first, last = self.first_column + tray.first, self.first_column + tray.last
        self._name_and_state(row, rows, tray.position, first, last)
        self._goods(row, rows, tray, first, last)
        self._lip(row, rows, tray, first, last)
        return cell_in(self.sheet.name, row, first)

    def _name_and_state(self, row: int, rows: LineRows, position: Position, first: int, last: int) -> None:
        canvas, sheet = self.canvas, self.sheet
        name_last = first + max((last - first + 1) // 3, 4) - 1 if rows.wide else last
        name = self.name if rows.wide else self.name_above
        sheet.merge_range(row, first, row, name_last, "", name)
        asked = canvas.asks(position)
        if asked:
            canvas.link(sheet, row, first, self._target(position), position.key, name)
        else:
            sheet.text(row, first, position.key, self.quiet_name)
        state_first = name_last + 1 if rows.wide else first
        area = (row + rows.state, state_first, row + rows.state, last)
        style = self.state_beside if rows.wide else self.state_below
        sheet.merge_range(*area, "", style)
        if not asked:
            sheet.text(*area[:2], canvas.words("revisit.as_before"), style)
            return
        cell = canvas.layout.position_cell(position, "state")
        sheet.write_formula(area[0], area[1], f"={cell}", style, canvas.words("state.todo"))
        canvas.state_colours(sheet, (row, first, row + rows.state, last), _address(area[0], area[1]))

    def _goods(self, row: int, rows: LineRows, tray: Tray, first: int, last: int) -> None:
        sheet = self.sheet
        item = self._item(tray)
        goods, words = row + rows.goods, row + rows.words
        pictured = self.canvas.cut_out(item.picture) is not None
        beside = rows.wide and pictured
        words_first = first + int((last - first + 1) * (1 - _WORDS_SHARE)) if beside else first
        if beside:
            sheet.merge_range(goods, first, goods, words_first - 1, "", self.canvas.style(left=2, border_color="frame"))
            self._picture(goods, rows.heights[rows.goods], tray, self._px(words_first - first))
        elif goods != words:
            sheet.merge_range(goods, first, goods, last, "", self.canvas.style(**self.sides))
            self._picture(goods, rows.heights[rows.goods], tray, self._px(tray.columns))
        self._words(tray, (words, words_first, words, last), rows.wide, beside)

    def _words(self, tray: Tray, area: tuple[int, int, int, int], wide: bool, beside: bool) -> None:
        size = self._words_fit(tray, wide)
        sides = {"right": 2} if beside else {"left": 2, "right": 2}
        cell = self.canvas.style(text_wrap=True, align="center", font_size=size.points, border_color="frame", **sides)
        bold = self.canvas.style(bold=True, font_size=size.points)
        small = self.canvas.style(font_color="quiet_ink", font_size=size.details)
        details = self._details(tray.position)
        pieces = [(bold, self._item(tray).item), (small, details and f"\n{details}")]
        self.canvas.rich(self.sheet, area, pieces, cell)

    def _picture(self, row: int, height: int, tray: Tray, width: int) -> None:
        item, position = self._item(tray), tray.position
        picture = self.canvas.cut_out(item.picture)
        if picture is None:
            return
        room = (width - 10, height - 6)
        made = tray_picture(picture, position.facings or 1, position.high or 1, room, self._tall(tray, room[1]))
        box = (5, height - 3 - made.height, width - 10, made.height)
        self.canvas.picture(
            self.sheet, row, self.first_column + tray.first, made, box, item.item, self._target(position)
        )

    def _tall(self, tray: Tray, room: int) -> float:
        """How high one item may be drawn, so that it fills its shelf as far as it does on the display."""
        item, shelf = self._item(tray), self._shelf(tray)
        if not (item.height and shelf):
            return float(room)
        return max(float(room * exact(item.height) / exact(shelf)), room / 3)

    def _lip(self, row: int, rows: LineRows, tray: Tray, first: int, last: int) -> None:
        canvas, sheet, item = self.canvas, self.sheet, self._item(tray)
        points = self._label_fit(tray, rows.wide).points
        band = canvas.brand_style(item.brand, border=2, border_color=canvas.look.colour("frame"), font_size=points)
        label, tag = row + rows.label, row + rows.tag
        label_last = first + int((last - first + 1) * _LABEL_SHARE) - 1 if rows.wide else last
        sheet.merged_text((label, first, label, label_last), item.brand, band)
        sheet.merged_text((tag, label_last + 1 if rows.wide else first, tag, last), item.item_code, self.tag)

    def _words_height(self, tray: Tray, wide: bool) -> int:
        return self._words_fit(tray, wide).height + _PADDING

    def _words_fit(self, tray: Tray, wide: bool) -> PairFit:
        room = self._px(tray.columns)
        if wide and self.canvas.cut_out(self._item(tray).picture):
            room = int(room * _WORDS_SHARE)
        name, details = self._item(tray).item, self._details(tray.position)
        return fit_pair(name, details, room - _PADDING, _WORD_SIZES, _MOST_WORDS_HEIGHT[wide])

    def _label_fit(self, tray: Tray, wide: bool) -> Fit:
        room = self._px(tray.columns) * (float(_LABEL_SHARE) if wide else 1)
        return fit(self._item(tray).brand, room - _PADDING, _LABEL_SIZES, _MOST_LABEL_LINES, bold=True)

    def _details(self, position: Position) -> str:
        """How many stand across, deep and high, and in all."""
        words = self.canvas.words
        across = words("faces.across", facings=position.facings) if position.facings else ""
        deep = words("faces.deep", deep=position.deep) if position.deep else ""
        high = words("faces.high", high=position.high) if (position.high or 1) > 1 else ""
        units = words("faces.units", units=position.units) if position.units else ""
        return joined([joined([across, high]), joined([deep, units])], "\n")

    def _item(self, tray: Tray) -> Item:
        return self.canvas.program.item_at(tray.position)

    def _shelf(self, tray: Tray) -> float | None:
        shelves = self.canvas.program.shelves_of(tray.position.face)
        return next(shelf.height for shelf, _ in shelves if shelf.shelf == tray.position.shelf)

    def _target(self, position: Position) -> str:
        """Where a tap leads: to the position's row, if it has one."""
        if not self.canvas.asks(position):
            return ""
        return self.canvas.layout.position_cell(position, "as_planned")

    def _px(self, columns: int) -> int:
        return columns * self.column_width


def _address(row: int, column: int) -> str:
    address: str = xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)
    return address
