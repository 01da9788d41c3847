"""Office notes: what the office wrote beside the flags, carried from merge to merge and joined from several copies."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import polars as pl

from workbook_tools.contract.writing import legal_text

OPEN_COLUMNS = ("owner", "note", "settled")
"""What a person may fill in beside a flag."""
HIDDEN_COLUMNS = ("store", "position", "kind", "facts")
"""What ties a note to its flag; keys, never translated."""
YES, NO = "yes", "no"
_BOTH = " / "


def hidden_heading(column: str) -> str:
    """The heading of a hidden column: no heading that people read is written like that."""
    return f"key:{column}"


class FlagKey(NamedTuple):
    """Which flag a note is about; `position` is a tray, a part, or "" for the visit as a whole."""

    store: str
    position: str
    kind: str


@dataclass(frozen=True, slots=True)
class Note:
    """What stands beside one flag. `facts` is what the flag said when the note was last seen; `settled` is yes, no,
    "" or whatever was typed there.
    """

    key: FlagKey
    facts: str
    owner: str = ""
    note: str = ""
    settled: str = ""

    @property
    def is_blank(self) -> bool:
        """True when nobody wrote anything."""
        return not (self.owner or self.note or self.settled)

    @property
    def is_settled(self) -> bool:
        """True when the office says that nothing is left to do."""
        return self.settled == YES


@dataclass(frozen=True, slots=True)
class PastNote:
    """A note whose flag is gone; `moved` is the day of the merge that found it gone, as ISO 8601, or "" until
    that merge.
    """

    note: Note
    moved: str


@dataclass(frozen=True)
class Kept:
    """All notes of a roll-up: those beside its flags, by flag, and those of flags that were gone before."""

    notes: Mapping[FlagKey, Note] = field(default_factory=dict)
    past: tuple[PastNote, ...] = ()


def facts_of(due: str, found: str) -> str:
    """What a flag says, as one text that a cell gives back as it was: a settled flag stays settled until it changes."""
    return " ".join(legal_text(f"{due} → {found}").split())


def carry_over(kept: Kept, flags: pl.DataFrame, as_of: dt.date) -> Kept:
    """The notes as they stand beside today's flags (rows of flags.csv).

    A note whose flag is gone becomes a past one; a settled flag whose facts changed is open again. Past notes stay,
    each once, in the order in which they came.
    """
    columns = (flags[name].to_list() for name in ("store", "position", "kind", "due", "found"))
    facts = {FlagKey(*key): facts_of(due, found) for *key, due, found in zip(*columns, strict=True)}
    carried = {}
    gone = []
    for key, note in kept.notes.items():
        if note.is_blank:
            continue
        if key in facts:
            changed = facts[key] != note.facts
            carried[key] = replace(note, facts=facts[key], settled="" if changed else note.settled)
        else:
            gone.append(PastNote(note, as_of.isoformat()))
    past = (replace(one, moved=one.moved or as_of.isoformat()) for one in kept.past)
    return Kept(carried, tuple(dict.fromkeys((*past, *sorted(gone, key=lambda one: one.note.key)))))


def join_notes(ours: Kept, theirs: Kept) -> Kept:
    """The notes of two copies of a roll-up. Where both wrote and differ, both texts are kept, ours first."""
    notes = dict(ours.notes)
    for key, note in theirs.notes.items():
        notes[key] = join_two(notes[key], note) if key in notes else note
    return Kept(notes, tuple(dict.fromkeys((*ours.past, *theirs.past))))


def join_two(one: Note, other: Note) -> Note:
    """One note of two about the same flag. The facts are those that the "settled" was said of."""
    facts = other.facts if other.settled and not one.settled else one.facts
    texts = {name: _both(getattr(one, name), getattr(other, name)) for name in OPEN_COLUMNS}
    return Note(one.key, facts, **texts)


def collect_notes(rows: Iterable[Note]) -> dict[FlagKey, Note]:
    """Notes by flag; rows that stand twice are joined, blank ones are passed over."""
    notes: dict[FlagKey, Note] = {}
    for note in rows:
        if not note.is_blank:
            notes[note.key] = join_two(notes[note.key], note) if note.key in notes else note
    return notes


def _both(one: str, other: str) -> str:
    """Both texts, unless one of them holds the other: a copy that was joined before may be joined again."""
    if not one or not other or _holds(one, other):
        return one or other
    return other if _holds(other, one) else f"{one}{_BOTH}{other}"


def _holds(joined: str, text: str) -> bool:
    return f"{_BOTH}{text}{_BOTH}" in f"{_BOTH}{joined}{_BOTH}"
