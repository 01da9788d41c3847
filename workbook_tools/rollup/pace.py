"""The pace of the work so far, and what the days ahead may bring."""

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


# The days ahead

CHANGES = np.linspace(-1.6, 1.6, 33)
"""How the pace may change from the beginning of the window to its end, in parts of the pace in its middle. At the ends
of this range the last day has nine times the pace of the first, or the ninth part. Thought as likely are all logarithms
of the pace so far in parts of that in the middle (our own choice): then days without a trend say as little for a pace
that grows as for one that falls, and the middle of the draws goes on with the pace so far.
"""

ALIKE = np.linspace(0, 0.8, 9)
"""How alike neighbouring days may be (correlation of a day with the next); r is thought likely in proportion to 1 - r
(our own choice).
"""

USUAL = 0.2
"""How far days usually differ, in parts of the pace; weighs as much as one day (our own choice)."""


class Ahead(NamedTuple):
    """What may be done in the days ahead, a number for each draw, and how likely it is that the pace grows."""

    totals: FLOAT_ARRAY
    growing: float


def ahead(daily: FLOAT_ARRAY, days: int, random: np.random.Generator, draws: int) -> Ahead:
    """Draw what is done in so many days, after two or more days so far.

    The pace changes along a straight line, by an amount that is not known; each day is better or worse than the line by
    a part of it, in runs of good and bad days. That is a regression with autocorrelated errors (Bayes: Chib and
    Greenberg 1994, J. Econometrics 64:183-206; that such ranges hold better than those of one estimate: Kennedy and
    Simons 1991, J. Econometrics 48:15-27). Change and likeness of days are weighed on a grid, by how well each explains
    the days so far; level and spread of the days are drawn from their distribution (normal, inverse gamma) in each.
    Where nothing was done, what is done is Poisson's, at a rate of which the days so far tell (flat prior).
    """
    mean = float(daily.mean())
    if not mean:
        return Ahead(random.poisson(random.gamma(1, days / daily.size, draws)).astype(np.float64), 0.5)
    lines, so_far = _lines(daily.size, days)
    fit = _fit(daily / mean / lines[:, : daily.size], lines[:, : daily.size], -np.log(so_far))
    alike, change = np.divmod(random.choice(fit.weight.size, draws, p=fit.weight.ravel()), CHANGES.size)
    spread = np.sqrt(fit.squares[alike, change] / random.chisquare(daily.size, draws))
    level = fit.level[alike, change] + spread / np.sqrt(fit.information[alike]) * random.standard_normal(draws)
    correlation, off = ALIKE[alike], daily[-1] / mean / lines[change, daily.size - 1] - level
    totals = np.zeros(draws)
    for day in range(daily.size, daily.size + days):
        off = correlation * off + spread * np.sqrt(1 - correlation**2) * random.standard_normal(draws)
        totals += lines[change, day] * np.maximum(level + off, 0)
    return Ahead(totals * mean, float(fit.weight[:, CHANGES > 0].sum() + fit.weight[:, CHANGES == 0].sum() / 2))


def _lines(seen: int, days: int) -> tuple[FLOAT_ARRAY, FLOAT_ARRAY]:
    """The pace of each day, so far and ahead, for each of CHANGES, its mean so far being 1; and that mean, in parts of
    the pace in the middle of the window.
    """
    lines = 1 + np.outer(CHANGES, np.linspace(-0.5, 0.5, seen + days))
    so_far = lines[:, :seen].mean(axis=1)
    return lines / so_far[:, None], so_far


class _Fit(NamedTuple):
    """For each of ALIKE (rows) and CHANGES (columns): weight, summing to 1, level of the days and the squares left;
    information on the level, in days, by ALIKE.
    """

    weight: FLOAT_ARRAY
    level: FLOAT_ARRAY
    squares: FLOAT_ARRAY
    information: FLOAT_ARRAY


def _fit(days: FLOAT_ARRAY, lines: FLOAT_ARRAY, prior: FLOAT_ARRAY) -> _Fit:
    """days: the days so far over each line. prior: the logarithm of how likely each of CHANGES is thought. The level
    has a flat prior, the variance one that weighs as one day.
    """
    seen = days.shape[1]
    one, white = _whitened(np.ones((1, seen))), _whitened(days)
    information = (one**2).sum(axis=2)
    level = (one * white).sum(axis=2) / information
    squares = ((white - level[:, :, None] * one) ** 2).sum(axis=2) + USUAL**2
    shrinks = (seen - 1) * np.log(1 - ALIKE**2)[:, None] + np.log(information)
    likely = prior + np.log(1 - ALIKE)[:, None] - np.log(lines).sum(axis=1) - shrinks / 2 - seen / 2 * np.log(squares)
    weight = np.exp(likely - likely.max())
    return _Fit(weight / weight.sum(), level, squares, information[:, 0])


def _whitened(rows: FLOAT_ARRAY) -> FLOAT_ARRAY:
    """Rows of days freed of each correlation of ALIKE: an array by correlation, row and day."""
    correlation = ALIKE[:, None, None]
    later = (rows[None, :, 1:] - correlation * rows[None, :, :-1]) / np.sqrt(1 - correlation**2)
    return np.concatenate([np.broadcast_to(rows[None, :, :1], (ALIKE.size, len(rows), 1)), later], axis=2)
