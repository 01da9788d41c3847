"""What changed in a program since books of a revision were issued, and whose books no longer say what is so."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from workbook_tools.contract.findings import shown
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import MODELS, issued_program
from workbook_tools.program.model import Program
from workbook_tools.program.register import Register

NOT_IN_BOOKS: dict[str, frozenset[str]] = {
    "program": frozenset(("country",)),
    "shelves": frozenset(("depth", "load")),
    "items": frozenset(("depth", "weight", "case_pack")),
    "stores": frozenset(("latitude", "longitude")),
    "merchandisers": frozenset(("email", "phone", "hours")),
}
"""Block → fields that no field book shows, so that a change in them asks for no new one."""
_OF_ONE = ("stores", "merchandisers")
"""Blocks of which a book shows only its own row."""


@dataclass(frozen=True)
class Change:
    """One difference. `row` names the row ("" in the settings); `field` is "" where a whole row came or went.

    `before` and `after` are the values as shown, the same for a picture that was drawn anew under its name;
    `is_in_books` says whether books show it.
    """

    block: str
    row: str
    field: str
    before: str
    after: str
    is_in_books: bool

    def say(self, words: Words) -> str:
        """The change as a sentence."""
        names: dict[str, object] = {"sheet": words(f"setup.sheets.{self.block}"), "row": self.row}
        if not self.field:
            return words("since.row_new" if self.after else "since.row_gone", **names)
        column = words(f"setup.{self.block}.{self.field}.heading")
        blank = words("since.blank")
        values = {"before": self.before or blank, "after": self.after or blank}
        key = "setting" if not self.row else "redrawn" if self.before == self.after else "value"
        return words(f"since.{key}", column=column, **names, **values)


@dataclass(frozen=True)
class Since:
    """Everything that changed since a revision.

    stores: those that must get a new book, in the order of the list; `is_everyone` when all must. added: stores that
    were not in that revision; gone: stores that no longer are.
    """

    revision: int
    changes: tuple[Change, ...]
    stores: tuple[str, ...]
    is_everyone: bool
    added: tuple[str, ...]
    gone: tuple[str, ...]

    def lines(self, words: Words) -> Iterator[str]:
        """What to say about it: the changes, then who must get a new book."""
        if not self.changes:
            yield words("since.nothing", revision=self.revision)
            return
        yield words("since.title", revision=self.revision, count=len(self.changes))
        yield from (f"  {change.say(words)}" for change in self.changes)
        if self.is_everyone:
            yield words("since.everyone", count=len(self.stores))
        elif self.stores:
            yield words("since.stores", count=len(self.stores), stores=", ".join(self.stores))
        else:
            yield words("since.nobody")
        if self.gone:
            yield words("since.gone", count=len(self.gone), stores=", ".join(self.gone))

    def as_json(self, words: Words) -> dict[str, object]:
        """The same as plain values."""
        changes = [{**dataclasses.asdict(change), "said": change.say(words)} for change in self.changes]
        return {
            "revision": self.revision,
            "changes": changes,
            "new_books": list(self.stores),
            "every_store": self.is_everyone,
            "added": list(self.added),
            "gone": list(self.gone),
        }


def since(folder: ProgramFolder, program: Program, register: Register, revision: int, words: Words) -> Since:
    """Compare the program with the revision as it was issued. Raises FolderError when it is not kept or readable."""
    kept = folder.revision(revision)
    if not kept.setup.is_file():
        newest = register.newest_revision()
        key = "messages.no_such_revision" if newest else "messages.nothing_issued"
        raise FolderError(words(key, revision=revision, newest=newest, folder=folder.root))
    before = issued_program(kept)
    if before is None:
        raise FolderError(words("messages.revision_lost", revision=revision, folder=kept.root))
    return compare(before, program, revision)


def compare(before: Program, after: Program, revision: int) -> Since:
    """The differences between two states of a program, in the order of the setup's sheets and their rows.

    A picture that was drawn anew under the same name is one at each row that names it.
    """
    changes = list(_changes(before, after))
    added = tuple(one.store for one in after.stores if one.store not in before.store)
    gone = tuple(one.store for one in before.stores if one.store not in after.store)
    is_everyone = any(change.is_in_books and change.block not in _OF_ONE for change in changes)
    touched = set(_touched(changes, after)) | set(added)
    stores = tuple(one.store for one in after.stores if is_everyone or one.store in touched)
    return Since(revision, tuple(changes), stores, is_everyone, added, gone)


def _changes(before: Program, after: Program) -> Iterator[Change]:
    drawn, redrawn = before.pictures, after.pictures
    changed = {name for name, digest in redrawn.items() if drawn.get(name, digest) != digest}
    yield from _differences("program", "", before.settings, after.settings)
    for block in MODELS:
        old, new = _by_name(block, before), _by_name(block, after)
        for name, row in old.items():
            if name in new:
                yield from _differences(block, name, row, new[name])
            else:
                yield Change(block, name, "", name, "", block not in _OF_ONE)
        yield from (Change(block, name, "", "", name, block not in _OF_ONE) for name in new if name not in old)
        for name, row in new.items():
            if (picture := getattr(row, "picture", "")) in changed:
                yield Change(block, name, "picture", picture, picture, True)


def _by_name(block: str, program: Program) -> dict[str, Any]:
    identity = default_contract().setup.block(block).identity
    return {"-".join(str(getattr(row, key)) for key in identity): row for row in getattr(program, block)}


def _differences(block: str, name: str, before: Any, after: Any) -> Iterator[Change]:
    for one in dataclasses.fields(before):
        values = getattr(before, one.name), getattr(after, one.name)
        if values[0] != values[1]:
            is_shown = one.name not in NOT_IN_BOOKS.get(block, ())
            yield Change(block, name, one.name, _shown(values[0]), _shown(values[1]), is_shown)


def _touched(changes: Iterable[Change], after: Program) -> Iterator[str]:
    """The stores whose own row, or whose merchandiser's row, reads otherwise in their book."""
    for change in changes:
        if not change.is_in_books or not change.field:
            continue
        if change.block == "stores":
            yield change.row
        elif change.block == "merchandisers":
            yield from (one.store for one in after.stores if one.merchandiser == change.row)


def _shown(value: object) -> str:
    return "; ".join(value) if isinstance(value, tuple) else shown(value)
