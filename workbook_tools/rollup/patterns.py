"""What happened to a store's labels (or items): the shortest explanation of those that are not as due.

An explanation is a set of patterns that share no tray, and the trays they leave unexplained; pattern_candidates.py
says what each costs. The set whose cost is least is found exactly (up to MOST_NODES steps of the search).

Measured with tests/rollup/planting.py (1-4 faces, 1-5 shelves, 2-4 places, 8-10 brands; 3,000 stores a kind, 20,000
for chance). Alone, every planted pattern that shows two wrong trays is named, or one that gives the very same labels.
With two random errors in the store:

                         errors on other trays   errors on any trays
    shelf_shifted                99.4 %                 82 %
    shelves_exchanged            99.9 %                 98 %
    faces_exchanged             100   %                 97 %
    face_mirrored                99.9 %                 97 %
    brand_for_brand             100   %                 86 %
    labels_run_out              100   %                 98 %
    swapped                      96   %                 70 %

(all but swapped: of the patterns that show at least three wrong trays). With nothing but 1-6 random errors a pattern
of three or more trays is named in 0.4 % of stores (1.1 % on displays of 3-8 trays), a swap in 7 % (none at one error,
about 16 % at six), another pattern of two trays in 1.5 %. So a swap among several errors may be chance.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from workbook_tools.rollup.pattern_candidates import KINDS, Candidate, Display, Tray, alike, candidates

__all__ = ["KINDS", "Pattern", "Tray", "explain"]

MOST_NODES = 2000
"""Where the search for the best set of patterns stops; what it has found by then stands."""

TINY = 1e-9
"""Sums of bits that differ by less are equal."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """One thing that happened; `positions` are the wrong trays it explains, in the order of a walk round the display.

    detail, by kind (all texts):
        swapped            first, second (positions), first_due, second_due
        shelf_shifted      face, shelf, direction (left, right), end (empty, wrapped, other, unknown), end_position,
                           end_found
        shelves_exchanged  face, shelf, other_face, other_shelf
        faces_exchanged    face, other_face
        face_mirrored      face
        no_labels          scope (face, display), face ("" for the display), places (how many)
        brand_for_brand    label (what is there), due, places (how many), of (how many trays are due that brand)
        labels_run_out     due, places, of
        unexplained        due, found ("" for none)
    The first six but swapped also have `except`: positions, with a space between, whose label is not what the pattern
    would have put there ("" for none).
    """

    kind: str
    positions: tuple[str, ...]
    detail: dict[str, str]


def explain(trays: Sequence[Tray]) -> list[Pattern]:
    """Find the shortest explanation of the wrong trays of one store's display; [] when none is wrong.

    Each wrong tray is in the positions of exactly one pattern. Patterns come first, the largest at the top, then the
    unexplained trays, one each, in walking order. The order of `trays` does not matter.

    Raises:
        ValueError: two trays have the same place.
    """
    if not any(tray.is_wrong for tray in trays):
        return []
    if len({(tray.face, tray.shelf, tray.place) for tray in trays}) < len(trays):
        raise ValueError("expected one tray a place, got two with the same face, shelf and place")
    display = Display(trays)
    chosen = shortest(display, candidates(display))
    claimed = sum(one.claimed for one in chosen)
    explained = sum(one.explained for one in chosen)
    patterns = [Pattern(one.kind, display.names(display.of(one.explained)), one.detail) for one in chosen]
    for first, second in _swaps(display, claimed):
        explained |= 1 << first | 1 << second
        patterns.append(_swapped(display, first, second))
    patterns.sort(key=lambda one: -len(one.positions))
    left = (index for index in display.wrong if not explained >> index & 1)
    return patterns + [_unexplained(display, index) for index in left]


def _swapped(display: Display, first: int, second: int) -> Pattern:
    positions = display.names((first, second))
    due = display.due
    detail = {"first": positions[0], "second": positions[1], "first_due": due[first], "second_due": due[second]}
    return Pattern("swapped", positions, detail)


def _unexplained(display: Display, index: int) -> Pattern:
    detail = {"due": display.due[index], "found": display.found[index]}
    return Pattern("unexplained", display.names((index,)), detail)


# Swaps are counted, not searched. Trays due X with label Y pair with trays due Y with label X, so the most swaps that a
# set of trays allows is a minimum of counts, and which of equal trays swapped with which cannot be told.


def _opposites(display: Display) -> list[tuple[int, int]]:
    """For each two labels, the trays that have the second for the first, and the first for the second."""
    sets = alike(display)
    return [(ones, sets[found, due]) for (due, found), ones in sets.items() if due < found and (found, due) in sets]


def _swaps(display: Display, claimed: int) -> list[tuple[int, int]]:
    """The swaps among unclaimed trays, nearest trays paired first, each as (first, second), all in walking order."""
    pairs = []
    for ones, others in _opposites(display):
        free = (ones | others) & ~claimed
        choices = product(display.of(ones), display.of(others))
        for pair in sorted(choices, key=lambda pair: _distance(display, *pair)):
            both = 1 << pair[0] | 1 << pair[1]
            if both & free == both:
                free ^= both
                pairs.append((min(pair), max(pair)))
    return sorted(pairs)


def _distance(display: Display, one: int, other: int) -> tuple[bool, int, int, int]:
    a, b = display.trays[one], display.trays[other]
    return (a.face != b.face, abs(a.shelf - b.shelf), abs(a.place - b.place), min(one, other))


def shortest(display: Display, ordered: list[Candidate]) -> list[Candidate]:
    """The candidates, no tray claimed twice, that save most with the swaps they leave: depth first, cut by `_bound`."""
    opposites = _opposites(display)
    best: list[Candidate] = []
    best_saved = -1.0
    nodes = 0

    def visit(chosen: list[Candidate], claimed: int, saved: float, rest: list[Candidate]) -> None:
        nonlocal best, best_saved, nodes
        nodes += 1
        free = [(ones & ~claimed, others & ~claimed) for ones, others in opposites]
        total = saved + display.swap_saves * sum(min(a.bit_count(), b.bit_count()) for a, b in free)
        if total > best_saved + TINY:
            best, best_saved = chosen, total
        swappable = sum(a | b for a, b in free if a and b)
        for number, one in enumerate(rest):
            most = saved + _bound(rest[number:], swappable, display.swap_saves / 2)
            if nodes >= MOST_NODES or most <= best_saved + TINY:
                return
            after = [other for other in rest[number + 1 :] if not other.claimed & one.claimed]
            visit([*chosen, one], claimed | one.claimed, saved + one.saved, after)

    visit([], 0, 0.0, ordered)
    return best


def _bound(rest: Iterable[Candidate], swappable: int, swap_rate: float) -> float:
    """No set of `rest` and swaps saves more: each tray at the best rate that anything offers for it."""
    offers = [(one.rate, one.explained) for one in rest]
    offers.append((swap_rate, swappable))
    done = 0
    total = 0.0
    for rate, trays in sorted(offers, reverse=True):
        total += rate * (trays & ~done).bit_count()
        done |= trays
    return total
