"""How sure the numbers are: intervals, outliers and hours, by outside judges and by simulation."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

from workbook_tools.rollup.statistics import (
    LEAST_MORE,
    LEAST_WRONG,
    adjusted,
    chance_of,
    wilson,
    worse_than_rest,
)

UNTIMED = settings(deadline=None, max_examples=60)
COUNTS = st.integers(1, 5000).flatmap(lambda trials: st.tuples(st.integers(0, trials), st.just(trials)))

# Intervals


@given(COUNTS, st.floats(0.5, 0.999))
@UNTIMED
def test_wilson_is_what_two_libraries_compute(counts: tuple[int, int], confidence: float) -> None:
    """Without a population, scipy and statsmodels give the same limits."""
    successes, trials = counts
    interval = wilson(successes, trials, confidence)
    by_scipy = stats.binomtest(successes, trials).proportion_ci(confidence, method="wilson")
    assert interval == pytest.approx((by_scipy.low, by_scipy.high), abs=1e-10)
    assert interval == pytest.approx(proportion_confint(successes, trials, 1 - confidence, "wilson"), abs=1e-10)


@given(COUNTS, st.integers(0, 10_000))
@UNTIMED
def test_a_part_of_a_population_is_surer_and_says_nothing_impossible(counts: tuple[int, int], untried: int) -> None:
    """The interval lies within the endless one and within what the stores not yet back leave open, around the share."""
    successes, trials = counts
    population = trials + untried
    interval, endless = wilson(successes, trials, population=population), wilson(successes, trials)
    tiny = 1e-12
    assert endless.low - tiny <= interval.low <= successes / trials + tiny
    assert successes / trials - tiny <= interval.high <= endless.high + tiny
    assert interval.low >= successes / population - tiny
    assert interval.high <= (successes + untried) / population + tiny


def test_all_tried_is_certain_and_none_tried_is_anything() -> None:
    """All stores back: the share itself; none back: 0 to 1; a vast population: as if endless."""
    assert wilson(7, 9, population=9) == (7 / 9, 7 / 9)
    assert wilson(0, 0) == wilson(0, 0, population=50) == (0, 1)
    assert wilson(7, 50, population=10**12) == pytest.approx(wilson(7, 50), abs=1e-9)


@pytest.mark.parametrize(("population", "sample"), [(40, 15), (200, 50), (200, 180), (400, 40)])
def test_95_percent_intervals_of_samples_hold_about_95_percent_of_the_time(population: int, sample: int) -> None:
    """Over all numbers of right stores from 5 to 95 %, exactly weighed by how likely each sample is: 93 to 98 %."""
    limits = [wilson(successes, sample, population=population) for successes in range(sample + 1)]
    held = []
    for right in range(population // 20, population - population // 20 + 1):
        chances = stats.hypergeom.pmf(np.arange(sample + 1), population, right, sample)
        holds = [low - 1e-9 <= right / population <= high + 1e-9 for low, high in limits]
        held.append(float(chances @ holds))
    assert 0.93 <= np.mean(held) <= 0.98


@pytest.mark.parametrize(
    ("successes", "trials", "confidence", "population"),
    [(-1, 5, 0.95, None), (6, 5, 0.95, None), (1, 5, 0.95, 4), (1, 5, 0, None), (1, 5, 1, None)],
)
def test_impossible_counts_are_refused(successes: int, trials: int, confidence: float, population: int | None) -> None:
    """More right than tried, more tried than there are, or a confidence that is none."""
    with pytest.raises(ValueError, match="expected"):
        wilson(successes, trials, confidence, population)


# Worse than the rest

PAIRS = st.integers(1, 300).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total)))


@given(PAIRS, PAIRS)
@UNTIMED
def test_the_chance_is_that_of_fishers_exact_test(one: tuple[int, int], rest: tuple[int, int]) -> None:
    """As scipy computes it, one-sided."""
    (wrong, total), (others_wrong, others_total) = one, rest
    table = [[wrong, total - wrong], [others_wrong, others_total - others_wrong]]
    expected = stats.fisher_exact(table, alternative="greater").pvalue
    assert chance_of(wrong, total, others_wrong, others_total) == pytest.approx(expected, rel=1e-6, abs=1e-12)


def test_over_many_stores_the_chance_is_nearly_that_of_a_binomial_test_against_the_rest() -> None:
    """With 36 positions and 1,000 stores, the rate of the rest is nearly known."""
    against_rate = stats.binomtest(45, 1000, 35 * 30 / 35000, alternative="greater").pvalue
    assert chance_of(45, 1000, 35 * 30, 35000) == pytest.approx(against_rate, rel=0.2)


@given(st.lists(PAIRS, min_size=2, max_size=8))
@UNTIMED
def test_q_is_what_statsmodels_adjusts_and_decides_who_is_named(pairs: list[tuple[int, int]]) -> None:
    """Benjamini and Hochberg over the keys tested; named are those at or under the rate with enough wrong ones, and
    enough more of them than the rest.
    """
    counts = [(key, wrong, total) for key, (wrong, total) in enumerate(pairs)]
    wrong_of_all, total_of_all = sum(wrong for wrong, _ in pairs), sum(total for _, total in pairs)
    tested = [key for key, _, total in counts if total >= 10 and total_of_all - total >= 10]
    chances = [chance_of(w, t, wrong_of_all - w, total_of_all - t) for w, t in (pairs[key] for key in tested)]
    expected = dict(zip(tested, multipletests(chances, method="fdr_bh")[1] if tested else [], strict=True))
    named = worse_than_rest(counts)
    more = {
        key: pairs[key][0] / pairs[key][1] - (wrong_of_all - pairs[key][0]) / (total_of_all - pairs[key][1])
        for key in tested
    }
    assert {one.key for one in named} == {
        key for key, q in expected.items() if q <= 0.05 and pairs[key][0] >= LEAST_WRONG and more[key] >= LEAST_MORE
    }
    assert all(one.q == pytest.approx(expected[one.key], rel=1e-9) for one in named)
    assert [one.p for one in named] == sorted(one.p for one in named)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=40))
@UNTIMED
def test_chances_are_adjusted_as_scipy_does(chances: list[float]) -> None:
    """Ties, zeros and ones too, each in its place."""
    assert adjusted(chances) == pytest.approx(stats.false_discovery_control(chances).tolist(), rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(
    ("wrong", "total", "others_wrong", "others_total"),
    [(260, 10_000, 8_000, 350_000), (700, 10_000, 7_000, 350_000), (150_000, 10**6, 4_900_000, 35 * 10**6)],
)
def test_the_chance_is_exact_with_very_many_stores(
    wrong: int, total: int, others_wrong: int, others_total: int
) -> None:
    """As scipy's upper tail of the hypergeometric distribution, down to what a float can hold."""
    expected = stats.hypergeom.sf(wrong - 1, total + others_total, wrong + others_wrong, total)
    assert chance_of(wrong, total, others_wrong, others_total) == pytest.approx(float(expected), rel=1e-6, abs=1e-300)


def test_a_difference_that_is_not_worth_naming_is_not_named_however_sure_it_is() -> None:
    """Of 10,000 stores, 2.3 against 2.0 % is more than chance and stays unnamed; 4.1 % is named."""
    rest = [(f"A-1-{place}", 200, 10_000) for place in range(1, 36)]
    assert chance_of(240, 10_000, 35 * 200, 350_000) < 0.01
    assert worse_than_rest([*rest, ("B-1-1", 240, 10_000)]) == []
    assert [one.key for one in worse_than_rest([*rest, ("B-1-1", 410, 10_000)])] == ["B-1-1"]


def test_a_position_wrong_far_more_often_is_named_with_its_counts() -> None:
    """One of 36 positions wrong in 12 of 100 stores, the others in 2: named alone, with the rate of the rest."""
    counts = [(f"A-1-{place}", 2, 100) for place in range(1, 36)] + [("B-1-1", 12, 100)]
    (worst,) = worse_than_rest(counts)
    assert (worst.key, worst.wrong, worst.total, worst.rest_rate) == ("B-1-1", 12, 100, 0.02)
    assert worst.p < worst.q < 0.001


def test_small_numbers_are_never_named() -> None:
    """Neither a few visits, all wrong, nor fewer than three wrong ones, nor a key with nothing to stand against."""
    many = [(name, 1, 1000) for name in "abcdef"]
    assert worse_than_rest([*many, ("few visits", 9, 9)]) == []
    assert worse_than_rest([(name, 0, 100000) for name in "abc"] + [("few wrong", 2, 10)]) == []
    assert worse_than_rest([("alone", 50, 100)]) == worse_than_rest([]) == []
    assert worse_than_rest([("all", 50, 100), ("the rest", 0, 9)]) == []


def test_impossible_counts_of_a_key_are_refused() -> None:
    """More wrong than there are, with the key's name."""
    with pytest.raises(ValueError, match="A-1-1"):
        worse_than_rest([("A-1-1", 3, 2)])


@pytest.mark.parametrize(
    ("keys", "total", "rate", "programs"),
    [(36, 100, 0.02, 60), (3, 1000, 0.1, 400), (5, 50, 0.3, 400), (2, 500, 0.05, 400)],
)
def test_where_all_are_alike_hardly_ever_is_one_named(keys: int, total: int, rate: float, programs: int) -> None:
    """All named are false here, so the false-discovery rate is the share of programs that name any: at most 5 %.

    Two standard errors are allowed for the luck of the draw. In runs of 2,000 it was 2-5 %; a binomial test that takes
    the others' rate as certain named one in 12 % of programs of three keys, in 17 % of two.
    """
    random = np.random.default_rng(20)
    draws = random.binomial(total, rate, (programs, keys))
    named = sum(bool(worse_than_rest([(key, int(w), total) for key, w in enumerate(wrong)])) for wrong in draws)
    assert named / programs <= 0.05 + 2 * (0.05 * 0.95 / programs) ** 0.5


def test_a_faulty_position_is_found_and_few_good_ones_beside_it() -> None:
    """Two of 36 positions wrong in 12 % of 200 stores, the others in 2 %: nine in ten found, one in twenty false."""
    random = np.random.default_rng(21)
    named: Counter[bool] = Counter()
    for _ in range(40):
        wrong = random.binomial(200, [0.12, 0.12, *[0.02] * 34])
        named.update(one.key in (0, 1) for one in worse_than_rest([(k, int(w), 200) for k, w in enumerate(wrong)]))
    assert named[True] / 80 >= 0.9
    assert named[False] / named.total() <= 0.08
