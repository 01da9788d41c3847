"""Blocks are found by their keys wherever they stand, and every address is the one people see."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from io import BytesIO

import openpyxl
import pytest
import xlsxwriter
from openpyxl.worksheet.worksheet import Worksheet

from workbook_tools.contract import sheets
from workbook_tools.contract.names import a1
from workbook_tools.contract.sheets import RawBlock, UnreadableWorkbookError, read_blocks, split_blocks
from workbook_tools.contract.values import Unread

ITEMS = [
    [None, "Items"],
    [None, "Item", "Code"],
    ["#items", "item", "code"],
    [None, "Lids", "0041"],
    [None, "Jars", "0042"],
]


def _workbook(
    pages: dict[str, Sequence[Sequence[object]]], damage: Callable[[Worksheet], object] | None = None
) -> bytes:
    """A workbook of these sheets; `damage` changes the first of them as a person would."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in pages.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    if damage:
        damage(book.worksheets[0])
    written = BytesIO()
    book.save(written)
    return written.getvalue()


def _table(block: RawBlock, *columns: str) -> list[tuple[object, ...]]:
    return [tuple(block.cell(number, cells, column).value for column in columns) for number, cells in block.rows]


def _shift_columns(sheet: Worksheet) -> None:
    sheet.move_range("B1:C9", cols=3)


def _swap_columns(sheet: Worksheet) -> None:
    sheet.move_range("B1:B9", cols=4)


@pytest.mark.parametrize(
    ("damage", "first_cell"),
    [
        (None, "B4"),
        (lambda sheet: sheet.insert_rows(1, 3), "B7"),
        (lambda sheet: sheet.insert_rows(4), "B5"),
        (lambda sheet: sheet.insert_cols(2, 2), "D4"),
        (_shift_columns, "E4"),
        (_swap_columns, "F4"),
        (lambda sheet: setattr(sheet, "title", "Whatever"), "B4"),
    ],
    ids=["as written", "rows above", "row between", "columns inserted", "columns moved", "columns swapped", "renamed"],
)
def test_a_block_is_found_wherever_it_stands(damage: Callable[[Worksheet], object] | None, first_cell: str) -> None:
    """Inserted rows, moved columns and renamed sheets change addresses only, and those are the ones people see."""
    (block,) = read_blocks(_workbook({"Items": ITEMS}, damage), ["items"])
    assert _table(block, "item", "code") == [("Lids", "0041"), ("Jars", "0042")]
    cell = block.cell(*block.rows[0], "item")
    assert a1(cell.row, cell.column) == first_cell


def test_blocks_share_a_sheet_and_end_where_the_next_one_begins() -> None:
    """A block's rows are those under its key row, down to the next `#` in column A."""
    parts = [["#parts", "part"], [None, "P1"], [None, "P2"]]
    items, found = read_blocks(_workbook({"All": [*ITEMS, [None], [None, "Parts"], *parts]}), ["parts", "items"])
    assert (items.key, found.key) == ("items", "parts")
    assert _table(items, "item") == [("Lids",), ("Jars",), ("Parts",)]
    assert _table(found, "part") == [("P1",), ("P2",)]
    assert (items.key_row, found.key_row) == (2, 7)


def test_a_block_is_found_on_any_sheet() -> None:
    """Sheets that are likely are looked at first; the others only while something is missing."""
    pages = {"Notes": [["no block here"]], "Moved": ITEMS, "Likely": [["#parts", "part"], [None, "P1"]]}
    found = read_blocks(_workbook(pages), ["items", "parts"], likely=["Likely"])
    assert [(block.key, block.sheet) for block in found] == [("parts", "Likely"), ("items", "Moved")]
    assert read_blocks(_workbook(pages), ["parts"], likely=["Likely"])[0].sheet == "Likely"
    assert read_blocks(_workbook(pages), ["labels"]) == []


def test_a_block_on_two_sheets_is_found_twice() -> None:
    """A copied sheet is seen as such, in the order of the sheets; which one counts is for others to say."""
    found = read_blocks(_workbook({"Items": ITEMS, "Items (2)": ITEMS}), ["items"])
    assert [block.sheet for block in found] == ["Items", "Items (2)"]


def test_blank_rows_are_passed_over_and_keep_their_numbers() -> None:
    """A row that holds only white space is no row, and the next one keeps its place in the sheet."""
    rows = [["#items", "item"], [None, "Lids"], [], ["  ", "\u00a0\u200b"], [None, "Jars"]]
    (block,) = read_blocks(_workbook({"Items": rows}), ["items"])
    assert [number for number, _ in block.rows] == [1, 4]


def test_keys_are_read_past_what_cannot_be_seen() -> None:
    """Spaces and zero-width characters in the key row do no harm; the keys themselves are exact."""
    rows = [[" #items\u200b", " item ", "\u00a0code\u200b", "Gtin", 7, None, "item"], [None, "Lids", "0041"]]
    (block,) = read_blocks(_workbook({"Items": rows}), ["items"])
    assert block.columns == {"item": 1, "code": 2, "Gtin": 3}
    assert block.doubled == ("item",)
    assert _table(block, "item", "code") == [("Lids", "0041")]


def test_a_row_that_ends_early_has_blank_cells() -> None:
    """A short row gives None under the columns it does not reach; a column the block lacks is a KeyError."""
    (block,) = split_blocks("Items", [["#items", "item", "code"], [None, "Lids"]])
    assert block.cell(*block.rows[0], "code") == (1, 2, None)
    with pytest.raises(KeyError):
        block.cell(*block.rows[0], "gtin")


def test_values_come_as_the_file_holds_them() -> None:
    """Texts stay texts, numbers numbers and dates dates; a formula gives its last result, an error itself."""
    written = BytesIO()
    book = xlsxwriter.Workbook(written)
    sheet = book.add_worksheet("Items")
    for column, text in enumerate(["#it", "text", "number", "truth", "date", "time", "sum", "error"]):
        sheet.write_string(0, column, text)
    sheet.write_string(1, 1, "0041")
    sheet.write_number(1, 2, 7)
    sheet.write_boolean(1, 3, True)
    sheet.write_datetime(1, 4, dt.datetime(2027, 3, 1), book.add_format({"num_format": "d mmm yyyy"}))
    sheet.write_datetime(1, 5, dt.time(9, 40), book.add_format({"num_format": "h:mm"}))
    sheet.write_formula(1, 6, "=3+4", None, 7)
    sheet.write_formula(1, 7, "=NA()", None, "#N/A")
    book.close()
    (block,) = read_blocks(written.getvalue(), ["it"])
    assert _table(block, *block.columns) == [
        ("0041", 7.0, True, dt.date(2027, 3, 1), dt.time(9, 40), 7.0, Unread("error_cell", "#N/A")),
    ]


@pytest.mark.parametrize(
    "data", [b"", b"no workbook", b"PK\x03\x04 cut short", _workbook({"Items": ITEMS})[:900]], ids=len
)
def test_what_is_no_workbook_raises_one_error(data: bytes) -> None:
    """A caller has to catch UnreadableWorkbookError only, and it says why."""
    with pytest.raises(UnreadableWorkbookError, match=r"\w"):
        read_blocks(data, ["items"])


class _PanicError(BaseException):
    """Stands for the panics of the native reader, which are no Exception."""


def test_a_panic_of_the_native_reader_is_an_unreadable_workbook(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the reader's native code dies of comes out as the same error; an interrupt by the user goes through."""

    class Reader:
        slip: type[BaseException] = _PanicError

        @classmethod
        def from_filelike(cls, file: object) -> None:
            raise cls.slip

    monkeypatch.setattr(sheets, "CalamineWorkbook", Reader)
    with pytest.raises(UnreadableWorkbookError, match="_PanicError"):
        read_blocks(b"", ["items"])
    Reader.slip = KeyboardInterrupt
    with pytest.raises(KeyboardInterrupt):
        read_blocks(b"", ["items"])


@pytest.mark.parametrize(
    ("row", "column", "address"),
    [(0, 0, "A1"), (6, 2, "C7"), (0, 25, "Z1"), (0, 26, "AA1"), (1_048_575, 16_383, "XFD1048576")],
)
def test_addresses_are_those_of_spreadsheets(row: int, column: int, address: str) -> None:
    """0-based rows and columns inside, A1 outside; XFD1048576 is a sheet's last cell (Excel specifications, READ)."""
    assert a1(row, column) == address
