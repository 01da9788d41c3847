"""Times of day in words, as people type them in a hurry: read only where they mean one time."""

from __future__ import annotations

import datetime as dt
import random
import string

import pytest

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.times import time_from_text
from workbook_tools.contract.values import Reading, read_value
from workbook_tools.contract.words import languages

TIME_IN = default_contract().field_book.block("visit").by_key["time_in"]


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("14:30 hrs", "14:30"), ("14:30 hrs.", "14:30"), ("14:30hrs", "14:30"), ("1430 hrs", "14:30"),
        ("14:30 hs", "14:30"), ("14:30 h", "14:30"), ("14:30 horas", "14:30"), ("9h40 heures", "9:40"),
        ("2:30 de la tarde", "14:30"), ("2 de la tarde", "14:00"), ("12:15 de la tarde", "12:15"),
        ("14:30 de la tarde", "14:30"), ("2:30 hrs. de la tarde", "14:30"), ("8:05 DE LA TARDE", "20:05"),
        ("9:15 de la mañana", "9:15"), ("9:15 de la man\u0303ana", "9:15"), ("9.15 de la manana", "9:15"),
        ("8 de la noche", "20:00"), ("6 de la madrugada", "6:00"), ("12 del mediodía", "12:00"),
        ("9h15 du matin", "9:15"), ("2 h 30 de l'après-midi", "14:30"), ("2h30 de l’après-midi", "14:30"),
        ("7h du soir", "19:00"), ("midi", "12:00"), ("Midi", "12:00"),
        ("noon", "12:00"), ("12 noon", "12:00"), ("midday", "12:00"), ("9 in the morning", "9:00"),
        ("4:10 in the afternoon", "16:10"), ("7 in the evening", "19:00"), ("10:30 at night", "22:30"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("language", languages())
def test_a_time_in_words_is_read_in_every_language(text: str, read: str, language: str) -> None:
    """Whatever the language of the book: many people write in their own."""
    hour, minute = map(int, read.split(":"))
    assert read_value(TIME_IN, text, language) == Reading(dt.time(hour, minute), repair="text_as_time")


@pytest.mark.parametrize(
    "text",
    [
        "2 hours", "2 hrs", "14 horas", "12 de la mañana", "12 de la noche", "2 de la noche", "14:30 de la mañana",
        "9:15 de la tarde", "11 in the afternoon", "9:15 am de la tarde", "12 du soir", "mediodía", "midnight",
        "de la tarde", "hrs", "in the morning", "25:00 hrs", "9:60 de la mañana", "9:15 de la mañana de la tarde",
        "2:30 am de la tarde", "7 am de la noche", "7:30hrs am", "minuit", "9:15 in the morningg", "2 hrs de la noche",
        "about noon", "midi 9", "9:15 tarde", "noon hrs", "9:15 de la mañana " + "x" * 99,
    ],
)  # fmt: skip
def test_what_can_mean_two_times_is_left_to_its_writer(text: str) -> None:
    """Durations, 12 in the morning, 2 at night, hours that do not go with the part of the day, and vague words."""
    assert read_value(TIME_IN, text) == Reading(problem="not_a_time")


@pytest.mark.parametrize("phrase", ["{}:{:02} hrs", "{}:{:02} hs", "{}h{:02} heures", "{}.{:02} horas"])
def test_every_minute_of_the_day_reads_as_it_was_written(phrase: str) -> None:
    """A word for hours changes nothing."""
    every = [(hour, minute) for hour in range(24) for minute in range(60)]
    assert [time_from_text(phrase.format(*one)) for one in every] == [dt.time(*one) for one in every]


def test_any_text_is_a_time_or_none() -> None:
    """Whatever is typed, reading ends, and ends quickly: pieces of times and phrases in any order."""
    pieces = ["9", "12", ":", "30", " ", "h", "hrs", "de la ", "tarde", "noon", "am", ".", "'", *string.ascii_lowercase]
    chance = random.Random(7)
    texts = ["".join(chance.choices(pieces, k=chance.randint(0, 9))) for _ in range(3_000)]
    read = [time_from_text(text) for text in texts]
    assert all(one is None or isinstance(one, dt.time) for one in read)
    assert 0 < sum(one is not None for one in read) < len(read)
