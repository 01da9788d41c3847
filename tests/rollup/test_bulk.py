"""Rows written in bulk are, cell for cell, what xlsxwriter itself writes: a new release of it is held to that here."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.contract.look import default_look
from workbook_tools.contract.writing import BookWriter, SheetWriter
from workbook_tools.errors import BuildError
from workbook_tools.rollup.sheets.bulk import MOST_ROWS, BulkBookWriter

VALUES = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12),
    st.sampled_from(["=1+1", " padded ", "<&>\"'", "_x0041_", "line\nline", "\x07bell"]),
    st.integers(-(10**15), 10**15),
    st.floats(allow_nan=False, allow_infinity=False),
    st.none(),
    st.dates(dt.date(1901, 1, 1), dt.date(2999, 1, 1)),
)
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


def test_a_row_has_the_height_that_is_asked_for() -> None:
    """In bulk or not, the row's element is the same."""
    rows = []
    for bulk in (False, True):
        book = BulkBookWriter(default_look(), "")
        sheet = book.sheet("One")
        if bulk:
            sheet.write_bulk_row(4, [(0, "text", book.format())], 43)
        else:
            sheet.text(4, 0, "text", book.format())
            sheet.set_row_pixels(4, 43)
        rows.append(re.search(r"<row.*</row>", parts_of(book.close())["xl/worksheets/sheet1.xml"]))
    assert rows[0] and rows[1]
    assert rows[0].group() == rows[1].group()


@pytest.mark.parametrize(("row", "column"), [(-1, 0), (MOST_ROWS, 0), (5, 0), (9, 16_384)])
def test_a_row_that_does_not_fit_raises(row: int, column: int) -> None:
    """Outside the sheet, or not below the row before it: the build stops instead of dropping it."""
    book = BulkBookWriter(default_look(), "")
    sheet = book.sheet("One")
    sheet.write_bulk_row(5, [(0, "first", book.format())])
    with pytest.raises(BuildError):
        sheet.write_bulk_row(row, [(column, "second", book.format())])
