"""The days of the window, and the pace they ask for."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.program.calendar import knows, stores_a_day, window, window_of_stores

# Computed with the holidays package 0.109 (COMP).
US_2026 = "01-01 01-19 02-16 05-25 06-19 07-03 07-04 09-07 10-12 11-11 11-26 12-25"
DATES = st.dates(dt.date(2020, 1, 1), dt.date(2030, 12, 31))


def test_us_holidays_of_2026():
    """The twelve of the year, the Friday on which July 4 is observed among them (COMP)."""
    year = window(dt.date(2026, 1, 1), dt.date(2026, 12, 31), "US")
    assert [f"{holiday.day:%m-%d}" for holiday in year.holidays] == US_2026.split()
    assert len(year.working) == 365 - 104 - 11


def test_a_window_has_its_first_and_last_day():
    """July 2 to 6, 2026: Thursday and Monday are worked; Friday is a holiday, Saturday too and weekend as well."""
    days = window(dt.date(2026, 7, 2), dt.date(2026, 7, 6), "US")
    assert [day.day for day in days.working] == [2, 6]
    assert [day.day for day in days.weekend] == [4, 5]
    assert [holiday.day.day for holiday in days.holidays] == [3, 4]


def test_a_state_has_its_own_holidays():
    """April 20, 2026 is a holiday in Massachusetts and not in all states; an unknown state counts as none."""
    monday = dt.date(2026, 4, 20)
    assert window(monday, monday, "US", "MA").working == ()
    assert window(monday, monday, "US").working == (monday,)
    assert window(monday, monday, "US", "Nowhere").working == (monday,)


def test_holidays_of_a_state_hold_where_all_stores_lie_in_it():
    """One store elsewhere, or of which no state is told, and only those of the country hold; unknown ones are none."""
    monday = dt.date(2026, 4, 20)
    assert window_of_stores(monday, monday, "US", ["MA", "MA"]).working == ()
    for regions in (["MA", "NH"], ["MA", ""], ["Nowhere"], []):
        assert window_of_stores(monday, monday, "US", regions).working == (monday,)
    assert window_of_stores(monday, monday, "??", ["MA"]).working == (monday,)


def test_without_a_country_only_weekends_are_off():
    """No holidays are guessed."""
    days = window(dt.date(2026, 12, 24), dt.date(2026, 12, 28))
    assert [day.day for day in days.working] == [24, 25, 28]
    assert days.holidays == ()


def test_a_weekend_day_worked_in_exchange_is_a_working_day():
    """China worked on Sunday, February 4, 2024 (COMP, holidays package 0.109)."""
    sunday = dt.date(2024, 2, 4)
    days = window(sunday, sunday, "CN")
    assert (days.working, days.weekend) == ((sunday,), ())


def test_holidays_are_known_in_every_year_of_a_window():
    """A window over the new year has the holidays of both years."""
    days = window(dt.date(2026, 12, 20), dt.date(2027, 1, 5), "US")
    assert [holiday.day for holiday in days.holidays] == [dt.date(2026, 12, 25), dt.date(2027, 1, 1)]


def test_a_window_that_ends_before_it_starts_has_no_days():
    """It is empty, not an error: the dates have a rule of their own."""
    days = window(dt.date(2026, 3, 2), dt.date(2026, 3, 1), "US")
    assert (days.working, days.weekend, days.holidays) == ((), (), ())


def test_countries_and_regions_that_are_known():
    """Codes of ISO 3166; a name or a blank is no country. States and provinces may be named."""
    assert [knows("US"), knows("US", "TX"), knows("US", "Texas"), knows("United States"), knows("")] == [
        True,
        True,
        True,
        False,
        False,
    ]
    with pytest.raises(ValueError, match="ISO 3166-1"):
        window(dt.date(2026, 1, 1), dt.date(2026, 1, 2), "Nowhere")


@settings(deadline=None)
@given(DATES, st.integers(0, 60), st.sampled_from(["", "US", "DE", "SA"]))
def test_every_day_is_worked_or_off(starts, length, country):
    """Working days, weekends and holidays are the whole window, and no day is both worked and off."""
    due = starts + dt.timedelta(days=length)
    days = window(starts, due, country)
    off = {*days.weekend, *(holiday.day for holiday in days.holidays)}
    assert off.isdisjoint(days.working)
    assert len(off) + len(days.working) == length + 1


@pytest.mark.parametrize(
    ("today", "left", "per_day"),
    [("2026-03-01", 10, 10), ("2026-03-02", 10, 10), ("2026-03-05", 7, 15), ("2026-03-13", 1, 100)],
)
def test_the_pace_grows_as_days_go(today, left, per_day):
    """100 stores from March 2 to 13, 2026: ten working days; today counts, and a part of a store is a whole one."""
    days = window(dt.date(2026, 3, 2), dt.date(2026, 3, 13), "US")
    days_left = days.left(dt.date.fromisoformat(today))
    assert (len(days_left), stores_a_day(100, len(days_left))) == (left, per_day)


def test_when_no_day_is_left_there_is_no_pace():
    """Unless nothing is left to do either."""
    assert (stores_a_day(3, 0), stores_a_day(0, 0)) == (None, 0)
