"""Names that a setup cannot give, because they mean something else in field books or in the files that hold them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache

from workbook_tools.contract.choice_words import fixed_choices, section
from workbook_tools.contract.sheets import BLOCK_MARK
from workbook_tools.contract.values import plain_form
from workbook_tools.contract.words import languages


def _is_label(name: str) -> bool:
    return plain_form(name) in fixed_choices("label")


def _is_place(name: str) -> bool:
    return plain_form(name) in fixed_choices("place")


def _is_shared_book(store: str) -> bool:
    return store.casefold() in _shared_books()


@cache
def _shared_books() -> frozenset[str]:
    """What stands for the store in the file name of the book in which it is picked, in all languages."""
    return frozenset(section(language, "messages")["shared_book"].casefold() for language in languages())


def _is_marked(name: str) -> bool:
    return name.startswith(BLOCK_MARK)


NAMES_TAKEN: Mapping[str, tuple[tuple[str, str, Callable[[str], bool]], ...]] = {
    "program": (("place", "reserved_answer", _is_place), ("other_places", "reserved_answer", _is_place)),
    "labels": (("brand", "reserved_answer", _is_label),),
    "stores": (("store", "reserved_store", _is_shared_book),),
    "parts": (("part", "reserved_mark", _is_marked),),
}
"""Block → field, rule, and what tells whether a name is taken."""
