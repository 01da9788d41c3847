"""How many stores will be done and who will not make it, held against simulated programs."""

import datetime as dt

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.rollup.outlook import LEAST_DAYS, LEAST_DONE, Late, Outlook, Progress, TooEarly, outlook

MONDAY = dt.date(2031, 3, 3)


def days(number: int) -> list[dt.date]:
    """Days from MONDAY on."""
    return [MONDAY + dt.timedelta(day) for day in range(number)]


def test_a_steady_pace_goes_on() -> None:
    """Three people at two stores a day: in five more days thirty more, needed pace and last day told."""
    people = [Progress(name, (2,) * 8, stores=20) for name in ("ann", "bo", "cy")]
    told = outlook(people, days(5))
    assert isinstance(told, Outlook)
    assert (told.done, told.left, told.days, told.closes) == (48, 60, 5, MONDAY + dt.timedelta(4))
    assert (told.pace, told.needed) == (6, 12)
    assert told.low <= 78 <= told.high
    assert told.high - told.low <= 30 * 0.4
    assert [late.merchandiser for late in told.late] == ["ann", "bo", "cy"]
    assert {late.reason for late in told.late} == {"pace"}


def test_nobody_does_more_than_their_stores_or_their_hours() -> None:
    """However fast: all that is left is the most; who has hours for fewer is told, also when no pace is known yet."""
    quick, short = Progress("quick", (5,) * 6, stores=3), Progress("short", (5,) * 6, stores=8, visits=2)
    told = outlook([quick, short], days(10))
    assert isinstance(told, Outlook)
    assert told.low == told.middle == told.high == 60 + 3 + 2
    assert told.late == (Late("short", 8, 2, "hours"),)
    early = outlook([Progress("quick", (), stores=3), Progress("short", (), stores=8, visits=2)], days(10))
    assert early == TooEarly(days=0, done=0, late=(Late("short", 8, 2, "hours"),))


def test_it_is_too_early_until_days_and_stores_are_enough() -> None:
    """Four days after people began, and ten stores."""
    few = outlook([Progress("ann", (4, 4, 4, 4), stores=30)], days(10))
    assert few == TooEarly(days=LEAST_DAYS - 1, done=16)
    slow = outlook([Progress("ann", (1,) * (LEAST_DONE - 1), stores=30)], days(10))
    assert slow == TooEarly(days=LEAST_DONE - 2, done=LEAST_DONE - 1)
    assert isinstance(outlook([Progress("ann", (4, 4, 4, 4, 4), stores=30)], days(10)), Outlook)


def test_when_the_window_has_closed_or_all_is_done_nothing_is_left_to_chance() -> None:
    """Then what is done is what will be done, however little has been seen."""
    closed = outlook([Progress("ann", (1, 0), stores=4)], [])
    assert isinstance(closed, Outlook)
    assert (closed.low, closed.middle, closed.high, closed.needed, closed.closes) == (1, 1, 1, None, None)
    assert closed.late == (Late("ann", 4, 0, "pace"),)
    ready = outlook([Progress("ann", (1, 0), stores=0)], days(3))
    assert isinstance(ready, Outlook)
    assert (ready.low, ready.high, ready.needed, ready.late) == (1, 1, 0, ())
    nobody = outlook([], days(3))
    assert isinstance(nobody, Outlook)
    assert (nobody.low, nobody.high, nobody.pace) == (0, 0, None)


def test_who_has_not_begun_is_told_and_counted_at_the_pace_of_the_others() -> None:
    """Three of four began: the fourth is named, and expected to do their share from now on."""
    people = [Progress(name, (1,) * 10, stores=10) for name in "abc"] + [Progress("d", (0,) * 10, stores=20)]
    told = outlook(people, days(10))
    assert isinstance(told, Outlook)
    assert told.not_begun == ("d",)
    assert 30 + 30 < told.middle <= 30 + 30 + 20


def test_days_on_which_nothing_was_done_do_not_promise_that_nothing_will_be() -> None:
    """Five idle days, five to come: probably none, perhaps a few."""
    told = outlook([Progress("ann", (12, 0, 0, 0, 0, 0), stores=30)], days(5))
    assert isinstance(told, Outlook)
    assert (told.low, told.middle) == (12, 12)
    assert 12 < told.high <= 17


def test_the_same_facts_give_the_same_outlook() -> None:
    """Resampling is seeded: a merge done again says the same."""
    people = [Progress("ann", (1, 4, 0, 2, 3, 5), stores=20), Progress("bo", (0, 1, 1, 0, 2, 1), stores=9)]
    assert outlook(people, days(6)) == outlook(people, days(6))


@pytest.mark.parametrize(
    "people",
    [
        [Progress("ann", (1, 2), stores=3), Progress("bo", (1,), stores=3)],
        [Progress("ann", (1, -2), stores=3)],
        [Progress("ann", (1, 2), stores=-3)],
        [Progress("ann", (1, 2), stores=3, visits=-1)],
    ],
)
def test_progress_that_cannot_be_is_refused(people: list[Progress]) -> None:
    """Different numbers of days, or numbers below 0."""
    with pytest.raises(ValueError, match="expected"):
        outlook(people, days(3))


def in_runs(noise: npt.NDArray[np.float64], alike: float) -> npt.NDArray[np.float64]:
    """Normal noise of which each number is correlated with the next (autoregression of order one)."""
    runs = noise.copy()
    for day in range(1, len(noise)):
        runs[day] = alike * runs[day - 1] + np.sqrt(1 - alike**2) * noise[day]
    return runs


GROWS = {"tiring": (1.43, 0.57), "growing": (0.5, 1.5), "growing fast": (0.25, 1.75)}
"""Pace on the first and on the last day, in parts of its mean."""
WEEK = (0.4, 0.7, 1, 1.3, 1.6)


def goodness(random: np.random.Generator, kind: str, window: int) -> npt.NDArray[np.float64]:
    """How good each day is for all, 1 being usual."""
    good = random.lognormal(0, 0.3, window)
    if kind.startswith("runs"):
        return np.exp(0.4 * in_runs(random.normal(size=window), 0.7 if kind == "runs" else 0.5))
    if kind == "weekdays":
        good *= np.resize(random.permutation(WEEK), window)
    if kind == "regular":
        good **= 0.1
    if kind in GROWS:
        good *= np.linspace(*GROWS[kind], window)
    return good


def simulate(random: np.random.Generator, kind: str) -> tuple[list[Progress], int, int]:
    """A program: (what is known on some day, working days left, stores done in the end).

    1-40 merchandisers with 5-30 stores each, a window of 10-25 working days of which 3 or more are over. Each has a
    pace of their own, between a third and twice what would do; days are good or bad for all; some have too few hours.
    Of the kinds, "few" has one or two merchandisers, "staggered" lets people begin on different days, "regular" makes
    counts no more unlike than they must be, "runs" correlates each day with the next (0.7; "short runs" 0.5).
    """
    number, window = int(random.integers(1, 3 if kind == "few" else 41)), int(random.integers(10, 26))
    seen = int(random.integers(3, window - 1))
    stores = random.integers(5, 31, number)
    pace = stores / window * random.uniform(0.5, 1.5, number) * random.choice([0.7, 1.0, 1.2])
    good = goodness(random, kind, window)
    begins = random.integers(0, window // 3, number) if kind == "staggered" else np.zeros(number, int)
    known = random.random(number) < 0.5
    allowed = np.where(known, np.round(stores * random.uniform(0.6, 1.5, number)), 10**6).astype(int)
    can = np.minimum(stores, allowed)
    done = np.zeros((number, window), int)
    for day in range(window):
        due = pace * good[day]
        chance = np.floor(due + random.random(number)) if kind == "regular" else random.poisson(due)
        visits = np.where(begins <= day, chance, 0).astype(int)
        done[:, day] = np.minimum(visits, can - done.sum(axis=1))
    so_far = done[:, :seen].sum(axis=1)
    people = [
        Progress(
            str(one),
            tuple(done[one, :seen].tolist()),
            int(stores[one] - so_far[one]),
            int(allowed[one] - so_far[one]) if known[one] else None,
        )
        for one in range(number)
    ]
    return people, window - seen, int(done.sum())


KINDS = ("steady", "staggered", "weekdays", "few", "short runs", "runs", "tiring", "growing", "growing fast")


@pytest.mark.parametrize(("kind", "most"), [*((kind, 0.9) for kind in KINDS), ("regular", 0.96)])
def test_the_range_of_the_outlook_holds_about_as_often_as_it_says(kind: str, most: float) -> None:
    """80 % of the time, also where the pace changes or days come in runs: what `outlook` states, give or take what 300
    simulations leave open (two standard errors).
    """
    random = np.random.default_rng(30)
    held, widths = [], []
    for number in range(340):
        people, left, done = simulate(random, kind)
        told = outlook(people, days(left), seed=number, draws=300)
        if isinstance(told, Outlook):
            held.append(told.low <= done <= told.high)
            widths.append((told.high - told.low) / max(told.left, 1))
    luck = 2 * (0.8 * 0.2 / len(held)) ** 0.5
    assert 0.75 - luck <= np.mean(held) <= most + luck
    assert np.median(widths) <= 0.45
    if kind in ("steady", "regular"):
        assert np.median(widths) <= 0.37


@given(
    st.lists(
        st.tuples(st.lists(st.integers(0, 9), min_size=6, max_size=6), st.integers(0, 30)), min_size=1, max_size=4
    ),
    st.integers(1, 12),
)
@settings(deadline=None, max_examples=40)
def test_the_range_keeps_to_what_is_possible(facts: list[tuple[list[int], int]], left: int) -> None:
    """Never below what is done, never above all stores, its ends in order; also when all days but one were idle."""
    people = [Progress(str(key), tuple(done), stores) for key, (done, stores) in enumerate(facts)]
    told = outlook(people, days(left), draws=100)
    if isinstance(told, Outlook):
        assert told.done <= told.low <= told.middle <= told.high <= told.done + told.left


def test_when_the_quick_ones_are_ready_the_pace_of_the_others_does_not_fall() -> None:
    """Two did all their stores in a week; the third goes on at one a day, as she always did."""
    people = [Progress(name, (4, 4, 4, 4, 4, 0, 0, 0, 0, 0), stores=0) for name in ("ann", "bo")]
    told = outlook([*people, Progress("cy", (1,) * 10, stores=10)], days(10))
    assert isinstance(told, Outlook)
    assert told.changing == 0
    assert 48 <= told.low < told.middle <= 60


@pytest.mark.parametrize(("daily", "changing"), [((1, 1, 2, 3, 3, 4, 5, 5), 1), ((9, 9, 8, 8, 6, 6, 4, 3), -1)])
def test_a_pace_that_changes_is_told(daily: tuple[int, ...], changing: int) -> None:
    """Growing or falling by more than chance: said, and the range reaches to where it would lead."""
    told = outlook([Progress("ann", daily, stores=200)], days(5))
    level = outlook([Progress("ann", (3, 4, 3, 3, 4, 3, 4, 3), stores=200)], days(5))
    assert isinstance(told, Outlook)
    assert isinstance(level, Outlook)
    assert (told.changing, level.changing) == (changing, 0)
    mean = round(sum(daily[1:]) / (len(daily) - 1) * 5)
    assert told.high - told.done > mean + 8 if changing > 0 else told.low - told.done < mean - 8
