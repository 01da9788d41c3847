"""English, Spanish and French say the same: beside tests/contract/test_words.py, which holds for every words file."""

from __future__ import annotations

import datetime as dt
from itertools import product

import pytest

from workbook_tools.contract.dates import date_from_text, month_names
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.values import plain_form
from workbook_tools.contract.words import DEFAULT_LANGUAGE, languages, words_for

LANGUAGES = languages()
OTHERS = LANGUAGES[1:]
ENGLISH = words_for(DEFAULT_LANGUAGE)
ALIKE_LIMIT = 0.15
"""Of the texts, how many may read as in English: names, numbers, marks, and words that two languages share."""
LONGEST_CHOICE = 18
"""Characters of the longest choice in English; a drop-down word has to fit where that one does."""
SHEET_NAME_LIMIT = 31  # COMP: xlsxwriter refuses longer names, and the characters below
NAMED = (
    ("rules.other_item_planned.todo", "choices.product.set"),
    ("rules.other_item_planned.todo", "choices.product.short"),
    ("rules.short_not_short.problem", "choices.product.short"),
    ("rules.short_not_short.todo", "choices.product.set"),
    ("rules.other_item_unasked.todo", "choices.product.other item"),
    ("rules.tag_code_unasked.todo", "choices.tag.on tray"),
    ("rules.right_contradicts.todo", "choices.yes_no.no"),
    ("rules.tags_not_asked.problem", "field_book.visit.tags_asked.heading"),
    ("rules.shelf_not_described.problem", "setup.sheets.shelves"),
    ("rules.store_not_picked.todo", "field_book.sheets.return"),
    ("return.say_where", "field_book.visit.note.heading"),
    ("cover.how_3", "field_book.sheets.return"),
    ("revisit.how_3", "field_book.sheets.return"),
    ("messages.no_such_store", "setup.sheets.stores"),
    ("setup.positions.item.prompt", "setup.sheets.items"),
    ("setup.items.brand.prompt", "setup.sheets.labels"),
    ("setup.stores.merchandiser.prompt", "setup.sheets.merchandisers"),
)
"""Texts that call something by the name it has elsewhere: (text, name)."""


def test_there_are_three_languages() -> None:
    """English is the default one and comes first."""
    assert LANGUAGES == ("en", "es", "fr")


@pytest.mark.parametrize("choices", default_contract().choices)
def test_a_word_stands_for_one_choice_in_all_languages(choices: str) -> None:
    """No word of a list stands for two of its keys, in whatever language a book is read."""
    meanings: dict[str, set[str]] = {}
    for key, language in product(default_contract().choices[choices].keys, LANGUAGES):
        meanings.setdefault(plain_form(words_for(language).choice(choices, key)), set()).add(key)
        meanings.setdefault(plain_form(key), set()).add(key)
    assert {word: keys for word, keys in meanings.items() if len(keys) > 1} == {}


@pytest.mark.parametrize("language", OTHERS)
def test_choices_are_as_short_as_in_english(language: str) -> None:
    """No drop-down word is longer than the longest English one."""
    words = words_for(language).table
    lengths = {text: len(text) for key, text in words.items() if key.startswith("choices.")}
    assert lengths
    assert {text for text, length in lengths.items() if length > LONGEST_CHOICE} == set()


@pytest.mark.parametrize("language", OTHERS)
def test_hardly_any_text_is_left_in_english(language: str) -> None:
    """A sentence (four words or more) never reads as in English, other texts only now and then."""
    words = words_for(language).table
    alike = {key for key, text in words.items() if text == ENGLISH.table.get(key)}
    assert {key for key in alike if len([word for word in words[key].split() if word.isalpha()]) >= 4} == set()
    assert len(alike) < ALIKE_LIMIT * len(words)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("workbook", ["setup.sheets", "field_book.sheets", "rollup.sheets"])
def test_sheet_names_are_such_as_spreadsheet_programs_take(workbook: str, language: str) -> None:
    """Short enough, without the characters that are refused or need quoting in links, each name once."""
    table = words_for(language).table
    names = [text for key, text in table.items() if key.startswith(f"{workbook}.")]
    assert names
    assert [name for name in names if len(name) > SHEET_NAME_LIMIT or set("/\\?*:[]'") & set(name)] == []
    assert len({name.casefold() for name in names}) == len(names)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(("text", "name"), NAMED)
def test_a_text_calls_a_thing_as_it_is_called(text: str, name: str, language: str) -> None:
    """Who is told to pick a word or go to a sheet finds that very word."""
    words = words_for(language).table
    assert words[name].casefold() in words[text].casefold()


@pytest.mark.parametrize("language", LANGUAGES)
def test_twelve_months_are_known_by_every_name(language: str) -> None:
    """Each name and short name is read as its month, also those in which the books write days."""
    months = words_for(language)("language.months").split(";")
    shown = words_for(language)("page.months").split()
    assert (len(months), len(shown)) == (12, 12)
    for number, (names, short) in enumerate(zip(months, shown, strict=True), start=1):
        for name in (*names.split(), short):
            assert month_names()[name.casefold()] == number
            assert date_from_text(f"5 {name} 2026", language) == dt.date(2026, number, 5)
