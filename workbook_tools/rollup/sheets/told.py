"""What a flag says, in words: the tables hold the contract's keys, people read them in the program's language."""

from __future__ import annotations

from workbook_tools.contract.words import Words
from workbook_tools.rollup.work import FlagRow

_DUE = {"photo_missing": "photos", "not_built": "built", "place_changed": "place"}
_FOUND = {
    "label_missing": "label",
    "tag_missing": "tag",
    "tag_asked": "tag",
    "item_missing": "product",
    "item_short": "product",
    "photo_missing": "yes_no",
    "not_built": "built",
    "place_changed": "place",
}
"""Kind of flag → the choices that what is due, or found, is one of; a label, a code or a count stands for itself."""


def due(words: Words, flag: FlagRow) -> str:
    """What is due."""
    return _say(words, _DUE, flag, "due")


def found(words: Words, flag: FlagRow) -> str:
    """What was found."""
    return _say(words, _FOUND, flag, "found")


def _say(words: Words, choices: dict[str, str], flag: FlagRow, column: str) -> str:
    kind, key = flag["kind"], str(flag[column])
    return words.choice(choices[kind], key) if kind in choices and key else key


def remark(words: Words, flag: FlagRow) -> str:
    """The flag's note: what was not told, how many parts are missing or damaged, or what was written in the field."""
    kind, note = flag["kind"], str(flag["note"])
    if not note:
        return ""
    if kind == "item_other":
        return words(f"rollup.remark_{note}")
    if kind == "not_reported":
        fields = (words(f"field_book.positions.{name}.heading") for name in note.split("; "))
        return words("rollup.remark_not_told", what=", ".join(fields))
    if kind == "part_missing":
        return ", ".join(_part(words, piece) for piece in note.split("; "))
    return note


def _part(words: Words, piece: str) -> str:
    """`missing 2` as people read it."""
    name, _, count = piece.partition(" ")
    return f"{words(f'field_book.parts.{name}.heading')}: {count}"
