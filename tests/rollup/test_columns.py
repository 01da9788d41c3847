"""The columns of a roll-up's tables are wide enough, and their rows high enough, for what stands in them."""

import textwrap

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.contract.words import languages, words_for
from workbook_tools.program.wrapped import letters_in
from workbook_tools.rollup.sheets.columns import TRANSLATED, WIDTHS, WRAPPED, lines_of


@pytest.mark.parametrize("language", languages())
def test_the_words_of_keys_fit_into_their_columns(language: str) -> None:
    """In every language; columns that wrap need no more than two lines."""
    table = words_for(language).table
    for column, words in TRANSLATED.items():
        said = [text for key, text in table.items() if key.rpartition(".")[0] == words]
        assert said, words
        longest = max(lines_of(text, WIDTHS[column]) for text in said)
        assert longest <= (2 if column in WRAPPED else 1), (column, said)


@pytest.mark.parametrize("language", languages())
def test_how_a_parcel_goes_fits_into_its_column(language: str) -> None:
    """Taken along or sent."""
    words = words_for(language)
    assert all(lines_of(words(f"rollup.by_{by}"), WIDTHS["by"]) == 1 for by in ("merchandiser", "office"))


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
