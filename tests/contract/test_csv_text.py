"""Plain tables open right with a double click, and no text in them becomes a formula."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.contract.csv_text import BYTE_ORDER_MARK, csv_bytes, csv_lines, text_meant


def read_back(data: bytes) -> list[list[str]]:
    """The cells as another program reads them."""
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))


@pytest.mark.parametrize("text", ["=1+1", "+1", "-5", "@x", "\tx", "\rx", "\nx"])
def test_a_text_that_would_be_a_formula_gets_an_apostrophe(text: str) -> None:
    """The list of leading characters is OWASP's (community page on CSV injection)."""
    assert read_back(csv_bytes(["a"], [{"a": text}]))[1] == [f"'{text}"]


def test_numbers_stay_numbers() -> None:
    """-5 as a number is no formula."""
    assert csv_lines([[-5, 2.5, None]]) == "-5,2.5,\r\n"


def test_a_table_begins_with_a_byte_order_mark_and_its_heading() -> None:
    """Without the mark, a double click misreads accents."""
    assert csv_bytes(["a", "b"], []).decode() == f"{BYTE_ORDER_MARK}a,b\r\n"


TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\0")) | st.text("'=-\n\tx", max_size=4)


@given(st.lists(TEXTS, min_size=2, max_size=4))
def test_every_text_reads_back_as_it_was_meant(texts: list[str]) -> None:
    """Quotes, commas, line ends, leading signs and apostrophes survive."""
    row = next(csv.reader(io.StringIO(csv_lines([texts]), newline=""), strict=True))
    assert [text_meant(cell) for cell in row] == texts
