"""Dates as people type them → a date, only where there is one way to read them."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache

from workbook_tools.contract.words import languages, words_for

Problem = str
"""The name of the rule a text breaks: `not_a_date` or `date_two_ways`."""

_TIME_BEHIND = re.compile(r"(?:[t ]|,\s*)\d{1,2}[:h]\d{2}(?::\d{2}(?:\.\d+)?)?\s*(?:[ap]\.?\s?m\.?|z)?$")
_ISO = re.compile(r"(\d{4})\s?([-/. ])\s?(\d{1,2})\s?\2\s?(\d{1,2})")
_SPLIT = re.compile(r"(\d{1,2})\s?([./ -])\s?(\d{1,2})\s?\2\s?(\d{4}|\d{2})")
_DAY = r"(?:(?:the|el|le)\s+)?(\d{1,2}|primero|premier)(?:st|nd|rd|th|ero|er|o|\u00b0|\.)?"
_MONTH = r"([^\W\d_]+)\.?"
_OF = r"(?:(?:de|of)\s+)?"
_YEAR = r"(?:del?\s+(?:año\s+)?|of\s+)?(\d{4}|'?\d{2})"
_DAY_FIRST = re.compile(rf"{_DAY}[\s/.-]*{_OF}{_MONTH}[\s,/-]*{_YEAR}")
_MONTH_FIRST = re.compile(
    rf"{_MONTH}[\s/-]*{_DAY}(?:(?:,\s*|[\s/-]+)(?:del?\s+(?:año\s+)?)?(\d{{4}})|,\s*(\d{{2}})|,?\s*('\d{{2}}))"
)
_YEAR_FIRST = re.compile(rf"(\d{{4}})[\s,/-]+{_MONTH}[\s/-]*{_DAY}")
_WEEKDAY_FIRST = re.compile(rf"{_MONTH},?\s+(.+)")
_QUOTES = str.maketrans("\u2019\u2018", "''")
_LONGEST = 80
_FIRST_SHORT_YEAR = 13
"""A year in two digits that is below this is no year of a visit."""


def date_from_text(text: str, language: str) -> dt.date | Problem:
    """Read a text such as 2026-11-05, 5.11.2026, 5 Nov 2026, jueves 5 de noviembre del 2026 or Nov 5th, 2026.

    In English 3/4/2026 can be two dates and is left to its writer; in the other languages the day comes first.
    25-11-26 can begin with its day or with its year. Names of months and of days of the week are known in every
    language there is a words file for; a day of the week that is another one leaves two dates too. A time of day
    behind the date is passed over.
    """
    plain = text.casefold().translate(_QUOTES) if len(text) <= _LONGEST else ""
    if behind := _TIME_BEHIND.search(plain):
        plain = plain[: behind.start()]
    found = _read(plain, language)
    if found == "not_a_date" and (match := _WEEKDAY_FIRST.fullmatch(plain)):
        weekday, rest = weekday_names().get(match[1]), _read(match[2], language)
        if weekday and isinstance(rest, dt.date):
            return rest if rest.isoweekday() == weekday else "date_two_ways"
        return rest if weekday else found
    return found


def _read(text: str, language: str) -> dt.date | Problem:
    if match := _ISO.fullmatch(text):
        return _date(match[1], match[3], match[4])
    if match := _SPLIT.fullmatch(text):
        return _split(match, language)
    if match := _DAY_FIRST.fullmatch(text):
        return _named(match[3], match[2], match[1])
    if match := _MONTH_FIRST.fullmatch(text):
        return _named(match[3] or match[4] or match[5], match[1], match[2])
    if match := _YEAR_FIRST.fullmatch(text):
        return _named(match[1], match[2], match[3])
    return "not_a_date"


def _split(match: re.Match[str], language: str) -> dt.date | Problem:
    first, sign, second, year = match.groups()
    if len(year) == 2 and sign == "-" and int(first) >= _FIRST_SHORT_YEAR:
        by_year = _date(first, second, year)
        if isinstance(by_year, dt.date) and by_year != _date(year, second, first):
            return "date_two_ways"
    if int(second) > 12:
        return _date(year, first, second)
    if int(first) <= 12 and first.lstrip("0") != second.lstrip("0") and language == "en":
        return "date_two_ways"
    return _date(year, second, first)


def _named(year: str, month: str, day: str) -> dt.date | Problem:
    number = month_names().get(month)
    return _date(year.lstrip("'"), str(number), day if day.isdecimal() else "1") if number else "not_a_date"


def _date(year: str, month: str, day: str) -> dt.date | Problem:
    century = 2000 if len(year) == 2 else 0
    try:
        return dt.date(int(year) + century, int(month), int(day))
    except ValueError:
        return "not_a_date"


@lru_cache(maxsize=1)
def month_names() -> dict[str, int]:
    """Names and short names of months in every language, case folded → 1 to 12; those with two meanings left out."""
    return _numbered("language.months")


@lru_cache(maxsize=1)
def weekday_names() -> dict[str, int]:
    """Names and short names of the days of the week in every language, case folded → 1 (Monday) to 7."""
    return _numbered("language.weekdays")


def _numbered(key: str) -> dict[str, int]:
    meanings: dict[str, set[int]] = {}
    for language in languages():
        for number, names in enumerate(words_for(language)(key).split(";"), start=1):
            for name in names.split():
                meanings.setdefault(name.casefold(), set()).add(number)
    return {name: next(iter(numbers)) for name, numbers in meanings.items() if len(numbers) == 1}
