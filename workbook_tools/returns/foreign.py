"""Choices told in a language that is neither the book's own nor the program's: read like any other, with a notice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import polars as pl

from workbook_tools.contract.choice_words import offered_choices
from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block, Field
from workbook_tools.program.model import Program
from workbook_tools.returns.answers import KEY, RETURN, Answers

_RULE = "choice_recognised"


Owned = Mapping[frozenset[str], Sequence[int]]
"""The numbers of the returns by the languages that are their own: the book's and the program's."""


def foreign_choices(
    answers: Answers, block: Block, field: Field, program: Program, owned: Owned
) -> Iterator[tuple[int, Finding]]:
    """(file number, finding) for each choice of a field that is offered, letter by letter, in other languages only.

    `answers` hold the choices as they were typed; `owned` is what `by_languages` gives of them. A word that means
    different keys in different languages is left out.
    """
    table = answers.tables[block.key]
    listed = program.sources.get(default_contract().choices[field.choices].source, ())
    offered = offered_choices(field.choices)
    typed = {
        one: offered[one]
        for one in table[field.key].drop_nulls().unique()
        if one not in listed and len(set(offered.get(one, {}).values())) == 1
    }
    for own, numbers in owned.items() if typed else ():
        foreign = [one for one, meanings in typed.items() if own.isdisjoint(meanings)]
        cells = table.filter(pl.col(field.key).is_in(foreign) & pl.col(RETURN).is_in(numbers)) if foreign else table[:0]
        for row in cells.iter_rows(named=True):
            key = field.key if block.rows == "fixed" else row[KEY]
            (meant,) = set(typed[row[field.key]].values())
            read = Phrase(f"choices.{field.choices}.{meant}")
            about = {"value": row[field.key], "read": read}
            yield row[RETURN], answers.finding(_RULE, row[RETURN], block.key, key, field.key, **about)


def by_languages(answers: Answers, program: Program) -> Owned:
    """Which returns have which languages as their own."""
    groups: dict[frozenset[str], list[int]] = {}
    for number, source in answers.sources.items():
        store = program.store.get(source.store)
        book = source.read.language or (program.language_of(store) if store else "")
        groups.setdefault(frozenset((book, program.settings.language)), []).append(number)
    return groups
