"""The first sheet of the setup workbook: what to fill in, in what order, and live counts of what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from workbook_tools.contract.look import Look
from workbook_tools.contract.model import Block, Field
from workbook_tools.contract.names import column_letters, quoted, sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import BookWriter, SheetWriter
from workbook_tools.program.formula_texts import quoted_text
from workbook_tools.program.live_checks import LiveChecks

_TITLE_ROW, _FIRST_HOW_ROW, _HOW_LINES = 0, 1, 4
_HEADING_ROW = _FIRST_HOW_ROW + _HOW_LINES + 1
_WIDTHS = (210, 110, 150, 150, 420)
_COLUMNS = ("sheet", "filled", "missing", "look", "about")
_TITLE_HEIGHT, _ROW_HEIGHT, _HEADING_HEIGHT = 36, 24, 40


class Overview:
    """Writes the sheet. `rows` are the 0-based first and last row of every table."""

    def __init__(self, book: BookWriter, look: Look, words: Words, rows: tuple[int, int]) -> None:
        self.words = words
        self.first, self.last = rows
        colour = look.colour
        line = {"border": 1, "border_color": colour("grid")}
        self.title = book.format(bold=True, font_size=look.type_sizes["title"])
        self.how = book.format(text_wrap=False)
        self.heading = book.format(
            bold=True, bg_color=colour("heading"), font_color=colour("heading_ink"), text_wrap=True, **line
        )
        self.link = book.format(bold=True, underline=1, font_color=colour("link_ink"), **line)
        self.number = book.format(num_format="#,##0", align="center", **line)
        self.about = book.format(font_color=colour("quiet_ink"), text_wrap=True, **line)
        self.right = book.format(bg_color=colour("right"), font_color=colour("right_ink"))
        self.wanted = book.format(bg_color=colour("waiting"))
        self.again = book.format(bg_color=colour("again"), font_color=colour("again_ink"))

    def write(self, sheet: SheetWriter, blocks: Sequence[Block], lives: Mapping[str, tuple[LiveChecks, int]]) -> None:
        """Title, how to go about it, and a row a sheet with its counts.

        `lives` has, by block, its live checks and the 0-based last row that has one.
        """
        words = self.words
        sheet.set_row_pixels(_TITLE_ROW, _TITLE_HEIGHT)
        sheet.text(_TITLE_ROW, 0, words("setup.overview.title"), self.title)
        for line in range(_HOW_LINES):
            sheet.text(_FIRST_HOW_ROW + line, 0, words(f"setup.overview.how_{line + 1}"), self.how)
        sheet.set_row_pixels(_HEADING_ROW, _HEADING_HEIGHT)
        for column, (key, width) in enumerate(zip(_COLUMNS, _WIDTHS, strict=True)):
            sheet.set_column_pixels(column, column, width)
            sheet.text(_HEADING_ROW, column, words(f"setup.overview.columns.{key}"), self.heading)
        row = _HEADING_ROW
        for row, block in enumerate(blocks, start=_HEADING_ROW + 1):
            sheet.set_row_pixels(row, _ROW_HEIGHT)
            self._row(sheet, row, block, lives.get(block.key))
        self._colours(sheet, row)
        self._faces(sheet, row + 1)
        sheet.hide_gridlines(2)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)

    def _row(self, sheet: SheetWriter, row: int, block: Block, live: tuple[LiveChecks, int] | None) -> None:
        name = self._name(block)
        sheet.write_url(row, 0, f"internal:{quoted(name)}!A1", self.link, name)
        counts = self._form(block, live) if block.rows == "fixed" else self._table(block, live)
        for column, (formula, result) in enumerate(counts, start=1):
            sheet.write_formula(row, column, f"={formula}", self.number, result)
        sheet.text(row, len(_COLUMNS) - 1, self.words(f"setup.{block.key}.title"), self.about)

    def _faces(self, sheet: SheetWriter, row: int) -> None:
        """The sheet that draws what is filled in, which is not filled in itself."""
        name = sheet_name(self.words("setup.faces.sheet"))
        sheet.set_row_pixels(row, _ROW_HEIGHT)
        sheet.write_url(row, 0, f"internal:{quoted(name)}!A1", self.link, name)
        for column in range(1, len(_COLUMNS) - 1):
            sheet.write_blank(row, column, None, self.number)
        sheet.text(row, len(_COLUMNS) - 1, self.words("setup.faces.title"), self.about)

    def _name(self, block: Block) -> str:
        return sheet_name(self.words(f"setup.sheets.{block.key}"))

    def _mark(self) -> str:
        return quoted_text(f"{self.words('language.example')}:*")

    def _form(self, block: Block, live: tuple[LiveChecks, int] | None) -> list[tuple[str, int]]:
        """Counts of a form: cells filled in, required ones that are not; it has no live checks."""
        letter = column_letters(block.value_index)
        sheet = quoted(self._name(block))
        rows = dict(enumerate(block.fields, start=self.first + 1))
        area = f"{sheet}!${letter}${min(rows)}:${letter}${max(rows)}"
        examples = f"COUNTIF({area},{self._mark()})"
        blanks = "+".join(f'({sheet}!${letter}${row}="")' for row, field in rows.items() if field.required)
        values = _Values(live[0] if live else None)
        is_told = [values.is_told(field, 0) for field in block.fields]
        missing = sum(not told for field, told in zip(block.fields, is_told, strict=True) if field.required)
        return [(f"COUNTA({area})-{examples}", sum(is_told)), (f"{blanks}+{examples}", missing), ("0", 0)]

    def _table(self, block: Block, live: tuple[LiveChecks, int] | None) -> list[tuple[str, int]]:
        """Counts of a table: rows, required cells that are blank in rows that are not, live checks that complain."""
        sheet, fields = quoted(self._name(block)), [field for field in block.fields if field.source != "formula"]
        key = self._area(sheet, fields[0])
        required = [field for field in fields if field.required]
        used = "0+" + "+".join(f'({self._area(sheet, field)}<>"")' for field in required)
        blanks = "+".join(f'({self._area(sheet, field)}="")' for field in required)
        counts = [
            f"COUNTA({key})-COUNTIF({key},{self._mark()})",
            f"SUMPRODUCT((({used})>0)*({blanks}))" if required else "0",
        ]
        values = _Values(live[0] if live else None)
        results = [values.rows(fields[0]), values.missing(required)]
        if live:
            checks, last = live
            letter = column_letters(max(field.index for field in block.fields))
            counts.append(f'COUNTIF({sheet}!${letter}${self.first + 1}:${letter}${last + 1},"!*")')
            checked = range(min(len(checks.rows), last - self.first + 1))
            results.append(sum(checks.result(index).startswith("!") for index in checked))
        else:
            counts.append("0")
            results.append(0)
        return list(zip(counts, results, strict=True))

    def _area(self, sheet: str, field: Field) -> str:
        letter = column_letters(field.index)
        return f"{sheet}!${letter}${self.first + 1}:${letter}${self.last + 1}"

    def _colours(self, sheet: SheetWriter, last: int) -> None:
        first = _HEADING_ROW + 1
        sheet.conditional_format(first, 2, last, 2, self._when(">", self.wanted))
        sheet.conditional_format(first, 3, last, 3, self._when(">", self.again))
        sheet.conditional_format(first, 2, last, 3, self._when("=", self.right))

    @staticmethod
    def _when(sign: str, style: Any) -> dict[str, object]:
        return {"type": "cell", "criteria": sign, "value": 0, "format": style}


class _Values:
    """Counts over the content that a workbook is written with."""

    def __init__(self, live: LiveChecks | None) -> None:
        self.live = live

    def is_told(self, field: Field, index: int) -> bool:
        """Whether a cell holds something that is no example."""
        if not self.live or index >= len(self.live.rows):
            return False
        return self.live.holds(field, index)

    def rows(self, key: Field) -> int:
        """Rows whose first cell is filled in."""
        return sum(self.is_told(key, index) for index in range(len(self.live.rows))) if self.live else 0

    def missing(self, required: Sequence[Field]) -> int:
        """Required cells that are blank in rows in which another is not."""
        if not self.live:
            return 0
        told = [[not self.live.is_blank(field, index) for field in required] for index in range(len(self.live.rows))]
        return sum(row.count(False) for row in told if any(row))
