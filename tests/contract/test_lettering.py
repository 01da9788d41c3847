"""Texts are given the room they need."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont

from workbook_tools.contract.lettering import PX_A_POINT, fit, fit_pair, lines, width

FONTS = Path("/usr/share/fonts/truetype/liberation")
SENTENCES = (
    "Peppermint flavoring, 2 fl oz",
    "Slide the carton to a clear spot on the floor, open it and lay out the parts.",
    "HOLLIN & STOAT · papers for the oven",
    "000123456789",
    "Praliné façade à l'été",
)


@pytest.mark.parametrize("text", SENTENCES)
@pytest.mark.parametrize(("bold", "file"), [(False, "LiberationSans-Regular.ttf"), (True, "LiberationSans-Bold.ttf")])
def test_a_width_is_that_of_the_type_and_a_little_more(text: str, bold: bool, file: str) -> None:
    """Measured against a font with the metrics of Arial, where it is installed."""
    if not (FONTS / file).is_file():
        pytest.skip("Liberation Sans is not installed")
    measured = ImageFont.truetype(str(FONTS / file), 1000).getlength(text) * 12 * PX_A_POINT / 1000
    assert measured <= width(text, 12, bold) <= measured * 1.06


def test_full_width_characters_are_as_wide_as_the_type_is_high() -> None:
    """A Chinese, Japanese or Korean character takes a square; marks that combine take nothing."""
    assert width("日本", 12) == pytest.approx(2 * 12 * PX_A_POINT, rel=0.05)
    assert width("e\u0301", 12) == width("e", 12)


@pytest.mark.parametrize(
    ("text", "room", "count"),
    [("", 100, 1), ("one", 100, 1), ("one\ntwo", 100, 2), ("one two three", 40, 3), ("日本語の名前", 40, 3)],
)
def test_lines_are_counted_as_programs_wrap_them(text: str, room: int, count: int) -> None:
    """Words stay together, full-width characters break anywhere, line breaks count."""
    assert lines(text, room, 12) == count


def test_a_word_wider_than_the_room_takes_as_many_lines_as_it_fills() -> None:
    """A word of forty letters in a room of ten breaks into four lines or five."""
    assert 4 <= lines("n" * 40, width("n" * 10, 12), 12) <= 5


@given(st.text(max_size=200), st.integers(60, 400))
def test_the_largest_size_that_fits_is_taken(text: str, room: int) -> None:
    """Never more lines than asked for unless the smallest size needs them; a larger size would need more."""
    sizes = (12, 11, 10, 9, 8)
    found = fit(text, room, sizes, 2)
    assert found.lines == lines(text, room, found.points)
    if found.points != sizes[-1]:
        assert found.lines <= 2
    for larger in sizes[: sizes.index(found.points)]:
        words = [word for word in text.split() if width(word, larger) > room]
        assert lines(text, room, larger) > 2 or words or any(len(word) > 1 for word in text.split())


@given(st.text(min_size=1, max_size=200), st.text(max_size=80), st.integers(80, 300))
def test_a_pair_is_as_high_as_both_of_it(name: str, details: str, room: int) -> None:
    """The height given holds the name in bold and the details under it."""
    found = fit_pair(name, details, room, ((12, 10), (10, 9), (8, 8)), 70)
    needed = lines(name, room, found.points, True) * found.points * PX_A_POINT
    needed += lines(details, room, found.details) * found.details * PX_A_POINT if details else 0
    assert found.height >= needed
    assert found.height <= 70 or (found.points, found.details) == (8, 8)
