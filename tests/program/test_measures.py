"""Lengths and weights with a unit beside them: read as meant in the program's own system, told in it otherwise."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.program.setups import IN_ORDER, changed, checked, only, put, with_values
from workbook_tools.contract.words import words_for
from workbook_tools.program.measures import read_measure

ENGLISH = words_for("en")

# COMP; 1 in = 2.54 cm and 1 lb = 0.45359237 kg are exact by definition (MEM).
LENGTHS = {
    "2'6\"": (30, "in"), "2' 6\"": (30, "in"), "2 ft 6 in": (30, "in"), "2ft6in": (30, "in"),
    "2 feet 6 inches": (30, "in"),
    "2'-6\"": (30, "in"), "2’6”": (30, "in"), "2′6″": (30, "in"), "2' 6": (30, "in"), "2' 6 1/2\"": ("30.5", "in"),
    "2'": (24, "in"), "2.5 ft": (30, "in"), "30\"": (30, "in"), "30''": (30, "in"), "30 in.": (30, "in"),
    "4 IN": (4, "in"), " 4 inches": (4, "in"), ".5 in": ("0.5", "in"), "5 1/2": ("5.5", ""), "5-1/2": ("5.5", ""),
    "5½": ("5.5", ""), "5½\"": ("5.5", "in"), "¾": ("0.75", ""), "1/3": (Fraction(1, 3), ""), "76 cm": (76, "cm"),
    "760mm": (76, "cm"), "0.76 m": (76, "cm"), "76\u00a0cm": (76, "cm"),
}  # fmt: skip
WEIGHTS = {
    "1 lb 4 oz": ("1.25", "lb"), "1lb 4oz": ("1.25", "lb"), "12 oz": ("0.75", "lb"), "2.5 lbs.": ("2.5", "lb"),
    "½ lb": ("0.5", "lb"), "340 g": ("0.34", "kg"), "1.2 kg": ("1.2", "kg"), "3 pounds": (3, "lb"),
}  # fmt: skip
NONE_OF_IT = [
    "four", "2'14\"", "2.5'6\"", "6 in 2 ft", "2 ft 6 cm", "1/0", "12 lb", "1 2 3", "30 x 40", "2,5 cm", "-4 in", "in",
    "", "30", "3.5", "2'6'", "12 fl oz", "1e3 in", "1 lb 20 oz",
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), LENGTHS.items())
def test_lengths_are_read_exactly(text: str, expected: tuple[object, str]) -> None:
    """Feet and inches, fractions, metric ones; quotes of every kind."""
    assert read_measure(text, "length") == (Fraction(expected[0]), expected[1])  # type: ignore[call-overload]


@pytest.mark.parametrize(("text", "expected"), WEIGHTS.items())
def test_weights_are_read_exactly(text: str, expected: tuple[object, str]) -> None:
    """Pounds and ounces, grams and kilograms."""
    assert read_measure(text, "weight") == (Fraction(expected[0]), expected[1])  # type: ignore[call-overload]


@pytest.mark.parametrize("text", NONE_OF_IT)
def test_what_has_no_one_meaning_is_not_read(text: str) -> None:
    """Numbers without a unit are not for this to read; more inches than a foot has, other units, nonsense."""
    assert read_measure(text, "length") is None


@given(st.integers(0, 99), st.integers(0, 11))
def test_feet_and_inches_are_so_many_inches(feet: int, inches: int) -> None:
    """However they are written."""
    for text in (f"{feet}'{inches}\"", f"{feet} ft {inches} in", f"{feet}ft. {inches}in."):
        assert read_measure(text, "length") == (12 * feet + inches, "in")


@given(st.text(alphabet="0123456789'\"/ .-½ftinlbozcmkg", max_size=12))
def test_any_text_gives_a_reading_or_none(text: str) -> None:
    """Never an exception, never a size below 0."""
    for kind in ("length", "weight"):
        read = read_measure(text, kind)
        assert read is None or read[0] >= 0


def test_what_is_written_in_the_programs_units_is_read_as_meant(tmp_path: Path) -> None:
    """The value is used, and a note says as what it was read."""
    setup = checked(tmp_path, IN_ORDER, put("items", 3, "width", '4 1/2"'))
    assert setup.program is not None
    assert setup.program.item["Jars"].width == 4.5
    found = only(setup)
    assert (found.rule, found.sheet, found.cell, found.severity) == ("measure_read", "Items", "G7", "note")
    assert found.problem(ENGLISH) == '“4 1/2"” was read as 4.5 in.'
    carton = checked(tmp_path, with_values("program", 1, carton_length="3' 10\"", carton_weight="30 lb"))
    assert carton.program is not None
    assert (carton.program.settings.carton_length, carton.program.settings.carton_weight) == (46, 30)


def test_what_is_written_in_other_units_is_told_in_the_programs(tmp_path: Path) -> None:
    """It must be mended: someone may have taken it from another list; the sentence gives the number."""
    found = only(checked(tmp_path, IN_ORDER, put("items", 3, "width", "76 cm")))
    assert (found.rule, found.cell, found.severity) == ("other_unit", "G7", "must mend")
    assert found.problem(ENGLISH) == "“76 cm” is not in the units of this program; it would be 29.921 in."
    metric = changed(program=[{**IN_ORDER["program"][0], "units": "cm, kg"}])
    found = only(checked(tmp_path, metric, put("items", 3, "weight", "1 lb")))
    assert found.problem(ENGLISH) == "“1 lb” is not in the units of this program; it would be 0.454 kg."


def test_a_measure_of_nothing_is_out_of_range(tmp_path: Path) -> None:
    """What was read is judged like a number that was typed."""
    rules = [one.rule for one in checked(tmp_path, IN_ORDER, put("items", 3, "width", "0 in")).findings]
    assert sorted(rules) == ["measure_read", "out_of_range"]
