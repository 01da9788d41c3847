"""A field book as a spreadsheet program would compute it, without one: ironcalc evaluates every formula."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import ironcalc
import openpyxl
from openpyxl.utils.cell import coordinate_to_tuple

from workbook_tools.contract.sheets import read_blocks


class Sheets:
    """The sheets of a book, by name; answers are given by the contract's keys."""

    def __init__(self, book: bytes, folder: Path) -> None:
        path = folder / "book.xlsx"
        path.write_bytes(book)
        self.model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
        self.numbers = {one["name"]: number for number, one in enumerate(self.model.get_worksheets_properties())}
        self.blocks = {block.key: block for block in read_blocks(book, ("visit", "positions", "parts"))}

    def place(self, block: str, row: str, column: str) -> tuple[str, int, int]:
        """Sheet name, 0-based row and column of a cell."""
        raw = self.blocks[block]
        number = next(number for number, cells in raw.rows if cells[0] == row)
        return raw.sheet, number, raw.columns[column]

    def answer(self, block: str, row: str, column: str, value: str | float) -> None:
        """Put a value into a cell, as a text or a number."""
        sheet, number, place = self.place(block, row, column)
        put = self.model.update_cell_with_text if isinstance(value, str) else self.model.update_cell_with_number
        put(self.numbers[sheet], number + 1, place + 1, value)

    def evaluate(self) -> None:
        """Compute everything anew."""
        self.model.evaluate()

    def value(self, sheet: str, row: int, column: int) -> object:
        """The value in a 0-based cell."""
        return self.model.get_cell_value(self.numbers[sheet], row + 1, column + 1)

    def at(self, sheet: str, address: str) -> object:
        """The value in the cell at an address such as `C7`."""
        row, column = coordinate_to_tuple(address)
        return self.value(sheet, row - 1, column - 1)


def formulas_of(book: bytes) -> dict[tuple[str, str], str]:
    """Every formula of a book, by sheet name and address."""
    workbook = openpyxl.load_workbook(BytesIO(book))
    return {
        (sheet.title, cell.coordinate): cell.value
        for sheet in workbook
        for cells in sheet.iter_rows()
        for cell in cells
        if cell.data_type == "f"
    }


def stored_results_of(book: bytes) -> dict[tuple[str, str], object]:
    """The stored result of every formula of a book, by sheet name and address."""
    workbook = openpyxl.load_workbook(BytesIO(book), data_only=True)
    return {place: workbook[place[0]][place[1]].value for place in formulas_of(book)}
