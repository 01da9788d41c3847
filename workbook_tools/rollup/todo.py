"""The five things to do today: of all that is open, what opens the most stores."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from workbook_tools.contract.words import Words
from workbook_tools.program.hours import clock_hours
from workbook_tools.program.model import Program
from workbook_tools.returns.judge import FileResult
from workbook_tools.rollup.often import BRAND, POSITION
from workbook_tools.rollup.short_list import short_list
from workbook_tools.rollup.work import Ask, Parcel, Work

MOST = 5
_MOST_NAMES = 3
"""How many things are listed, and how many names a sentence has."""
_KIT = {POSITION: "kit_position", BRAND: "kit_brand"}


@dataclass(frozen=True)
class Todo:
    """One thing to do: words key under `rollup.todo`, its fields, where its rows stand, how many stores it opens.

    One that is `urgent` comes before all others. `things` are counted in its sentence (see `say_things`).
    """

    key: str
    fields: dict[str, object]
    place: str
    stores: int
    urgent: bool = False
    things: Mapping[str, int] = field(default_factory=dict)

    def say(self, words: Words) -> str:
        """Its sentence."""
        return words(f"rollup.todo.{self.key}", **self.fields, what=say_things(words, self.things))


@dataclass(frozen=True)
class KitFault:
    """A position that is wrong far more often than the rest, in so many stores; a brand, at so many trays."""

    name: str
    wrong: int
    seen: int
    about: str = POSITION


def say_things(words: Words, counts: Mapping[str, int]) -> str:
    """What there is of two kinds of things, labels and parts or tags and goods: "3 labels and 1 part"."""
    said = [words(f"rollup.things.{what}", count=count) for what, count in counts.items() if count]
    return words("rollup.things.both", one=said[0], other=said[1]) if len(said) == 2 else "".join(said)


def five_things(work: Work, faults: Sequence[KitFault]) -> list[Todo]:
    """At most five, the most urgent first; equal ones in the order in which they are listed here."""
    made = [todo for todo in _todos(work, faults) if todo.stores]
    return sorted(made, key=lambda todo: (not todo.urgent, -todo.stores))[:MOST]


def _todos(work: Work, faults: Sequence[KitFault]) -> Iterator[Todo]:
    for fault in faults[:2]:
        about = {"name": fault.name, "wrong": fault.wrong, "seen": fault.seen}
        yield Todo(_KIT[fault.about], about, "often", fault.wrong, urgent=True)
    yield _storeless(work.facts.results)
    aside = sum(result.outcome == "set aside" for result in work.facts.results)
    yield Todo("set_aside", {"count": aside}, "outcomes.set aside", aside)
    begun = work.facts.as_of >= work.program.settings.starts
    missing = work.not_back() if begun else []
    late = not work.days_left
    who = _people(work.program, (store.merchandiser for store in missing))
    key = "not_back_closed" if late else "not_back"
    yield Todo(key, {"count": len(missing), "days": work.days_left, "who": who}, "not_back", len(missing), urgent=late)
    yield _to_correct(work)
    yield _go_back(work)
    yield _ask(work)
    yield _send(work)


def _storeless(results: Iterable[FileResult]) -> Todo:
    """Returns that wait for their sender to say which store they are of; no store waits for them, so no other thing to
    do is about them.
    """
    found = [result for result in results if result.outcome == "to correct" and not result.store]
    who = [f"{result.file} ({result.sender})" if result.sender else result.file for result in found]
    about = {"count": len(found), "who": short_list(who, _MOST_NAMES)}
    return Todo("storeless", about, "to_correct", len(found), urgent=True)


def _people(program: Program, names: Iterable[str]) -> str:
    """Who it is about, with counts, the most first: "Priya (4), Luis (3)", and how many people more."""
    counts = Counter(names).most_common()
    return short_list([f"{program.person(name).full_name} ({count})" for name, count in counts], _MOST_NAMES)


def _to_correct(work: Work) -> Todo:
    stores = [store for store, state in work.states.items() if state == "to correct"]
    who = _people(work.program, (work.program.store[store].merchandiser for store in stores))
    return Todo("to_correct", {"count": len(stores), "who": who}, "to_correct", len(stores))


def _go_back(work: Work) -> Todo:
    stores = work.go_back()
    who = _people(work.program, (one.store.merchandiser for one in stores))
    minutes = sum(map(work.minutes, stores))
    about = {"count": len(stores), "hours": clock_hours(minutes), "who": who}
    return Todo("go_back", about, "go_back", len(stores))


def _ask(work: Work) -> Todo:
    asks = [one for _, one in work.asks()]
    return Todo("ask", {"count": len(asks)}, "ask", len(asks), things=asked_things(asks))


def asked_things(asks: Iterable[Sequence[Ask]]) -> dict[str, int]:
    """Shelf tags to print, and items to find however many units of each."""
    every = [one for asked in asks for one in asked]
    tags = sum(one.count or 0 for one in every if one.what == "print")
    return {"print": tags, "find": sum(one.what == "find" for one in every)}


def _send(work: Work) -> Todo:
    parcels = work.parcels()
    stores = len({one.store.store for one in parcels})
    return Todo("send", {"stores": stores}, "office", stores, things=sent_things(parcels))


def sent_things(parcels: Iterable[Parcel]) -> dict[str, int]:
    """Labels and parts that the office sends."""
    counts: Counter[str] = Counter()
    for one in parcels:
        counts[one.what] += one.count
    return {what: counts[what] for what in ("label", "part")}
