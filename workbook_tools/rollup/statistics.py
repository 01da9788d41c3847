"""How sure the numbers are: intervals of rates, and what is worse than chance allows."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

LEAST_TOTAL = 10
"""A key with fewer trials, or against fewer trials of all others, is not tested."""

LEAST_WRONG = 3
"""A key with fewer wrong ones is never named, however unlikely they are."""

LEAST_MORE = 0.02
"""A key is named only if its share of wrong ones is above that of the rest by so much (our own choice): with enough
stores any difference is more than chance, also one that is not worth putting right at its root.
"""


class Interval(NamedTuple):
    """A share's lower and upper limit, 0 to 1."""

    low: float
    high: float


def wilson(successes: int, trials: int, confidence: float = 0.95, population: int | None = None) -> Interval:
    """The two-sided Wilson score interval of a share; (0, 1) without trials.

    With z the normal quantile of `confidence`, p = successes / trials and n = trials (Wilson 1927, JASA 22:209-212):
    (p + z²/2n ± z √(p (1 - p)/n + z²/4n²)) / (1 + z²/n).

    population: how many there are in all, of which the trials are a part taken without choice. Then the variance of p
    is smaller by (N - n)/(N - 1), the finite-population correction (Cochran, Sampling Techniques, 3rd ed., ch. 3), so
    n(N - 1)/(N - n) takes the place of n; solved for n this is the well-known n = n0 / (1 + (n0 - 1)/N) for the size
    of a sample. The limits also keep to what the trials leave possible, successes/N to 1 - (n - successes)/N, and when
    all are tried both are p itself.

    Raises:
        ValueError: not 0 <= successes <= trials <= population, or confidence not between 0 and 1.
    """
    if not 0 <= successes <= trials or (population is not None and population < trials):
        raise ValueError(f"expected 0 <= successes <= trials <= population, got {successes}, {trials}, {population}")
    if not 0 < confidence < 1:
        raise ValueError(f"expected a confidence between 0 and 1, got {confidence}")
    if not trials:
        return Interval(0.0, 1.0)
    share = successes / trials
    if population == trials:
        return Interval(share, share)
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    size = trials if population is None else trials * (population - 1) / (population - trials)
    centre = share + z * z / (2 * size)
    half = z * math.sqrt(share * (1 - share) / size + (z / (2 * size)) ** 2)
    least = successes / population if population else 0.0
    most = 1 - (trials - successes) / population if population else 1.0
    low = max(least, (centre - half) / (1 + z * z / size)) if successes else 0.0
    high = min(most, (centre + half) / (1 + z * z / size)) if successes < trials else 1.0
    return Interval(low, high)


# Worse than the rest


@dataclass(frozen=True, slots=True)
class Outlier:
    """A key that is wrong more often than the rest.

    rest_rate: the share of wrong ones among all other keys together. p: one-sided exact test. q: p adjusted by
    Benjamini and Hochberg over all keys tested.
    """

    key: Hashable
    wrong: int
    total: int
    rest_rate: float
    p: float
    q: float

    @property
    def more(self) -> float:
        """By how much its share of wrong ones is above that of the rest."""
        return self.wrong / self.total - self.rest_rate


def worse_than_rest(counts: Sequence[tuple[Hashable, int, int]], rate: float = 0.05) -> list[Outlier]:
    """The keys of (key, wrong, total) that are wrong more often than chance allows, the surest first.

    Each is tested against all others together (`chance_of`), and of those named at most the share `rate` is expected
    to be named falsely (Benjamini and Hochberg 1995, J. R. Statist. Soc. B 57:289-300). Keys with fewer than
    LEAST_TOTAL trials are not tested but count among the others; one with fewer than LEAST_WRONG wrong ones, or whose
    share of them is above that of the rest by less than LEAST_MORE, is not named.

    Raises:
        ValueError: not 0 <= wrong <= total for a key.
    """
    for key, wrong, total in counts:
        if not 0 <= wrong <= total:
            raise ValueError(f"expected 0 <= wrong <= total, got {wrong} and {total} for {key!r}")
    all_wrong = sum(wrong for _, wrong, _ in counts)
    all_total = sum(total for _, _, total in counts)
    tested = [one for one in counts if one[2] >= LEAST_TOTAL and all_total - one[2] >= LEAST_TOTAL]
    if not tested:
        return []
    chances = [chance_of(wrong, total, all_wrong - wrong, all_total - total) for _, wrong, total in tested]
    found = [
        Outlier(key, wrong, total, (all_wrong - wrong) / (all_total - total), p, q)
        for (key, wrong, total), p, q in zip(tested, chances, adjusted(chances), strict=True)
        if q <= rate and wrong >= LEAST_WRONG
    ]
    worth_naming = [one for one in found if one.more >= LEAST_MORE]
    return sorted(worth_naming, key=lambda one: (one.p, -one.more))


def adjusted(chances: Sequence[float]) -> list[float]:
    """Each chance adjusted for how many there are, in the order given: of those at most q, a share q is expected to be
    false (Benjamini and Hochberg 1995): the least p n / rank of it and of all above it.
    """
    count = len(chances)
    order = np.argsort(chances)[::-1]
    at_most = np.minimum.accumulate(np.array(chances)[order] * count / np.arange(count, 0, -1))
    found = np.empty(count)
    found[order] = np.minimum(at_most, 1)
    return [float(q) for q in found]


def chance_of(wrong: int, total: int, others_wrong: int, others_total: int) -> float:
    """How likely so many or more wrong ones are, if a key is like the others: Fisher's exact test, one-sided.

    A binomial test against the others' rate takes that rate as certain. Over three alike keys of 1,000 it names one in
    12 % of cases at a false-discovery rate of 5 %, this test in 5 %; over 36 keys they hardly differ. Written out, as
    `adjusted` is, because scipy.stats alone takes 70 MB of the 500 that a merge may take; tests hold both against it.
    """
    all_wrong = wrong + others_wrong
    least, most = max(0, all_wrong - others_total), min(total, all_wrong)
    likeliest = min(max((total + 1) * (all_wrong + 1) // (total + others_total + 2), least), most)
    above = np.arange(likeliest, most, dtype=np.float64)
    below = np.arange(likeliest, least, -1, dtype=np.float64)
    up = (all_wrong - above) * (total - above) / (above + 1) / (others_total - all_wrong + above + 1)
    down = below * (others_total - all_wrong + below) / (all_wrong - below + 1) / (total - below + 1)
    weights: npt.NDArray[np.float64] = np.concatenate([np.cumprod(down)[::-1], [1.0], np.cumprod(up)])
    return float(weights[wrong - least :].sum() / weights.sum())
