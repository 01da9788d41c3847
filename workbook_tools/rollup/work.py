"""What is left to do in each store, by who does it; flags that the office has settled are left out."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from workbook_tools.contract.findings import Finding
from workbook_tools.program.model import Program, Store
from workbook_tools.returns.judge import FileResult
from workbook_tools.rollup.labour import planned_minutes
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.notes import FlagKey, Kept

FlagRow = Mapping[str, Any]
"""A row of flags.csv, by column."""
LABEL_KINDS = ("label_mismatch", "label_missing")
TAG_KINDS = ("tag_missing", "tag_asked", "tag_mismatch")
PRINT_KINDS, FIND_KINDS = ("tag_asked", "tag_mismatch"), ("item_missing", "item_short")
REACH_MINUTES, TRAY_MINUTES = 10, 3
"""A visit to put things right: minutes to reach the display and report, and minutes a tray when the plan gives none;
assumptions, no source.
"""


@dataclass(frozen=True)
class StoreWork:
    """One store's open flags that are not settled, in the order of flags.csv."""

    store: Store
    flags: list[FlagRow] = field(default_factory=list)

    def of(self, *kinds: str) -> list[FlagRow]:
        """The flags of some kinds."""
        return [flag for flag in self.flags if flag["kind"] in kinds]

    def by(self, who: str) -> list[FlagRow]:
        """The flags that somebody has to put right."""
        return [flag for flag in self.flags if flag["who"] == who]

    @cached_property
    def labels(self) -> Counter[str]:
        """Labels that are not in the store yet, by brand: those due less those that only stand on a wrong tray."""
        due = Counter(flag["due"] for flag in self.of(*LABEL_KINDS) if flag["due"])
        return due - Counter(flag["found"] for flag in self.of("label_mismatch"))

    @cached_property
    def parts(self) -> Counter[str]:
        """Parts to be sent, by part: those due less those that can be used."""
        counts = {flag["position"]: int(flag["due"]) - int(flag["found"]) for flag in self.of("part_missing")}
        return Counter({part: count for part, count in counts.items() if count > 0})

    @property
    def trays(self) -> set[str]:
        """The positions a merchandiser has to look at."""
        return {flag["position"] for flag in self.by("merchandiser") if flag["position"]}


@dataclass(frozen=True)
class Ask:
    """One thing to ask of a store: a shelf tag to print or goods to find. `count` is None when it is not known."""

    what: str
    item_code: str
    trays: tuple[str, ...]
    count: int | None


@dataclass(frozen=True)
class Parcel:
    """Labels or parts that the office sends for one store. `by` says who takes them there: merchandiser or office."""

    what: str
    key: str
    count: int
    store: Store
    by: str


class Work:
    """All that is left to do. `skipped` counts the settled flags that are left out."""

    def __init__(self, facts: Facts, kept: Kept) -> None:
        self.facts = facts
        self.program = facts.program
        self._whole_visit = math.ceil(planned_minutes(self.program) or 0)
        self.states = dict(zip(facts.status["store"], facts.status["state"], strict=True))
        self.stores: dict[str, StoreWork] = {}
        self.skipped = 0
        for flag in facts.flags.iter_rows(named=True):
            note = kept.notes.get(FlagKey(flag["store"], flag["position"], flag["kind"]))
            if note and note.is_settled:
                self.skipped += 1
            else:
                name = flag["store"]
                place = self.program.store.get(name) or Store(store=name, name="", merchandiser="")
                self.stores.setdefault(name, StoreWork(place)).flags.append(flag)

    @property
    def days_left(self) -> int:
        """Days of the window that are left, today included; 0 once it has closed."""
        gone, every = window_days(self.facts)
        return every - gone

    def go_back(self) -> list[StoreWork]:
        """Stores that a merchandiser has to visit again, by merchandiser."""
        waiting = [
            work
            for work in self.stores.values()
            if self.states.get(work.store.store) == "go back" and work.by("merchandiser")
        ]
        return sorted(waiting, key=lambda work: work.store.merchandiser)

    def minutes(self, work: StoreWork) -> int:
        """What putting a store right takes there, in minutes: the whole planned visit where nothing is built, at least
        half of it where the display is built in part, else a share for each tray.
        """
        whole = self._whole_visit
        built = next((flag["found"] for flag in work.of("not_built")), "")
        if whole and built == "no":
            return whole
        least = -(-whole // 2) if whole and built else 0
        a_tray = whole / len(self.program.walk) if whole and self.program.walk else TRAY_MINUTES
        needed = REACH_MINUTES + math.ceil(a_tray * len(work.trays))
        return max(min(needed, whole), least) if whole else needed

    def asks(self) -> Iterator[tuple[Store, list[Ask]]]:
        """What each store has to do itself."""
        for work in self.stores.values():
            if asked := [*_asks("print", work.of(*PRINT_KINDS)), *_asks("find", work.of(*FIND_KINDS))]:
                yield work.store, asked

    def parcels(self) -> list[Parcel]:
        """Everything the office sends, labels in the order of the kit, then parts."""
        made = [parcel for work in self.stores.values() for parcel in self._parcels(work)]
        order = {key: number for number, key in enumerate(_keys(self.program))}
        return sorted(made, key=lambda one: (one.what != "label", order.get(one.key, len(order)), one.key))

    def _parcels(self, work: StoreWork) -> Iterator[Parcel]:
        by = "merchandiser" if self.states.get(work.store.store) == "go back" and work.by("merchandiser") else "office"
        for what, counts in (("label", work.labels), ("part", work.parts)):
            yield from (Parcel(what, key, count, work.store, by) for key, count in counts.items())

    def to_correct(self) -> Iterator[tuple[FileResult, Finding]]:
        """What the sender of each return has to put right, cell by cell."""
        for result in self.facts.results:
            if result.outcome == "to correct":
                yield from ((result, one) for one in to_put_right(result))

    def not_back(self) -> list[Store]:
        """Stores of which no return came, by merchandiser."""
        missing = [store for store in self.program.stores if self.states.get(store.store) == "not back"]
        return sorted(missing, key=lambda store: store.merchandiser)


def window_days(facts: Facts) -> tuple[int, int]:
    """Days of the window that are gone, today not among them, and all of them: its first and last day count."""
    settings = facts.program.settings
    every = (settings.due - settings.starts).days + 1
    return min(max((facts.as_of - settings.starts).days, 0), every), every


def to_put_right(result: FileResult) -> list[Finding]:
    """What the sender of a return has to put right; where nothing in it is wrong, why it is to be corrected."""
    found = [one for one in result.findings if one.severity == "must mend"]
    return found or ([result.reason] if isinstance(result.reason, Finding) else [])


def _keys(program: Program) -> Iterator[str]:
    yield from (label.brand for label in program.labels)
    yield from (part.part for part in program.parts)


def _asks(what: str, flags: Iterable[FlagRow]) -> Iterator[Ask]:
    """One ask an item code; a tray counts one tag, goods count what is short of the plan."""
    by_code: dict[str, list[FlagRow]] = defaultdict(list)
    for flag in flags:
        by_code[flag["item_code"]].append(flag)
    for code, same in by_code.items():
        counts = [1 if what == "print" else _short(flag) for flag in same]
        known = [count for count in counts if count is not None]
        trays = tuple(dict.fromkeys(flag["position"] for flag in same))
        yield Ask(what, code, trays, sum(known) if len(known) == len(counts) else None)


def _short(flag: FlagRow) -> int | None:
    """How many units are lacking; None when the plan or the return does not tell."""
    if not flag["due"].isdigit():
        return None
    if flag["kind"] == "item_missing":
        return int(flag["due"])
    return int(flag["due"]) - int(flag["found"]) if flag["found"].isdigit() else None
