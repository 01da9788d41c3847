"""Times of day as people type them → a time, only where there is one way to read them."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache

from workbook_tools.contract.words import languages, words_for

_HALF = r"(?:([ap])\.?\s*m?\.?)?"
_TIME = re.compile(rf"(\d{{1,2}})(?:(?:\s*[:.h]\s*|\s+)(\d{{2}})(?::[0-5]\d)?)?\s*h?\s*{_HALF}", re.IGNORECASE)
_RUN_TOGETHER = re.compile(rf"(\d{{1,2}})(\d{{2}})\s*{_HALF}", re.IGNORECASE)
_PARTS_OF_THE_DAY = {
    "morning": {hour: hour for hour in range(1, 12)},
    "afternoon": {12: 12, **{hour: hour + 12 for hour in range(1, 9)}},
    "night": {hour: hour + 12 for hour in range(6, 12)},
}
"""Part of the day, a key of the words' [language] → hours on a clock's face that can mean one time in it → the hour of
that time. 12 in the morning is noon to some and midnight to others, 2 at night belongs to the next morning.
"""
_QUOTES = str.maketrans("\u2019\u2018", "''")
_LONGEST = 40


def time_from_text(text: str) -> dt.time | None:
    """Read a text such as 9:40, 9.40, 940, 21h05, 9:40 pm, 14:30 hrs, 2:30 de la tarde or noon; None for any other.

    Seconds are left out. Words are known in every language there is a words file for. A word for hours needs minutes
    before it: 2 hours may be how long something took.
    """
    if len(text) > _LONGEST or text[-1:].isdecimal():
        return _by_clock(text)
    plain = " ".join(text.casefold().translate(_QUOTES).split())
    if plain in _phrases("noon"):
        return dt.time(12)
    if match := _worded("hours").fullmatch(plain):
        return _by_clock(match[1])
    for part, hours in _PARTS_OF_THE_DAY.items():
        if match := _worded(part).fullmatch(plain):
            return _in_part(_by_clock(match[1]), hours)
    return _by_clock(text)


def _by_clock(text: str) -> dt.time | None:
    if match := _RUN_TOGETHER.fullmatch(text):
        hour, minute, half = int(match[1]), int(match[2]), match[3]
    elif match := _TIME.fullmatch(text):
        hour, minute, half = int(match[1]), int(match[2] or 0), match[3]
    else:
        return None
    if half and not 1 <= hour <= 12:
        return None
    if half:
        hour = hour % 12 + (12 if half.lower() == "p" else 0)
    return dt.time(hour, minute) if hour <= 23 and minute <= 59 else None


def _in_part(time: dt.time | None, hours: dict[int, int]) -> dt.time | None:
    """A time by a clock's face in a part of the day; one by 24 hours only when it lies in that part."""
    if time is None or (time.hour not in hours and time.hour not in hours.values()):
        return None
    return time.replace(hour=hours.get(time.hour, time.hour))


@lru_cache(maxsize=8)
def _worded(key: str) -> re.Pattern[str]:
    """A time with one of the phrases behind it, for a part of the day with or without a word for hours between the two;
    the time is the pattern's group.
    """
    hours = rf"\s*{_any_of('hours')}\.?"
    if key == "hours":
        return re.compile(rf"(\d.*\d\d){hours}")
    return re.compile(rf"(\d[\d:.h\s]*?)(?:{hours})?\s*{_any_of(key)}")


def _any_of(key: str) -> str:
    return f"(?:{'|'.join(map(re.escape, sorted(_phrases(key), key=len, reverse=True)))})"


@lru_cache(maxsize=8)
def _phrases(key: str) -> frozenset[str]:
    """The phrases that stand under a key of [language] in any words file, case folded."""
    listed = (words_for(language)(f"language.{key}").split(";") for language in languages())
    return frozenset(phrase.strip().casefold() for phrases in listed for phrase in phrases)
