"""The columns of a roll-up's tables are wide enough for what stands in them."""

import pytest

from workbook_tools.contract.lettering import lines, width
from workbook_tools.contract.look import default_look
from workbook_tools.contract.words import languages, words_for
from workbook_tools.program.wrapped import lines_of
from workbook_tools.rollup.sheets.columns import FILTER, INDENT, RIGHT, TRANSLATED, WIDTHS, WRAPPED, width_for


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
def test_no_word_of_a_heading_breaks(language: str) -> None:
    """In every language a heading takes two lines at most, beside its filter button."""
    points = default_look().type_sizes["text"]
    headings = {key: text for key, text in words_for(language).table.items() if key.startswith("rollup.columns.")}
    assert len(headings) > 50
    for key, heading in headings.items():
        column = key.rpartition(".")[2]
        room = width_for(heading, column, points) - FILTER - (INDENT if column in RIGHT else 0)
        assert all(width(word, points, bold=True) <= room for word in heading.split()), heading
        assert lines(heading, room, points, bold=True) <= 2, heading


def test_a_heading_of_wide_letters_has_room() -> None:
    """“Magasins” takes 73 pixels in 12 points of Liberation Sans Bold (measured with Pillow)."""
    assert width_for("Magasins", "stores", 12) >= 73 + INDENT + FILTER


@pytest.mark.parametrize("language", languages())
def test_how_a_parcel_goes_fits_into_its_column(language: str) -> None:
    """Taken along or sent."""
    words = words_for(language)
    assert all(lines_of(words(f"rollup.by_{by}"), WIDTHS["by"]) == 1 for by in ("merchandiser", "office"))
