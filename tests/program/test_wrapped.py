"""Rows are high enough for the texts that wrap in them."""

import textwrap

from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.program.wrapped import letters_in, lines_of


@given(st.text("ab ", min_size=1, max_size=120), st.integers(40, 300))
@settings(deadline=None, max_examples=200)
def test_lines_are_broken_between_words_as_textwrap_breaks_them(text: str, width: int) -> None:
    """A last word that does not fit any more takes a line of its own; words longer than a line are broken anywhere, for
    which textwrap may use what is left of a line.
    """
    letters = letters_in(width)
    wrapped = textwrap.wrap(" ".join(text.split()), letters)
    lines = lines_of(text, width)
    assert lines >= max(len(wrapped), 1)
    if all(len(word) <= letters for word in text.split()):
        assert lines == max(len(wrapped), 1)


def test_a_name_without_spaces_and_a_text_of_lines_take_their_lines() -> None:
    """Each line for itself."""
    letters = letters_in(200)
    assert lines_of("x" * (2 * letters + 1), 200) == 3
    assert lines_of("one\ntwo\n\nfour", 200) == 4
