"""Texts in formulas: whatever a words file says stays a text."""

from __future__ import annotations

import pytest

from tests.rollup.invented import Told, facts_of
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.words import Words, words_for
from workbook_tools.field_book.canvas import Canvas
from workbook_tools.field_book.formulas import Value, evaluate
from workbook_tools.program.formula_texts import quoted_text


def blank(sheet: str, row: int, column: int) -> Value:
    """What stands in every cell: nothing but the words for "to do"."""
    return '"to do"'


@pytest.mark.parametrize("text", ["", "right", 'says "go"', '"', "a & b"])
def test_a_quoted_text_is_read_as_it_was(text: str) -> None:
    """Quotation marks in it do not end it."""
    assert evaluate(quoted_text(text), blank) == text


def test_a_translation_may_hold_quotation_marks() -> None:
    """The counts of a book whose words for "to do" are quoted are computed all the same."""
    table = {**words_for("en").table, "faces.count_todo": '"to do"', "state.todo_mark": '"'}
    program = facts_of([Told()]).program
    canvas = Canvas(default_contract(), program, Words("en", table), default_look(), {})
    formula, at_first = canvas.counted("A1:A3", 3)
    assert evaluate(formula.removeprefix("="), blank) == at_first
    assert at_first.startswith('3 "to do" · 0 ')
