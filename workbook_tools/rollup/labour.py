"""What the visits took, in exact minutes from time in to time out, against the plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from workbook_tools.program.hours import visit_minutes
from workbook_tools.program.model import Program
from workbook_tools.rollup.merge import Facts


@dataclass
class Labour:
    """One person's visits: the `timed` ones, whose times can be used, took `seconds`; the others are `untimed`."""

    merchandiser: str
    timed: int = 0
    seconds: int = 0
    untimed: int = 0

    @property
    def visits(self) -> int:
        """All visits."""
        return self.timed + self.untimed

    @property
    def total(self) -> Fraction:
        """The minutes of all visits with times, exact."""
        return Fraction(self.seconds, 60)


def planned_minutes(program: Program) -> int | float | None:
    """The plan's minutes for a visit: as given, else the sum of the steps; None when neither is told."""
    minutes, _ = visit_minutes(program.settings.visit_minutes, (step.minutes for step in program.steps))
    return minutes


def labour(facts: Facts) -> list[Labour]:
    """Everyone who made a visit, in the order of the setup, then others by name."""
    people: dict[str, Labour] = {}
    for name, seconds in _visits(facts):
        person = people.setdefault(name, Labour(name))
        if seconds is None:
            person.untimed += 1
        else:
            person.timed += 1
            person.seconds += seconds
    known = {name: number for number, name in enumerate(facts.program.merchandiser)}
    return sorted(people.values(), key=lambda one: (known.get(one.merchandiser, len(known)), one.merchandiser))


def everyone(people: Iterable[Labour]) -> Labour:
    """All visits together."""
    whole = Labour("")
    for person in people:
        whole.timed += person.timed
        whole.seconds += person.seconds
        whole.untimed += person.untimed
    return whole


def _visits(facts: Facts) -> Iterator[tuple[str, int | None]]:
    stores = facts.program.store
    for row in facts.visits.iter_rows(named=True):
        store = stores.get(row["store"])
        yield row["merchandiser"] or (store.merchandiser if store else ""), _between(row["time_in"], row["time_out"])


def _between(start: dt.time | None, end: dt.time | None) -> int | None:
    """Seconds from one time of day to a later one; None when one is missing or the second is not later."""
    if start is None or end is None or end <= start:
        return None
    return _seconds(end) - _seconds(start)


def _seconds(time: dt.time) -> int:
    return (time.hour * 60 + time.minute) * 60 + time.second
