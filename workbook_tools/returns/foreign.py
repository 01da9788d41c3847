"""Choices told in a language that is neither the book's own nor the program's: read like any other, with a notice."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import polars as pl

from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block, Field
from workbook_tools.contract.words import languages, words_for
from workbook_tools.program.model import Program
from workbook_tools.returns.answers import KEY, RETURN, Answers

KEYS_ARE = "en"
"""The language whose words the choices' keys are."""
_RULE = "choice_recognised"


def foreign_choices(answers: Answers, block: Block, field: Field, program: Program) -> Iterator[tuple[int, Finding]]:
    """(file number, finding) for each choice of a field that is offered, letter by letter, in other languages only.

    `answers` hold the choices as they were typed.
    """
    table = answers.tables[block.key]
    listed = program.sources.get(default_contract().choices[field.choices].source, ())
    offered = _offered(field.choices)
    typed = {
        one: offered[one] for one in table[field.key].drop_nulls().unique() if one in offered and one not in listed
    }
    for own, numbers in _by_languages(answers, program).items() if typed else ():
        foreign = [one for one, meanings in typed.items() if own.isdisjoint(meanings)]
        cells = table.filter(pl.col(field.key).is_in(foreign) & pl.col(RETURN).is_in(numbers)) if foreign else table[:0]
        for row in cells.iter_rows(named=True):
            key = field.key if block.rows == "fixed" else row[KEY]
            (meant,) = set(typed[row[field.key]].values())
            read = Phrase(f"choices.{field.choices}.{meant}")
            about = {"value": row[field.key], "read": read}
            yield row[RETURN], answers.finding(_RULE, row[RETURN], block.key, key, field.key, **about)


def _by_languages(answers: Answers, program: Program) -> dict[frozenset[str], list[int]]:
    """The numbers of the returns by the languages that are their own: the book's and the program's."""
    groups: dict[frozenset[str], list[int]] = {}
    for number, source in answers.sources.items():
        store = program.store.get(source.store)
        book = source.read.language or (program.language_of(store) if store else "")
        groups.setdefault(frozenset((book, program.settings.language)), []).append(number)
    return groups


@lru_cache(maxsize=64)
def _offered(choices: str) -> dict[str, dict[str, str]]:
    """Word of a fixed choice → language → the key it stands for there; only words that mean one key everywhere."""
    found: dict[str, dict[str, str]] = {}
    for key in default_contract().choices[choices].keys:
        found.setdefault(key, {})[KEYS_ARE] = key
        for language in languages():
            found.setdefault(words_for(language).choice(choices, key), {})[language] = key
    return {word: meanings for word, meanings in found.items() if len(set(meanings.values())) == 1}
