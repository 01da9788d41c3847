"""Dates as speakers of English, Spanish and French type them: read where they mean one day, and never guessed."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.contract.dates import date_from_text, month_names, weekday_names
from workbook_tools.contract.words import languages, words_for

DAY = dt.date(2026, 11, 5)
"""A Thursday (COMP: datetime)."""

TYPED = (
    # English
    *("November 5, 2026", "November 5 2026", "Nov. 5th, 2026", "Nov 5,2026", "5 November 2026", "5th of November 2026"),
    *("the 5th of November, 2026", "Thursday, November 5, 2026", "Thu 5 Nov 2026", "Thurs. 5 Nov '26", "5-Nov-26"),
    *("05 NOV 26", "Nov-05-2026", "Nov 5, '26", "nov/5/2026", "2026 Nov 5", "2026-Nov-05", "5Nov2026"),
    # Spanish
    *("5 de noviembre de 2026", "5 de noviembre del 2026", "5 de noviembre del año 2026", "5 de noviembre, 2026"),
    *("5 de noviembre 2026", "5 noviembre 2026", "5/noviembre/2026", "5-nov-2026", "5.nov.2026", "5 nov. 2026"),
    *("jueves 5 de noviembre de 2026", "jueves, 5 de noviembre del 2026", "JUE. 5 NOV 2026", "noviembre 5 de 2026"),
    *("noviembre 5, 2026", "noviembre 5 del 2026", "el 5 de noviembre de 2026", "jueves el 5 de noviembre de 2026"),
    # French
    *("5 novembre 2026", "le 5 novembre 2026", "jeudi 5 novembre 2026", "jeudi le 5 novembre 2026", "5 nov. 2026"),
    *("Jeudi, le 5 novembre 2026", "jeu. 5 nov. 2026", "5-nov.-2026"),
    # figures that mean one day in every language, with or without a time of day
    *("2026-11-05", "2026/11/5", "2026.11.05", "2026 11 5", "2026-11-05 09:15", "2026-11-05T09:15:00Z"),
    *("5 nov 2026 9:15 a.m.", "5 nov 2026, 14h30"),
)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("typed", TYPED)
def test_a_date_with_its_month_in_words_is_read_in_every_book(typed: str, language: str) -> None:
    """Whoever writes it, and whatever the language of the book."""
    assert date_from_text(typed, language) == DAY


FIRSTS = ("1er novembre 2026", "1º de noviembre de 2026", "1ero de noviembre de 2026", "primero de noviembre de 2026")


@pytest.mark.parametrize("typed", [*FIRSTS, "1° nov 2026", "le premier novembre 2026", "1st November 2026"])
def test_the_first_of_a_month_has_signs_of_its_own(typed: str) -> None:
    """As one says it in each language; the sign of an ordinal arrives as a letter or as it stands."""
    assert date_from_text(typed.replace("º", "o"), "en") == dt.date(2026, 11, 1)


@pytest.mark.parametrize("typed", ["5 / 11 / 2026", "5. 11. 2026", "5/11/26", "5.11.26", "05-11-26", "5 11 2026"])
def test_figures_are_read_by_the_language_of_the_book(typed: str) -> None:
    """The day first in Spanish and French; in English they go back to whoever wrote them."""
    assert [date_from_text(typed, language) for language in ("es", "fr", "en")] == [DAY, DAY, "date_two_ways"]


@pytest.mark.parametrize(
    "typed", ["25-11-26", "26-11-25", "26-11-05", "Friday, November 5, 2026", "lunes 5 de noviembre de 2026"]
)
@pytest.mark.parametrize("language", languages())
def test_what_can_be_two_days_is_not_guessed(typed: str, language: str) -> None:
    """A year that may stand first or last, and a day of the week that is another one."""
    assert date_from_text(typed, language) == "date_two_ways"


@pytest.mark.parametrize(
    "typed",
    [
        *("noviembre 2026", "5 de noviembre", "5", "mañana", "hier", "Thursday", "5 de nombre de 2026", "mar 3"),
        *("31 de noviembre de 2026", "November 5 26", "noviembre 5 26", "5 de de noviembre de 2026", "5th 2026"),
        *("2026-11-05-06", "5 noviembre 2026 o 6", "jueves", "jueves 2026", "'26 Nov 5", "5 nov 206", "9:15"),
    ],
)
def test_what_names_no_whole_day_is_no_date(typed: str) -> None:
    """Parts of dates, days that never were, and words."""
    assert {date_from_text(typed, language) for language in languages()} == {"not_a_date"}


def test_short_names_of_days_and_months_never_stand_for_one_another() -> None:
    """“mar” is a Tuesday in two languages and March in the third: it is told by what stands behind it."""
    assert date_from_text("mar 3 2026", "fr") == dt.date(2026, 3, 3)
    assert date_from_text("mar. 3 mars 2026", "fr") == dt.date(2026, 3, 3)
    assert date_from_text("mar 4 mars 2026", "fr") == "date_two_ways"


@pytest.mark.parametrize("language", languages())
def test_a_week_has_seven_days_in_every_language(language: str) -> None:
    """Each with its names, none of which is lost for having two meanings."""
    days = words_for(language)("language.weekdays").split(";")
    assert len(days) == 7
    known = weekday_names()
    assert [{known[name.casefold()] for name in names.split()} for names in days] == [{n} for n in range(1, 8)]


@given(st.dates(dt.date(2013, 1, 1), dt.date(2099, 12, 31)), st.data())
def test_a_day_written_with_a_months_name_is_that_day(day: dt.date, data: st.DataObject) -> None:
    """Every name of a month, in each order of day, month and year."""
    months = [word for word, number in month_names().items() if number == day.month]
    month = data.draw(st.sampled_from(months))
    forms = ("{d} {m} {y}", "{m} {d}, {y}", "{d} de {m} del {y}", "{y} {m} {d}", "{d}-{m}-{s:02}")
    text = data.draw(st.sampled_from(forms)).format(d=day.day, m=month, y=day.year, s=day.year % 100)
    assert date_from_text(text, data.draw(st.sampled_from(languages()))) == day


@given(st.text(max_size=30))
def test_no_text_raises(text: str) -> None:
    """Whatever is typed is a date, or one of two rules."""
    found = date_from_text(text, "en")
    assert isinstance(found, dt.date) or found in ("not_a_date", "date_two_ways")
