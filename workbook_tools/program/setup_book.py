"""The setup workbook that `new` writes: one sheet a block, with headings, drop-downs, prompts and an example."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from xlsxwriter.format import Format

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.model import KEY_COLUMN, Block, Field, Sheet
from workbook_tools.contract.names import sheet_name
from workbook_tools.contract.words import Words, languages
from workbook_tools.contract.writing import (
    BookWriter,
    ListSheet,
    SheetWriter,
    number_format,
    validation,
    write_key_row,
)

LAST_ROW = 20_999
"""0-based last row that carries drop-downs and formats: room for a pasted list of twenty thousand stores."""
TITLE_ROW, HINT_ROW, HEADING_ROW, KEY_ROW, FIRST_ROW = range(5)
EXAMPLE = "Example"
"""How the contract marks its examples; the words file says it in each language."""
_HEADING_COLUMN, _HEADING_WIDTH, _PROMPT_WIDTH = 1, 220, 420


Content = Mapping[str, Sequence[Mapping[str, object]]]
"""Block key → its rows, each field key → value; a fixed block has one row that holds all its fields."""


def setup_workbook(words: Words, content: Content | None = None) -> bytes:
    """A program.xlsx in the language of `words`: with an example in every block, or filled with `content`."""
    return _SetupBook(words, content).write()


class _SetupBook:
    def __init__(self, words: Words, content: Content | None) -> None:
        self.words = words
        self.content = content
        self.contract = default_contract()
        self.look = default_look()
        self.book = BookWriter(self.look, title=words("setup.program.title"))
        colour = self.look.colour
        self.title = self.book.format(bold=True, font_size=self.look.type_sizes["title"])
        self.quiet = self.book.format(font_color=colour("quiet_ink"), italic=True)
        self.heading = self.book.format(
            bold=True, bg_color=colour("heading"), font_color=colour("heading_ink"), text_wrap=True, border=1
        )
        self.label = self.book.format(bold=True, bg_color=colour("locked"), border=1, border_color=colour("grid"))
        self.explained = self.book.format(font_color=colour("quiet_ink"), text_wrap=True)

    def write(self) -> bytes:
        sheets = [self._sheet(form) for form in self.contract.setup.sheets]
        self.lists = ListSheet(self.book.sheet("lists"))
        self.lists.sheet.hide()
        for choices in self.contract.choices.values():
            options = choices.options({"languages": languages()})
            if options:
                self.lists.add(choices.key, options, self.explained)
        for form, sheet in zip(self.contract.setup.sheets, sheets, strict=True):
            for block in form.blocks:
                self._cells(sheet, block)
        return self.book.close()

    def _sheet(self, form: Sheet) -> SheetWriter:
        sheet = self.book.sheet(sheet_name(self.words(f"setup.sheets.{form.key}")))
        for block in form.blocks:
            self._head(sheet, block)
        return sheet

    def _head(self, sheet: SheetWriter, block: Block) -> None:
        sheet.set_column_pixels(KEY_COLUMN, KEY_COLUMN, 40, None, {"hidden": True})
        sheet.set_row_pixels(TITLE_ROW, 36)
        sheet.text(TITLE_ROW, 1, self.words(f"setup.{block.key}.title"), self.title)
        sheet.text(HINT_ROW, 1, self.words("setup.guide.sheet_hint"), self.quiet)
        sheet.set_row_pixels(HEADING_ROW, 40)
        write_key_row(sheet, block, KEY_ROW)
        sheet.freeze_panes(FIRST_ROW, 2)
        sheet.set_landscape()
        sheet.set_paper(9)
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(HEADING_ROW)
        sheet.hide_gridlines(0)

    def _cells(self, sheet: SheetWriter, block: Block) -> None:
        if block.rows == "fixed":
            self._form(sheet, block)
        else:
            self._table(sheet, block)

    def _answer(self, one: Field) -> dict[str, object]:
        colour = self.look.colour
        return {
            "num_format": number_format(one),
            "bg_color": colour("answer"),
            "border": 1,
            "border_color": colour("grid"),
            "locked": False,
        }

    def _form(self, sheet: SheetWriter, block: Block) -> None:
        value, example, prompt = block.value_index, block.value_index + 1, block.value_index + 2
        widths = (_HEADING_WIDTH, block.width, 260, _PROMPT_WIDTH)
        for column, width in enumerate(widths, start=_HEADING_COLUMN):
            sheet.set_column_pixels(column, column, width)
        guide = [self.words(f"setup.guide.{name}") for name in ("value_column", "example_column", "prompt_column")]
        titles = (self.words("setup.program.title"), *guide)
        for column, title in enumerate(titles, start=_HEADING_COLUMN):
            sheet.text(HEADING_ROW, column, title, self.heading)
        for row, one in enumerate(block.fields, start=FIRST_ROW):
            words = f"setup.{block.key}.{one.key}"
            heading = self.words(f"{words}.heading") + (" *" if one.required else "")
            sheet.set_row_pixels(row, 26)
            sheet.text(row, KEY_COLUMN, one.key)
            sheet.text(row, _HEADING_COLUMN, heading, self.label)
            self._value(sheet, row, value, one, self.book.format(**self._answer(one)))
            sheet.text(row, example, one.example, self.quiet)
            sheet.text(row, prompt, self.words(f"{words}.prompt"), self.explained)
            self._validate(sheet, block, one, (row, value, row, value))
        end = FIRST_ROW + len(block.fields)
        sheet.text(end, _HEADING_COLUMN, f"* {self.words('setup.guide.required')}", self.quiet)

    def _table(self, sheet: SheetWriter, block: Block) -> None:
        for one in block.fields:
            cell_format = self.book.format(num_format=number_format(one), locked=False)
            sheet.set_column_pixels(one.index, one.index, one.width, cell_format)
            heading = self.words(f"setup.{block.key}.{one.key}.heading") + (" *" if one.required else "")
            sheet.text(HEADING_ROW, one.index, heading, self.heading)
            self._validate(sheet, block, one, (FIRST_ROW, one.index, LAST_ROW, one.index))
        for row, record in enumerate(self._rows(block), start=FIRST_ROW):
            for one in block.fields:
                self._write(sheet, row, one.index, one, record.get(one.key), self._row_style(one))
        after = max(one.index for one in block.fields) + 1
        sheet.set_column_pixels(after, after, _PROMPT_WIDTH)
        note = "" if self.content else self.words("setup.guide.example_note")
        sheet.text(FIRST_ROW, after, note, self.quiet)
        sheet.text(HEADING_ROW, after, f"* {self.words('setup.guide.required')}", self.quiet)

    def _rows(self, block: Block) -> Sequence[Mapping[str, object]]:
        if self.content is not None:
            return self.content.get(block.key, ())
        return [{one.key: self._example(one) for one in block.fields}]

    def _example(self, one: Field) -> object:
        text = one.example.replace(f"{EXAMPLE}:", f"{self.words('language.example')}:")
        is_number = one.type in ("integer", "number") and text.replace(".", "", 1).isdigit()
        return float(text) if is_number else text

    def _value(self, sheet: SheetWriter, row: int, column: int, one: Field, style: Format) -> None:
        """A cell of the form: blank, filled, or in its first row the example."""
        first = self.contract.setup.block("program").fields[0]
        if self.content is not None:
            value = self.content["program"][0].get(one.key)
        else:
            value = f"{self.words('language.example')}: {one.example}" if one == first else None
        self._write(sheet, row, column, one, value, style)

    def _row_style(self, one: Field) -> Format:
        quiet = {} if self.content else {"italic": True, "font_color": self.look.colour("quiet_ink")}
        return self.book.format(num_format=number_format(one), locked=False, **quiet)

    def _write(self, sheet: SheetWriter, row: int, column: int, one: Field, value: object, style: Format) -> None:
        """Write a value as its type; a blank keeps its format."""
        if value is None or value == "":
            sheet.write_blank(row, column, None, style)
        elif isinstance(value, dt.date):
            sheet.write_datetime(row, column, value, style)
        elif isinstance(value, int | float):
            sheet.write_number(row, column, value, style)
        elif isinstance(value, tuple | list):
            sheet.text(row, column, "; ".join(map(str, value)), style)
        else:
            sheet.text(row, column, str(value), style)

    def _validate(self, sheet: SheetWriter, block: Block, one: Field, area: tuple[int, int, int, int]) -> None:
        sheet.data_validation(*area, validation(self.contract, one, f"setup.{block.key}", self.words, self.lists))
