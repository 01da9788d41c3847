"""The roll-up workbook: totals first, then a sheet for everything somebody has to act on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

import polars as pl

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.names import sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import TEXT_FORMAT, BookWriter, SheetWriter
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.totals import Totals, totals

TAG_KINDS = ("tag_missing", "tag_asked", "tag_mismatch")
LABEL_KINDS = ("label_mismatch",)
TITLE_ROW, HEADING_ROW, FIRST_ROW = 0, 2, 3
_WIDTHS = {"store": 80, "name": 190, "district": 110, "position": 80, "kind": 170, "note": 240, "file": 260}
_WIDTHS |= {"problem": 420, "todo": 380, "reason": 420, "sha256": 120, "merchandiser": 130, "brand": 140, "due": 140}
_WIDTHS |= {"found": 150, "printed": 90, "value": 180, "received": 170, "sender": 170, "state": 110}
_TRANSLATED = {"kind": "flags", "who": "owners", "state": "states", "outcome": "outcomes", "severity": "severity"}


def rollup_workbook(facts: Facts, words: Words) -> bytes:
    """The roll-up of a program as the bytes of an .xlsx file."""
    return _Rollup(facts, words).write()


class _Rollup:
    def __init__(self, facts: Facts, words: Words) -> None:
        self.facts = facts
        self.words = words
        self.look = default_look()
        self.book = BookWriter(self.look, title=f"{facts.program.settings.name} · {words('rollup.title')}")
        colour = self.look.colour
        self.title = self.book.format(bold=True, font_size=self.look.type_sizes["title"])
        self.quiet = self.book.format(font_color=colour("quiet_ink"))
        self.heading = self.book.format(
            bold=True, bg_color=colour("heading"), font_color=colour("heading_ink"), text_wrap=True
        )
        self.text = self.book.format(num_format=TEXT_FORMAT, text_wrap=True, valign="top")
        self.number = self.book.format(valign="top")
        self.date = self.book.format(num_format="d mmm yyyy", valign="top", align="left")
        self.big = self.book.format(bold=True, font_size=self.look.type_sizes["title"], align="right")

    def write(self) -> bytes:
        facts, columns = self.facts, default_contract().tables
        self._totals(totals(facts))
        self._table("stores", columns["status"], facts.status.iter_rows(named=True))
        labels = facts.flags.filter(pl.col("kind").is_in(LABEL_KINDS))
        shown: tuple[str, ...] = ("store", "name", "position", "due", "found", "merchandiser", "since", "note")
        self._table("labels", shown, self._with_stores(labels))
        tags = facts.flags.filter(pl.col("kind").is_in(TAG_KINDS))
        printed = ({**row, "item": self._item(row["item_code"]), "printed": ""} for row in self._with_stores(tags))
        shown = ("store", "name", "position", "item_code", "item", "brand", "kind", "found", "who", "since", "printed")
        self._table("tags", shown, printed)
        others = facts.flags.filter(~pl.col("kind").is_in((*LABEL_KINDS, *TAG_KINDS)))
        shown = ("store", "name", "position", "kind", "due", "found", "item_code", "brand", "who", "since", "note")
        self._table("flags", shown, self._with_stores(others))
        self._table("findings", columns["findings"], (finding.row(self.words) for finding in facts.findings))
        self._table("files", columns["files"], (result.row(self.words) for result in facts.results))
        return self.book.close()

    def _with_stores(self, flags: pl.DataFrame) -> Iterable[dict[str, object]]:
        stores = self.facts.program.store
        for row in flags.iter_rows(named=True):
            store = stores.get(row["store"])
            yield {**row, "name": store.name if store else "", "merchandiser": store.merchandiser if store else ""}

    def _item(self, code: object) -> str:
        item = self.facts.program.item_by_code.get(str(code))
        return (item.description or item.item) if item else ""

    def _totals(self, figures: Totals) -> None:
        sheet = self.book.sheet(sheet_name(self.words("rollup.sheets.totals")))
        settings = self.facts.program.settings
        sheet.set_column_pixels(0, 0, 24)
        sheet.set_column_pixels(1, 1, 330)
        sheet.set_column_pixels(2, 2, 110)
        sheet.set_column_pixels(3, 3, 420)
        sheet.set_row_pixels(TITLE_ROW, 40)
        sheet.text(TITLE_ROW, 1, settings.name, self.title)
        about = self.words("rollup.about", as_of=self.facts.as_of, starts=settings.starts, due=settings.due)
        sheet.text(1, 1, about, self.quiet)
        for row, (key, count, of) in enumerate(figures.lines(), start=HEADING_ROW + 1):
            sheet.set_row_pixels(row, 30)
            sheet.text(row, 1, self.words(key), self.book.format(bold=key.startswith("rollup.")))
            sheet.write_number(row, 2, count, self.big)
            sheet.text(row, 3, self.words("rollup.of", total=of) if of is not None else "", self.quiet)
        self._page(sheet)

    def _table(self, key: str, columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> None:
        sheet = self.book.sheet(sheet_name(self.words(f"rollup.sheets.{key}")))
        sheet.set_row_pixels(TITLE_ROW, 40)
        sheet.text(TITLE_ROW, 0, self.words(f"rollup.titles.{key}"), self.title)
        number = HEADING_ROW
        for number, record in enumerate(rows, start=FIRST_ROW):
            for column, name in enumerate(columns):
                self._cell(sheet, number, column, name, record.get(name))
        if number == HEADING_ROW:
            sheet.text(1, 0, self.words("rollup.empty"), self.quiet)
        headings = [{"header": self.words(f"rollup.columns.{name}"), "header_format": self.heading} for name in columns]
        options = {"columns": headings, "style": "Table Style Light 15", "name": f"{key}_table"}
        sheet.add_table(HEADING_ROW, 0, max(number, FIRST_ROW), len(columns) - 1, options)
        for column, name in enumerate(columns):
            sheet.set_column_pixels(column, column, _WIDTHS.get(name, 100))
        sheet.set_row_pixels(HEADING_ROW, 36)
        sheet.freeze_panes(FIRST_ROW, 1)
        self._page(sheet)

    def _cell(self, sheet: SheetWriter, row: int, column: int, name: str, value: object) -> None:
        if name in _TRANSLATED and value:
            value = self.words(f"{_TRANSLATED[name]}.{value}")
        if isinstance(value, dt.date):
            sheet.write_datetime(row, column, value, self.date)
        elif isinstance(value, int | float):
            sheet.write_number(row, column, value, self.number)
        else:
            sheet.text(row, column, "" if value is None else str(value), self.text)

    def _page(self, sheet: SheetWriter) -> None:
        sheet.hide_gridlines(2)
        sheet.set_landscape()
        sheet.set_paper(9)
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(HEADING_ROW)
