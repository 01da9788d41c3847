"""Repairs that need the program: choices and codes put right where that is provable, each with a notice."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterable, Mapping
from functools import lru_cache

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.values import plain_form
from workbook_tools.contract.words import languages, words_for
from workbook_tools.program.model import Program

_SHORTENED = re.compile(r"\d(?:[.,]\d+)?[eE]\+?\d+")


@lru_cache(maxsize=64)
def _fixed_choices(choices: str) -> dict[str, str]:
    """Every word, in every language, that stands for exactly one fixed choice: plain form → key."""
    meanings: dict[str, set[str]] = {}
    for key in default_contract().choices[choices].keys:
        for language in languages():
            meanings.setdefault(plain_form(words_for(language).choice(choices, key)), set()).add(key)
        meanings.setdefault(plain_form(key), set()).add(key)
    return {word: next(iter(keys)) for word, keys in meanings.items() if len(keys) == 1}


class Repairs:
    """What one program allows to be put right. Answers are cached: most cells say what another said before."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self._choices: dict[str, dict[str, str]] = {}
        self._codes = _unique_by(_without_zeros, [item.item_code for item in program.items])
        self._stores = _unique_by(_without_zeros, program.store)
        self._exact_codes = frozenset(item.item_code for item in program.items)

    def choice(self, choices: str, typed: str) -> str:
        """The key a typed choice stands for, or the text itself when it stands for none."""
        form = default_contract().choices[choices]
        options = form.options(self.program.sources)
        if typed in options:
            return typed
        if choices not in self._choices:
            listed = _unique_by(plain_form, self.program.sources.get(form.source, ()))
            self._choices[choices] = {**listed, **_fixed_choices(choices)}
        return self._choices[choices].get(plain_form(typed), typed)

    def item_code(self, typed: str) -> str:
        """An item code with its lost leading zeros back, when exactly one code of the program fits; else as typed."""
        return _restored(typed, self._exact_codes, self._codes)

    def store(self, typed: str) -> str:
        """A store's number, likewise."""
        return _restored(typed, self.program.store, self._stores)


def _restored(typed: str, exact: Container[str], unique: Mapping[str, str]) -> str:
    if typed in exact or _SHORTENED.fullmatch(typed):
        return typed
    plain = typed.replace(" ", "").replace("-", "")
    return plain if plain in exact else unique.get(_without_zeros(plain), typed)


def _without_zeros(code: str) -> str:
    return code.lstrip("0").casefold()


def _unique_by(form: Callable[[str], str], entries: Iterable[str]) -> dict[str, str]:
    """Form of an entry → the entry, for every form that only one entry has."""
    groups: dict[str, set[str]] = {}
    for entry in entries:
        groups.setdefault(form(entry), set()).add(entry)
    return {key: next(iter(group)) for key, group in groups.items() if len(group) == 1}
