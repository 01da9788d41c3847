"""How often the pattern that happened is named among random errors, and how often chance is taken for one.

Rates over displays drawn with fixed seeds; workbook_tools/rollup/patterns.py states those of larger runs.
"""

import random
from collections import Counter
from collections.abc import Callable

import pytest

from tests.rollup.planting import (
    PLANTED,
    SETTERS,
    Labels,
    Place,
    add_errors,
    draw_display,
    draw_reading,
    name,
    reading_of,
    set_again,
    trays_of,
    wrong,
)
from workbook_tools.rollup.patterns import Pattern, explain


def named_beside(kind: str, stores: int, seed: int, *, anywhere: bool) -> tuple[int, int]:
    """(right, of): planted patterns named among two random errors, in stores where three trays or two swapped show it.

    The errors are on trays that the pattern left right, or `anywhere`; then trays of the pattern may be overwritten,
    and those that are left count.
    """
    chance = random.Random(seed)
    right = of = 0
    while of < stores:
        due, brands = draw_display(chance)
        reading = draw_reading(due, brands, kind, chance)
        planted = set_again(due, reading) if reading else due
        spoilt = wrong(due, planted)
        if len(spoilt) < (2 if kind == "swapped" else 3):
            continue
        free = [place for place in due if anywhere or place not in spoilt]
        found = add_errors(planted, free, brands, 2, chance)
        left = [place for place in spoilt if found[place] == planted[place]]
        named = [pattern for pattern in explain(trays_of(due, found)) if pattern.kind != "unexplained"]
        right += any(_tells(due, pattern, planted, left) for pattern in named)
        of += 1
    return right, of


def _tells(due: Labels, pattern: Pattern, planted: Labels, left: list[Place]) -> bool:
    """Whether a pattern explains these trays, puts the planted labels on them and moves no other label."""
    if pattern.kind not in SETTERS or not set(map(name, left)) <= set(pattern.positions):
        return False
    again = set_again(due, reading_of(pattern))
    return set(wrong(due, again)) <= set(wrong(due, planted)) and all(again[place] == planted[place] for place in left)


@pytest.mark.parametrize("kind", [kind for kind in PLANTED if kind != "swapped"])
def test_patterns_of_three_or_more_trays_are_named_beside_two_random_errors(kind: str) -> None:
    """In at least 95 % of stores, the errors being on other trays."""
    right, of = named_beside(kind, 300, seed=8, anywhere=False)
    assert right / of >= 0.95


@pytest.mark.parametrize(
    ("kind", "least"),
    [
        ("swapped", 0.6),
        ("shelf_shifted", 0.75),
        ("shelves_exchanged", 0.95),
        ("faces_exchanged", 0.95),
        ("face_mirrored", 0.92),
        ("brand_for_brand", 0.8),
        ("labels_run_out", 0.93),
    ],
)
def test_patterns_are_mostly_named_when_two_random_errors_overwrite_their_trays(kind: str, least: float) -> None:
    """Errors anywhere, also on trays of the pattern, which of three may leave one: at the rates patterns.py states."""
    right, of = named_beside(kind, 300, seed=9, anywhere=True)
    assert least <= right / of < 1


def test_swaps_are_named_beside_two_random_errors_in_nineteen_of_twenty_stores() -> None:
    """A random error that fits one half of a swap as well as the other half does can take its place: 93 to 98 %."""
    right, of = named_beside("swapped", 400, seed=10, anywhere=False)
    assert 0.93 <= right / of <= 0.98


def named_by_chance(stores: int, seed: int, draw: Callable[[random.Random], tuple[Labels, list[str]]]) -> Counter[str]:
    """Stores with 1-6 random errors and nothing else in which large patterns, swaps, other pairs are named."""
    chance = random.Random(seed)
    named: Counter[str] = Counter()
    for _ in range(stores):
        due, brands = draw(chance)
        found = add_errors(due, list(due), brands, chance.randint(1, 6), chance)
        told = [pattern for pattern in explain(trays_of(due, found)) if pattern.kind != "unexplained"]
        named["large"] += any(len(pattern.positions) >= 3 for pattern in told)
        named["swapped"] += any(pattern.kind == "swapped" for pattern in told)
        named["pair"] += any(pattern.kind != "swapped" and len(pattern.positions) == 2 for pattern in told)
    return named


def draw_tiny_display(chance: random.Random) -> tuple[Labels, list[str]]:
    """One face of one or two shelves of three or four places: nearly all of its trays are wrong at once."""
    brands = [f"brand {number}" for number in range(chance.randint(8, 10))]
    widths = [chance.randint(3, 4) for _ in range(chance.randint(1, 2))]
    places = [("A", shelf, place) for shelf, width in enumerate(widths, 1) for place in range(1, width + 1)]
    return {place: chance.choice(brands) for place in places}, brands


def test_random_errors_are_hardly_ever_taken_for_a_pattern() -> None:
    """Of three or more trays: in at most 2 % of stores. Of two: swaps in 5-10 %, others in at most 3 %."""
    stores = 1500
    named = named_by_chance(stores, 11, draw_display)
    assert named["large"] / stores <= 0.02
    assert 0.05 <= named["swapped"] / stores <= 0.10
    assert named["pair"] / stores <= 0.03


def test_random_errors_on_the_smallest_displays_are_hardly_ever_taken_for_a_large_pattern() -> None:
    """Also on 3-8 trays, of which up to six are wrong, in at most 2 % of stores."""
    stores = 2000
    assert named_by_chance(stores, 12, draw_tiny_display)["large"] / stores <= 0.02
