"""The pace of the work so far: of everyone, and of the days as if all were at work."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FLOAT_ARRAY = npt.NDArray[np.float64]
INT_ARRAY = npt.NDArray[np.int64]
BOOL_ARRAY = npt.NDArray[np.bool_]

LEAST_SHARE = 0.2
"""A day counts when people who do at least this share of all the work, or of the work of those who are not ready, are
at work on it.
"""

LEAST_UNLIKE = 0.02
MOST_SPREAD = 5.0
LEAST_SPREAD = 0.05
"""Estimates from few counts are kept within these."""

ROUNDS = 8
"""How often the people's paces and the days' are fitted to each other in turn."""


class Pace(NamedTuple):
    """What is known of the pace. People in their order; a share is a part of all stores.

    daily: for each day that counts, stores done if everyone were at work. own: everyone's stores done on those days.
    expected: the same if all had the same pace for their share. spread: variance of a count over its mean.
    unlike: variance of people's paces, their mean being 1.
    """

    shares: FLOAT_ARRAY
    daily: FLOAT_ARRAY
    own: FLOAT_ARRAY
    expected: FLOAT_ARRAY
    spread: float
    unlike: float

    @property
    def prior(self) -> float:
        """How many stores' worth of evidence says that somebody is like the others."""
        return self.spread / self.unlike


def pace_of(done: INT_ARRAY, shares: FLOAT_ARRAY, ready: BOOL_ARRAY) -> Pace:
    """The pace behind stores done, by person (rows) and day (columns).

    shares: everyone's part of all stores, summing to 1. ready: who has no store left that they could do. A person is at
    work from the day after their first store (the first day itself begins anywhere) and, once ready, until the day
    before their last one. The pace of a day is held against who was at work on it: when the quick ones are ready, the
    others' days do not look like a pace that falls.
    """
    at_work = _at_work(done, ready)
    counts = np.where(at_work, done, 0).astype(np.float64)
    ratio = np.ones(len(shares))
    pace = Pace(shares, np.zeros(0), np.zeros(len(shares)), np.zeros(len(shares)), 1.0, LEAST_UNLIKE)
    for _ in range(ROUNDS):
        share_at_work = (shares * ratio) @ at_work
        unready = np.where(ready, 0, shares * ratio)
        counting = (share_at_work >= LEAST_SHARE) | (unready @ at_work > LEAST_SHARE * unready.sum())
        daily = counts[:, counting].sum(axis=0) / share_at_work[counting]
        own, expected = counts[:, counting].sum(axis=1), shares * (at_work[:, counting] @ daily)
        pace = pace._replace(daily=daily, own=own, expected=expected)
        if own.sum() == 0 or daily.size < 2:
            break
        pace = _with_spread(pace, counts[:, counting], at_work[:, counting])
        ratio = (pace.prior + own) / (pace.prior + expected)
        ratio /= shares @ ratio
    return pace


def _at_work(done: INT_ARRAY, ready: BOOL_ARRAY) -> BOOL_ARRAY:
    people, days = done.shape
    if not days:
        return np.zeros((people, 0), np.bool_)
    place, some = np.arange(days), done > 0
    first = np.where(some.any(axis=1), some.argmax(axis=1), days)
    last = np.where(ready, days - 1 - some[:, ::-1].argmax(axis=1), days)
    found: BOOL_ARRAY = (place > first[:, None]) & (place < last[:, None])
    return found


def _with_spread(pace: Pace, counts: FLOAT_ARRAY, at_work: BOOL_ARRAY) -> Pace:
    """How far counts and people differ, by the method of moments."""
    own, expected, days = pace.own, pace.expected, pace.daily.size
    ratio = np.divide(own, expected, out=np.ones_like(own), where=expected > 0)
    residual = counts - at_work * np.outer(pace.shares * ratio, pace.daily)
    variance = (residual**2).sum() * days / (days - 1) / expected.sum()
    spread = float(np.clip(variance, LEAST_SPREAD, MOST_SPREAD))
    unlike = (((own - expected) ** 2).sum() - spread * expected.sum()) / (expected**2).sum()
    return pace._replace(spread=spread, unlike=max(LEAST_UNLIKE, float(unlike)))
