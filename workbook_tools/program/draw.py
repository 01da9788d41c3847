"""faces.xlsx: every face drawn to scale from what the setup holds so far, with what was found wrong on each tray."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.look import Look, default_look
from workbook_tools.contract.model import SEVERITIES
from workbook_tools.contract.names import row_and_column, sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import BookWriter, SheetWriter
from workbook_tools.program.exact import exact
from workbook_tools.program.face_plan import Line, Tray, plan_face
from workbook_tools.program.fit import Counts, units_of
from workbook_tools.program.model import Item, Position, Program, Settings, Shelf
from workbook_tools.program.view import View, count, figure, size, text

_FILLS = {"must mend": "again", "look at": "waiting", "note": "notice"}
_TITLE_HEIGHT, _LEGEND_HEIGHT, _BAR_HEIGHT, _TEXT_HEIGHT, _LIP_HEIGHT, _GAP = 38, 24, 24, 20, 28, 10
_LONGEST_PROBLEM = 400
_MOST_OF_A_PAGE = 1600
"""Pixels of height up to which a face is fitted to one page."""
_A4 = 9


def drawn_faces(view: View, findings: Iterable[Finding], words: Words) -> bytes:
    """The workbook, a sheet a face; one sheet that says so when there is no position to draw."""
    drawing = _Drawing(view, findings, words)
    return drawing.write()


def partial_program(view: View) -> Program:
    """The planogram of a setup as far as it can be read: positions with face, shelf and place; unknown items bare."""
    positions = tuple(
        Position(
            face=face,
            shelf=shelf,
            place=place,
            item=text(row, "item"),
            facings=count(row, "facings"),
            deep=count(row, "deep"),
            high=count(row, "high"),
            units=count(row, "units"),
        )
        for (face, shelf), rows in view.standing.items()
        for row in rows
        if (place := count(row, "place"))
    )
    shelves = tuple(
        Shelf(face=face, shelf=shelf, **{key: size(row, key) for key in ("width", "depth", "height")})
        for (face, shelf), row in view.described.items()
    )
    return Program(settings=_settings(view), shelves=shelves, positions=positions, items=tuple(_items(view, positions)))


def _settings(view: View) -> Settings:
    today = dt.date(2000, 1, 1)
    name = text(view.setting_row("name"), "name")
    return Settings(name=name, code="", units=view.units, starts=today, due=today, contact="", place="", photos="")


def _items(view: View, positions: Iterable[Position]) -> Iterable[Item]:
    for name in dict.fromkeys(one.item for one in positions):
        row = view.items.get(name)
        yield Item(item=name, item_code=text(row, "item_code"), brand=text(row, "brand"), width=size(row, "width"))


class _Drawing:
    def __init__(self, view: View, findings: Iterable[Finding], words: Words) -> None:
        self.view = view
        self.words = words
        self.look: Look = default_look()
        self.program = partial_program(view)
        title = words("drawn.title", program=self.program.settings.name)
        self.book = BookWriter(self.look, title=title)
        self.brands = list(dict.fromkeys(text(row, "brand") for row in view.rows("labels")))
        self.found = self._by_tray(findings)
        self.columns = self.look.sizes["face_columns"]

    def _by_tray(self, findings: Iterable[Finding]) -> Mapping[str, list[Finding]]:
        """The findings in the rows of the planogram, by the tray's name."""
        rows = {row.number: row for row in self.view.rows("positions")}
        sheet = self.view.tables["positions"].raw.sheet if rows else ""
        found: defaultdict[str, list[Finding]] = defaultdict(list)
        for one in findings:
            where = row_and_column(one.cell)
            if one.sheet == sheet and where and where[0] in rows:
                row = rows[where[0]]
                found[f"{text(row, 'face')}-{count(row, 'shelf')}-{count(row, 'place')}"].append(one)
        return found

    def write(self) -> bytes:
        """Draw every face."""
        for face in self.program.faces:
            self._face(face)
        if not self.program.faces:
            sheet = self.book.sheet(sheet_name(self.words("drawn.nothing_sheet")))
            sheet.text(0, 0, self.words("drawn.nothing"), self._style())
        return self.book.close()

    def _style(self, **properties: object) -> Any:
        for key in ("bg_color", "font_color", "border_color"):
            if key in properties and not str(properties[key]).startswith("#"):
                properties[key] = self.look.colour(str(properties[key]))
        return self.book.format(**properties)

    def _face(self, face: str) -> None:
        sheet = self.book.sheet(sheet_name(self.words("faces.sheet", face=face)))
        sizes = self.look.sizes
        width = (sizes["sheet_width"] - 2 * sizes["margin"]) // self.columns
        sheet.set_column_pixels(0, 0, sizes["margin"])
        sheet.set_column_pixels(1, self.columns, width)
        plan = plan_face(self.program, face, self.columns, sizes["least_tray_columns"])
        title = self._style(bold=True, font_size=self.look.type_sizes["title"])
        sheet.set_row_pixels(0, _TITLE_HEIGHT)
        name = self.program.settings.name
        sheet.merged_text((0, 1, 0, self.columns), self.words("drawn.face", program=name, face=face), title)
        sheet.set_row_pixels(1, _LEGEND_HEIGHT)
        quiet = self._style(font_color="quiet_ink")
        sheet.merged_text((1, 1, 1, self.columns), self.words(f"faces.{plan.scale}"), quiet)
        heights = self._goods_heights(plan.lines)
        row = 2
        for line, height in zip(plan.lines, heights, strict=True):
            row = self._line(sheet, row, line, height)
        lines = len(plan.lines) * (_BAR_HEIGHT + 2 * _TEXT_HEIGHT + _LIP_HEIGHT + _GAP)
        is_one_page = _TITLE_HEIGHT + _LEGEND_HEIGHT + lines + sum(heights) <= _MOST_OF_A_PAGE
        sheet.hide_gridlines(2)
        sheet.set_landscape()
        sheet.set_paper(_A4)
        sheet.fit_to_pages(1, int(is_one_page))

    def _goods_heights(self, lines: Iterable[Line]) -> list[int]:
        """Pixels of the goods of each line, in proportion to the clear heights where all are known."""
        told = [exact(line.shelf.height or 0) for line in lines]
        sizes = self.look.sizes
        if not told or not min(told):
            return [sizes["least_goods"]] * len(told)
        room = Fraction(sizes["face_height"]) / sum(told)
        return [min(max(int(height * room), sizes["least_goods"]), sizes["most_goods"]) for height in told]

    def _line(self, sheet: SheetWriter, row: int, line: Line, height: int) -> int:
        """One shelf, or a part of it; returns the next row."""
        bar = self._style(bold=True, bg_color="shelf_bar", border_color="grid", bottom=1)
        sheet.set_row_pixels(row, _BAR_HEIGHT)
        sheet.merged_text((row, 1, row, self.columns), self._shelf_text(line), bar)
        tall = [height, _TEXT_HEIGHT, _LIP_HEIGHT, _TEXT_HEIGHT]
        for offset, pixels in enumerate(tall, start=1):
            sheet.set_row_pixels(row + offset, pixels)
        for tray in line.trays:
            self._tray(sheet, row + 1, tray)
        sheet.set_row_pixels(row + len(tall) + 1, _GAP)
        return row + len(tall) + 2

    def _shelf_text(self, line: Line) -> str:
        shelf = line.shelf
        named = self.words("drawn.shelf", shelf=f"{shelf.face}-{shelf.shelf}")
        sides = [side for side in (shelf.width, shelf.depth, shelf.height) if side]
        if len(sides) < 3:
            return named
        return f"{named} · {' × '.join(str(figure(side)) for side in sides)} {self.view.length}"

    def _tray(self, sheet: SheetWriter, row: int, tray: Tray) -> None:
        """Goods, counts, the brand's label with the item code beside it, and what was found."""
        position = tray.position
        item = self.program.item_at(position)
        first, last = 1 + tray.first, 1 + tray.last
        found = sorted(self.found.get(position.key, ()), key=lambda one: SEVERITIES.index(one.severity))
        colour = _FILLS[found[0].severity] if found else "paper"
        box = {"text_wrap": True, "align": "center", "left": 1, "right": 1, "border_color": "frame"}
        goods = self._style(bg_color=colour, top=1, **box)
        small = self._style(bg_color=colour, font_size=9, **box)
        sheet.merged_text((row, first, row, last), f"{position.key}\n{item.item}", goods)
        sheet.merged_text((row + 1, first, row + 1, last), self._counts(position), small)
        self._lip(sheet, row + 2, (first, last), item)
        said = "" if not found else found[0].problem(self.words)[:_LONGEST_PROBLEM]
        sheet.merged_text(
            (row + 3, first, row + 3, last), said, self._style(bg_color=colour, font_size=8, bottom=1, **box)
        )
        if found:
            note = "\n".join(f"{one.problem(self.words)} {one.todo(self.words)}" for one in found)
            sheet.write_comment(row, first, note, {"x_scale": 2, "y_scale": 1 + len(note) / 200})

    def _counts(self, position: Position) -> str:
        counts = (position.facings, position.deep, position.high)
        drawn = " × ".join("?" if one is None else str(one) for one in counts) if any(counts) else ""
        told = Counts(*counts)
        units = position.units if position.units is not None else units_of(told)
        if units is None or not drawn:
            return drawn or ("" if units is None else str(units))
        product = units_of(told)
        return f"{drawn} {'=' if product in (None, units) else '≠'} {units}"

    def _lip(self, sheet: SheetWriter, row: int, across: tuple[int, int], item: Item) -> None:
        first, last = across
        middle = first + (last - first + 1) * 2 // 3
        known = item.brand in self.brands
        paint = self.look.brand(self.brands.index(item.brand)) if known else None
        colours = {"bg_color": f"#{paint.fill}", "font_color": f"#{paint.ink}"} if paint else {"bg_color": "paper"}
        label = self._style(bold=True, align="center", border=1, border_color="frame", shrink=True, **colours)
        tag = self._style(align="center", border=1, border_color="frame", font_size=9)
        brand = item.brand or self.words("drawn.no_brand")
        sheet.merged_text((row, first, row, max(middle - 1, first)), brand, label)
        if middle <= last:
            sheet.merged_text((row, middle, row, last), item.item_code, tag)
