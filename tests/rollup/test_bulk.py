"""Rows written in bulk are, cell for cell, what xlsxwriter itself writes: a new release of it is held to that here."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from functools import partial

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from workbook_tools.contract.look import default_look
from workbook_tools.contract.writing import BookWriter, SheetWriter
from workbook_tools.errors import BuildError
from workbook_tools.rollup.sheets.bulk import MOST_ROWS, BulkBookWriter, Column

VALUES = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12),
    st.sampled_from(["=1+1", " padded ", "<&>\"'", "_x0041_", "line\nline", "\x07bell"]),
    st.integers(-(10**15), 10**15),
    st.floats(allow_nan=False, allow_infinity=False),
    st.none(),
    st.dates(dt.date(1901, 1, 1), dt.date(2999, 1, 1)),
)
COLUMNS = st.lists(st.lists(VALUES.filter(lambda value: value != 0), min_size=7, max_size=7), min_size=1, max_size=4)
"""Zero and minus zero are equal, so that a column holds whichever came first."""
ROWS = st.lists(st.dictionaries(st.integers(0, 40), VALUES, min_size=1, max_size=5), min_size=1, max_size=6)
Cells = dict[int, str | float | dt.date | None]
Rows = list[Cells]


def parts_of(data: bytes) -> dict[str, str]:
    """The parts of the file as text; row spans, which are a hint only, are left out."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return {name: re.sub(r' spans="[^"]*"', "", book.read(name).decode()) for name in book.namelist()}


def one_by_one(book: BookWriter, sheet: SheetWriter, row: int, cells: Cells) -> None:
    """A row as xlsxwriter writes it."""
    text, date = book.format(bold=True), book.format(num_format="d mmm yyyy")
    for column, value in sorted(cells.items()):
        if value is None:
            sheet.write_blank(row, column, None, text)
        elif isinstance(value, str):
            sheet.text(row, column, value, text)
        elif isinstance(value, dt.date):
            sheet.write_datetime(row, column, value, date)
        else:
            sheet.write_number(row, column, value, text)


def in_bulk(book: BookWriter, sheet: SheetWriter, row: int, cells: Cells) -> None:
    """The same row in one go."""
    text, date = book.format(bold=True), book.format(num_format="d mmm yyyy")
    made = [(column, value, date if isinstance(value, dt.date) else text) for column, value in sorted(cells.items())]
    sheet.write_bulk_row(row, made)


@given(ROWS)
def test_a_row_in_bulk_is_the_row_that_xlsxwriter_writes(rows: Rows) -> None:
    """Sheet, texts, styles and all other parts are the same, also where ordinary rows stand between."""
    written = []
    for book, write in ((BookWriter(default_look()), one_by_one), (BulkBookWriter(default_look(), ""), in_bulk)):
        sheet = book.sheet("One")
        sheet.text(0, 0, "heading")
        for number, cells in enumerate(rows):
            write(book, sheet, 2 + 2 * number, cells)
            sheet.write_number(3 + 2 * number, 1, number)
        written.append(parts_of(book.close()))
    assert written[0] == written[1]


def rows_of(book: BookWriter, sheet: SheetWriter, columns: list[list[object]], first: int, last: int) -> None:
    """Some rows of a table as xlsxwriter writes them."""
    for row in range(first, last):
        told = {place: values[row] for place, values in enumerate(columns, start=1) if values[row] not in (None, "")}
        one_by_one(book, sheet, 2 + row, told)


def columns_of(book: BookWriter, sheet: SheetWriter, columns: list[list[object]], first: int, last: int) -> None:
    """The same rows by columns."""
    text, date = book.format(bold=True), book.format(num_format="d mmm yyyy")
    made = [Column(place, values[first:last], text, text, date) for place, values in enumerate(columns, start=1)]
    sheet.write_bulk_rows(2 + first, made, [None] * (last - first))


@given(COLUMNS, st.integers(1, 6))
@example([[None, "a"] + ["b"] * 5, [dt.date(2027, 3, 1)] + ["b"] * 6], 2)
def test_rows_by_columns_are_the_rows_that_xlsxwriter_writes(columns: list[list[object]], cut: int) -> None:
    """In two steps and with other cells above and below; shared texts may stand in another order."""
    written = []
    for book, write in ((BookWriter(default_look()), rows_of), (BulkBookWriter(default_look(), ""), columns_of)):
        sheet = book.sheet("One")
        sheet.text(0, 0, "heading")
        for one in (book.format(bold=True), book.format(num_format="d mmm yyyy")):
            one._get_xf_index()  # else formats are numbered in the order in which cells are written
        write(book, sheet, columns, 0, cut)
        write(book, sheet, columns, cut, 7)
        sheet.write_number(9, 1, 3)
        written.append(book.close())
    assert_same_but_order(*map(parts_of, written))


def assert_same_but_order(one: dict[str, str], other: dict[str, str]) -> None:
    """Parts are the same, but for the order of shared texts and the numbers by which cells name them; rows and columns
    without a cell count for nothing.
    """
    texts, sheet = "xl/sharedStrings.xml", "xl/worksheets/sheet1.xml"
    for parts in (one, other):
        listed = re.findall(r"<si>.*?</si>", parts[texts], re.DOTALL)
        named = partial(_named, listed)
        parts[sheet] = re.sub(r't="s"><v>(\d+)</v>', named, parts[sheet])
        parts[sheet] = re.sub(r'<row r="\d+"></row>|<dimension[^>]*>', "", parts[sheet])
        parts[texts] = parts[texts].partition("<si>")[0] + "".join(sorted(listed))
    assert one == other


def _named(listed: list[str], found: re.Match[str]) -> str:
    return listed[int(found[1])]


def test_a_row_has_the_height_that_is_asked_for() -> None:
    """In bulk or not, the row's element is the same."""
    rows = []
    for bulk in ("no", "row", "rows"):
        book = BulkBookWriter(default_look(), "")
        sheet = book.sheet("One")
        if bulk == "row":
            sheet.write_bulk_row(4, [(0, "text", book.format())], 43)
        elif bulk == "rows":
            sheet.write_bulk_rows(4, [Column(0, ["text"], *[book.format()] * 3)], [43])
        else:
            sheet.text(4, 0, "text", book.format())
            sheet.set_row_pixels(4, 43)
        rows.append(re.search(r"<row.*</row>", parts_of(book.close())["xl/worksheets/sheet1.xml"]))
    assert all(rows)
    assert len({row.group() for row in rows if row}) == 1


@pytest.mark.parametrize("bulk", [True, False])
@pytest.mark.parametrize(("row", "column"), [(-1, 0), (MOST_ROWS, 0), (5, 0), (9, 16_384)])
def test_a_row_that_does_not_fit_raises(row: int, column: int, bulk: bool) -> None:
    """Outside the sheet, or not below the row before it: the build stops instead of dropping it."""
    book = BulkBookWriter(default_look(), "")
    sheet = book.sheet("One")
    sheet.write_bulk_row(5, [(0, "first", book.format())])
    with pytest.raises(BuildError):
        if bulk:
            sheet.write_bulk_rows(row, [Column(column, ["second"], *[book.format()] * 3)], [None])
        else:
            sheet.write_bulk_row(row, [(column, "second", book.format())])
