"""The Return sheet: a row a position in the order of the walk, the visit questions, the parts; what comes back."""

from __future__ import annotations

from xlsxwriter.format import Format

from workbook_tools.contract.model import KEY_COLUMN, Block, Field
from workbook_tools.contract.writing import SheetWriter, number_format, validation, write_key_row
from workbook_tools.field_book.canvas import Canvas, cell_in
from workbook_tools.field_book.layout import HEADING_ROW, KEY_ROW, TITLE_ROW
from workbook_tools.field_book.state import StateFormula
from workbook_tools.program.model import Position


def write_return_sheet(canvas: Canvas, sheet: SheetWriter, tray_cells: dict[str, str]) -> None:
    """Write the Return sheet; `tray_cells` says where each position is drawn, for the links back."""
    _ReturnSheet(canvas, sheet, tray_cells).write()


class _ReturnSheet:
    def __init__(self, canvas: Canvas, sheet: SheetWriter, tray_cells: dict[str, str]) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.tray_cells = tray_cells
        self.layout = canvas.layout
        self.sizes = canvas.look.sizes
        style = canvas.style
        self.title = style(bold=True, font_size=canvas.look.type_sizes["title"])
        self.heading = style(
            bold=True, bg_color="heading", font_color="heading_ink", text_wrap=True, border=1, border_color="frame"
        )
        self.bar = style(bold=True, bg_color="shelf_bar", indent=1)
        self.locked = style(text_wrap=True, border=1, border_color="grid", indent=1)
        self.help = style(text_wrap=True, font_color="quiet_ink", border=1, border_color="grid", indent=1)

    def write(self) -> None:
        canvas, sheet = self.canvas, self.sheet
        sheet.set_column_pixels(KEY_COLUMN, KEY_COLUMN, 20, None, {"hidden": True})
        for field in self.layout.positions.fields:
            hidden = {"hidden": True} if field.width == 0 else {}
            sheet.set_column_pixels(field.index, field.index, field.width or 60, None, hidden)
        sheet.set_row_pixels(TITLE_ROW, 40)
        sheet.text(TITLE_ROW, 1, canvas.words("field_book.positions.title"), self.title)
        self._headings(self.layout.positions, HEADING_ROW, "field_book.positions")
        write_key_row(sheet, self.layout.positions, KEY_ROW)
        sheet.freeze_panes(KEY_ROW + 1, 2)
        states = StateFormula(self.layout, canvas.words, canvas.lists)
        self._bars()
        for position in canvas.program.walk:
            self._position(position, states.of(position))
        self._validations()
        self._visit()
        self._parts()
        canvas.page(sheet, landscape=True, repeat=(TITLE_ROW, HEADING_ROW))

    def _headings(self, block: Block, row: int, words: str) -> None:
        self.sheet.set_row_pixels(row, self.sizes["heading_row"])
        for field in block.fields:
            self.sheet.text(row, field.index, self.canvas.words(f"{words}.{field.key}.heading"), self.heading)

    def _answer(self, field: Field) -> Format:
        return self.canvas.style(
            bg_color="answer",
            border=1,
            border_color="answer_frame",
            locked=False,
            text_wrap=True,
            indent=1,
            num_format=number_format(field),
        )

    def _bars(self) -> None:
        last = self.layout.last_column
        for row, face, shelf in self.layout.bars:
            self.sheet.set_row_pixels(row, self.sizes["shelf_bar_row"])
            text = self.canvas.words("return.bar", face=face, shelf=shelf)
            self.sheet.merged_text((row, 1, row, last), text, self.bar)

    def _position(self, position: Position, state: str) -> None:
        canvas, sheet = self.canvas, self.sheet
        row = self.layout.position_rows[position.key]
        item = canvas.program.item_at(position)
        column = self.layout.positions.columns
        sheet.set_row_pixels(row, self.sizes["answer_row"])
        sheet.text(row, KEY_COLUMN, position.key)
        link = canvas.style(bold=True, underline=1, font_color="link_ink", border=1, border_color="grid")
        canvas.link(sheet, row, column["position"], self.tray_cells[position.key], position.key, link)
        sheet.write_formula(row, column["state"], state, self.locked, canvas.words("state.todo"))
        sheet.text(row, column["item"], f"{item.item}\n{item.item_code}", self.locked)
        sheet.text(row, column["item_code"], item.item_code, self.locked)
        band = canvas.brand_style(item.brand, border=1, border_color=canvas.look.colour("frame"))
        sheet.text(row, column["brand"], item.brand, band)
        for field in self.layout.positions.open_fields:
            sheet.write_blank(row, field.index, None, self._answer(field))

    def _validations(self) -> None:
        rows = sorted(self.layout.position_rows.values())
        first, last = rows[0], rows[-1]
        canvas = self.canvas
        for field in self.layout.positions.open_fields:
            options = validation(canvas.contract, field, "field_book.positions", canvas.words, canvas.lists)
            self.sheet.data_validation(first, field.index, last, field.index, options)
        state = self.layout.positions.columns["state"]
        letter = chr(ord("A") + state)
        canvas.state_colours(self.sheet, (first, 1, last, state), f"${letter}{first + 1}")

    def _visit(self) -> None:
        canvas, sheet, block = self.canvas, self.sheet, self.layout.visit
        row = self.layout.visit_title_row
        sheet.set_row_pixels(row, self.sizes["heading_row"])
        sheet.merged_text((row, 1, row, self.layout.last_column), canvas.words("field_book.visit.title"), self.heading)
        write_key_row(sheet, block, row + 1)
        for field in block.fields:
            row = self.layout.visit_rows[field.key]
            sheet.set_row_pixels(row, self.sizes["answer_row"])
            words = f"field_book.visit.{field.key}"
            sheet.text(row, KEY_COLUMN, field.key)
            sheet.merged_text((row, 1, row, block.value_index - 1), canvas.words(f"{words}.heading"), self.locked)
            self._visit_answer(field, row)
            prompt = canvas.words(f"{words}.prompt")
            sheet.merged_text((row, block.value_index + 1, row, self.layout.last_column), prompt, self.help)

    def _visit_answer(self, field: Field, row: int) -> None:
        canvas, column = self.canvas, self.layout.visit.value_index
        store_open = field.key == "store" and canvas.shared
        style = self._answer(field) if field.open or store_open else self.locked
        if field.source == "stamp" and not canvas.shared:
            canvas.stamped(self.sheet, (row, column, row, column), f"visit.{field.key}", style)
        else:
            self.sheet.write_blank(row, column, None, style)
        if field.open or store_open:
            options = validation(canvas.contract, field, "field_book.visit", canvas.words, canvas.lists)
            self.sheet.data_validation(row, column, row, column, options)

    def _parts(self) -> None:
        canvas, sheet, block = self.canvas, self.sheet, self.layout.parts
        row = self.layout.parts_title_row
        sheet.set_row_pixels(row, self.sizes["heading_row"])
        sheet.merged_text((row, 1, row, self.layout.last_column), canvas.words("field_book.parts.title"), self.heading)
        self._headings(block, row + 1, "field_book.parts")
        write_key_row(sheet, block, row + 2)
        column = block.columns
        for part in canvas.program.parts:
            row = self.layout.part_rows[part.part]
            sheet.set_row_pixels(row, self.sizes["answer_row"])
            sheet.text(row, KEY_COLUMN, part.part)
            sheet.text(row, column["part"], part.part, self.locked)
            sheet.merged_text((row, column["name"], row, column["quantity"] - 1), part.name, self.locked)
            sheet.write_number(row, column["quantity"], part.quantity, self.locked)
            for field in block.open_fields:
                sheet.write_blank(row, field.index, None, self._answer(field))
        if rows := self.layout.part_rows.values():
            for field in block.open_fields:
                options = validation(canvas.contract, field, "field_book.parts", canvas.words, canvas.lists)
                sheet.data_validation(min(rows), field.index, max(rows), field.index, options)


def visit_link(canvas: Canvas) -> str:
    """Where the visit questions begin, for links."""
    return cell_in(canvas.layout.sheet, canvas.layout.visit_title_row, 1)
