"""The outlook in sentences: too early, a range, who will not make it, all done, closed."""

from __future__ import annotations

import dataclasses
import datetime as dt

import polars as pl
import pytest

from tests.rollup.invented import DUE, Told, facts_of
from tests.small_program import WORDS
from workbook_tools.rollup.between import Between, between
from workbook_tools.rollup.foresight import _visits_left, foresee
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.outlook import Outlook, TooEarly


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
    assert said(told, dt.date(2026, 3, 3)).startswith("Too early to tell: an outlook needs 4 days of work")


def test_what_was_done_before_the_first_working_day_counts() -> None:
    """A store done on the Friday before the window opens is done on its first morning, and once it has closed."""
    told = [*visited(2), *(Told(None) for _ in range(12))]
    facts = facts_of(told, dt.date(2026, 3, 2))
    early = facts.status.with_columns(visit_date=pl.when(state="done").then(dt.date(2026, 2, 27)))
    facts = dataclasses.replace(facts, status=early)
    assert foresee(facts).found.done == 1
    sunday = dataclasses.replace(facts.program.settings, starts=dt.date(2026, 3, 1), due=dt.date(2026, 3, 1))
    program = dataclasses.replace(facts.program, settings=sunday)
    assert foresee(dataclasses.replace(facts, program=program)).found.done == 1


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
    days = [day for day in (2, 3, 4, 5, 6, 9) for _ in range(3)]
    left = [Told(None) for _ in range(20)]
    morning = foresee(facts_of([*visited(*days[:-3]), *left], dt.date(2026, 3, 9))).found
    evening = foresee(facts_of([*visited(*days), *left], dt.date(2026, 3, 9))).found
    assert isinstance(morning, Outlook)
    assert isinstance(evening, Outlook)
    assert (morning.days, evening.days) == (15, 14)


def test_hours_that_do_not_suffice_are_told_at_once() -> None:
    """Kim has 3 hours, used 2 in two visits of an hour, and has 5 stores left: hours for one more."""
    text = said([*visited(2, 3), *(Told(None) for _ in range(5))], dt.date(2026, 3, 4), hours=3)
    assert "Not enough hours: Kim Full (5 left, about 1 will be done)." in text


def test_a_range_of_one_number_is_no_range() -> None:
    """Where nobody has hours left, what is done is what will be done."""
    days = [day for day in (2, 3, 4, 5, 6, 9, 10) for _ in range(3)]
    text = said([*visited(*days), *(Told(None) for _ in range(20))], dt.date(2026, 3, 11), hours=1)
    assert text.startswith("When the window closes on 2026-03-29, 21 of 41 stores will be done, almost surely. So far")


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


def test_a_window_without_a_working_day_left_is_not_called_closed() -> None:
    """On the Saturday before the Sunday on which it closes; and a range names that Sunday, not the last working day."""
    found = said([*visited(2, 3), Told(None)], dt.date(2026, 3, 28))
    assert found.startswith("No working day is left until the window closes on 2026-03-29: 2 of 3 stores are done.")
    days = [day for day in (2, 3, 4, 5, 6) for _ in range(3)]
    range_of = said([*visited(*days), *(Told(None) for _ in range(20))], dt.date(2026, 3, 9))
    assert range_of.startswith("When the window closes on 2026-03-29, ")


def test_public_holidays_of_the_country_are_no_working_days() -> None:
    """25 May 2026 and 19 June 2026 are public holidays in the United States (COMP: holidays 0.109, MEM: Memorial Day,
    Juneteenth); a day off on which somebody worked counts.
    """
    days = [day for day in (2, 3, 4, 5, 6) for _ in range(3)]
    facts = facts_of([*visited(*days), *(Told(None) for _ in range(20))], dt.date(2026, 3, 9))
    window = {"starts": dt.date(2026, 3, 2), "due": dt.date(2026, 6, 19)}

    def days_left(facts: Facts, **settings: object) -> int:
        settings_of = dataclasses.replace(facts.program.settings, **window, **settings)
        found = foresee(dataclasses.replace(facts, program=dataclasses.replace(facts.program, settings=settings_of)))
        assert isinstance(found.found, Outlook)
        return found.found.days

    anywhere = days_left(facts)
    assert anywhere == 15 * 5
    assert days_left(facts, country="US") == anywhere - 2
    assert days_left(facts, country="??") == anywhere
    later = dataclasses.replace(facts, as_of=dt.date(2026, 6, 18))
    assert days_left(later, country="US") == 1
    worked = later.status.with_columns(
        pl.when(pl.col("store") == "0001").then(dt.date(2026, 6, 19)).otherwise("visit_date").alias("visit_date")
    )
    assert days_left(dataclasses.replace(later, status=worked), country="US") == 2


def test_the_way_between_stores_uses_up_hours() -> None:
    """Stores 0.1 degrees of latitude apart: 11.12 km as the crow flies, 14.5 km by road, 17.3 minutes at 50 km/h. Ten
    hours hold ten visits of an hour, but with the way (103.9 minutes for 7 stores, 104 in whole minutes) eight less the
    two that were made: (600 - 2 * 77.3) / 77.3 = 5.8.
    """
    told = [*visited(2, 3), *(Told(None) for _ in range(5))]
    facts = facts_of(told, dt.date(2026, 3, 4), hours=10)
    places = (40.0 + number / 10 for number in range(len(told)))
    stores = tuple(dataclasses.replace(store, latitude=next(places), longitude=-90.0) for store in facts.program.stores)
    near = dataclasses.replace(facts, program=dataclasses.replace(facts.program, stores=stores))
    assert between(facts.program, facts.program.stores) == Between(0, 0, 7)
    assert between(near.program, stores) == Between(104, 6, 0)
    assert _visits_left(facts) == {"Kim": 8}
    assert _visits_left(near) == {"Kim": 5}


@pytest.mark.parametrize("lost", [(0.0, 0.0), (-90.0, 40.5)])
def test_a_store_that_cannot_lie_where_it_is_said_to_uses_up_no_hours(lost: tuple[float, float]) -> None:
    """Coordinates of 0 and 0, or exchanged, are those of no store: the way to it is not known, as `check` has it."""
    facts = facts_of([*visited(2, 3), *(Told(None) for _ in range(5))], dt.date(2026, 3, 4), hours=10)
    points = [*((40.0 + number / 10, -90.0) for number in range(6)), lost]
    stores = tuple(
        dataclasses.replace(store, latitude=north, longitude=east)
        for store, (north, east) in zip(facts.program.stores, points, strict=True)
    )
    program = dataclasses.replace(facts.program, stores=stores)
    assert between(program, stores) == Between(87, 5, 1)
    assert _visits_left(dataclasses.replace(facts, program=program)) == {"Kim": 5}


def test_a_few_stores_have_no_outlook() -> None:
    """It would never have enough of them done; the sentence does not ask for what cannot be."""
    assert said([*visited(3), Told(None)], dt.date(2026, 3, 4)).startswith("No outlook for so few stores (2)")
