"""What the days ahead may bring, from the pace of the days so far."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from workbook_tools.rollup.pace import FLOAT_ARRAY

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
