"""A proposal who should take over which stores: the fewest moves after which everyone's visits fit their hours.

A solver chooses by estimated detours (handover.py). Its choice is measured with whole tours, and what they show is put
right: a store more, or two stores at once, where minutes are still over; one less where that does as well. Then the
solver chooses again by the detours of the plan so far, as long as that finds better. Without any ways the answer is
the best there is; with them it need not be: now and then fewer moves would do, or a plan a few minutes short would fit.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count
from typing import Literal, TypeAlias

import numpy as np

from workbook_tools.program.exact import exact, plain
from workbook_tools.program.handover import Allowed, Indexes, Task, choose
from workbook_tools.program.hours import Hours, Roads, Visit, Workload, workload, workloads

Verdict = Literal["fits", "balanced", "short"]
Step: TypeAlias = tuple[tuple[int, int], ...]
"""Stores, each with the person it goes to."""

SECONDS = 5.0
"""Most time for a proposal; what was best by then is proposed."""

_REACHES = (5, 12, 1_000_000)
"""Merchandisers besides the present one who are tried for each store: those nearest to it, and more when that fails."""

_ROUNDS = 4

_LITTLE = 1e-6

_FOR_ONE = 0.6
"""Share of the time left that one solution, and putting it right, may take, so that some is left for what follows."""


@dataclass(frozen=True, slots=True)
class Move:
    """One store to be taken over; `detour_minutes` is about what it adds to the taker's way, None if not known."""

    store: str
    giver: str
    taker: str
    detour_minutes: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """What would balance the hours.

    verdict: 'fits' nothing need be moved; 'balanced' all fits after the moves; 'short' it does not: the moves bring it
        as far as was found, and `short_minutes` are still over, summed over everyone.
    moves: in the order of the visits. before, after: everyone's minutes, in one order.
    finished: false when time ran out; then more time may find better, and a second run may propose otherwise.
    """

    verdict: Verdict
    moves: tuple[Move, ...]
    before: tuple[Workload, ...]
    after: tuple[Workload, ...]
    short_minutes: int | float
    finished: bool


def balance(
    visits: Sequence[Visit], people: Sequence[Hours], roads: Roads | None = None, *, seconds: float = SECONDS
) -> Balance:
    """Propose the fewest moves after which all fits; of equally few, those with the shortest detours.

    Only people whose hours are told give or take stores. Meant for up to 1,000 stores and 40 merchandisers at a time.

    Raises:
        ValueError: as for `hours.workloads`.
    """
    roads = roads or Roads()
    before = workloads(visits, people, roads)
    if not any(load.is_over for load in before):
        return Balance(verdict="fits", moves=(), before=before, after=before, short_minutes=0, finished=True)
    task = Task(visits, people, roads)
    best, finished = _best_plan(task, _Ruler(task, roads), time.monotonic() + seconds)
    return Balance(
        verdict="short" if best.over else "balanced",
        moves=tuple(best.moves()),
        before=before,
        after=workloads(list(_with_takers(visits, best)), people, roads),
        short_minutes=plain(best.over),
        finished=finished,
    )


def _with_takers(visits: Sequence[Visit], plan: _Plan) -> Iterator[Visit]:
    """The visits as they are in a plan; those to people whose hours are not told stay."""
    names = {person.merchandiser for person in plan.task.people}
    rows = count()
    for visit in visits:
        yield replace(visit, merchandiser=plan.taker(next(rows))) if visit.merchandiser in names else visit


class _Ruler:
    """Measures a person's minutes with given stores by a whole tour, each once."""

    def __init__(self, task: Task, roads: Roads) -> None:
        self._task, self._roads = task, roads
        self._known: dict[tuple[int, tuple[int, ...]], Workload] = {}

    def __call__(self, person: int, stores: tuple[int, ...]) -> Workload:
        key = (person, stores)
        if key not in self._known:
            who = self._task.people[person]
            theirs = [self._task.stores[store] for store in stores]
            self._known[key] = workload(who.merchandiser, theirs, who.hours, self._roads)
        return self._known[key]


class _Plan:
    """A person for each store, with everyone's minutes measured."""

    def __init__(self, task: Task, ruler: _Ruler, chosen: Indexes) -> None:
        self.task, self.ruler, self.chosen = task, ruler, chosen.copy()
        self.loads = [self._measured(person) for person in range(len(task.people))]

    @property
    def over(self) -> Fraction:
        """Minutes over, summed over everyone."""
        return sum(map(_over, self.loads), Fraction(0))

    @property
    def moved(self) -> Indexes:
        """The stores that change hands, those with the longest detours first."""
        rows = np.flatnonzero(self.chosen != self.task.now)
        return rows[np.argsort(-self.task.cost[rows, self.chosen[rows]], kind="stable")]

    def rank(self) -> tuple[Fraction, int]:
        """Lower is better."""
        return (self.over, len(self.moved))

    def taker(self, store: int) -> str:
        """The name of the person who goes there."""
        return self.task.people[int(self.chosen[store])].merchandiser

    def moves(self) -> Iterator[Move]:
        """The moves that make this plan of the present state."""
        for store in sorted(self.moved):
            visit, person = self.task.stores[store], self.chosen[store]
            detour = round(self.task.way[store, person]) if self.task.known[store, person] else None
            yield Move(visit.store, visit.merchandiser, self.taker(store), detour)

    def put_right(self, allowed: Allowed, deadline: float) -> None:
        """Take steps as long as they leave less over, then take back every move that is not needed."""
        while self.over and (step := self._best(_steps, allowed, deadline) or self._best(_double, allowed, deadline)):
            self._take(step)
        for store in self.moved:
            back = ((int(store), int(self.task.now[store])),)
            if time.monotonic() < deadline and self._gain(back) >= 0:
                self._take(back)

    def _best(
        self, steps: Callable[[_Plan, Allowed], Iterator[Step]], allowed: Allowed, deadline: float
    ) -> Step | None:
        """The step that leaves the least over; of equals one that adds fewer moves, then one with shorter detours."""
        best: tuple[tuple[Fraction, int, float], Step] | None = None
        for step in steps(self, allowed):
            if time.monotonic() >= deadline:
                break
            if (gain := self._gain(step)) > 0:
                added = sum(int(self.task.now[store] == self.chosen[store]) for store, _ in step)
                rank = (-gain, added, sum(float(self.task.cost[change]) for change in step))
                best = min(best, (rank, step)) if best else (rank, step)
        return best[1] if best else None

    def _take(self, step: Step) -> None:
        touched = self._change(step)
        for person in touched:
            self.loads[person] = self._measured(person)

    def _gain(self, step: Step) -> Fraction:
        """The minutes by which there would be less over after a step."""
        back = tuple((store, int(self.chosen[store])) for store, _ in step)
        touched = self._change(step)
        after = sum((_over(self._measured(person)) for person in touched), Fraction(0))
        self._change(back)
        return sum((_over(self.loads[person]) for person in touched), Fraction(0)) - after

    def _change(self, step: Step) -> set[int]:
        """Change hands, and give the people whom that touches."""
        touched = {int(self.chosen[store]) for store, _ in step} | {person for _, person in step}
        for store, person in step:
            self.chosen[store] = person
        return touched

    def _measured(self, person: int) -> Workload:
        return self.ruler(person, tuple(np.flatnonzero(self.chosen == person).tolist()))


def _steps(plan: _Plan, allowed: Allowed) -> Iterator[Step]:
    """One store from someone who is over to someone who is not and has the time for the visit itself."""
    over = np.array([load.is_over for load in plan.loads])
    spare = plan.task.have - np.array([float(load.need_minutes) for load in plan.loads])
    for store in np.flatnonzero(over[plan.chosen]):
        for person in np.flatnonzero(allowed[store] & (spare + _LITTLE >= plan.task.minutes[store])):
            yield ((int(store), int(person)),)


def _double(plan: _Plan, allowed: Allowed) -> Iterator[Step]:
    """One store from someone who is over to anyone, who hands another one on, perhaps in exchange."""
    over = np.array([load.is_over for load in plan.loads])
    for store in np.flatnonzero(over[plan.chosen]):
        for person in np.flatnonzero(allowed[store] & ~over):
            for other in np.flatnonzero(plan.chosen == person):
                for third in np.flatnonzero(allowed[other]):
                    if third != person:
                        yield ((int(store), int(person)), (int(other), int(third)))


def _best_plan(task: Task, ruler: _Ruler, deadline: float) -> tuple[_Plan, bool]:
    """The best plan found, and whether the search came to its end in time."""
    best, solved = _Plan(task, ruler, task.now), True
    for reach in _REACHES:
        failures = 0
        for number in range(_ROUNDS):
            seen = task.seen_from(best.chosen, hopeful=bool(number % 2))
            plan, was_solved = _planned(seen, ruler, reach, deadline)
            solved = solved and was_solved
            if plan is None or plan.rank() >= best.rank():
                failures += 1
                if failures == 2 or plan is None:
                    break
            else:
                best, failures = plan, 0
        if not best.over or reach >= len(task.people) - 1:
            break
    return best, solved and time.monotonic() < deadline


def _planned(task: Task, ruler: _Ruler, reach: int, deadline: float) -> tuple[_Plan | None, bool]:
    allowed = task.allowed(reach)
    seconds = _FOR_ONE * (deadline - time.monotonic())
    choice = choose(task, allowed, seconds) if seconds > 0 else None
    if choice is None:
        return None, False
    plan = _Plan(task, ruler, choice.chosen)
    now = time.monotonic()
    plan.put_right(allowed, now + _FOR_ONE * (deadline - now))
    return plan, choice.proven


def _over(load: Workload) -> Fraction:
    return exact(load.over_minutes or 0)
