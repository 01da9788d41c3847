"""One sheet a face: the planogram drawn to scale, shelf by shelf, as the merchandiser sees it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from workbook_tools.contract.names import quoted
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import Canvas, cell_in, joined
from workbook_tools.program.model import Position, Program, Shelf

FIRST_COLUMN = 1
"""0-based column of the grid's left edge; column A is the margin with the shelf numbers."""
_STATE_ROW, _FACINGS_ROW, _LIP_ROW, _GAP_ROW = 22, 22, 34, 10
_FIRST_SHELF_ROW = 4
_LIP_SHARE = Fraction(3, 5)


@dataclass(frozen=True)
class Drawn:
    """A position as drawn: first and last 0-based grid column of its tray."""

    position: Position
    first: int
    last: int


def write_face_sheets(canvas: Canvas, sheets: Mapping[str, SheetWriter]) -> dict[str, str]:
    """Write the sheet of each face; returns where each position's tray is drawn (`'Face A'!$B$5`), for links."""
    cells: dict[str, str] = {}
    for face, sheet in sheets.items():
        cells |= _FaceSheet(canvas, face, sheet).write()
    return cells


def spread(program: Program, shelf: Shelf, positions: tuple[Position, ...], columns: int) -> list[Drawn]:
    """Share `columns` grid columns among a shelf's positions by the width of their facings.

    Where a size is missing they share evenly. Every position gets at least one column; what is left of the
    shelf's own width stays free at its right.
    """
    widths = [_width(program, one) for one in positions]
    known = all(width is not None for width in widths)
    shares = [width if known and width else Fraction(1) for width in widths]
    total = sum(shares, Fraction(0))
    drawn, edge, before = [], Fraction(0), 0
    for number, (position, share) in enumerate(zip(positions, shares, strict=True)):
        edge += share
        last = round(edge / total * columns)
        last = min(max(last, before + 1), columns - (len(positions) - number - 1))
        drawn.append(Drawn(position, FIRST_COLUMN + before, FIRST_COLUMN + last - 1))
        before = last
    return drawn


def has_sizes(program: Program, face: str) -> bool:
    """True when every shelf and position of a face can be drawn to scale."""
    for shelf, positions in program.shelves_of(face):
        if shelf.width is None or shelf.height is None or any(_width(program, one) is None for one in positions):
            return False
    return True


def _width(program: Program, position: Position) -> Fraction | None:
    width = program.item_at(position).width
    if width is None or position.facings is None:
        return None
    return Fraction(str(width)) * position.facings


class _FaceSheet:
    def __init__(self, canvas: Canvas, face: str, sheet: SheetWriter) -> None:
        self.canvas = canvas
        self.face = face
        self.sheet = sheet
        self.sizes = canvas.look.sizes
        self.columns = self.sizes["face_columns"]
        self.last = FIRST_COLUMN + self.columns - 1
        style = canvas.style
        self.title = style(bold=True, font_size=canvas.look.type_sizes["title"])
        self.quiet = style(font_color="quiet_ink", font_size=canvas.look.type_sizes["small"])
        self.number = style(bold=True, font_color="quiet_ink", align="center")
        small = canvas.look.type_sizes["small"]
        edge = {"border_color": "frame"}
        self.name = style(bold=True, left=2, top=2, indent=1, font_color="link_ink", underline=1, **edge)
        self.state = style(right=2, top=2, align="right", indent=1, font_size=small, **edge)
        self.goods = style(left=2, right=2, align="center", valign="bottom", text_wrap=True, **edge)
        self.facings = style(left=2, right=2, align="center", font_size=small, font_color="quiet_ink", **edge)
        self.tag = style(border=2, align="center", bold=True, shrink=True, **edge)

    def write(self) -> dict[str, str]:
        canvas, sheet, face = self.canvas, self.sheet, self.face
        margin = self.sizes["margin"]
        sheet.set_column_pixels(0, 0, margin)
        sheet.set_column_pixels(FIRST_COLUMN, self.last, (self.sizes["sheet_width"] - 2 * margin) // self.columns)
        sheet.set_row_pixels(0, 40)
        half = FIRST_COLUMN + self.columns // 2
        sheet.merged_text((0, FIRST_COLUMN, 0, half - 1), canvas.words("faces.title", face=face), self.title)
        self._count(half)
        scale = "faces.to_scale" if has_sizes(canvas.program, face) else "faces.not_to_scale"
        sheet.merged_text((1, FIRST_COLUMN, 1, half + 10), canvas.words(scale), self.quiet)
        back = canvas.style(font_color="link_ink", underline=1, align="right")
        sheet.merge_range(1, half + 11, 1, self.last, "", back)
        canvas.link(sheet, 1, half + 11, cell_in(canvas.layout.sheet, 0, 1), canvas.words("faces.to_return"), back)
        sheet.merged_text((2, FIRST_COLUMN, 2, self.last), canvas.words("faces.legend"), self.quiet)
        row = _FIRST_SHELF_ROW
        cells: dict[str, str] = {}
        for shelf, positions in canvas.program.shelves_of(face):
            cells |= self._shelf(row, shelf, positions)
            row += 5
        canvas.page(sheet, landscape=True)
        sheet.fit_to_pages(1, 1)
        return cells

    def _count(self, half: int) -> None:
        canvas = self.canvas
        here = [position for position in canvas.program.walk if position.face == self.face]
        states = [canvas.layout.position_cell(position, "state", sheet=True) for position in here]
        area = f"{states[0]}:{states[-1].rpartition('!')[2]}"
        counted = [
            f'COUNTIF({area},"{canvas.words(key)}*")&" {canvas.words(f"faces.count_{name}")}"'
            for key, name in (("state.todo_mark", "todo"), ("state.again_mark", "again"), ("state.right", "right"))
        ]
        cached = joined(
            [
                f"{number} {canvas.words(f'faces.count_{name}')}"
                for number, name in ((len(states), "todo"), (0, "again"), (0, "right"))
            ]
        )
        style = canvas.style(bold=True, align="right")
        self.sheet.merge_range(0, half, 0, self.last, "", style)
        self.sheet.write_formula(0, half, "=" + '&" · "&'.join(counted), style, cached)

    def _shelf(self, row: int, shelf: Shelf, positions: tuple[Position, ...]) -> dict[str, str]:
        sheet = self.sheet
        goods = self._goods_height(shelf)
        for offset, height in enumerate((_STATE_ROW, goods, _FACINGS_ROW, _LIP_ROW, _GAP_ROW)):
            sheet.set_row_pixels(row + offset, height)
        sheet.write_number(row + 1, 0, shelf.shelf, self.number)
        return {
            drawn.position.key: self._tray(row, goods, drawn)
            for drawn in spread(self.canvas.program, shelf, positions, self.columns)
        }

    def _goods_height(self, shelf: Shelf) -> int:
        shelves = [one for one, _ in self.canvas.program.shelves_of(self.face)]
        fixed = _STATE_ROW + _FACINGS_ROW + _LIP_ROW + _GAP_ROW
        room = max(self.sizes["face_height"] - fixed * len(shelves), self.sizes["least_tray_row"] * len(shelves))
        if any(one.height is None for one in shelves):
            return room // len(shelves)
        total = sum(Fraction(str(one.height)) for one in shelves)
        return max(int(room * Fraction(str(shelf.height)) / total), self.sizes["least_tray_row"])

    def _tray(self, row: int, goods: int, drawn: Drawn) -> str:
        canvas, sheet, position = self.canvas, self.sheet, drawn.position
        first, last = drawn.first, drawn.last
        item = canvas.program.item_at(position)
        middle = first + max((last - first + 1) // 3, 1)
        there = canvas.layout.position_cell(position, "as_planned", sheet=True)
        if middle <= last:
            if middle - 1 > first:
                sheet.merge_range(row, first, row, middle - 1, "", self.name)
            self._state(row, (row, middle, row, last), position)
        canvas.link(sheet, row, first, there, position.key, self.name)
        sheet.merged_text((row + 1, first, row + 1, last), item.item, self.goods)
        width = (last - first + 1) * 15
        canvas.picture(sheet, row + 1, first, item.picture, (6, 3, width - 12, max(goods - 26, 10)), item.item)
        count = canvas.words("faces.across", facings=position.facings) if position.facings else ""
        units = canvas.words("faces.units", units=position.units) if position.units else ""
        sheet.merged_text((row + 2, first, row + 2, last), joined([count, units]), self.facings)
        lip = min(first + int((last - first + 1) * _LIP_SHARE), last)
        band = canvas.brand_style(item.brand, border=2, border_color=canvas.look.colour("frame"))
        if lip > first:
            sheet.merged_text((row + 3, first, row + 3, lip - 1), item.brand, band)
            sheet.merged_text((row + 3, lip, row + 3, last), item.item_code, self.tag)
        else:
            sheet.text(row + 3, first, item.brand, band)
        return f"{quoted(sheet.name)}!{_address(row, first)}"

    def _state(self, row: int, area: tuple[int, int, int, int], position: Position) -> None:
        canvas, sheet = self.canvas, self.sheet
        if area[1] < area[3]:
            sheet.merge_range(*area, "", self.state)
        cell = canvas.layout.position_cell(position, "state", sheet=True)
        sheet.write_formula(area[0], area[1], f"={cell}", self.state, canvas.words("state.todo"))
        canvas.state_colours(sheet, (row, area[1], row, area[3]), _address(area[0], area[1]))


def _address(row: int, column: int) -> str:
    return cell_in("x", row, column).rpartition("!")[2]
