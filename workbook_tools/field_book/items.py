"""Two sheets of references: Items, with pictures and bar codes, and Tags, the store's list of shelf tags to print."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from xlsxwriter.format import Format

from workbook_tools.contract.lettering import PairFit, fit, fit_pair
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.barcodes import Symbol, gtin_symbol, item_code_symbol
from workbook_tools.field_book.canvas import INDENT, Canvas
from workbook_tools.field_book.paging import blocks_of, page_breaks, page_height
from workbook_tools.program.asked import POSITIONS
from workbook_tools.program.model import Item, Position

ITEM_COLUMNS = (("picture", 88), ("item", 252), ("brand", 108), ("codes", 122), ("gtin_bars", 236), ("code_bars", 186))
TAG_COLUMNS = (
    ("positions", 120),
    ("item", 334),
    ("item_code", 130),
    ("code_bars", 226),
    ("count", 76),
    ("printed", 106),
)
TITLE_ROW = 0
_TITLE_HEIGHT, _HEADING_HEIGHT = 40, 30
_MARGIN, _PADDING, _QUIET = 8, 4, 4
"""Pixels: left of the table, above and below a text, left of a bar code."""
_SIZES = (12, 11, 10, 9, 8)
_PAIR_SIZES = ((12, 10), (11, 10), (11, 9), (10, 9), (9, 8), (8, 8))
_HEADING_SIZES = (12, 11, 10, 9, 8)
_TAG_KINDS = ("tag_missing", "tag_asked", "tag_mismatch", "not_reported")
"""Open flags of a position whose shelf tag may have to be printed."""


def items_in_walk_order(canvas: Canvas) -> list[tuple[Item, list[Position]]]:
    """Each item of the positions that are asked, in the order met, with these positions; then the substitutes."""
    standing: dict[str, list[Position]] = {}
    for position in canvas.walk:
        standing.setdefault(position.item, []).append(position)
    substitutes = [name for item in list(standing) for name in canvas.program.item[item].substitutes]
    for name in substitutes:
        standing.setdefault(name, [])
    return [(canvas.program.item[name], positions) for name, positions in standing.items()]


def write_item_sheet(canvas: Canvas, sheet: SheetWriter) -> None:
    """Write the Items sheet: one row an item in the order met at the display."""
    listed = items_in_walk_order(canvas)
    gtins = [gtin_symbol(item.gtin) if item.gtin else None for item, _ in listed]
    codes = [item_code_symbol(item.item_code) for item, _ in listed]
    table = _ReferenceTable(canvas, sheet, "items", _widened(ITEM_COLUMNS, {"gtin_bars": gtins, "code_bars": codes}))
    table.head(canvas.words("items.title"))
    for (item, positions), gtin, code in zip(listed, gtins, codes, strict=True):
        places = _places(canvas, positions)
        details = f"{item.description}\n{places}" if item.description else places
        row = table.row(canvas.look.sizes["item_row"], item.item, details, {"brand": item.brand})
        table.picture(row, item)
        table.item(row)
        table.brand(row, item.brand)
        table.codes(row, item)
        table.symbol(row, "gtin_bars", gtin, bool(item.gtin))
        table.symbol(row, "code_bars", code, True)
    table.finish()


def write_tag_sheet(canvas: Canvas, sheet: SheetWriter) -> None:
    """Write the Tags sheet: the shelf tags this display needs, in tray order, for the store to print."""
    needed = ((item, _without_tag(canvas, positions)) for item, positions in items_in_walk_order(canvas))
    standing = [(item, positions) for item, positions in needed if positions]
    codes = [item_code_symbol(item.item_code) for item, _ in standing]
    table = _ReferenceTable(canvas, sheet, "tags", _widened(TAG_COLUMNS, {"code_bars": codes}))
    table.head(canvas.words("tags.title"), canvas.words("tags.about"))
    for (item, positions), code in zip(standing, codes, strict=True):
        texts = {"positions": ", ".join(one.key for one in positions), "item_code": item.item_code}
        details = item.description if item.description != item.item else ""
        row = table.row(canvas.look.sizes["tag_row"], item.item, details, texts)
        table.strong_text(row, "positions", texts["positions"])
        table.item(row)
        table.strong_text(row, "item_code", item.item_code)
        table.symbol(row, "code_bars", code, True)
        sheet.write_number(row, table.column["count"], len(positions), table.strong(14))
        sheet.text(row, table.column["printed"], "☐", table.strong(18))
    table.finish()


def _without_tag(canvas: Canvas, positions: list[Position]) -> list[Position]:
    """The positions that need a shelf tag: all that are asked, unless it is known that theirs is there."""
    asked = canvas.particulars.asked
    if asked is None:
        return positions
    flags = {one.key: asked.flags(POSITIONS, one.key) for one in positions}
    return [one for one in positions if not flags[one.key] or any(kind in _TAG_KINDS for kind in flags[one.key])]


def _places(canvas: Canvas, positions: Sequence[Position]) -> str:
    trays = ", ".join(one.key for one in positions)
    key = "items.trays" if len(positions) > 1 else "items.tray" if positions else "items.substitute"
    return canvas.words(key, trays=trays)


def _widened(
    columns: Sequence[tuple[str, int]], symbols: dict[str, list[Symbol | None]]
) -> tuple[tuple[str, int], ...]:
    """The columns, wide enough for the widest of their bar codes."""
    needed = {
        key: max((symbol.width_px + 2 * _QUIET for symbol in some if symbol), default=0)
        for key, some in symbols.items()
    }
    return tuple((key, max(width, needed.get(key, 0))) for key, width in columns)


class _ReferenceTable:
    """A table of one row an item; columns are named by their words."""

    def __init__(self, canvas: Canvas, sheet: SheetWriter, words: str, columns: Sequence[tuple[str, int]]) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.words = words
        self.widths = dict(columns)
        self.column = {key: number for number, key in enumerate(self.widths, start=1)}
        self.code_name = canvas.program.settings.item_code_name or canvas.words("items.item_code")
        self.heights: list[int] = []
        self.heading_row = 0
        self.points: dict[str, int] = {}
        self._about = ("", "", PairFit(0, 0, 0))
        self.grid = {"border": 1, "border_color": "grid"}
        sheet.set_column_pixels(0, 0, _MARGIN)
        for key, number in self.column.items():
            sheet.set_column_pixels(number, number, self.widths[key])

    def head(self, title: str, about: str = "") -> None:
        """The title, with a line about the sheet, and the headings; they stay in sight and, printed, repeat."""
        canvas, sheet, last = self.canvas, self.sheet, max(self.column.values())
        large = canvas.style(bold=True, font_size=canvas.look.type_sizes["title"])
        link = canvas.style(bold=True, underline=1, font_color="link_ink", align="right")
        self._add(_TITLE_HEIGHT)
        sheet.text(TITLE_ROW, 1, title, large)
        cover, target = canvas.cover_link
        canvas.link(sheet, TITLE_ROW, last, target, cover, link)
        if about:
            room = sum(self.widths.values())
            about_fit = fit(about, room, (12, 11, 10), 2)
            row = self._add(about_fit.height + 2 * _PADDING)
            style = canvas.style(text_wrap=True, font_size=about_fit.points)
            sheet.merged_text((row, 1, row, last), about, style)
        self.heading_row = self._add(_HEADING_HEIGHT)
        for key, number in self.column.items():
            heading = canvas.words(f"{self.words}.{key}", code=self.code_name)
            points = fit(heading, self.widths[key] - INDENT, _HEADING_SIZES, 1, bold=True).points
            paint = {"bg_color": "heading", "font_color": "heading_ink", "border_color": "frame"}
            style = canvas.style(bold=True, border=1, indent=1, font_size=points, **paint)
            sheet.text(self.heading_row, number, heading, style)
        sheet.freeze_panes(self.heading_row + 1, 0)

    def _add(self, height: int) -> int:
        self.sheet.set_row_pixels(len(self.heights), height)
        self.heights.append(height)
        return len(self.heights) - 1

    def row(self, least: int, name: str, details: str, texts: dict[str, str]) -> int:
        """Begin a row high enough for an item's name and details, and for bold texts by column; returns its number."""
        room = self.widths["item"] - INDENT
        self._about = (name, details, fit_pair(name, details, room, _PAIR_SIZES, least - _PADDING))
        height = max(least, self._about[2].height + _PADDING)
        for key, text in texts.items():
            text_fit = fit(text, self.widths[key] - INDENT, _SIZES, least // 18, bold=True)
            self.points[key] = text_fit.points
            height = max(height, text_fit.height + _PADDING)
        return self._add(height)

    def strong(self, points: int = 12) -> Format:
        """The format of what must be read first."""
        return self.canvas.style(bold=True, align="center", text_wrap=True, font_size=points, **self.grid)

    def strong_text(self, row: int, key: str, text: str) -> None:
        """A bold text in a column, in the size that was found for it."""
        self.sheet.text(row, self.column[key], text, self.strong(self.points[key]))

    def item(self, row: int) -> None:
        """The item's name in bold and, under it, what is said of it."""
        name, details, size = self._about
        bold = self.canvas.style(bold=True, font_size=size.points)
        quiet = self.canvas.style(font_color="quiet_ink", font_size=size.details)
        self._rich(row, "item", [(bold, name), (quiet, details and f"\n{details}")], size.points)

    def codes(self, row: int, item: Item) -> None:
        """The chain's number and the GTIN, each under its name."""
        bold = self.canvas.style(bold=True, font_size=10)
        quiet = self.canvas.style(font_color="quiet_ink", font_size=9)
        pieces = [(quiet, f"{self.code_name}\n"), (bold, item.item_code)]
        if item.gtin:
            pieces += [(quiet, f"\n{self.canvas.words('items.gtin')}\n"), (bold, item.gtin)]
        self._rich(row, "codes", pieces, 10)

    def _rich(self, row: int, key: str, pieces: Sequence[tuple[Format, str]], points: int) -> None:
        column = self.column[key]
        cell = self.canvas.style(text_wrap=True, indent=1, font_size=points, **self.grid)
        self.canvas.rich(self.sheet, (row, column, row, column), pieces, cell)

    def brand(self, row: int, brand: str) -> None:
        """The brand's band."""
        style = self.canvas.brand_style(brand, border=1, font_size=self.points["brand"])
        self.sheet.text(row, self.column["brand"], brand, style)

    def picture(self, row: int, item: Item) -> None:
        """The item's picture."""
        column, picture = self.column["picture"], self.canvas.cut_out(item.picture)
        self.sheet.write_blank(row, column, None, self.canvas.style(**self.grid))
        if picture:
            box = (4, 3, self.widths["picture"] - 8, self.heights[row] - 6)
            self.canvas.picture(self.sheet, row, column, picture, box, item.item)

    def symbol(self, row: int, key: str, symbol: Symbol | None, wanted: bool) -> None:
        """A bar code; where there can be none for a code, that is said."""
        column = self.column[key]
        style = self.canvas.style(text_wrap=True, indent=1, font_size=10, font_color="quiet_ink", **self.grid)
        self.sheet.text(row, column, "" if symbol or not wanted else self.canvas.words("items.no_bars"), style)
        if symbol:
            name = f"{symbol.name} {symbol.text}"
            offset = (self.heights[row] - symbol.height_px) / 2
            options = {"image_data": BytesIO(symbol.data), "x_offset": _QUIET, "y_offset": offset, "object_position": 1}
            self.sheet.insert_image(row, column, "bars.png", {**options, "description": name[:255]})

    def finish(self) -> None:
        """Page set-up: headings repeat, no row is split."""
        width = _MARGIN + sum(self.widths.values())
        starts = [0, *range(self.heading_row + 2, len(self.heights))]
        breaks = page_breaks(blocks_of(self.heights, starts), page_height(width), _HEADING_HEIGHT)
        self.canvas.page(self.sheet, repeat=(self.heading_row, self.heading_row), breaks=breaks)
