"""Two sheets of references: Items, with pictures and bar codes, and Tags, the store's list of shelf tags to print."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from xlsxwriter.format import Format

from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.barcodes import Symbol, gtin_symbol, item_code_symbol
from workbook_tools.field_book.canvas import Canvas
from workbook_tools.program.model import Item, Position

ITEM_COLUMNS = (("picture", 110), ("item", 200), ("brand", 110), ("codes", 130), ("gtin_bars", 250), ("code_bars", 210))
TAG_COLUMNS = (
    ("positions", 120),
    ("item", 260),
    ("item_code", 110),
    ("code_bars", 230),
    ("count", 80),
    ("printed", 100),
)
TITLE_ROW, HEADING_ROW, FIRST_ROW = 0, 1, 2


def items_in_walk_order(canvas: Canvas) -> list[tuple[Item, list[Position]]]:
    """Each item that stands on the display, in the order met, with its positions; then the substitutes."""
    standing: dict[str, list[Position]] = {}
    for position in canvas.program.walk:
        standing.setdefault(position.item, []).append(position)
    substitutes = [name for item in list(standing) for name in canvas.program.item[item].substitutes]
    for name in substitutes:
        standing.setdefault(name, [])
    return [(canvas.program.item[name], positions) for name, positions in standing.items()]


def write_item_sheet(canvas: Canvas, sheet: SheetWriter) -> None:
    """Write the Items sheet: one row an item in the order met at the display."""
    table = _ReferenceTable(canvas, sheet, "items", ITEM_COLUMNS)
    for row, (item, positions) in enumerate(items_in_walk_order(canvas), start=FIRST_ROW):
        table.row_height(row)
        table.blank(row, 1)
        canvas.picture(sheet, row, 1, item.picture, (5, 5, ITEM_COLUMNS[0][1] - 10, table.height - 10), item.item)
        place = ", ".join(one.key for one in positions) or canvas.words("items.substitute")
        about = f"{item.item}\n{item.description}\n{place}" if item.description else f"{item.item}\n{place}"
        table.text(row, 2, about)
        sheet.text(row, 3, item.brand, canvas.brand_style(item.brand, border=1))
        name = canvas.program.settings.item_code_name or canvas.words("items.item_code")
        table.text(row, 4, f"{name}\n{item.item_code}" + (f"\nGTIN\n{item.gtin}" if item.gtin else ""))
        table.symbol(row, 5, gtin_symbol(item.gtin) if item.gtin else None)
        table.symbol(row, 6, item_code_symbol(item.item_code))
    canvas.page(sheet, landscape=True, repeat=(HEADING_ROW, HEADING_ROW))


def write_tag_sheet(canvas: Canvas, sheet: SheetWriter) -> None:
    """Write the Tags sheet: the shelf tags this display needs, in tray order, for the store to print."""
    table = _ReferenceTable(canvas, sheet, "tags", TAG_COLUMNS)
    standing = [(item, positions) for item, positions in items_in_walk_order(canvas) if positions]
    for row, (item, positions) in enumerate(standing, start=FIRST_ROW):
        table.row_height(row)
        table.text(row, 1, ", ".join(one.key for one in positions))
        table.text(row, 2, item.description or item.item)
        table.text(row, 3, item.item_code, table.strong)
        table.symbol(row, 4, item_code_symbol(item.item_code))
        sheet.write_number(row, 5, len(positions), table.strong)
        table.text(row, 6, "☐", table.strong)
    canvas.page(sheet, landscape=False, repeat=(HEADING_ROW, HEADING_ROW))


class _ReferenceTable:
    def __init__(self, canvas: Canvas, sheet: SheetWriter, words: str, columns: Sequence[tuple[str, int]]) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.height = canvas.look.sizes["item_picture_row"]
        style = canvas.style
        self.cell = style(text_wrap=True, border=1, border_color="grid", indent=1)
        self.strong = style(bold=True, border=1, border_color="grid", align="center")
        heading = style(bold=True, bg_color="heading", font_color="heading_ink", text_wrap=True, border=1, indent=1)
        sheet.set_column_pixels(0, 0, canvas.look.sizes["margin"])
        sheet.set_row_pixels(TITLE_ROW, 40)
        sheet.set_row_pixels(HEADING_ROW, canvas.look.sizes["heading_row"])
        title = style(bold=True, font_size=canvas.look.type_sizes["title"])
        sheet.text(TITLE_ROW, 1, canvas.words(f"{words}.title"), title)
        for column, (key, width) in enumerate(columns, start=1):
            sheet.set_column_pixels(column, column, width)
            sheet.text(HEADING_ROW, column, canvas.words(f"{words}.{key}"), heading)
        sheet.freeze_panes(FIRST_ROW, 0)

    def row_height(self, row: int) -> None:
        self.sheet.set_row_pixels(row, self.height)

    def text(self, row: int, column: int, text: str, style: Format | None = None) -> None:
        self.sheet.text(row, column, text, style or self.cell)

    def blank(self, row: int, column: int) -> None:
        self.sheet.write_blank(row, column, None, self.cell)

    def symbol(self, row: int, column: int, symbol: Symbol | None) -> None:
        self.blank(row, column)
        if symbol is None:
            return
        offset = (self.height - symbol.height_px) / 2
        name = f"{symbol.name} {symbol.text}"
        options = {"image_data": BytesIO(symbol.data), "x_offset": 4, "y_offset": offset, "object_position": 1}
        self.sheet.insert_image(row, column, f"{name}.png", {**options, "description": name})
