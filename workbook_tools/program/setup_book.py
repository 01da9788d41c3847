"""The setup workbook that `new` writes: one sheet a block, with headings, drop-downs, prompts and an example."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from xlsxwriter.format import Format

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.model import KEY_COLUMN, Block, Field, Sheet
from workbook_tools.contract.names import a1, sheet_name
from workbook_tools.contract.words import Words, languages
from workbook_tools.contract.writing import (
    BookWriter,
    ListSheet,
    SheetWriter,
    number_format,
    validation,
    write_key_row,
)
from workbook_tools.program.formula_texts import quoted_text
from workbook_tools.program.live_checks import LiveChecks
from workbook_tools.program.setup_faces import FaceSheet
from workbook_tools.program.setup_overview import Overview

LAST_ROW = 20_999
"""0-based last row that carries drop-downs and formats: room for a pasted list of twenty thousand stores."""
TITLE_ROW, HINT_ROW, HEADING_ROW, KEY_ROW, FIRST_ROW = range(5)
EXAMPLE = "Example"
"""How the contract marks its examples; the words file says it in each language."""
_HEADING_COLUMN, _HEADING_WIDTH, _EXAMPLE_WIDTH, _PROMPT_WIDTH, _NOTE_WIDTH = 1, 240, 260, 700, 420


LIVE_ROWS, LIVE_STORES, LIVE_SPARE, MOST_LIVE_ROWS = 200, 1_000, 50, 2_000
"""Rows that check themselves in words: in a table, in the store list, beyond what a table is filled with, and at most:
long formulas make a workbook slow to open. Colours reach down to LAST_ROW.
"""

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
        self.explained_once = self.book.format(font_color=colour("quiet_ink"))
        self.example = self.book.format(font_color=colour("quiet_ink"), italic=True)
        self.wanted = self.book.format(bg_color=colour("waiting"))
        self.again = self.book.format(bg_color=colour("again"), font_color=colour("again_ink"))
        self.right = self.book.format(bg_color=colour("right"), font_color=colour("right_ink"))
        self.rows = {block.key: self._rows(block) for block in self.contract.setup.blocks}
        self.lives: dict[str, tuple[LiveChecks, int]] = {}

    def write(self) -> bytes:
        overview = self.book.sheet(sheet_name(self.words("setup.overview.sheet")))
        sheets = []
        for form in self.contract.setup.sheets:
            sheets.append(self._sheet(form))
            if form.key == "positions":
                faces = self.book.sheet(sheet_name(self.words("setup.faces.sheet")))
        self.lists = ListSheet(self.book.sheet("lists"))
        self.lists.sheet.hide()
        for choices in self.contract.choices.values():
            options = choices.options({"languages": languages()})
            if options:
                self.lists.add(choices.key, options, self.explained)
        for form, sheet in zip(self.contract.setup.sheets, sheets, strict=True):
            for block in form.blocks:
                self._cells(sheet, block)
        FaceSheet(self.contract, self.look, self.words, self.rows, FIRST_ROW).write(self.book, faces)
        area = (FIRST_ROW, LAST_ROW)
        Overview(self.book, self.look, self.words, area).write(overview, self.contract.setup.blocks, self.lives)
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
        sheet.hide_gridlines(1)

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
        widths = (_HEADING_WIDTH, block.width, _EXAMPLE_WIDTH, _PROMPT_WIDTH)
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
            self._write(sheet, row, value, one, self.rows[block.key][0].get(one.key), self._open_cell(one))
            if one.required:
                self._colour(sheet, (row, value, row, value), f'={a1(row, value)}=""', self.wanted)
            sheet.text(row, example, one.example, self.quiet)
            sheet.text(row, prompt, self.words(f"{words}.prompt"), self.explained)
            self._validate(sheet, block, one, (row, value, row, value))
        self.lives[block.key] = (self._checks(block), FIRST_ROW)
        end = FIRST_ROW + len(block.fields)
        sheet.text(end, _HEADING_COLUMN, f"* {self.words('setup.guide.required')}", self.quiet)

    def _table(self, sheet: SheetWriter, block: Block) -> None:
        fields = [one for one in block.fields if one.source != "formula"]
        for one in block.fields:
            text = "General" if one.source == "formula" else number_format(one)
            cell_format = self.book.format(num_format=text, locked=False)
            sheet.set_column_pixels(one.index, one.index, one.width, cell_format)
            heading = self.words(f"setup.{block.key}.{one.key}.heading") + (" *" if one.required else "")
            sheet.text(HEADING_ROW, one.index, heading, self.heading)
        for one in fields:
            self._validate(sheet, block, one, (FIRST_ROW, one.index, LAST_ROW, one.index))
        for row, record in enumerate(self.rows[block.key], start=FIRST_ROW):
            for one in fields:
                style = self.book.format(num_format=number_format(one), locked=False)
                self._write(sheet, row, one.index, one, record.get(one.key), style)
        self._colours(sheet, fields)
        self._live(sheet, block)
        after = max(one.index for one in block.fields) + 1
        sheet.set_column_pixels(after, after, _NOTE_WIDTH)
        sheet.text(HEADING_ROW, after, f"* {self.words('setup.guide.required')}", self.quiet)
        if self.content is None:
            self._mark_example(sheet, fields, after)

    def _mark_example(self, sheet: SheetWriter, fields: Sequence[Field], after: int) -> None:
        """Say beside the example, and show by its colour, that it is one, until it is typed over."""
        said, note = self.words("setup.live.example"), self.words("setup.guide.example_note")
        test = f"${a1(FIRST_ROW, after - 1)}={quoted_text(said)}"
        sheet.write_formula(FIRST_ROW, after, f'=IF({test},{quoted_text(note)},"")', self.quiet, note)
        self._colour(sheet, (FIRST_ROW, fields[0].index, FIRST_ROW, fields[-1].index), f"={test}", self.example)

    def _colours(self, sheet: SheetWriter, fields: Sequence[Field]) -> None:
        """Required cells that are blank in a row that is not, and values that may stand only once."""
        first, last = (a1(FIRST_ROW, fields[end].index) for end in (0, -1))
        for one in fields:
            area = (FIRST_ROW, one.index, LAST_ROW, one.index)
            if one.required:
                cell = a1(FIRST_ROW, one.index)
                self._colour(sheet, area, f'=AND(COUNTA(${first}:${last})>0,{cell}="")', self.wanted)
            if one.unique:
                sheet.conditional_format(*area, {"type": "duplicate", "format": self.again})

    @staticmethod
    def _colour(sheet: SheetWriter, area: tuple[int, int, int, int], test: str, style: Format) -> None:
        sheet.conditional_format(*area, {"type": "formula", "criteria": test, "format": style})

    def _live(self, sheet: SheetWriter, block: Block) -> None:
        """The column that checks its row."""
        live = [one for one in block.fields if one.source == "formula"]
        if not live:
            return
        checks, count = self._checks(block), len(self.rows[block.key])
        least = LIVE_STORES if block.key == "stores" else LIVE_ROWS
        rows = max(least, min(count + LIVE_SPARE, MOST_LIVE_ROWS))
        column, last = live[0].index, FIRST_ROW + rows - 1
        for row in range(FIRST_ROW, last + 1):
            sheet.write_formula(row, column, checks.formula(row), self.explained_once, checks.result(row - FIRST_ROW))
        begins = {"type": "text", "criteria": "begins with"}
        sheet.conditional_format(FIRST_ROW, column, last, column, {**begins, "value": "!", "format": self.again})
        right = {"value": self.words("setup.live.right"), "format": self.right}
        sheet.conditional_format(FIRST_ROW, column, last, column, {**begins, **right})
        self.lives[block.key] = (checks, last)

    def _checks(self, block: Block) -> LiveChecks:
        return LiveChecks(self.contract, block, self.words, self.rows, (FIRST_ROW, LAST_ROW))

    def _rows(self, block: Block) -> Sequence[Mapping[str, object]]:
        """What a block is filled with: the content, or its example; of a form the first answer only is one."""
        if self.content is not None:
            return self.content.get(block.key, ())
        if block.rows == "fixed":
            first = block.fields[0]
            return [{first.key: f"{self.words('language.example')}: {first.example}"}]
        return [{one.key: self._example(one) for one in block.fields if one.source != "formula"}]

    def _example(self, one: Field) -> object:
        text = one.example.replace(f"{EXAMPLE}:", f"{self.words('language.example')}:")
        is_number = one.type in ("integer", "number") and text.replace(".", "", 1).isdigit()
        return float(text) if is_number else text

    def _open_cell(self, one: Field) -> Format:
        return self.book.format(**self._answer(one))

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
