"""What a book asks for that does not ask for everything, and what was reported before; rows are only ever added.

A book of a later visit holds only what is open in its store. Everything it says beyond the program stands in
`issued/asked.csv`, a row for every single thing, by the book's token:

    block      key     field                 value
    positions  A-1-1   flag.label_mismatch   Pellwood     a tray that is asked for: an open flag, and what is due
    positions  A-1-1   label                 Quarnby      … an answer given before
    parts      P2      missing               1            a part that is asked for
    visit      photo   flag.photo_missing    one          a question of the visit that is asked
    settled    place   answer                Front        a question that is not asked, as it was answered before
    labels     Pellwood  count               2            what to bring: labels by brand
    kit        P2      count                 1            … parts by part

So a book can be written again from the folder, and its return is held against what it asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from workbook_tools.contract.words import Words
from workbook_tools.program.ledger import append_rows, read_rows

POSITIONS, PARTS, VISIT = "positions", "parts", "visit"
"""The blocks of a field book that are asked for by row."""
SETTLED, LABELS, KIT = "settled", "labels", "kit"
_FLAG = "flag."


class Told(NamedTuple):
    """One thing a book says: a row of asked.csv without the token."""

    block: str
    key: str
    field: str = ""
    value: str = ""


COLUMNS = ("token", *Told._fields)


@dataclass(frozen=True)
class Asked:
    """What one book asks for and says, in the order of the walk."""

    rows: tuple[Told, ...]

    def keys(self, block: str) -> tuple[str, ...]:
        """The rows of a block, in order, each once."""
        return tuple(self._by_key.get(block, ()))

    def before(self, block: str, key: str) -> dict[str, str]:
        """What was reported before: field → value, as keys of the contract or texts as given."""
        return {one.field: one.value for one in self._of(block, key) if one.field and not one.field.startswith(_FLAG)}

    def flags(self, block: str, key: str) -> dict[str, str]:
        """The open flags: kind → what is due."""
        return {one.field.removeprefix(_FLAG): one.value for one in self._of(block, key) if one.field.startswith(_FLAG)}

    def tells(self, block: str, key: str) -> bool:
        """True when something was reported before, or a flag is open."""
        return any(one.field for one in self._of(block, key))

    def counts(self, block: str) -> dict[str, int]:
        """What to bring: brand or part → how many."""
        return {one.key: int(one.value) for one in self.rows if one.block == block and one.value.isdecimal()}

    def _of(self, block: str, key: str) -> list[Told]:
        return self._by_key.get(block, {}).get(key, [])

    @cached_property
    def _by_key(self) -> dict[str, dict[str, list[Told]]]:
        found: dict[str, dict[str, list[Told]]] = {}
        for one in self.rows:
            found.setdefault(one.block, {}).setdefault(one.key, []).append(one)
        return found


def flag(block: str, key: str, kind: str, due: str) -> Told:
    """An open flag of something that is asked for."""
    return Told(block, key, f"{_FLAG}{kind}", due)


def read_asked(path: Path, words: Words) -> dict[str, Asked]:
    """What each book asks for that does not ask for everything, by token. Raises FolderError when it is damaged."""
    found: dict[str, list[Told]] = {}
    for row in read_rows(path, COLUMNS, words):
        found.setdefault(row.pop("token"), []).append(Told(**row))
    return {token: Asked(tuple(rows)) for token, rows in found.items()}


def append_asked(path: Path, asked: Mapping[str, Asked], words: Words) -> None:
    """Add what some books ask for, by token. Raises FolderError."""
    append_rows(path, COLUMNS, ((token, *told) for token, one in asked.items() for told in one.rows), words)
