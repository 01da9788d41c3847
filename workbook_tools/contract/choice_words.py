"""What the words of a fixed choice stand for, in all languages at once: books come back in any of them."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from functools import lru_cache
from pathlib import Path

from workbook_tools.contract.load import default_contract, templates_folder
from workbook_tools.contract.values import plain_form
from workbook_tools.contract.words import languages


@lru_cache(maxsize=64)
def fixed_choices(choices: str) -> dict[str, str]:
    """Every word, in every language, that stands for exactly one fixed choice: plain form → key.

    It stands for it without its accents too: not every keyboard has them.
    """
    meanings: dict[str, set[str]] = {}
    said = [section(language, f"choices.{choices}") for language in languages()]
    for key in default_contract().choices[choices].keys:
        for word in (key, *(words.get(key, key) for words in said)):
            for form in (plain_form(word), _without_accents(plain_form(word))):
                meanings.setdefault(form, set()).add(key)
    return {word: next(iter(keys)) for word, keys in meanings.items() if len(keys) == 1}


def section(language: str, name: str) -> dict[str, str]:
    """The words under one heading of a words file, such as `choices.tag`; none where the file lacks it.

    To read all of a language takes as long as to check thousands of stores, and here a few words of each are needed.
    """
    return _section(templates_folder() / "words" / f"{language}.toml", name)


@lru_cache(maxsize=64)
def _section(path: Path, name: str) -> dict[str, str]:
    text = path.read_text(encoding="utf-8")
    found = re.search(rf"^\[{re.escape(name)}\]$(.*?)(?=^\[|\Z)", text, re.MULTILINE | re.DOTALL)
    return tomllib.loads(found[1]) if found else {}


def _without_accents(text: str) -> str:
    letters = unicodedata.normalize("NFD", text)
    return "".join(letter for letter in letters if not unicodedata.combining(letter))
