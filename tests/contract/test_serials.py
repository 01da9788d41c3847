"""Days are numbered as spreadsheet programs number them."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import from_excel, to_excel

from workbook_tools.contract.serials import serial_day


@pytest.mark.parametrize(("day", "serial"), [("1900-03-01", 61), ("2027-03-04", 46450)])
def test_a_day_has_its_serial(day: str, serial: int) -> None:
    """61 is 1 March 1900 (ECMA-376 part 1, 18.17.4.1); 2027-03-04 is 46450 days after 1899-12-30, by counting."""
    assert serial_day(dt.date.fromisoformat(day)) == serial


@given(st.dates(dt.date(1900, 3, 1), dt.date(9999, 12, 31)))
def test_serials_are_those_of_another_library(day: dt.date) -> None:
    """openpyxl writes and reads the same number."""
    assert serial_day(day) == to_excel(day)
    assert from_excel(serial_day(day)).date() == day
