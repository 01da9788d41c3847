"""Every word a person reads stands in the words files: none is missing, none is left over, all languages agree."""

from __future__ import annotations

import ast
from functools import cache

import pytest

from tests.contract.conftest import Templates
from tests.contract.source import composed, literals, modules
from workbook_tools.contract.load import default_contract, templates_folder, templates_from
from workbook_tools.contract.words import (
    DEFAULT_LANGUAGE,
    Words,
    contract_word_keys,
    languages,
    load_words,
    missing_words,
    words_for,
)
from workbook_tools.contract.writing import PROMPT_TEXT, PROMPT_TITLE
from workbook_tools.errors import DefinitionError

ENGLISH = words_for(DEFAULT_LANGUAGE)
SAID_BY = {"words", "_words", "Phrase"}
"""What the callables are named that take a key."""


@pytest.fixture(params=languages())
def words(request: pytest.FixtureRequest) -> Words:
    """Each language there is a words file for."""
    return load_words(templates_folder(), request.param)


def test_no_word_of_the_contract_is_missing(words: Words) -> None:
    """Sheet names, titles, headings, prompts, choices, rules, flags, states, outcomes: all are worded."""
    assert missing_words(default_contract(), words) == []


def test_every_language_has_the_same_keys(words: Words) -> None:
    """A language is one more file with the same keys: nothing missing, nothing left over."""
    assert words.table.keys() ^ ENGLISH.table.keys() == set()


def test_every_language_fills_in_the_same_fields(words: Words) -> None:
    """What stands in braces is filled in by the program, so a translation may move it but not change it."""
    differing = {key for key in ENGLISH.table if words.fields_of(key) != ENGLISH.fields_of(key)}
    assert differing == set()


def test_prompts_fit_the_bubble_and_headings_its_title(words: Words) -> None:
    """A prompt holds 255 characters and a title 32 (COMP: xlsxwriter refuses longer ones), so ours would be cut."""
    prompts = {key: text for key, text in words.table.items() if key.endswith(".prompt")}
    assert {key for key, text in prompts.items() if len(text) > PROMPT_TEXT} == set()
    headed = [words.table[key.removesuffix("prompt") + "heading"] for key in prompts]
    assert {text for text in headed if len(text) > PROMPT_TITLE} == set()


def test_no_word_is_blank_or_carries_spaces_around_it(words: Words) -> None:
    """A text that begins or ends with a space is a slip, but for the one that is hung on to another sentence."""
    odd = {key for key, text in words.table.items() if text != text.strip() or not text}
    assert odd <= {"messages.did_you_mean"}


@cache
def _vocabulary() -> frozenset[str]:
    """Every word that a hole in a composed key can hold: texts in the source, and the names the contract gives."""
    contract = default_contract()
    named = {name for key in contract_word_keys(contract) for name in key.split(".")}
    return literals() | named | set(contract.rules.values()) | {str(number) for number in range(10)}


def _known(part: str, module: str) -> bool:
    """Whether a hole can hold this: a word of the vocabulary, or one that its module composes."""
    if part in _vocabulary() or part.replace("_", " ") in _vocabulary():
        return True
    named = [pattern for pattern in composed()[module] if any(map(str.isalpha, pattern.pattern))]
    return any(pattern.fullmatch(part) for pattern in named)


def _is_composed(key: str) -> bool:
    for module, patterns in composed().items():
        for pattern in patterns:
            match = pattern.fullmatch(key) if r"\." in pattern.pattern else None
            if match and all(_known(part, module) for part in match.groups()):
                return True
    return False


def test_no_word_is_left_over() -> None:
    """Every key is asked for: by the contract, by its name in the source, or composed there from known pieces."""
    used = literals() | set(contract_word_keys(default_contract()))
    assert {key for key in ENGLISH.table if key not in used and not _is_composed(key)} == set()
    assert not any(map(_is_composed, ("cover.nonsense", "messages.merge", "rules.nonsense.problem", "items.nonsense")))


def _calls() -> list[tuple[str, ast.Call]]:
    """Every call in the package that takes a words key as a plain text, with that key."""
    calls = [node for tree in modules().values() for node in ast.walk(tree) if isinstance(node, ast.Call) and node.args]
    found = []
    for call in calls:
        name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
        key = call.args[0]
        if name in SAID_BY and isinstance(key, ast.Constant) and isinstance(key.value, str):
            found.append((key.value, call))
    return found


def test_every_key_in_the_source_has_its_word() -> None:
    """A key written out in the package stands in the words file; the cover's keys are named without `cover.`."""
    asked = {key for key, _ in _calls()}
    assert len(asked) > 50
    assert {key for key in asked if key not in ENGLISH and f"cover.{key}" not in ENGLISH} == set()


def test_every_field_of_a_text_is_given_where_it_is_said() -> None:
    """A call that names its fields names all that the text has."""
    lacking = {}
    for key, call in _calls():
        given = {one.arg for one in call.keywords}
        if key in ENGLISH and None not in given and getattr(call.func, "id", "") != "Phrase":
            lacking[key] = ENGLISH.fields_of(key) - given
    assert len(lacking) > 20
    assert {key: fields for key, fields in lacking.items() if fields} == {}


def test_a_word_that_is_missing_or_a_field_not_given_is_named() -> None:
    """The message names the words file and the key."""
    with pytest.raises(DefinitionError, match=r"words/en\.toml has no 'messages\.nothing'"):
        ENGLISH("messages.nothing")
    with pytest.raises(DefinitionError, match=r"words/en\.toml, 'messages\.no_setup': field 'folder' is not given"):
        ENGLISH("messages.no_setup")
    with pytest.raises(DefinitionError, match="field 'folder' is not given"):
        ENGLISH("messages.no_setup", path="x")


def test_a_field_may_have_any_name_and_any_value() -> None:
    """A field called `key` does not clash with the key of the text, and braces in a value stay braces."""
    assert "“items”" in ENGLISH("rules.row_missing.todo", key="items", column="x")
    assert "{folder}" in ENGLISH("messages.no_folder", folder="{folder}")


def test_a_language_is_one_more_file(templates: Templates) -> None:
    """A new words file is found, comes after English, and speaks for its choices; an unknown language gets English."""
    assert languages(templates.folder)[0] == DEFAULT_LANGUAGE
    english = (templates.folder / "words" / "en.toml").read_text(encoding="utf-8")
    templates.write("words/eo.toml", english.replace('[choices.yes_no]\nyes = "yes"', '[choices.yes_no]\nyes = "jes"'))
    with templates_from(templates.folder):
        assert "eo" in languages()[1:]
        assert words_for("eo").choice("yes_no", "yes") == "jes"
        assert words_for("eo").choice("place", "By the door") == "By the door"
        assert words_for("xx").language == DEFAULT_LANGUAGE


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('title = "Roll-up"\nlines = ["a"]\n', "words/en.toml, 'lines': every word is a text in quotes, not ['a']"),
        ("[cover]\ntitle = 1\n", "words/en.toml, 'cover.title': every word is a text in quotes, not 1"),
        ("title = Roll-up\n", "en.toml is not valid TOML"),
    ],
)
def test_a_wrong_words_file_is_refused(templates: Templates, text: str, said: str) -> None:
    """Anything but texts is refused, with the key."""
    templates.write("words/en.toml", text)
    with pytest.raises(DefinitionError) as refused:
        load_words(templates.folder, "en")
    assert said in str(refused.value)


def test_a_language_without_a_file_cannot_be_loaded(templates: Templates) -> None:
    """Asked for by name, a missing words file is an error that names it."""
    with pytest.raises(DefinitionError, match=r"xx\.toml is missing from .*words"):
        load_words(templates.folder, "xx")


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", ["0 merges", "1 merge", "2 merges", "11 merges"]),
        ("es", ["0 incorporaciones", "1 incorporación", "2 incorporaciones", "11 incorporaciones"]),
        ("fr", ["0 intégration", "1 intégration", "2 intégrations", "11 intégrations"]),
    ],
)
def test_words_go_by_their_counts(language: str, said: list[str]) -> None:
    """One merge, two merges; in French nought takes the form of one."""
    words = words_for(language)
    assert [words("rollup.counted.merges", count=count).partition(",")[0] for count in (0, 1, 2, 11)] == said


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", "The setup is in order: 1 store, 1 position, 1 item."),
        ("es", "La configuración está en orden: 1 tienda, 1 posición, 1 artículo."),
        ("fr", "La configuration est en ordre\u00a0: 1 magasin, 1 position, 1 article."),
    ],
)
def test_a_program_of_one_store_is_not_told_of_stores(language: str, said: str) -> None:
    """What stands once is called by its singular."""
    words = words_for(language)
    assert words("messages.check_clean", stores=1, positions=1, items=1).replace("\u202f", "\u00a0") == said


@pytest.mark.parametrize(
    ("language", "pace", "share"), [("en", "1.1", "62.5%"), ("es", "1,1", "62,5\u00a0%"), ("fr", "1,1", "62,5\u00a0%")]
)
def test_numbers_are_written_as_people_of_the_language_do(language: str, pace: str, share: str) -> None:
    """The decimal sign, and the space before the per cent sign."""
    words = words_for(language)
    assert (words.number(1.1, ".1f"), words.number(0.625, ".1%")) == (pace, share)
