"""Dates as people type them → a date, only where there is one way to read them."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache

from workbook_tools.contract.words import languages, words_for

Problem = str
"""The name of the rule a text breaks: `not_a_date` or `date_two_ways`."""

_ISO = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?:[T ]00:00(?::00)?)?")
_SPLIT = re.compile(r"(\d{1,2})([./ -])(\d{1,2})\2(\d{4}|\d{2})")
_DAY_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th|er|\.)?[\s-]*(?:de\s+)?([^\W\d_]+)\.?[\s,-]*(?:de\s+)?(\d{4}|\d{2})")
_MONTH_FIRST = re.compile(r"([^\W\d_]+)\.?\s*(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})")


def date_from_text(text: str, language: str) -> dt.date | Problem:
    """Read a text such as 2026-11-05, 5.11.2026, 5 Nov 2026 or 5 de noviembre de 2026.

    In English 3/4/2026 can be two dates and is left to its writer; in the other languages the day comes first.
    Names of months are known in every language there is a words file for.
    """
    if match := _ISO.fullmatch(text):
        return _date(match[1], match[3], match[4])
    if match := _DAY_FIRST.fullmatch(text.casefold()):
        return _named(match[3], match[2], match[1])
    if match := _MONTH_FIRST.fullmatch(text.casefold()):
        return _named(match[3], match[1], match[2])
    if match := _SPLIT.fullmatch(text):
        return _split(match[4], match[1], match[3], language)
    return "not_a_date"


def _split(year: str, first: str, second: str, language: str) -> dt.date | Problem:
    if int(second) > 12:
        return _date(year, first, second)
    if int(first) <= 12 and first.lstrip("0") != second.lstrip("0") and language == "en":
        return "date_two_ways"
    return _date(year, second, first)


def _named(year: str, month: str, day: str) -> dt.date | Problem:
    number = month_names().get(month)
    return _date(year, str(number), day) if number else "not_a_date"


def _date(year: str, month: str, day: str) -> dt.date | Problem:
    century = 2000 if len(year) == 2 else 0
    try:
        return dt.date(int(year) + century, int(month), int(day))
    except ValueError:
        return "not_a_date"


@lru_cache(maxsize=1)
def month_names() -> dict[str, int]:
    """Names and short names of months in every language, case folded → 1 to 12; those with two meanings left out."""
    meanings: dict[str, set[int]] = {}
    for language in languages():
        for number, names in enumerate(words_for(language)("language.months").split(";"), start=1):
            for name in names.split():
                meanings.setdefault(name.casefold(), set()).add(number)
    return {name: next(iter(numbers)) for name, numbers in meanings.items() if len(numbers) == 1}
