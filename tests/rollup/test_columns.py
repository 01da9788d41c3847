"""The columns of a roll-up's tables are wide enough for what stands in them."""

import pytest

from workbook_tools.contract.words import languages, words_for
from workbook_tools.program.wrapped import lines_of
from workbook_tools.rollup.sheets.columns import TRANSLATED, WIDTHS, WRAPPED


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
