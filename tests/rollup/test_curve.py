"""The curve of the first sheet: what merges counted, and before the first one what visits tell."""

import dataclasses
import datetime as dt
from pathlib import Path

from tests.rollup.book_reads import opened
from tests.rollup.invented import Told, facts_of
from tests.small_program import WORDS
from workbook_tools.rollup.curve import CurvePoint, curve
from workbook_tools.rollup.history import HistoryRow
from workbook_tools.rollup.workbook import Told as ToldBeside
from workbook_tools.rollup.workbook import rollup_workbook


def march(day: int) -> dt.date:
    """A day of March 2026."""
    return dt.date(2026, 3, day)


TOLD = [
    Told(march(2)),
    Told(march(2), wrong={"A-1-1": "no label"}),
    Told(march(4)),
    Told(march(4), built="no"),
    Told(march(6)),
    Told(None),
]


def test_before_the_first_merge_stores_count_from_their_visits() -> None:
    """Displays that stand and stores done, on each day on which a visit changed one of them."""
    today = HistoryRow(march(9), {"built": 4, "done": 3})
    assert curve(facts_of(TOLD, march(9)), [today]) == [
        CurvePoint(march(2), 2, 1),
        CurvePoint(march(4), 3, 2),
        CurvePoint(march(6), 4, 3),
        CurvePoint(march(9), 4, 3),
    ]


def test_merges_are_told_as_they_counted_and_visits_before_them_never_above() -> None:
    """On the 5th two returns were back: that more visits had been made by then was not known, and is not told."""
    history = [HistoryRow(march(5), {"built": 2, "done": 1}), HistoryRow(march(9), {"built": 4, "done": 3})]
    assert curve(facts_of(TOLD, march(9)), history) == [
        CurvePoint(march(2), 2, 1),
        CurvePoint(march(4), 2, 1),
        CurvePoint(march(5), 2, 1),
        CurvePoint(march(9), 4, 3),
    ]


def test_the_chart_draws_its_points(tmp_path: Path) -> None:
    """They stand on the hidden sheet, day by day."""
    today = HistoryRow(march(9), {"built": 4, "done": 3})
    path = tmp_path / "rollup.xlsx"
    path.write_bytes(rollup_workbook(facts_of(TOLD, march(9)), ToldBeside(history=[today]), WORDS))
    book = opened(path)
    series = book["Today"]._charts[-1].series[:2]
    places = [one.yVal.numRef.f.replace("$", "").partition("!") for one in series]
    drawn = [[cell.value for (cell,) in book[sheet][cells]] for sheet, _, cells in places]
    assert drawn == [[2, 3, 4, 4], [1, 2, 3, 3]]


def test_a_window_of_one_day_is_drawn_over_that_day(tmp_path: Path) -> None:
    """An axis that begins and ends at the same number is drawn over years."""
    facts = facts_of([Told(march(3)), Told(None)], march(3))
    settings = dataclasses.replace(facts.program.settings, starts=march(3), due=march(3))
    facts = dataclasses.replace(facts, program=dataclasses.replace(facts.program, settings=settings))
    path = tmp_path / "rollup.xlsx"
    path.write_bytes(rollup_workbook(facts, ToldBeside(), WORDS))
    days = opened(path)["Today"]._charts[-1].x_axis.scaling
    assert days.max - days.min == 1
