"""What the words of a fixed choice stand for, in all languages at once: books come back in any of them."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from functools import lru_cache
from pathlib import Path

from workbook_tools.contract.load import default_contract, templates_folder
from workbook_tools.contract.values import only_meanings, plain_form
from workbook_tools.contract.words import languages

KEYS_ARE = "en"
"""The language whose words the choices' keys are."""


@lru_cache(maxsize=64)
def fixed_choices(choices: str) -> dict[str, str]:
    """Every word, in every language, that stands for exactly one fixed choice: plain form → key.

    It stands for it without its accents too: not every keyboard has them.
    """
    said = [section(language, f"choices.{choices}") for language in languages()]
    words = [
        (plain_form(word), key)
        for key in default_contract().choices[choices].keys
        for word in (key, *(words.get(key, key) for words in said))
    ]
    return only_meanings([*words, *((_without_accents(word), key) for word, key in words)])


@lru_cache(maxsize=64)
def offered_choices(choices: str) -> dict[str, dict[str, str]]:
    """Word, letter by letter, with which books offer a fixed choice → language → the key it stands for there.

    The keys themselves are words of English.
    """
    found: dict[str, dict[str, str]] = {}
    for key in default_contract().choices[choices].keys:
        found.setdefault(key, {})[KEYS_ARE] = key
        for language in languages():
            word = section(language, f"choices.{choices}").get(key, key)
            found.setdefault(word, {})[language] = key
    return found


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
