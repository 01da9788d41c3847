"""Blank cells, error cells and formulas without a result are told apart, whatever program wrote them."""

from __future__ import annotations

import datetime as dt
import time
from io import BytesIO

import openpyxl
import pytest
import xlsxwriter

from tests.faults.packages import MAIN, SHEET, cell, made, sheet
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.package import Package
from workbook_tools.contract.sheets import RawBlock, read_blocks
from workbook_tools.contract.tables import BlockReader, Table
from workbook_tools.contract.unread import Unreads
from workbook_tools.contract.values import Unread

KEYS = ("item", "item_code", "brand")


def workbook(*rows: dict[int, tuple[str, object]], epoch_1904: bool = False) -> bytes:
    """Items of the setup; a row is 0-based column → (formula or "", result or value)."""
    written = BytesIO()
    book = xlsxwriter.Workbook(written, {"date_1904": epoch_1904})
    page = book.add_worksheet("Items")
    page.write_row(0, 0, ["#items", *KEYS])
    for number, row in enumerate(rows, start=1):
        for column, (formula, value) in row.items():
            if formula:
                page.write_formula(number, column, formula, None, value)
            else:
                page.write(number, column, value)
    book.close()
    return written.getvalue()


def resaved(data: bytes) -> bytes:
    """The same book saved by a program that drops the results of formulas."""
    saved = BytesIO()
    openpyxl.load_workbook(BytesIO(data)).save(saved)
    return saved.getvalue()


def cells(data: bytes) -> list[object]:
    """What stands under the keys in the first row of the block."""
    (block,) = read_blocks(data, ["items"])
    return [value for value in block.rows[0][1][1:] if value != ""]


def read(data: bytes) -> Table:
    """The block as a table of the contract."""
    (raw,) = read_blocks(data, ["items"])
    return BlockReader(default_contract(), "setup", "program.xlsx").read(default_contract().setup.block("items"), raw)


@pytest.mark.parametrize("error", ["#N/A", "#REF!", "#DIV/0!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!"])
def test_an_error_cell_is_a_finding_and_no_blank(error: str) -> None:
    """Every error, at its cell, with its name; what else stands in the row is read."""
    table = read(workbook({1: ("", "Lids"), 2: ("=A1", error)}))
    assert [(one.rule, one.cell, one.value) for one in table.findings if one.column == "item_code"] == [
        ("error_cell", "C2", error)
    ]
    assert table.rows[0].values == {"item": "Lids"}
    assert table.rows[0].broken == {"item_code"}


def test_a_formula_without_a_result_is_a_finding_that_shows_it() -> None:
    """As every formula is after a save by a program that does not calculate."""
    data = workbook({1: ("", "Lids"), 2: ('=A1&"<x>"', "000101")})
    assert cells(data) == ["Lids", "000101"]
    table = read(resaved(data))
    assert [(one.rule, one.cell, one.value) for one in table.findings if one.column == "item_code"] == [
        ("formula_without_result", "C2", '=A1&"<x>"')
    ]


def test_a_row_of_errors_alone_is_not_passed_over() -> None:
    """A blank row would be."""
    table = read(workbook({2: ("=A1", "#REF!")}, {}, {1: ("", "Lids")}))
    assert [sorted(row.broken) for row in table.rows] == [["item_code"], []]


@pytest.mark.parametrize(("formula", "meant"), [("=TRUE()", True), ("=FALSE()", False), ("=true()", True)])
def test_a_truth_value_that_became_a_formula_stays_one(formula: str, meant: bool) -> None:
    """With its result, and without it: nothing has to be calculated."""
    data = workbook({1: (formula, meant)})
    assert cells(data) == [meant]
    assert cells(resaved(data)) == [meant]


@pytest.mark.parametrize(
    ("xml", "expected"),
    [
        ('<c r="B2" t="e"><v>#N/A</v></c>', Unread("error_cell", "#N/A")),
        ("<c t='e' r='B2' s='4'><f>A1</f><v>#REF!</v></c>", Unread("error_cell", "#REF!")),
        ('<c r="B2" t="e"><f t="shared" si="0"/><v>#REF!</v></c>', Unread("error_cell", "#REF!")),
        ('<c r="B2"><f>A1&amp;"x"</f></c>', Unread("formula_without_result", '=A1&"x"')),
        ('<c r="B2"><f>A1</f><v/></c>', Unread("formula_without_result", "=A1")),
        ('<c r="B2">\n <f>A1</f>\n <v />\n</c>', Unread("formula_without_result", "=A1")),
        ('<c r="B2" t="str"><f>A1</f><v></v></c>', None),
        ('<c r="B2"><f>A1</f><v>7</v></c>', None),
        ('<c r="B2" t="s"><v>0</v></c>', None),
        ('<c r="B2" s="4"/>', None),
    ],
)
def test_all_ways_of_writing_it_are_known(xml: str, expected: Unread | None) -> None:
    """Attributes in any order and quotes, shared formulas, line ends; results, texts and blanks are left."""
    rows = f'<row r="2">{xml}</row>'
    found = list(Unreads(Package(made({SHEET: sheet(rows)}))).of_sheet("Return"))
    assert found == ([(1, 1, expected)] if expected else [])


def test_a_prefix_on_every_element_is_known() -> None:
    """As some programs write their sheets."""
    rows = '<x:row r="2"><x:c r="B2" t="e"><x:v>#REF!</x:v></x:c><x:c r="C2"><x:f>A1</x:f></x:c></x:row>'
    data = f'<x:worksheet xmlns:x="{MAIN}"><x:sheetData>{rows}</x:sheetData></x:worksheet>'.encode()
    found = list(Unreads(Package(made({SHEET: data}))).of_sheet("Return"))
    assert found == [(1, 1, Unread("error_cell", "#REF!")), (1, 2, Unread("formula_without_result", "=A1"))]


def test_what_is_no_zip_or_lacks_the_sheet_says_nothing() -> None:
    """The reader knows other formats too; there the cells stay as it gave them."""
    assert list(Unreads(Package(b"no zip")).of_sheet("Return")) == []
    assert list(Unreads(Package(made())).of_sheet("Elsewhere")) == []
    assert not Unreads(Package(b"no zip")).counts_from_1904


@pytest.mark.parametrize(
    "xml", ["<c t=", "<c " * 200_000, "<c r='B2' t='e'>" * 40_000, f"<c {'a' * 500_000}", f"<c {' ' * 500_000}>"]
)
def test_the_search_takes_time_in_proportion(xml: str) -> None:
    """Sheets built to keep a search busy."""
    data = made({SHEET: sheet(xml * 2 + cell("A1"))})
    start = time.process_time()
    list(Unreads(Package(data)).of_sheet("Return"))
    assert time.process_time() - start < 3


@pytest.mark.parametrize("epoch_1904", [False, True])
def test_dates_of_both_date_systems_are_read_rightly(epoch_1904: bool) -> None:
    """A date cell, and a bare number in a date's place, which differs by 1,462 days between the two."""
    written = BytesIO()
    book = xlsxwriter.Workbook(written, {"date_1904": epoch_1904})
    page = book.add_worksheet("Program")
    page.write_column(0, 0, ["#program", "starts", "due"])
    page.write(0, 1, "value")
    page.write_datetime(1, 1, dt.datetime(2026, 3, 2), book.add_format({"num_format": "yyyy-mm-dd"}))
    page.write_number(2, 1, 46089 - (1462 if epoch_1904 else 0))
    book.close()
    raw: RawBlock
    (raw,) = read_blocks(written.getvalue(), ["program"])
    table = BlockReader(default_contract(), "setup", "").read(default_contract().setup.block("program"), raw)
    values = {key: value for row in table.rows for key, value in row.values.items()}
    assert values == {"starts": dt.date(2026, 3, 2), "due": dt.date(2026, 3, 8)}
