"""Hours: what each merchandiser's visits and the ways between them take, against the hours they have.

Minutes are summed exactly and turned into hours once, for showing: three visits of 20 minutes are 1.00 h, not 0.99.
Ways are estimates (ways.py states what they assume), rounded to whole minutes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from workbook_tools.program.exact import Number, exact, half_up, not_negative, plain
from workbook_tools.program.ways import ROAD_FACTOR, ROAD_SPEED_KM_H, Point, road_minutes, simple_tour


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One store and who goes there; `minutes` is the visit without the way. `point` is None where it is not known."""

    store: str
    merchandiser: str
    minutes: Number
    point: Point | None = None
    district: str = ""


@dataclass(frozen=True, slots=True)
class Hours:
    """The hours a merchandiser has for the program; None when they are not told."""

    merchandiser: str
    hours: Number | None = None


@dataclass(frozen=True, slots=True)
class Roads:
    """What is assumed of the ways: road length over great circle, and the speed in km an hour."""

    factor: float = ROAD_FACTOR
    speed_km_h: float = ROAD_SPEED_KM_H

    def minutes(self, km: float) -> float:
        """The minutes that the road of a great circle of `km` takes."""
        return road_minutes(km, self.factor, self.speed_km_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Workload:
    """One merchandiser's minutes.

    travel_minutes: one way through all their stores whose place is known, from the first to the last: the ways from
        and to home, and to the `unplaced` stores, are not in it. need_minutes: visits and travel.
    have_minutes: None when their hours are not told; then over_minutes is None too, else 0 when all fits.
    """

    merchandiser: str
    visits: int
    unplaced: int
    visit_minutes: int | float
    travel_minutes: int
    need_minutes: int | float
    have_minutes: int | float | None
    over_minutes: int | float | None

    @property
    def is_over(self) -> bool:
        """Whether they need more than they are known to have."""
        return bool(self.over_minutes)


def visit_minutes(given: Number | None, steps: Iterable[Number | None]) -> tuple[int | float | None, int]:
    """The minutes of one visit and how many steps have none: as given, else the sum of the steps that have some.

    The minutes are None when nothing is told.

    Raises:
        ValueError: a number is below 0.
    """
    known = list(steps)
    timed = [not_negative(minutes) for minutes in known if minutes is not None]
    untimed = len(known) - len(timed)
    if given is not None:
        return plain(not_negative(given)), untimed
    return (plain(sum(timed, Fraction(0))) if timed else None), untimed


def is_surely_enough(visits: Sequence[Visit], hours: Number, roads: Roads) -> bool:
    """Whether the hours hold the visits and a simple way through all stores, so that the shortest one fits too.

    Much faster than `workload`, which answers where this is false.

    Raises:
        ValueError: as for `workloads`.
    """
    alike = Counter(visit.minutes for visit in visits)
    at_stores = sum((not_negative(minutes) * count for minutes, count in alike.items()), Fraction(0))
    spare = not_negative(hours) * 60 - at_stores
    points = [visit.point for visit in visits if visit.point is not None]
    return spare >= 0 and (len(points) < 2 or round(roads.minutes(simple_tour(points).km)) <= spare)


def decimal_hours(minutes: Number) -> float:
    """Minutes as hours with two decimals, for showing only: 5 minutes are 0.08 h."""
    return float(half_up(exact(minutes) / 60, 2))


def clock_hours(minutes: int) -> str:
    """Minutes as hours and minutes, for showing only: 75 are "1:15"."""
    return f"{minutes // 60}:{minutes % 60:02}"


def workloads(visits: Sequence[Visit], people: Sequence[Hours], roads: Roads | None = None) -> tuple[Workload, ...]:
    """Everyone's minutes: people in their order, then those whom only a visit names.

    Raises:
        ValueError: minutes or hours are below 0, or a point is none.
    """
    theirs: dict[str, list[Visit]] = {person.merchandiser: [] for person in people}
    for visit in visits:
        theirs.setdefault(visit.merchandiser, []).append(visit)
    hours = {person.merchandiser: person.hours for person in people}
    roads = roads or Roads()
    return tuple(workload(name, stores, hours.get(name), roads) for name, stores in theirs.items())


def workload(merchandiser: str, visits: Sequence[Visit], hours: Number | None, roads: Roads) -> Workload:
    """One merchandiser's minutes.

    Raises:
        ValueError: as for `workloads`.
    """
    from workbook_tools.program.travel import tour_length  # noqa: PLC0415 - loads a library of its own

    at_stores = sum((not_negative(visit.minutes) for visit in visits), Fraction(0))
    points = [visit.point for visit in visits if visit.point is not None]
    on_the_way = round(roads.minutes(tour_length(points).km))
    need = at_stores + on_the_way
    have = None if hours is None else not_negative(hours) * 60
    return Workload(
        merchandiser=merchandiser,
        visits=len(visits),
        unplaced=len(visits) - len(points),
        visit_minutes=plain(at_stores),
        travel_minutes=on_the_way,
        need_minutes=plain(need),
        have_minutes=None if have is None else plain(have),
        over_minutes=None if have is None else plain(max(Fraction(0), need - have)),
    )
