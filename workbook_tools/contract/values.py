"""One cell as it was found → one clean value of its field's type, or the name of the rule it breaks."""

from __future__ import annotations

import datetime as dt
import math
import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from workbook_tools.contract.dates import date_from_text
from workbook_tools.contract.model import Field, FieldType
from workbook_tools.contract.serials import DAY_0
from workbook_tools.contract.times import time_from_text

Value = str | int | float | dt.date | dt.time | tuple[str, ...]
"""What a field can hold: list fields give tuples of texts; code, gtin and choice fields give text."""

CONTROLS = (*range(0x09), 0x0B, 0x0C, *range(0x0E, 0x20), 0x7F)
"""Control characters but tabs and line ends: no text needs them, and tables break on some."""
_INVISIBLE = dict.fromkeys((*CONTROLS, 0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF, 0x00AD, 0x200E, 0x200F))
_QUOTES = {0x2018: "'", 0x2019: "'", 0x201B: "'", 0x201C: '"', 0x201D: '"', 0x201F: '"'}
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+([.,]\d+)?|[.,]\d+)")
_MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_EPOCH = dt.datetime.combine(DAY_0, dt.time())
_DAYS_TO_1904 = dt.timedelta(days=1462)
"""Between day 0 of the 1900 date system, as _EPOCH counts, and that of the 1904 one, 1 January 1904."""
_FIRST_SURE_SERIAL, _LAST_SERIAL = 61, 2958465
_EXACT_FLOAT = 2**53
_MINUTES_A_DAY = 24 * 60
_PAST_ALL_TIMES = 2400
"""Times of day that are typed as numbers, such as 2359, are below this."""
_SHORT = 80
"""Characters of a text whose reading is remembered, so that what is remembered stays small."""


class Unread(NamedTuple):
    """What stands in a cell that the reader gives as empty: the rule it breaks, and the error or formula itself."""

    rule: str
    content: str

    def __str__(self) -> str:
        return self.content


class Reading(NamedTuple):
    """What one cell says: `value` is None when it is blank or cannot be read.

    `problem` names the rule it breaks (then value is None); `repair` names the repair that was needed to read it.
    """

    value: Value | None = None
    problem: str = ""
    repair: str = ""


BLANK = Reading()


def is_blank(raw: object) -> bool:
    """True for a cell that holds nothing but white space and invisible characters."""
    if raw is None or raw == "":
        return True
    return isinstance(raw, str) and not raw[0].isalnum() and not clean_text(raw)


def clean_text(raw: str) -> str:
    """Text without surrounding and non-breaking spaces, control and zero-width characters; line ends become \\n."""
    if raw.isascii():
        return _composed(raw if raw.isprintable() else raw.translate(_INVISIBLE)).strip()
    return _composed(raw.translate(_INVISIBLE).replace("\u00a0", " ").replace("\u202f", " ")).strip()


def _composed(raw: str) -> str:
    """The same text to the eye: letters and their accents in one character, line ends as \\n."""
    letters = raw if raw.isascii() else unicodedata.normalize("NFC", raw)
    return letters.replace("\r\n", "\n").replace("\r", "\n") if "\r" in letters else letters


def plain_form(raw: str) -> str:
    """Text for comparing: cleaned, full-width characters and curly quotes made plain, spaces single, case folded."""
    plain = raw if raw.isascii() else unicodedata.normalize("NFKC", clean_text(raw)).translate(_QUOTES)
    return " ".join(plain.split()).casefold()


def letters_of(raw: str) -> str:
    """What is left of a text in its plain form without spaces and marks: two names that differ in these alone agree."""
    return "".join(filter(str.isalnum, plain_form(raw)))


def only_meanings(said: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Form → what it stands for, of (form, meaning) pairs: the forms that stand for exactly one thing."""
    meanings: dict[str, set[str]] = {}
    for form, meaning in said:
        meanings.setdefault(form, set()).add(meaning)
    return {form: next(iter(found)) for form, found in meanings.items() if len(found) == 1}


def read_value(field: Field, raw: object, language: str = "en") -> Reading:
    """Read one raw cell (str, int, float, bool, date, datetime, time, timedelta, Unread or None) as a field's type.

    Choices are returned as typed (cleaned): the caller knows the lists. Bounds, patterns and references are
    not judged here.
    """
    if isinstance(raw, str) and len(raw) <= _SHORT:
        return _read_short(field.type, raw, language)
    if isinstance(raw, Unread):
        return Reading(problem=raw.rule)
    if is_blank(raw):
        return BLANK
    return _READERS[field.type](raw, language)


@lru_cache(maxsize=4096)
def _read_short(kind: FieldType, raw: str, language: str) -> Reading:
    """A short text read; the same few stand in thousands of workbooks."""
    return BLANK if is_blank(raw) else _READERS[kind](raw, language)


def _read_text(raw: object, language: str) -> Reading:
    if isinstance(raw, str):
        text = clean_text(raw)
        as_typed = text == raw or _composed(raw) == text
        return Reading(text, repair="" if as_typed else "spaces_removed")
    if isinstance(raw, bool):
        return Reading("yes" if raw else "no", repair="truth_as_text")
    if isinstance(raw, int | float) and math.isfinite(raw):
        return _number_as_text(float(raw))
    if isinstance(raw, dt.datetime | dt.date | dt.time | dt.timedelta):
        return Reading(_as_iso(raw), repair="date_as_text")
    return Reading(problem="not_readable")


def _number_as_text(number: float) -> Reading:
    if number.is_integer() and abs(number) < _EXACT_FLOAT:
        return Reading(str(int(number)), repair="number_as_text")
    return Reading(repr(number), repair="number_as_text")


def _read_code(raw: object, language: str) -> Reading:
    if isinstance(raw, dt.datetime | dt.date | dt.time | dt.timedelta | bool):
        return Reading(problem="not_a_code")
    reading = _read_text(raw, language)
    if isinstance(reading.value, str) and not reading.value.isascii():
        plain = unicodedata.normalize("NFKC", reading.value)
        return Reading(plain, repair=reading.repair if plain == reading.value else "full_width")
    return reading


def _read_list(raw: object, language: str) -> Reading:
    reading = _read_text(raw, language)
    if not isinstance(reading.value, str):
        return reading
    parts = tuple(part for part in map(str.strip, re.split(r"[;\n\uff1b]", reading.value)) if part)
    return Reading(parts, repair=reading.repair) if parts else BLANK


def _read_number(raw: object, language: str) -> Reading:
    repair = ""
    if isinstance(raw, str):
        raw, repair = unicodedata.normalize("NFKC", clean_text(raw)).replace("\u2212", "-"), "text_as_number"
        if ("," in raw) if language == "en" else _MAYBE_THOUSANDS.fullmatch(raw):
            return Reading(problem="comma_in_number" if _PLAIN_NUMBER.fullmatch(raw) else "not_a_number")
        raw = float(raw.replace(",", ".")) if _PLAIN_NUMBER.fullmatch(raw) else None
    if isinstance(raw, int | float) and not isinstance(raw, bool) and math.isfinite(raw):
        return Reading(float(raw), repair=repair)
    return Reading(problem="not_a_number")


def _read_integer(raw: object, language: str) -> Reading:
    reading = _read_number(raw, language)
    if not isinstance(reading.value, float):
        return Reading(problem="not_whole" if reading.problem == "not_a_number" else reading.problem)
    if not reading.value.is_integer() or abs(reading.value) >= _EXACT_FLOAT:
        return Reading(problem="not_whole")
    return Reading(int(reading.value), repair=reading.repair)


def _read_date(raw: object, language: str) -> Reading:
    if isinstance(raw, dt.datetime):
        return Reading(raw.date())
    if isinstance(raw, dt.date):
        return Reading(raw)
    if isinstance(raw, bool | dt.time | dt.timedelta):
        return Reading(problem="not_a_date")
    if isinstance(raw, int | float):
        if _FIRST_SURE_SERIAL <= raw <= _LAST_SERIAL:
            return Reading((_EPOCH + dt.timedelta(days=int(raw))).date(), repair="number_as_date")
        return Reading(problem="not_a_date")
    date = date_from_text(unicodedata.normalize("NFKC", clean_text(str(raw))), language)
    return Reading(date, repair="text_as_date") if isinstance(date, dt.date) else Reading(problem=date)


def _read_time(raw: object, language: str) -> Reading:
    if isinstance(raw, dt.date) and (typed := _typed_into_a_time_cell(raw)) is not None:
        return _time_from_number(typed)
    if isinstance(raw, dt.datetime | dt.time):
        time = raw.time() if isinstance(raw, dt.datetime) else raw
        return Reading(time.replace(second=0, microsecond=0, tzinfo=None))
    if isinstance(raw, dt.timedelta):
        days = raw / dt.timedelta(days=1)
        return _time_of_day(days, "") if 0 <= days < 1 else Reading(problem="not_a_time")
    if isinstance(raw, bool | dt.date):
        return Reading(problem="not_a_time")
    if isinstance(raw, int | float):
        return _time_from_number(float(raw))
    return _time_from_text(unicodedata.normalize("NFKC", clean_text(str(raw))))


def counted_from_1900(kind: FieldType, raw: object) -> object:
    """What a cell of a workbook that counts days from 1904 holds, as one that counts from 1900 would give it.

    That is another for plain numbers in a field of dates, and in a field of times for moments that are numbers typed
    into a cell formatted as a time: 940, 9.4.
    """
    if kind == "date" and isinstance(raw, int | float) and not isinstance(raw, bool):
        return raw + _DAYS_TO_1904.days
    if kind == "time" and isinstance(raw, dt.date):
        at = (raw if isinstance(raw, dt.datetime) else dt.datetime.combine(raw, dt.time())) - _DAYS_TO_1904
        at += dt.timedelta(days=(at - _EPOCH).days < _FIRST_SURE_SERIAL - 1)
        return raw if _typed_into_a_time_cell(at) is None else at
    return raw


def _typed_into_a_time_cell(moment: dt.date) -> float | None:
    """The number that a cell formatted as a time turns into a moment of the first years of its calendar: 940, 9.4.

    None for a moment too late to be such a number, which is a date and a time.
    """
    at = moment if isinstance(moment, dt.datetime) else dt.datetime.combine(moment, dt.time())
    serial = (at.replace(tzinfo=None) - _EPOCH) / dt.timedelta(days=1)
    serial -= serial < _FIRST_SURE_SERIAL
    return round(serial, 2) if 1 <= serial < _PAST_ALL_TIMES else None


def _time_from_number(number: float) -> Reading:
    if 0 <= number < 1:
        return _time_of_day(number, "number_as_time")
    if number.is_integer():
        return _time_from_text(str(int(number)))
    if not math.isclose(number, round(number, 2)):
        return Reading(problem="not_a_time")
    return _time_from_text(f"{number:.2f}")


def _time_from_text(text: str) -> Reading:
    time = time_from_text(text)
    return Reading(time, repair="text_as_time") if time else Reading(problem="not_a_time")


def _time_of_day(part: float, repair: str) -> Reading:
    """The nearest minute of a part of a day (0 to below 1), none of the next day."""
    minutes = min(round(part * _MINUTES_A_DAY), _MINUTES_A_DAY - 1)
    return Reading(dt.time(minutes // 60, minutes % 60), repair=repair)


def _as_iso(moment: dt.datetime | dt.date | dt.time | dt.timedelta) -> str:
    return str(moment) if isinstance(moment, dt.timedelta) else moment.isoformat()


_TEXTS: frozenset[FieldType] = frozenset(("text", "code", "gtin", "choice"))


def is_as_typed(kind: FieldType, raw: object) -> bool:
    """True for what is its own value, as nearly all cells are: a text of plain characters without spaces around it in a
    field that holds text, a number in one that holds numbers. Not all such cells are found by this.
    """
    if isinstance(raw, str):
        return kind in _TEXTS and raw.isascii() and raw.isprintable() and raw[:1] > " " and raw[-1:] > " "
    return kind == "number" and type(raw) is float and math.isfinite(raw)


_READERS = {
    "text": _read_text,
    "code": _read_code,
    "gtin": _read_code,
    "choice": _read_text,
    "list": _read_list,
    "integer": _read_integer,
    "number": _read_number,
    "date": _read_date,
    "time": _read_time,
}
