"""A return in Spanish or French merges like the same return in English: same answers, same flags, same states."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from tests.small_program import ALL_AS_PLANNED, CONTENT, GOOD_VISIT, SECOND_STORE, SECOND_VISIT, WORDS, differs
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import languages, words_for
from workbook_tools.demo.fill import fill, in_words
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.returns.intake import Intake, take_in
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.repair import Meant, Repairs
from workbook_tools.rollup.merge import Facts, merge

LANGUAGES = languages()
OTHERS = LANGUAGES[1:]
SAVED = dt.datetime(2026, 3, 7, 12)
AS_OF = dt.date(2026, 3, 8)
CHOICES = default_contract().choices
NAMES = {"store", "name", "merchandiser", "file", "who"}
"""Columns that tell the stores apart."""

Answers = dict[tuple[str, str, str], object]


def answers(visit: dict[str, object], positions: dict[str, dict[str, object]], **parts: object) -> Answers:
    """Answers by block, row and field."""
    told: Answers = {("visit", key, key): value for key, value in visit.items()}
    told |= {("positions", key, name): value for key, one in positions.items() for name, value in one.items()}
    return told | {("parts", "P2", name): value for name, value in parts.items()}


EVERY_TAG = {
    "A-1-1": differs(label="no label", tag="on tray", product="set"),
    "A-1-2": differs(label="Pellwood", tag="asked store", product="short"),
    "A-2-1": differs(label="Quarnby", tag="store cannot print", product="none"),
    "A-2-2": differs(label="Rusholt", tag="no tag", product="set"),
}
VISITS = {
    "all as planned": answers(GOOD_VISIT, ALL_AS_PLANNED),
    "much differs": answers(SECOND_VISIT, SECOND_STORE, missing=1),
    "every answer about tags": answers(
        {**GOOD_VISIT, "carton": "damaged", "place": "Front", "tags_asked": "yes"}, {**ALL_AS_PLANNED, **EVERY_TAG}
    ),
    "not built": answers({**GOOD_VISIT, "built": "no", "carton": "not found", "photo": "no", "why_not": "¿?"}, {}),
    "contradicts itself": answers(
        GOOD_VISIT, {**ALL_AS_PLANNED, "B-1-1": {"as_planned": "yes", "tag": "no tag", "product": "short"}}
    ),
}


def store_of(visit: str, language: str) -> str:
    """The store whose return is this visit in this language."""
    return f"{list(VISITS).index(visit) + 1}{LANGUAGES.index(language)}0"


@pytest.fixture(scope="module")
def intake(tmp_path_factory: pytest.TempPathFactory) -> Intake:
    """Every visit once in each language: a store each, visited by a merchandiser of that language."""
    folder = ProgramFolder(tmp_path_factory.mktemp("languages"))
    people = [
        {"merchandiser": f"{language} {visit}", "language": language} for visit in VISITS for language in LANGUAGES
    ]
    stores = [
        {"store": store_of(visit, language), "name": visit, "merchandiser": f"{language} {visit}"}
        for visit in VISITS
        for language in LANGUAGES
    ]
    folder.setup.write_bytes(setup_workbook(WORDS, {**CONTENT, "stores": stores, "merchandisers": people}))
    folder.returns.mkdir()
    issued = issue(folder, Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC)), WORDS)
    books = {book.store: (folder.root / book.file).read_bytes() for book in issued.books}
    for visit, told in VISITS.items():
        for language in LANGUAGES:
            store = store_of(visit, language)
            (folder.returns / f"{store}.xlsx").write_bytes(fill(books[store], in_words(told, language), SAVED))
    return take_in(folder, [folder.returns], WORDS)


@pytest.fixture(scope="module")
def facts(intake: Intake) -> Facts:
    """All of them merged."""
    return merge(intake, AS_OF)


def result_of(intake: Intake, visit: str, language: str) -> FileResult:
    """The file of a visit in a language."""
    return next(one for one in intake.results if one.file == f"returns/{store_of(visit, language)}.xlsx")


def test_the_books_are_in_three_languages_and_answered_in_their_words() -> None:
    """English, Spanish and French; the words of the answers differ, or this file would show nothing."""
    assert LANGUAGES == ("en", "es", "fr")
    said = [in_words(VISITS["much differs"], language)["positions", "A-2-2", "tag"] for language in LANGUAGES]
    assert len(set(said)) == len(LANGUAGES)


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("visit", VISITS)
def test_a_return_breaks_the_same_rules_in_every_language(visit: str, language: str, intake: Intake) -> None:
    """Rule, field and cell of each finding are those of the English return, but that a word is read as its key."""

    def broken(code: str) -> list[tuple[str, str, str]]:
        return [(one.rule, one.column, one.cell) for one in result_of(intake, visit, code).findings]

    assert broken(language) == broken("en")
    assert result_of(intake, visit, language).outcome == result_of(intake, visit, "en").outcome


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("visit", VISITS)
def test_what_is_offered_is_not_called_a_repair(visit: str, language: str, intake: Intake) -> None:
    """A word picked from the drop-down of one's own book raises no notice."""
    assert "choice_recognised" not in {one.rule for one in result_of(intake, visit, language).findings}


def facts_about(facts: Facts, table: str, store: str) -> list[dict[str, object]]:
    """The rows of one store, without what names the store itself."""
    found = facts.positions.whole if table == "positions" else getattr(facts, table)
    rows = found.filter(pl.col("store") == store).rows(named=True)
    return [{key: value for key, value in row.items() if key not in NAMES} for row in rows]


@pytest.mark.parametrize("table", ["flags", "status", "positions"])
@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("visit", VISITS)
def test_a_return_gives_the_same_facts_in_every_language(visit: str, language: str, table: str, facts: Facts) -> None:
    """Flags with due and found, the store's state, and every answer, as keys."""
    english = facts_about(facts, table, store_of(visit, "en"))
    assert facts_about(facts, table, store_of(visit, language)) == english
    if table == "flags" and visit in {"much differs", "every answer about tags", "not built"}:
        assert english


def test_every_fixed_choice_is_given_in_some_return() -> None:
    """Nothing a drop-down offers goes untried: the choices of all questions of the book, but for photos and units."""
    form = default_contract().field_book
    given: dict[str, set[object]] = {}
    for told in VISITS.values():
        for (block, _, name), value in told.items():
            given.setdefault(form.block(block).by_key[name].choices, set()).add(value)
    asked = {field.choices for block in ("visit", "positions") for field in form.block(block).answered_fields}
    wanted = {name: set(CHOICES[name].keys) for name in asked if name and CHOICES[name].keys}
    assert wanted
    assert {name: keys - given.get(name, set()) for name, keys in wanted.items() if keys - given.get(name, set())} == {}


@pytest.mark.parametrize("language", OTHERS)
def test_accents_may_be_left_out(language: str, intake: Intake) -> None:
    """Every word that has accents is known without them; the notice says how it was read."""
    repairs = Repairs(intake.program)
    plain = str.maketrans("áéíóúñéèêëàâîïôûç", "aeiouneeeeaaiiouc")
    tried = 0
    for name, choices in CHOICES.items():
        for key in choices.keys:
            word = words_for(language).choice(name, key).translate(plain)
            if word != words_for(language).choice(name, key):
                assert repairs.choice(name, word) == Meant(key, "choice_recognised")
                tried += 1
    assert tried >= 2
