"""The outlook in sentences: how many stores will be done, the pace that needs, who will not make it."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from workbook_tools.contract.words import Words
from workbook_tools.program.calendar import DAY, window_of_stores
from workbook_tools.program.exact import exact
from workbook_tools.program.model import Program, Store
from workbook_tools.rollup.between import between
from workbook_tools.rollup.labour import Labour, labour, planned_minutes
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.outlook import LEAST_DAYS, LEAST_DONE, Late, Outlook, Progress, TooEarly, outlook
from workbook_tools.rollup.short_list import short_list

MOST_NAMES = 6
"""How many people a sentence names."""


@dataclass(frozen=True)
class Foresight:
    """The outlook of a program of so many stores, or why there is none yet."""

    program: Program
    stores: int
    found: Outlook | TooEarly
    as_of: dt.date

    def say(self, words: Words) -> Iterator[str]:
        """The outlook, the sentence that matters first."""
        found = self.found
        if isinstance(found, TooEarly) and self.stores <= LEAST_DONE:
            yield words("rollup.outlook.too_few", stores=self.stores)
            return
        if isinstance(found, TooEarly):
            about = {"days": found.days, "least_days": LEAST_DAYS, "done": found.done, "least_done": LEAST_DONE}
            yield words("rollup.outlook.too_early", **about)
            return
        if not found.left:
            yield words("rollup.outlook.all_done", stores=self.stores)
            return
        closes = self.program.settings.due.isoformat()
        if found.closes is None:
            key = "closed" if self.as_of > self.program.settings.due else "no_days"
            yield words(f"rollup.outlook.{key}", done=found.done, stores=self.stores, due=closes)
            return
        ends = {"low": found.low, "middle": found.middle, "high": found.high}
        if found.low == found.high:
            yield words("rollup.outlook.narrow", closes=closes, stores=self.stores, low=found.low)
        else:
            yield words("rollup.outlook.range", closes=closes, stores=self.stores, **ends)
        if found.pace is not None and found.needed is not None:
            pace, needed = (words.number(float(one), ".1f") for one in (found.pace, found.needed))
            yield words("rollup.outlook.pace", pace=pace, needed=needed)
        if found.changing:
            yield words("rollup.outlook.growing" if found.changing > 0 else "rollup.outlook.falling")

    def say_late(self, words: Words) -> Iterator[str]:
        """Who will not make it, those with the most stores left first, and who has not begun; nothing once the window
        has closed.
        """
        if isinstance(self.found, Outlook) and self.found.closes is None:
            return
        for reason in ("hours", "pace"):
            late = sorted((one for one in self.found.late if one.reason == reason), key=lambda one: -one.stores)
            about = [words("rollup.outlook.late", **self._about(one)) for one in late]
            if late:
                yield words(f"rollup.outlook.late_{reason}", who=short_list(about, MOST_NAMES))
        if isinstance(self.found, Outlook) and self.found.not_begun:
            names = [self.program.person(one).full_name for one in self.found.not_begun]
            yield words("rollup.outlook.not_begun", who=short_list(names, MOST_NAMES))

    def _about(self, one: Late) -> dict[str, object]:
        who = self.program.person(one.merchandiser).full_name
        return {"who": who, "stores": one.stores, "expected": one.expected}


def foresee(facts: Facts) -> Foresight:
    """The outlook from the days and stores so far. A store is done on the day of the visit that left nothing open.

    Working days are those of the setup's country, without weekends and public holidays, or Monday to Friday where none
    is told; besides, days on which visits were made, and the days of a weekend on whose weekday some were. Today is
    over once a visit of today is back.
    """
    visited = {day for day in facts.status["visit_date"] if day is not None}
    tomorrow = facts.as_of + DAY if facts.as_of in visited else facts.as_of
    days = _working(facts.program, visited)
    # What was done before the first working day was done all the same: it needs a day to count on.
    gone = [day for day in days if day < tomorrow] or [facts.as_of]
    left = [day for day in days if day >= tomorrow]
    return Foresight(facts.program, facts.status.height, outlook(_people(facts, gone), left), facts.as_of)


def _working(program: Program, visited: set[dt.date]) -> list[dt.date]:
    settings = program.settings
    regions = (store.region for store in program.stores)
    found = window_of_stores(settings.starts, settings.due, settings.country, regions)
    weekdays = {day.weekday() for day in visited}
    off = {holiday.day for holiday in found.holidays}
    weekend = {day for day in found.weekend if day.weekday() in weekdays and day not in off}
    inside = {day for day in visited if settings.starts <= day <= settings.due}
    return sorted({*found.working, *weekend, *inside})


def _people(facts: Facts, gone: Sequence[dt.date]) -> list[Progress]:
    """Everyone who has stores, in the order of the stores."""
    done: dict[str, Counter[int]] = defaultdict(Counter)
    left: Counter[str] = Counter()
    for row in facts.status.select("merchandiser", "state", "visit_date").iter_rows(named=True):
        if row["state"] == "done":
            done[row["merchandiser"]][_which(gone, row["visit_date"])] += 1
        left[row["merchandiser"]] += row["state"] != "done"
    visits = _visits_left(facts)
    return [
        Progress(name, tuple(done[name][number] for number in range(len(gone))), stores, visits.get(name))
        for name, stores in left.items()
    ]


def _which(gone: Sequence[dt.date], when: dt.date | None) -> int:
    """The number, from 0, of the last day gone that was not after a visit; of the first one where there is none."""
    return max(sum(day <= when for day in gone) - 1, 0) if when else 0


def _visits_left(facts: Facts) -> dict[str, int]:
    """How many more visits the hours of each merchandiser who told them allow: each takes what is planned, and the
    mean way between their stores where it is known.
    """
    plan = planned_minutes(facts.program)
    if not plan:
        return {}
    made = {one.merchandiser: one for one in labour(facts)}
    theirs: dict[str, list[Store]] = defaultdict(list)
    for store in facts.program.stores:
        theirs[store.merchandiser].append(store)
    left = {}
    for name, person in facts.program.merchandiser.items():
        if person.hours is not None:
            ways = between(facts.program, theirs[name])
            way = Fraction(ways.minutes, ways.legs) if ways.legs else Fraction(0)
            free = exact(person.hours) * 60 - _used(made.get(name, Labour(name)), exact(plan), way)
            left[name] = max(int(free / (exact(plan) + way)), 0)
    return left


def _used(one: Labour, plan: Fraction, way: Fraction) -> Fraction:
    """The minutes of someone's visits so far, with the ways to them; one without times counts as planned."""
    return one.total + one.untimed * plan + one.visits * way
