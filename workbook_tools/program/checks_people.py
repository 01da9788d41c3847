"""Do the visits fit the hours: minutes of a visit, hours of everyone, people without a store."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.contract.tables import Row
from workbook_tools.program.exact import exact
from workbook_tools.program.hours import (
    Roads,
    Visit,
    Workload,
    decimal_hours,
    is_surely_enough,
    visit_minutes,
    workload,
)
from workbook_tools.program.view import View, listed, number, text

_FEWEST_MINUTES, _MOST_MINUTES = 10, 480
"""A visit in which a display is built takes longer than the one and less than the other, a working day: an assumption.
"""
_ROADS = Roads()
_LONG_WAY = 150
"""Stores of one person up to which a way through all of them is worked out to say how far they are over."""


def check_people(view: View) -> Iterator[Finding]:
    """What stands against visiting every store in time."""
    yield from _minutes(view)
    yield from _hours(view)


def minutes_of_visit(view: View) -> tuple[int | float | None, int]:
    """The minutes of one visit as given or from the steps, and how many steps have none."""
    steps = [number(row, "minutes") for row in view.rows("steps")]
    return visit_minutes(_positive(view), [one if one is None or one >= 0 else None for one in steps])


def visits_by_person(view: View, minutes: float) -> dict[str, list[Visit]]:
    """Everyone's visits, in the order of the store list; everyone on the Merchandisers sheet has an entry."""
    found: dict[str, list[Visit]] = {name: [] for row in view.rows("merchandisers") if (name := _name(row))}
    for row in view.rows("stores"):
        person, store = text(row, "merchandiser"), text(row, "store")
        if person in found:
            place, district = view.store_places.trusted(row.number), text(row, "district")
            found[person].append(
                Visit(store=store, merchandiser=person, minutes=minutes, point=place, district=district)
            )
    return found


def _name(row: Row) -> str:
    return text(row, "merchandiser")


def _positive(view: View) -> float | None:
    value = view.setting("visit_minutes")
    return value if isinstance(value, int | float) and value > 0 else None


def _minutes(view: View) -> Iterator[Finding]:
    """A visit of minutes that look like hours, or longer than a day; steps that take longer than it is planned for."""
    given = _positive(view)
    steps = [value for row in view.rows("steps") if (value := number(row, "minutes")) is not None and value >= 0]
    total = sum(map(exact, steps), Fraction(0))
    row = view.setting_row("visit_minutes")
    if row and given is not None and not _FEWEST_MINUTES <= given <= _MOST_MINUTES:
        yield view.at("program", "minutes_odd", row, "visit_minutes")
    if row and given is not None and total > exact(given):
        yield view.at("program", "steps_longer", row, "visit_minutes", total=f"{float(total):g}")


def _hours(view: View) -> Iterator[Finding]:
    rows = {_name(row): row for row in reversed(view.rows("merchandisers")) if _name(row)}
    minutes, _ = minutes_of_visit(view)
    theirs = visits_by_person(view, minutes or 0)
    if not any(theirs.values()):
        return
    for person, visits in theirs.items():
        if not visits:
            yield view.at("merchandisers", "no_stores", rows[person], "merchandiser", person=person)
    yield from _unknown_hours(view, rows, theirs, minutes)
    for person, visits in theirs.items() if minutes else ():
        if load := _over(person, visits, number(rows[person], "hours")):
            yield view.at("merchandisers", "hours_over", rows[person], "hours", **_told(person, load, minutes))


def _unknown_hours(
    view: View, rows: Mapping[str, Row], theirs: Mapping[str, Sequence[Visit]], minutes: float | None
) -> Iterator[Finding]:
    """One note where hours are told and cannot be judged, or where only some are."""
    told = [person for person in theirs if number(rows[person], "hours") is not None]
    row = view.setting_row("visit_minutes")
    if told and minutes is None and row:
        yield view.at("program", "minutes_not_told", row, "visit_minutes")
    silent = [
        person for person in theirs if theirs[person] and "hours" not in {*rows[person].values, *rows[person].broken}
    ]
    if told and silent:
        yield view.at("merchandisers", "hours_not_told", rows[silent[0]], "hours", names=listed(silent))


def _over(person: str, visits: Sequence[Visit], hours: float | None) -> Workload | None:
    """The minutes of someone who needs more than they have, or None."""
    if hours is None or hours < 0 or is_surely_enough(visits, hours, _ROADS):
        return None
    if len(visits) > _LONG_WAY:
        visits = [Visit(store=one.store, merchandiser=person, minutes=one.minutes) for one in visits]
    load = workload(person, visits, hours, _ROADS)
    return load if load.is_over else None


def _told(person: str, load: Workload, minutes: float | None) -> dict[str, object]:
    return {
        "person": person,
        "visits": load.visits,
        "minutes": f"{minutes:g}",
        "need": f"{decimal_hours(load.need_minutes):g}",
        "have": f"{decimal_hours(load.have_minutes or 0):g}",
        "way": _way(load),
    }


def _way(load: Workload) -> Phrase:
    """What there is to say of the way between the visits: what it takes, or that it is not known."""
    if load.visits - load.unplaced > 1:
        hours = f"{decimal_hours(load.travel_minutes):g}"
        return Phrase("check.way", {"travel": hours, "factor": _ROADS.factor, "speed": f"{_ROADS.speed_km_h:g}"})
    return Phrase("check.way_unknown" if load.visits > 1 else "check.way_none")
