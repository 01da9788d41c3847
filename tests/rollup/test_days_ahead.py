"""The days ahead: held against matrices written out in full, and against paces that are known."""

import numpy as np
import pytest
from scipy import stats

from workbook_tools.rollup.days_ahead import ALIKE, CHANGES, USUAL, _fit, _lines, ahead

DAYS = np.array([3.0, 5, 2, 6, 4, 7, 5])


@pytest.mark.parametrize(("alike", "change"), [(0, 16), (3, 20), (8, 4), (5, 32)])
def test_a_fit_is_that_of_the_whole_covariance_matrix(alike: int, change: int) -> None:
    """Level, squares and likelihood of days around a line, with days alike by r to the power of their distance: the
    generalised least squares of numpy's matrices, and the level integrated out of scipy's normal density.
    """
    lines, so_far = _lines(DAYS.size, 5)
    seen = lines[:, : DAYS.size]
    fit = _fit(DAYS / seen, seen, -np.log(so_far))
    place = np.arange(DAYS.size)
    covariance = ALIKE[alike] ** np.abs(place[:, None] - place)
    days, one = DAYS / seen[change], np.ones(DAYS.size)
    precision = np.linalg.inv(covariance)
    information = one @ precision @ one
    level = one @ precision @ days / information
    off = days - level
    assert fit.information[alike] == pytest.approx(information)
    assert fit.level[alike, change] == pytest.approx(level)
    assert fit.squares[alike, change] == pytest.approx(off @ precision @ off + USUAL**2)


def test_weights_are_likelihood_times_prior() -> None:
    """Between any two cells of the grid, with the level and the variance integrated out numerically."""
    lines, so_far = _lines(DAYS.size, 5)
    mean = DAYS.mean()
    seen = lines[:, : DAYS.size]
    fit = _fit(DAYS / mean / seen, seen, -np.log(so_far))
    place = np.arange(DAYS.size)

    def weight(alike: int, change: int) -> float:
        levels, variances = np.linspace(-3, 5, 321), np.exp(np.linspace(-9, 4, 261))
        covariance = ALIKE[alike] ** np.abs(place[:, None] - place)
        density = stats.multivariate_normal(np.zeros(DAYS.size), covariance)
        days = DAYS / mean / seen[change]
        total = 0.0
        for variance in variances:
            # Flat in the logarithm of the variance, times what one day of the usual spread says of it.
            scaled = (days - levels[:, None]) / np.sqrt(variance)
            likely = density.pdf(scaled) * variance ** (-DAYS.size / 2)
            total += likely.sum() * variance**-0.5 * np.exp(-(USUAL**2) / (2 * variance))
        return total / np.prod(seen[change]) * (1 - ALIKE[alike]) / so_far[change]

    cells = [(0, 16), (2, 24), (6, 10), (4, 30)]
    expected = np.array([weight(*cell) for cell in cells])
    found = np.array([fit.weight[cell] for cell in cells])
    assert found / found.sum() == pytest.approx(expected / expected.sum(), rel=0.02)


def test_lines_change_as_told_and_have_the_pace_so_far_as_their_mean() -> None:
    """From half to one and a half of the pace in the middle of the window, for a change of 1; up to ninefold."""
    lines, so_far = _lines(4, 7)
    assert lines[:, :4].mean(axis=1) == pytest.approx(1)
    one = int(np.argmin(np.abs(CHANGES - 1)))
    assert lines[one] * so_far[one] == pytest.approx(np.linspace(0.5, 1.5, 11))
    assert lines[-1, -1] / lines[-1, 0] == pytest.approx(9)
    assert lines[0, 0] / lines[0, -1] == pytest.approx(9)


def test_the_days_ahead_go_on_as_the_days_so_far() -> None:
    """At a steady pace as much again, and either may follow; where it grew, more, and it is sure that it grows."""
    steady = ahead(np.array([5.0, 4, 6, 5, 6, 4, 5]), 7, np.random.default_rng(1), 4000)
    growing = ahead(np.array([2.0, 3, 3, 5, 6, 6, 8]), 7, np.random.default_rng(1), 4000)
    assert np.median(steady.totals) == pytest.approx(35, rel=0.1)
    assert 0.4 < steady.growing < 0.6
    assert np.median(growing.totals) > 33 * 1.5
    assert growing.growing > 0.98
