"""The outlook in sentences: too early, a range, who will not make it, all done, closed."""

from __future__ import annotations

import datetime as dt

from tests.rollup.invented import DUE, Told, facts_of
from tests.small_program import WORDS
from workbook_tools.rollup.foresight import foresee
from workbook_tools.rollup.statistics import Outlook, TooEarly


def visited(*days: int, merchandiser: str = "Kim") -> list[Told]:
    """Stores done on these days of March."""
    return [Told(dt.date(2026, 3, day), merchandiser=merchandiser) for day in days]


def said(told: list[Told], as_of: dt.date, hours: float | None = None) -> str:
    """All sentences of the outlook."""
    ahead = foresee(facts_of(told, as_of, hours))
    return " ".join((*ahead.say(WORDS), *ahead.say_late(WORDS)))


def test_on_the_second_day_it_is_too_early_to_tell() -> None:
    """Two days and three stores foretell nothing, and the sentence says what is missing."""
    told = [*visited(2, 2, 3), *(Told(None) for _ in range(30))]
    assert isinstance(foresee(facts_of(told, dt.date(2026, 3, 3))).found, TooEarly)
    assert said(told, dt.date(2026, 3, 3)).startswith("Too early to tell: an outlook needs 3 days of work")


def test_a_steady_pace_gives_a_range_that_holds_it() -> None:
    """Three stores each working day for two weeks, two weeks left: about thirty more."""
    days = [day for day in (2, 3, 4, 5, 6, 9, 10, 11, 12, 13) for _ in range(3)]
    found = foresee(facts_of([*visited(*days), *(Told(None) for _ in range(60))], dt.date(2026, 3, 16))).found
    assert isinstance(found, Outlook)
    assert (found.done, found.left, found.days) == (30, 60, 10)
    assert found.low <= 60 <= found.high
    text = said([*visited(*days), *(Told(None) for _ in range(60))], dt.date(2026, 3, 16))
    assert f"{found.low} to {found.high} of 90 stores will be done" in text
    assert "So far 3.0 stores are done a working day; 6.0 a day are needed" in text
    assert "At this pace will not make it: Kim Full (60 left" in text


def test_weekends_count_once_somebody_works_on_them() -> None:
    """With a visit on a Saturday, Saturdays are working days; Sundays are not."""
    weekdays = visited(*(day for day in (2, 3, 4, 5, 6) for _ in range(3)))
    left = [Told(None) for _ in range(20)]
    without = foresee(facts_of([*weekdays, *left], dt.date(2026, 3, 9))).found
    with_one = foresee(facts_of([*weekdays, *visited(7), *left], dt.date(2026, 3, 9))).found
    assert isinstance(without, Outlook)
    assert isinstance(with_one, Outlook)
    assert (without.days, with_one.days) == (15, 18)


def test_today_is_over_once_a_visit_of_today_is_back() -> None:
    """In the evening the day no longer counts among those that are left."""
    days = [day for day in (2, 3, 4, 5, 6) for _ in range(3)]
    left = [Told(None) for _ in range(20)]
    morning = foresee(facts_of([*visited(*days[:-3]), *left], dt.date(2026, 3, 6))).found
    evening = foresee(facts_of([*visited(*days), *left], dt.date(2026, 3, 6))).found
    assert isinstance(morning, Outlook)
    assert isinstance(evening, Outlook)
    assert (morning.days, evening.days) == (16, 15)


def test_hours_that_do_not_suffice_are_told_at_once() -> None:
    """Kim has 3 hours, used 2 in two visits of an hour, and has 5 stores left: hours for one more."""
    text = said([*visited(2, 3), *(Told(None) for _ in range(5))], dt.date(2026, 3, 4), hours=3)
    assert "Not enough hours: Kim Full (5 left, about 1 will be done)." in text


def test_who_has_not_begun_is_named() -> None:
    """Somebody with stores and none done."""
    days = [day for day in (2, 3, 4, 5, 6) for _ in range(3)]
    told = [*visited(*days), *(Told(None, merchandiser="Lee") for _ in range(4)), *(Told(None) for _ in range(4))]
    assert "Not one store done yet: Lee Full." in said(told, dt.date(2026, 3, 9))


def test_all_done_and_closed_are_said_as_they_are() -> None:
    """No range where nothing is left to foretell."""
    assert said(visited(2, 3), dt.date(2026, 3, 9)) == "All 2 stores are done."
    closed = DUE + dt.timedelta(days=1)
    assert said([*visited(2, 3), Told(None)], closed).startswith("The window has closed: 2 of 3 stores are done.")
