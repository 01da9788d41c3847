"""What the visits took, in exact minutes from time in to time out, against the plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from workbook_tools.program.hours import visit_minutes
from workbook_tools.program.model import Program
from workbook_tools.rollup.merge import Facts


@dataclass
class Labour:
    """One merchandiser's visits. `minutes` has one for each visit whose times can be used; the others are `untimed`."""

    merchandiser: str
    minutes: list[Fraction] = field(default_factory=list)
    untimed: int = 0

    @property
    def visits(self) -> int:
        """All visits."""
        return len(self.minutes) + self.untimed

    @property
    def total(self) -> Fraction:
        """The minutes of all visits with times, summed exactly."""
        return sum(self.minutes, Fraction(0))


def planned_minutes(program: Program) -> int | float | None:
    """The plan's minutes for a visit: as given, else the sum of the steps; None when neither is told."""
    minutes, _ = visit_minutes(program.settings.visit_minutes, (step.minutes for step in program.steps))
    return minutes


def labour(facts: Facts) -> list[Labour]:
    """Everyone who made a visit, in the order of the setup, then others by name."""
    people: dict[str, Labour] = {}
    for name, minutes in _visits(facts):
        person = people.setdefault(name, Labour(name))
        if minutes is None:
            person.untimed += 1
        else:
            person.minutes.append(minutes)
    known = {name: number for number, name in enumerate(facts.program.merchandiser)}
    return sorted(people.values(), key=lambda one: (known.get(one.merchandiser, len(known)), one.merchandiser))


def everyone(people: Iterable[Labour]) -> Labour:
    """All visits together."""
    whole = Labour("")
    for person in people:
        whole.minutes += person.minutes
        whole.untimed += person.untimed
    return whole


def _visits(facts: Facts) -> Iterator[tuple[str, Fraction | None]]:
    stores = facts.program.store
    for row in facts.visits.iter_rows(named=True):
        store = stores.get(row["store"])
        yield row["merchandiser"] or (store.merchandiser if store else ""), _between(row["time_in"], row["time_out"])


def _between(start: dt.time | None, end: dt.time | None) -> Fraction | None:
    """Minutes from one time of day to a later one; None when one is missing or the second is not later."""
    if start is None or end is None or end <= start:
        return None
    return Fraction(_seconds(end) - _seconds(start), 60)


def _seconds(time: dt.time) -> int:
    return (time.hour * 60 + time.minute) * 60 + time.second
