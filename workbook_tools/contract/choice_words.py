"""What the words of a fixed choice stand for, in all languages at once: books come back in any of them."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.values import plain_form
from workbook_tools.contract.words import languages, words_for


@lru_cache(maxsize=64)
def fixed_choices(choices: str) -> dict[str, str]:
    """Every word, in every language, that stands for exactly one fixed choice: plain form → key.

    It stands for it without its accents too: not every keyboard has them.
    """
    meanings: dict[str, set[str]] = {}
    for key in default_contract().choices[choices].keys:
        for word in (key, *(words_for(language).choice(choices, key) for language in languages())):
            for form in (plain_form(word), _without_accents(plain_form(word))):
                meanings.setdefault(form, set()).add(key)
    return {word: next(iter(keys)) for word, keys in meanings.items() if len(keys) == 1}


def _without_accents(text: str) -> str:
    letters = unicodedata.normalize("NFD", text)
    return "".join(letter for letter in letters if not unicodedata.combining(letter))
