"""Outcomes at the borders: answers taken back, days at the end of the calendar, marks that are no code."""

from __future__ import annotations

import datetime as dt

import pytest

from workbook_tools.returns.codes import CodeList
from workbook_tools.returns.judge import FileResult, judge, order_of
from workbook_tools.returns.settle import _late

DAY = dt.date(2026, 3, 1)


def _result(number: int, answers: str, correction: int) -> FileResult:
    received, file = f"2026-03-0{number + 1}T10:00:00+00:00", f"{number}.xlsx"
    result = FileResult(number, file, "", received, store="001", visit=1, answers=answers, correction=correction)
    about = {"saved": "", "received": received, "file": file}
    result.order = order_of({"visit_date": DAY}, told=1, correction=correction, **about)
    return result


@pytest.mark.parametrize(
    ("said", "outcomes"),
    [
        ("X0 Y1 X2", "superseded superseded merged"),
        ("X0 Y1 X1", "superseded superseded merged"),
        ("X0 X1", "merged duplicate"),
        ("X0 Y0 X0", "superseded merged duplicate"),
        ("X0 Y1 X2 X2", "superseded superseded merged duplicate"),
    ],
)
def test_a_correction_can_go_back_to_what_was_said_first(said: str, outcomes: str) -> None:
    """It stands, though its answers came once before; a mere copy does not."""
    results = [_result(number, one[0], int(one[1])) for number, one in enumerate(said.split())]
    judge(results)
    assert " ".join(one.outcome for one in results) == outcomes


def test_a_mail_of_the_last_day_of_the_calendar_is_no_reason_to_stop() -> None:
    """Mails say any date; a visit before it is not late."""
    result = _result(0, "X", 0)
    result.received = "9999-12-31T10:00:00+00:00"
    assert _late(result, DAY) is None


@pytest.mark.parametrize("typed", ["-", "'", "--"])
def test_a_mark_without_digits_is_no_code_of_zeros(typed: str) -> None:
    """Zeros in front do not count, yet nothing at all is no code."""
    assert CodeList(["000", "12"]).fitting(typed) == ()
