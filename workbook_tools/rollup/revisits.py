"""Which stores need another visit, and what their books ask for: only what is open, with what was reported before."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any

import polars as pl

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.field_book.issue import Issued, chosen
from workbook_tools.field_book.revisit import Revisit
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.asked import KIT, LABELS, PARTS, POSITIONS, SETTLED, VISIT, Asked, Told, flag
from workbook_tools.returns.intake import Intake
from workbook_tools.rollup.flags import QUESTION_OF, TRAY_KINDS
from workbook_tools.rollup.merge import Facts, merge
from workbook_tools.rollup.notes import Kept, carry_over
from workbook_tools.rollup.notes_read import kept_notes
from workbook_tools.rollup.short_list import short_list
from workbook_tools.rollup.work import FlagRow, StoreWork, Work

_ONLY_IF_OPEN = ("place", "carton", "built", "why_not", "tags_asked", "photo")
"""Questions of the visit that are not asked again once they are settled; all others belong to every visit."""
_ANSWER = "answer"
_NO_VISIT = ("not back", "done")
"""States of stores that need no further visit."""


@dataclass(frozen=True)
class Plan:
    """The visits that are needed, and stores that are left out until their return is corrected."""

    revisits: tuple[Revisit, ...]
    to_correct: tuple[str, ...]

    def lines(self, issued: Issued, folder: ProgramFolder, words: Words) -> Iterator[str]:
        """What there is to say once their books are issued."""
        count = len(issued.books)
        yield (
            words("messages.revisits", count=count, folder=folder.issued) if count else words("messages.revisits_none")
        )
        if unchanged := count - issued.new:
            yield words("messages.revisits_unchanged", count=unchanged)
        if self.to_correct:
            yield words("messages.left_to_correct", stores=short_list(self.to_correct), folder=folder.root)


def open_in(folder: ProgramFolder, intake: Intake, stores: Sequence[str], words: Words) -> Plan:
    """Plan the visits of all stores, or of some, from what was taken in and the notes in the roll-up that lies there.

    Raises SetupError when there is no such store, FolderError when the roll-up cannot be read.
    """
    chosen(intake.program, stores, words)
    facts = merge(intake, dt.date.today())
    kept = carry_over(kept_notes(folder.rollup / "rollup.xlsx", facts.identity, words), facts.flags, facts.as_of)
    return plan_revisits(facts, kept, stores)


def plan_revisits(facts: Facts, kept: Kept, stores: Collection[str] = ()) -> Plan:
    """Plan the visits of all stores in which something is open, or of some.

    Flags that the office has settled are not asked about. A store whose return is to be corrected is left out, as
    nobody knows yet what is open there; named in `stores`, it is asked about everything that is not known to be right.
    """
    planner = _Planner(facts, kept)
    wanted = [store for store in planner.work.states if not stores or store in stores]
    to_correct = [store for store in wanted if planner.work.states[store] == "to correct" and not stores]
    planned = (planner.revisit(store) for store in wanted if store not in to_correct)
    return Plan(tuple(one for one in planned if one), tuple(to_correct))


class _Planner:
    def __init__(self, facts: Facts, kept: Kept) -> None:
        self.facts = facts
        self.program = facts.program
        self.work = Work(facts, kept)
        self.answers = [field.key for field in default_contract().field_book.block(POSITIONS).open_fields]
        self.reported: dict[str, dict[str, Mapping[str, Any]]] = defaultdict(dict)
        going = pl.col("store").is_in([store for store, state in self.work.states.items() if state not in _NO_VISIT])
        for row in chain.from_iterable(rows.filter(going).iter_rows(named=True) for rows in facts.positions):
            self.reported[row["store"]][row["position"]] = row
        self.visits: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
        for row in facts.visits.iter_rows(named=True):
            self.visits[row["store"]].append(row)
        flagged = facts.flags.filter(pl.col("kind").is_in(TRAY_KINDS)).group_by("store").agg("position")
        self.flagged = {store: frozenset(positions) for store, positions in flagged.iter_rows()}

    def revisit(self, store: str) -> Revisit | None:
        """What a store's next book asks for; None when no return came yet or nothing is open."""
        if self.work.states[store] in _NO_VISIT:
            return None
        work = self.work.stores.get(store) or StoreWork(self.program.store[store])
        rows = [*self._positions(work), *self._parts(work)]
        if not rows and not work.flags:
            return None
        rows += [*self._questions(work, bool(rows)), *_counts(LABELS, work.labels), *_counts(KIT, work.parts)]
        visits = [one["visit"] for one in self.visits[store]]
        return Revisit(store, Asked(tuple(rows)), max(visits, default=0))

    def _positions(self, work: StoreWork) -> Iterator[Told]:
        """Every position with an open flag, and those of which it is not known that they are right."""
        store = work.store.store
        flags = _by_position(work)
        not_built = any(one["found"] == "no" for one in work.of("not_built"))
        for position in self.program.walk:
            key = position.key
            reported = self.reported[store].get(key)
            unknown = not (reported and reported["right"]) and key not in self.flagged.get(store, ())
            if not (key in flags or unknown or not_built):
                continue
            told = [flag(POSITIONS, key, one["kind"], one["due"]) for one in flags.get(key, ())]
            if reported and not not_built:
                before = ((name, reported[name]) for name in self.answers if reported[name] is not None)
                told += [Told(POSITIONS, key, name, str(value)) for name, value in before]
            yield from told or [Told(POSITIONS, key)]

    def _parts(self, work: StoreWork) -> Iterator[Told]:
        """The parts that were missing or damaged; all of them where nothing is built yet."""
        lacking = {one["position"]: one for one in work.of("part_missing")}
        not_built = any(one["found"] == "no" for one in work.of("not_built"))
        for part in self.program.parts:
            one = lacking.get(part.part)
            if one:
                yield flag(PARTS, part.part, one["kind"], one["due"])
                yield from (Told(PARTS, part.part, *said.split(" ", 1)) for said in one["note"].split("; "))
            elif not_built:
                yield Told(PARTS, part.part)

    def _questions(self, work: StoreWork, trays: bool) -> Iterator[Told]:
        """The questions of the visit: those that belong to every visit, those that are open, and what is settled."""
        open_flags = {QUESTION_OF[one["kind"]]: one for one in work.flags if one["kind"] in QUESTION_OF}
        built_open = "built" in open_flags
        not_built = built_open and open_flags["built"]["found"] == "no"
        for field in default_contract().field_book.block(VISIT).fields:
            key = field.key
            before = self._answered(work.store.store, key) if key in _ONLY_IF_OPEN else ""
            asked_with = {"why_not": built_open, "tags_asked": trays, "carton": not_built, "photo": not_built}
            if key in open_flags:
                yield flag(VISIT, key, open_flags[key]["kind"], open_flags[key]["due"])
            elif key not in _ONLY_IF_OPEN or asked_with.get(key, not before):
                yield Told(VISIT, key)
            else:
                yield Told(SETTLED, key, _ANSWER, before)

    def _answered(self, store: str, question: str) -> str:
        """How a question was last answered, "" when it never was."""
        answers = [one[question] for one in self.visits[store] if one.get(question) is not None]
        return str(answers[-1]) if answers else ""


def _by_position(work: StoreWork) -> dict[str, list[FlagRow]]:
    flags: dict[str, list[FlagRow]] = defaultdict(list)
    for one in work.of(*TRAY_KINDS):
        flags[one["position"]].append(one)
    return flags


def _counts(block: str, counts: Mapping[str, int]) -> Iterator[Told]:
    yield from (Told(block, key, "count", str(count)) for key, count in counts.items())
