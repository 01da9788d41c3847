"""Who could take over which stores, and the choice by a mixed integer program (scipy's HiGHS).

What a way takes depends on all stores on it, which such a program cannot say. It is told what is true of each store
alone: what the way of who has it gets shorter without it, and the shortest detour it is on the way of who might take
it. Two stores close together save more, and cost less, than that says; so what fits by it fits nearly always.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, eye_array, hstack, vstack

from workbook_tools.program.exact import exact
from workbook_tools.program.hours import Hours, Roads, Visit
from workbook_tools.program.travel import Matrix, great_circles_km, tour_length
from workbook_tools.program.ways import Point

Indexes: TypeAlias = NDArray[np.intp]
Allowed: TypeAlias = NDArray[np.bool_]

_MOVES_A_MINUTE_OVER = 10.0
_MOVES_A_MINUTE_OF_DETOUR = 0.0002
"""What a choice is measured by, in moves: first that all fits, then few moves, then short detours."""

_FAR_MINUTES = 600.0
"""Stands for a detour that is not known, unless the district is shared."""


class Task:
    """The stores that may move and the people who may take them, as arrays: a row a store, a column a person.

    stores: the visits to people whose hours are told, in order. people: those people, in order.
    minutes: of each visit. now: the person who has it. have: the minutes each person has.
    held: the person who would have it in the plan that ways are seen from, at first `now`.
    way: the minutes a store adds to a person's way, 0 where that is not known; `known` says where it is.
    rest: the minutes of a person's way that no store of theirs adds alone.
    cost: the same for choosing, where what is not known counts as far away.
    """

    def __init__(
        self,
        visits: Sequence[Visit],
        people: Sequence[Hours],
        roads: Roads,
        held: Indexes | None = None,
        *,
        hopeful: bool = False,
    ) -> None:
        self.hopeful = hopeful
        self.roads = roads
        self.people = tuple(person for person in people if person.hours is not None)
        column = {person.merchandiser: index for index, person in enumerate(self.people)}
        self.stores = tuple(visit for visit in visits if visit.merchandiser in column)
        self.have = np.array([60 * float(exact(person.hours or 0)) for person in self.people])
        self.minutes = np.array([float(exact(visit.minutes)) for visit in self.stores])
        self.now: Indexes = np.array([column[visit.merchandiser] for visit in self.stores], dtype=np.intp)
        self.held = self.now if held is None else held
        shape = (len(self.stores), len(self.people))
        self.way, self.cost, self.known = np.zeros(shape), np.full(shape, _FAR_MINUTES), np.zeros(shape, dtype=bool)
        self.rest = np.zeros(len(self.people))
        self._see_districts()
        self._see_ways()

    def seen_from(self, held: Indexes, *, hopeful: bool) -> Task:
        """The same task with the ways as they are in another plan."""
        return Task(self.stores, self.people, self.roads, held, hopeful=hopeful)

    def _see_districts(self) -> None:
        districts = np.array([visit.district for visit in self.stores])
        for person in range(len(self.people)):
            theirs = set(districts[self.held == person]) - {""}
            self.cost[np.isin(districts, list(theirs)), person] = 0

    def _see_ways(self) -> None:
        placed = np.array([row for row, visit in enumerate(self.stores) if visit.point is not None], dtype=np.intp)
        points = [visit.point for visit in self.stores if visit.point is not None]
        for person in range(len(self.people)):
            theirs = np.flatnonzero(self.held[placed] == person)
            if theirs.size:
                detours, whole = _detours_km(points, theirs, hopeful=self.hopeful)
                self.way[placed, person] = detours * self.roads.minutes(1)
                self.rest[person] = self.roads.minutes(whole) - self.way[placed[theirs], person].sum()
                self.cost[placed, person] = self.way[placed, person]
                self.known[placed, person] = True

    def allowed(self, reach: int) -> Allowed:
        """Whom a store may go to: who has it or would, the `reach` others nearest to it, and people without a store."""
        rows = np.arange(len(self.now))
        rank = self.cost.copy()
        rank[rows, self.now] = rank[rows, self.held] = -1
        nearest = np.argsort(rank, axis=1, kind="stable")[:, : reach + 1]
        allowed: Allowed = np.zeros(rank.shape, dtype=bool)
        allowed[rows[:, None], nearest] = True
        allowed[:, np.setdiff1d(np.arange(len(self.people)), self.held)] = True
        return allowed

    def load(self, chosen: Indexes) -> Matrix:
        """Each person's minutes as the program sees them, when every store goes to the person chosen for it."""
        each = self.minutes + self.way[np.arange(len(chosen)), chosen]
        return self.rest + np.bincount(chosen, weights=each, minlength=len(self.people))


class Choice(NamedTuple):
    """The person chosen for each store, and whether no better choice exists as the program sees it."""

    chosen: Indexes
    proven: bool


def choose(task: Task, allowed: Allowed, seconds: float) -> Choice | None:
    """Choose so that everyone's minutes are within what they have as far as can be; None if time was too short."""
    store, person = np.nonzero(allowed)
    pairs, stores, people = len(store), len(task.stores), len(task.people)
    columns = np.arange(pairs)
    once = csr_array((np.ones(pairs), (store, columns)), shape=(stores, pairs))
    each = task.minutes[store] + task.way[store, person]
    taken = csr_array((each, (person, columns)), shape=(people, pairs))
    # One more variable a person, the minutes over: so there is always an answer, and it says by how much.
    rows = vstack([hstack([once, csr_array((stores, people))]), hstack([taken, -eye_array(people)])]).tocsr()
    moved = (person != task.now[store]) * (1 + _MOVES_A_MINUTE_OF_DETOUR * task.cost[store, person])
    boundless = np.full(people, np.inf)
    result: Any = milp(
        np.append(moved, np.full(people, _MOVES_A_MINUTE_OVER)),
        integrality=np.append(np.ones(pairs), np.zeros(people)),
        bounds=Bounds(0, np.append(np.ones(pairs), boundless)),
        constraints=LinearConstraint(
            rows, np.append(np.ones(stores), -boundless), np.append(np.ones(stores), task.have - task.rest)
        ),
        options={"time_limit": seconds},
    )
    if result.x is None:
        return None
    picked = result.x[:pairs] > 0.5
    chosen = task.now.copy()
    chosen[store[picked]] = person[picked]
    return Choice(chosen, bool(result.status == 0))


def _detours_km(points: Sequence[Point], theirs: Indexes, *, hopeful: bool) -> tuple[Matrix, float]:
    """Km that each point adds to the way through `theirs` (indexes), and the length of that way."""
    own = [points[index] for index in theirs]
    tour = tour_length(own)
    met = [own[index] for index in tour.order]
    within = great_circles_km(met, met)
    legs = within.diagonal(1)
    apart = great_circles_km(points, met)
    detours: Matrix = np.minimum(apart[:, 0], apart[:, -1])
    if legs.size:
        detours = np.minimum(detours, (apart[:, :-1] + apart[:, 1:] - legs).min(axis=1))
    # Without one of its own stores, a way goes straight from the one before to the one after; at its ends, not at all.
    # A leg between two stores is not saved twice, so each saves no more than half of the legs beside it.
    beside = np.append(legs, 0) + np.append(0, legs)
    straight = np.append(np.append(0, within.diagonal(2)), 0)[: len(met)]
    saved = beside - straight
    detours[theirs[list(tour.order)]] = saved if hopeful else np.minimum(saved, beside / 2)
    return detours, tour.km
