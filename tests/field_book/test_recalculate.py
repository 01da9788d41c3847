"""The results stored beside the live formulas of a filled-in book: those that a spreadsheet program computes."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.field_book.programs import book_of, made_program
from tests.field_book.recalculated import Sheets, stored_results_of
from tests.field_book.test_live_cells import EVERYWHERE
from workbook_tools.contract.load import default_contract
from workbook_tools.demo.fill import fill
from workbook_tools.errors import BuildError
from workbook_tools.field_book.formulas import FAILED, FUNCTIONS, Value, evaluate
from workbook_tools.field_book.recalculate import recalculated

PROGRAM = made_program()
BOOK = book_of(PROGRAM)
CONTRACT = default_contract()
SAVED = dt.datetime(2026, 3, 3)


def sheet(*rows: list[Value]):
    """Looks cells up in one sheet made of rows; outside it they are blank."""

    def look_up(name: str, row: int, column: int) -> Value:
        return rows[row][column] if row < len(rows) and column < len(rows[row]) else None

    return look_up


# What spreadsheet programs give, by the descriptions of the functions in ECMA-376 part 1, 18.17.7.
@pytest.mark.parametrize(
    ("formula", "result"),
    [
        ('"a""b"&1&TRUE', 'a"b1TRUE'),
        ("1+2-3", 0.0),
        ("-2+5", 3.0),
        ("1+2&3", "33"),
        ('"Yes"="yes"', True),
        ('"a"<"B"', True),
        ('1<"1"', True),
        ('A9=""', True),
        ("A9=0", True),
        ('1=""', False),
        ("0.1+0.2&0.5", "0.30.5"),
        ('IF(1=2,"a",IF(2>1,"b","c"))', "b"),
        ("IF(1=2,1)", False),
        ('AND(TRUE,NOT(OR(FALSE,1=2)),"x"<>"y")', True),
        ("COUNTA(A1:C2)", 5.0),
        ('COUNTIF(A1:C2,"b*")', 2.0),
        ('COUNTIF(A1:C2,"?ravo")', 1.0),
        ('COUNTIF(A1:C2,"~*")', 0.0),
        ("COUNTIF('A sheet'!$A$1:$C$2,\"ALPHA\")", 1.0),
        ('MATCH("BRAVO",A1:A2,0)', 2.0),
        ("INDEX(A1:A2,MATCH(A2,A1:A2,0))", "bravo"),
        ('MATCH("none",A1:A2,0)', FAILED),
        ('MATCH("br?v*",A1:A2,0)', 2.0),
        ('MATCH("br?v~*",A1:A2,0)', FAILED),
        ('SUBSTITUTE("a*b*","*","~*")', "a~*b~*"),
        ('IFERROR(INDEX(A1:A2,MATCH("none",A1:A2,0)),"")&"x"', "x"),
        ('EXACT("a","A")', False),
        ('EXACT("007",7)', False),
        ('EXACT(7&"","7")', True),
        ("ISNUMBER(C2)", True),
        ("ISNUMBER(A1)", False),
        ("N(C2)+N(A1)", 5.0),
        ('LEFT("! again",1)', "!"),
        ('TRIM("  a   b ")', "a b"),
        ('"a"+1', FAILED),
        ("A1:A2", FAILED),
    ],
)
def test_formulas_are_computed_as_spreadsheet_programs_do(formula: str, result: Value) -> None:
    """Worked out by hand on a sheet of two rows."""
    assert evaluate(formula, sheet(["alpha", None, "Beta"], ["bravo", 1.5, 5.0])) == result


@pytest.mark.parametrize("formula", ["", "1+", "SUM(A1:A2)", "A1:", '"open', "1 2", "IF(1", "#REF!", "A1%"])
def test_what_field_books_do_not_use_is_refused(formula: str) -> None:
    """Never half a result: a formula is computed whole or not at all."""
    with pytest.raises(BuildError, match="cannot compute"):
        evaluate(formula, sheet())


def test_every_function_that_field_books_may_use_is_known() -> None:
    """The list of functions that are everywhere is the same."""
    assert set(FUNCTIONS) == EVERYWHERE


WORDS = ["yes", "no", "YES", "No label", "on tray", "asked store", "no tag", "set", "short", "none", "other item"]
WORDS += [
    "Brand 0",
    "brand 1",
    "Pelwood?",
    "000001",
    " 000002 ",
    "partly",
    "elsewhere",
    "Front",
    "9:40",
    "○",
    "! x",
    "*",
]
ANSWER = st.sampled_from(WORDS) | st.integers(0, 9) | st.sampled_from([0.4, 940.0, 9.4, 46084.0, 46100.0])
OPEN = [
    ("positions", position.key, field.key)
    for position in PROGRAM.walk
    for field in CONTRACT.field_book.block("positions").open_fields
]
OPEN += [("visit", field.key, field.key) for field in CONTRACT.field_book.block("visit").open_fields]
OPEN += [("parts", part.part, field) for part in PROGRAM.parts for field in ("missing", "damaged")]


@given(st.dictionaries(st.sampled_from(OPEN), ANSWER, max_size=40))
@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_is_typed_the_stored_results_are_the_true_ones(tmp_path: Path, answers: dict) -> None:
    """Every formula of a filled-in book, against ironcalc (READ: an independent spreadsheet engine)."""
    book = recalculated(fill(BOOK, answers, SAVED))
    sheets = Sheets(book, tmp_path)
    sheets.evaluate()
    stored = {place: "" if value is None else value for place, value in stored_results_of(book).items()}
    assert {place: (value, sheets.at(*place)) for place, value in stored.items() if value != sheets.at(*place)} == {}


def test_a_blank_book_is_stored_as_it_is_computed() -> None:
    """What is written beside the formulas when a book is built is what they give."""
    assert stored_results_of(recalculated(BOOK)) == stored_results_of(BOOK)
