"""A roll-up as the office changes it between two merges: write beside flags, sort, move columns, delete them."""

from __future__ import annotations

import random
import warnings
from pathlib import Path

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from workbook_tools.rollup.notes import FlagKey

KEYS = ("store", "position", "kind")


def load(path: Path) -> openpyxl.Workbook:
    """A roll-up opened to be changed; openpyxl drops the newer half of its data bars and says so."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        return openpyxl.load_workbook(path)


class NotesSheet:
    """The sheet of a roll-up that holds a block, opened to be changed; rows and columns as openpyxl counts, from 1."""

    def __init__(self, path: Path, block: str = "notes") -> None:
        self.path = path
        self.workbook = load(path)
        self.sheet, self.key_row = next(
            (sheet, row[0].row)
            for sheet in self.workbook.worksheets
            for row in sheet.iter_rows(max_col=1)
            if row[0].value == f"#{block}"
        )

    @property
    def columns(self) -> dict[str, int]:
        """Column key → column."""
        return {cell.value: cell.column for cell in self.sheet[self.key_row][1:] if cell.value}

    @property
    def rows(self) -> dict[FlagKey, int]:
        """Which row stands for which flag."""
        columns, found = [self.columns[name] for name in KEYS], {}
        for number, row in enumerate(self.sheet.iter_rows(self.key_row + 2, values_only=True), start=self.key_row + 2):
            key = FlagKey(*(str(row[column - 1] or "") for column in columns))
            if key.kind:
                found[key] = number
        return found

    def write(self, key: FlagKey, **values: object) -> None:
        """Fill in open cells beside a flag; texts are texts whatever they begin with, as the cells' format says."""
        row, columns = self.rows[key], self.columns
        for name, value in values.items():
            cell = self.sheet.cell(row, columns[name])
            cell.value = value
            if isinstance(value, str):
                cell.data_type = "s"

    def read(self, key: FlagKey) -> tuple[str, ...]:
        """Owner, note and settled beside a flag."""
        row = self.rows[key]
        return tuple(str(self.sheet.cell(row, self.columns[name]).value or "") for name in ("owner", "note", "settled"))

    def texts(self) -> list[str]:
        """Every text on the sheet."""
        return [str(cell.value) for row in self.sheet.iter_rows() for cell in row if cell.value is not None]

    def shuffle_rows(self, rng: random.Random) -> None:
        """Sort the rows otherwise, all columns together, as sorting a table does."""
        first, last = self.key_row + 2, self.sheet.max_row
        rows = [self._row(row) for row in range(first, last + 1)]
        rng.shuffle(rows)
        for number, values in enumerate(rows, start=first):
            for column, value in enumerate(values, start=1):
                self.sheet.cell(number, column).value = value

    def shuffle_columns(self, rng: random.Random, keys_too: bool) -> None:
        """Move columns about, with the hidden row of keys or (as dragging inside a table does) without it."""
        order = list(range(2, self.sheet.max_column + 1))
        rng.shuffle(order)
        for row in range(self.key_row if keys_too else self.key_row + 1, self.sheet.max_row + 1):
            values = self._row(row)
            for target, source in enumerate(order, start=2):
                self.sheet.cell(row, target).value = values[source - 1]

    def _row(self, row: int) -> list[object]:
        return [self.sheet.cell(row, column).value for column in range(1, self.sheet.max_column + 1)]

    def save(self) -> None:
        """Save the roll-up where it lies; native tables are dropped, for their headings no longer fit."""
        for sheet in self.workbook.worksheets:
            _drop_tables(sheet)
        self.workbook.save(self.path)


def _drop_tables(sheet: Worksheet) -> None:
    for name in list(sheet.tables):
        del sheet.tables[name]
