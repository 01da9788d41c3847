"""A time of day, typed in haste into the field book's cells for times, is read as what was meant."""

from __future__ import annotations

import datetime as dt
from io import BytesIO

import pytest
import xlsxwriter
from python_calamine import CalamineWorkbook

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.values import read_value
from workbook_tools.field_book.return_styles import TIME_FORMAT

TIME_IN = default_contract().field_book.block("visit").by_key["time_in"]


def stored(number: float) -> object:
    """What the reader gives for a number in a cell of the book's own format for times."""
    out = BytesIO()
    with xlsxwriter.Workbook(out) as book:
        book.add_worksheet().write_number(0, 0, number, book.add_format({"num_format": TIME_FORMAT}))
    return CalamineWorkbook.from_filelike(BytesIO(out.getvalue())).get_sheet_by_index(0).to_python()[0][0]


@pytest.mark.parametrize(
    ("number", "meant"),
    [
        (9 / 24 + 40 / 1440, dt.time(9, 40)),
        (940, dt.time(9, 40)),
        (9.4, dt.time(9, 40)),
        (1055, dt.time(10, 55)),
        (9, dt.time(9, 0)),
        (2359, dt.time(23, 59)),
        (10.05, dt.time(10, 5)),
    ],
)
def test_a_number_typed_for_a_time_is_read_as_meant(number: float, meant: dt.time) -> None:
    """9:40 as the program stores it, 940, 9.40 and 9: the cell's format makes a day of the last three."""
    assert read_value(TIME_IN, stored(number)).value == meant
