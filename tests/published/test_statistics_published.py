"""Rates, sample sizes and exact tests against values from outside.

READ: the number was read in the source named. COMP: computed, by our own arithmetic and, where named, by a library.
MEM: from memory. A row without READ is a reproducible value, not a published one.
"""

import math

import pytest

from workbook_tools.rollup.statistics import chance_of, wilson

NEWCOMBE = (
    "Newcombe 1998, Statistics in Medicine 17:857-872, Table I, method 3; READ second-hand, identical in four public "
    "test files that cite it; COMP statsmodels, scipy"
)


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_intervals_are_those_of_newcombes_table(successes: int, trials: int, low: float, high: float) -> None:
    """To the four decimals printed (source: NEWCOMBE)."""
    interval = wilson(successes, trials)
    assert (round(interval.low, 4), round(interval.high, 4)) == (low, high), NEWCOMBE


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (81, 263, 0.255289, 0.366210),
        (15, 148, 0.062386, 0.160487),
        (0, 20, 0.0, 0.161125),
        (1, 29, 0.006113, 0.171755),
    ],
)
def test_wilson_intervals_to_six_digits(successes: int, trials: int, low: float, high: float) -> None:
    """COMP statsmodels and scipy."""
    assert wilson(successes, trials) == pytest.approx((low, high), abs=6e-7)


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (23, 60, 0.2709, 0.5098),
        (4, 20, 0.0807, 0.4160),
        (19, 20, 0.7639, 0.9911),
        (20, 20, 0.8389, 1.0),
        (0, 100, 0.0, 0.0370),
        (95, 100, 0.8882, 0.9785),
        (100, 100, 0.9630, 1.0),
        (5751, 7462, 0.7610, 0.7801),
        (1711, 7462, 0.2199, 0.2390),
        (1288, 1711, 0.7318, 0.7726),
    ],
)
def test_wilson_intervals_of_other_counts(successes: int, trials: int, low: float, high: float) -> None:
    """23/60: inputs READ vassarstats.net/prop1.html; the last three: counts READ on warrencountyny.gov (National Price

    Verification Survey); the others and all limits COMP.
    """
    interval = wilson(successes, trials)
    assert (round(interval.low, 4), round(interval.high, 4)) == (low, high)


@pytest.mark.parametrize(("population", "sample"), [(100, 80), (200, 132), (500, 218), (1000, 278), (10000, 370)])
def test_the_correction_for_a_finite_population_gives_the_known_sample_sizes(population: int, sample: int) -> None:
    """A sample of n = n0 / (1 + (n0 - 1)/N) stores is as sure as n0 = 384.16 of endless ones; two fewer are less sure.

    Formula READ learn.liebler.xyz/c/ps/3321; numbers COMP, rounded up. n0 is z²/4 over 5 % squared, so at a share of
    one half the Wilson interval of n0 is as wide as z / (n0 + z²)^½ says.
    """
    z = 1.959963984540054
    wanted = z / math.sqrt(384.16 + z * z)
    enough = wilson(sample // 2, sample, population=population)
    fewer = wilson(sample // 2 - 1, sample - 2, population=population)
    assert enough.high - enough.low <= wanted < fewer.high - fewer.low


def test_the_lady_tasting_tea() -> None:
    """Three of four cups right by chance or better: 17/70 (Fisher 1935, The Design of Experiments; MEM, COMP)."""
    assert chance_of(3, 4, 1, 4) == pytest.approx(17 / 70, rel=1e-12)
