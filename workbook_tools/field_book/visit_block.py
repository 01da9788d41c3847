"""The visit questions and the parts under the positions of the Return sheet, each row with a live check beside it."""

from __future__ import annotations

from workbook_tools.contract.lettering import fit
from workbook_tools.contract.model import KEY_COLUMN, Field
from workbook_tools.contract.names import column_letters
from workbook_tools.contract.writing import SheetWriter, validation, write_key_row
from workbook_tools.field_book.before import part_text, settled_text
from workbook_tools.field_book.canvas import INDENT, Canvas, cell_in
from workbook_tools.field_book.given import write_answer
from workbook_tools.field_book.layout import TITLE_ROW
from workbook_tools.field_book.return_styles import ReturnStyles
from workbook_tools.field_book.visit_checks import VisitChecks
from workbook_tools.program.formula_texts import quoted_text
from workbook_tools.program.model import Part

_TITLE_HEIGHT, _HEADING_HEIGHT, _QUESTION_HEIGHT, _SETTLED_HEIGHT = 32, 30, 44, 26
_LONG_ANSWERS = ("why_not", "note")
_PADDING = 6


class VisitWriter:
    """Writes both blocks; row heights come back in pixels by 0-based row."""

    def __init__(self, canvas: Canvas, sheet: SheetWriter, styles: ReturnStyles) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.styles = styles
        self.layout = canvas.layout
        self.last = canvas.layout.last_column
        self.check_column = canvas.layout.check_column
        self.heights: dict[int, int] = {}

    def write(self) -> dict[int, int]:
        """Write the visit questions and the parts."""
        self._visit()
        self._parts()
        return self.heights

    def _height(self, row: int, height: int) -> None:
        self.sheet.set_row_pixels(row, height)
        self.heights[row] = height

    def _section(self, row: int, title: str, link: tuple[str, str]) -> None:
        self._height(row, _TITLE_HEIGHT)
        self.sheet.merged_text((row, 1, row, self.check_column - 1), title, self.styles.section)
        self.sheet.merge_range(row, self.check_column, row, self.last, "", self.styles.section_link)
        self.canvas.link(self.sheet, row, self.check_column, link[1], link[0], self.styles.section_link)

    def _visit(self) -> None:
        canvas, sheet, block = self.canvas, self.sheet, self.layout.visit
        row = self.layout.visit_title_row
        parts = (canvas.words("return.to_parts"), cell_in(sheet.name, self.layout.parts_title_row, 1))
        trays = (canvas.words("return.to_trays"), cell_in(sheet.name, TITLE_ROW, 1))
        self._section(row, canvas.words("field_book.visit.title"), parts if canvas.parts else trays)
        write_key_row(sheet, block, row + 1)
        self.heights[row + 1] = 0
        checks = VisitChecks(canvas)
        for field in block.fields:
            row = self.layout.visit_rows[field.key]
            if canvas.particulars.asks(block.key, field.key):
                self._question(field, row, checks.of(field))
            else:
                self._settled(field, row)
        rows = self.layout.visit_rows.values()
        check = f"${column_letters(self.check_column)}{min(rows) + 1}"
        canvas.state_colours(sheet, (min(rows), self.check_column, max(rows), self.last), check)
        settled = canvas.book.format(bg_color=canvas.look.colour("settled"))
        options = {
            "type": "formula",
            "criteria": f"=LEFT({check},1)<>{quoted_text(checks.open_mark)}",
            "format": settled,
        }
        sheet.conditional_format(min(rows), block.value_index, max(rows), block.value_index, options)

    def _question(self, field: Field, row: int, check: tuple[str, str]) -> None:
        canvas, sheet, block = self.canvas, self.sheet, self.layout.visit
        words = f"field_book.visit.{field.key}"
        heading, prompt = canvas.words(f"{words}.heading"), canvas.words(f"{words}.prompt")
        tall = canvas.look.sizes["long_answer_row"] if field.key in _LONG_ANSWERS else _QUESTION_HEIGHT
        first_help, last_help = block.value_index + 1, self.check_column - 1
        heading_fit = fit(heading, self.layout.width(1, block.value_index - 1) - INDENT, (12, 11, 10), 2, bold=True)
        prompt_fit = fit(prompt, self.layout.width(first_help, last_help) - INDENT, (11, 10), 2)
        self._height(row, max(tall, heading_fit.height + _PADDING, prompt_fit.height + _PADDING))
        sheet.text(row, KEY_COLUMN, field.key)
        sheet.merged_text((row, 1, row, block.value_index - 1), heading, self.styles.question)
        self._answer(field, row)
        sheet.merged_text((row, first_help, row, last_help), prompt, self.styles.help)
        sheet.merge_range(row, self.check_column, row, self.last, "", self.styles.check)
        sheet.write_formula(row, self.check_column, check[0], self.styles.check, check[1])

    def _settled(self, field: Field, row: int) -> None:
        """A question that is not asked again: a low row that says how it was answered before."""
        canvas, sheet, column = self.canvas, self.sheet, self.layout.visit.value_index
        asked = canvas.particulars.asked
        heading = canvas.words(f"field_book.visit.{field.key}.heading")
        heading_fit = fit(heading, self.layout.width(1, column - 1) - INDENT, (11, 10, 9), 2)
        self._height(row, max(_SETTLED_HEIGHT, heading_fit.height + _PADDING))
        sheet.text(row, KEY_COLUMN, field.key)
        sheet.merged_text((row, 1, row, column - 1), heading, self.styles.locked(heading_fit.points))
        sheet.write_blank(row, column, None, self.styles.locked(11))
        text = settled_text(canvas.words, asked, field.key) if asked else ""
        sheet.merged_text((row, column + 1, row, self.last), text, self.styles.help)

    def _answer(self, field: Field, row: int) -> None:
        canvas, column = self.canvas, self.layout.visit.value_index
        store_open = field.key == "store" and canvas.shared
        cell = (self.layout.visit.key, field.key, field.key)
        if field.source == "stamp" and not canvas.shared and not (field.open and cell in canvas.particulars.given):
            locked = self.styles.locked(12, indent=0, align="center")
            style = self.styles.answer(field) if field.open else locked
            canvas.stamped(self.sheet, (row, column, row, column), f"visit.{field.key}", style)
        else:
            write_answer(self.sheet, (row, column), cell, field, self.styles)
        if field.open or store_open:
            options = validation(canvas.contract, field, "field_book.visit", canvas.words, canvas.lists)
            self.sheet.data_validation(row, column, row, column, options)

    def _parts(self) -> None:
        canvas, sheet, block = self.canvas, self.sheet, self.layout.parts
        if not canvas.parts:
            return
        row = self.layout.parts_title_row
        trays = (canvas.words("return.to_trays"), cell_in(sheet.name, TITLE_ROW, 1))
        self._section(row, canvas.words("field_book.parts.title"), trays)
        self._height(row + 1, _HEADING_HEIGHT)
        self._parts_headings(row + 1)
        write_key_row(sheet, block, row + 2)
        self.heights[row + 2] = 0
        for part in canvas.parts:
            self._part(part)
        rows = self.layout.part_rows.values()
        for field in block.open_fields:
            options = validation(canvas.contract, field, "field_book.parts", canvas.words, canvas.lists)
            sheet.data_validation(min(rows), field.index, max(rows), field.index, options)
        first = max(field.index for field in block.fields) + 1
        check = f"${column_letters(first)}{min(rows) + 1}"
        canvas.state_colours(sheet, (min(rows), first, max(rows), self.last), check)

    def _parts_headings(self, row: int) -> None:
        canvas, block = self.canvas, self.layout.parts
        firsts = [field.index for field in block.fields] + [max(block.columns.values()) + 1]
        headings = [canvas.words(f"field_book.parts.{field.key}.heading") for field in block.fields]
        lasts = [first - 1 for first in firsts[1:]] + [self.last]
        for heading, first, last in zip([*headings, canvas.words("return.checks")], firsts, lasts, strict=True):
            room = self.layout.width(first, last) - _PADDING
            style = self.styles.heading(fit(heading, room, (12, 11, 10, 9, 8), 1, bold=True).points)
            self.sheet.merged_text((row, first, row, last), heading, style)

    def _part(self, part: Part) -> None:
        canvas, sheet, block = self.canvas, self.sheet, self.layout.parts
        column = block.columns
        row = self.layout.part_rows[part.part]
        asked = canvas.particulars.before(block.key, part.part)
        name = f"{part.name}\n{part_text(canvas.words, asked, part.part)}" if asked else part.name
        room = self.layout.width(column["name"], column["quantity"] - 1) - INDENT
        name_fit = fit(name, room, (12, 11, 10, 9), 5 if asked else 2)
        part_fit = fit(part.part, self.layout.width(column["part"], column["part"]) - INDENT, (12, 11, 10, 9, 8), 2)
        self._height(row, max(_QUESTION_HEIGHT, *(one.height + _PADDING for one in (name_fit, part_fit))))
        sheet.text(row, KEY_COLUMN, part.part)
        sheet.text(row, column["part"], part.part, self.styles.locked(part_fit.points))
        area = (row, column["name"], row, column["quantity"] - 1)
        sheet.merged_text(area, name, self.styles.locked(name_fit.points))
        sheet.write_number(row, column["quantity"], part.quantity, self.styles.state)
        for field in block.open_fields:
            cell = (block.key, part.part, field.key)
            write_answer(sheet, (row, field.index), cell, field, self.styles, quiet=True)
        first = max(column.values()) + 1
        sheet.merge_range(row, first, row, self.last, "", self.styles.check)
        check, cached = VisitChecks(canvas).part(part, row)
        sheet.write_formula(row, first, check, self.styles.check, cached)
