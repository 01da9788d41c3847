"""What happened in a store: the pattern that was planted is the one that is named."""

import random
from collections import Counter
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.rollup.planting import (
    PLANTED,
    Labels,
    Reading,
    add_errors,
    draw_display,
    draw_reading,
    name,
    place_of,
    reading_of,
    readings,
    set_again,
    shelf_places,
    trays_of,
    wrong,
)
from workbook_tools.rollup.pattern_candidates import Display, candidates
from workbook_tools.rollup.patterns import KINDS, Pattern, Tray, explain, shortest

# One small display, pattern by pattern

SMALL: Labels = dict(
    zip(
        [(face, shelf, place) for face in "AB" for shelf in (1, 2) for place in (1, 2, 3)],
        ["ash", "bay", "cob", "dun", "elm", "fir", "gum", "hay", "ivy", "ash", "bay", "elm"],
        strict=True,
    )
)


def small(**labels: str) -> list[Tray]:
    """The small display with these labels, as `A11="bay"`."""
    changed = {(key[0], int(key[1]), int(key[2])): label for key, label in labels.items()}
    return trays_of(SMALL, SMALL | changed)


EXAMPLES = {
    "swapped": (
        small(A11="cob", A13="ash"),
        ("A-1-1", "A-1-3"),
        {"first": "A-1-1", "second": "A-1-3", "first_due": "ash", "second_due": "cob"},
    ),
    "shifted, end empty": (
        small(A21="", A22="dun", A23="elm"),
        ("A-2-1", "A-2-2", "A-2-3"),
        {"face": "A", "shelf": "2", "direction": "right", "end": "empty", "end_position": "A-2-1", "end_found": ""}
        | {"except": ""},
    ),
    "shifted, end wrapped": (
        small(A21="elm", A22="fir", A23="dun"),
        ("A-2-1", "A-2-2", "A-2-3"),
        {"face": "A", "shelf": "2", "direction": "left", "end": "wrapped", "end_position": "A-2-3", "end_found": "dun"}
        | {"except": ""},
    ),
    "shifted, end of another brand": (
        small(A21="elm", A22="fir", A23="ivy"),
        ("A-2-1", "A-2-2", "A-2-3"),
        {"face": "A", "shelf": "2", "direction": "left", "end": "other", "end_position": "A-2-3", "end_found": "ivy"}
        | {"except": ""},
    ),
    "shifted, end right": (
        small(A22="dun", A23="elm"),
        ("A-2-2", "A-2-3"),
        {"face": "A", "shelf": "2", "direction": "right", "end": "other", "end_position": "A-2-1", "end_found": "dun"}
        | {"except": ""},
    ),
    "shelves": (
        small(A11="gum", A12="hay", A13="ivy", B11="ash", B12="bay", B13="cob"),
        ("A-1-1", "A-1-2", "A-1-3", "B-1-1", "B-1-2", "B-1-3"),
        {"face": "A", "shelf": "1", "other_face": "B", "other_shelf": "1", "except": ""},
    ),
    "shelves, one tray put right": (
        small(A11="gum", A12="hay", A13="ivy", B11="ash", B12="bay"),
        ("A-1-1", "A-1-2", "A-1-3", "B-1-1", "B-1-2"),
        {"face": "A", "shelf": "1", "other_face": "B", "other_shelf": "1", "except": "B-1-3"},
    ),
    "faces": (
        small(
            **{f"A{p}": SMALL["B", int(p[0]), int(p[1])] for p in ("11", "12", "13", "21", "22", "23")},
            **{f"B{p}": SMALL["A", int(p[0]), int(p[1])] for p in ("11", "12", "13", "21", "22", "23")},
        ),
        tuple(name(place) for place in SMALL),
        {"face": "A", "other_face": "B", "except": ""},
    ),
    "mirrored": (
        small(A11="cob", A13="ash", A21="fir", A23="dun"),
        ("A-1-1", "A-1-3", "A-2-1", "A-2-3"),
        {"face": "A", "except": ""},
    ),
    "brand for brand": (
        small(A11="ivy", B21="ivy"),
        ("A-1-1", "B-2-1"),
        {"label": "ivy", "due": "ash", "places": "2", "of": "2"},
    ),
    "run out": (small(A22="", B23=""), ("A-2-2", "B-2-3"), {"due": "elm", "places": "2", "of": "2"}),
    "bare face": (
        small(A11="", A12="", A13="", A21="", A22="", A23=""),
        ("A-1-1", "A-1-2", "A-1-3", "A-2-1", "A-2-2", "A-2-3"),
        {"scope": "face", "face": "A", "places": "6", "except": ""},
    ),
    "bare display": (
        trays_of(SMALL, dict.fromkeys(SMALL, "")),
        tuple(name(place) for place in SMALL),
        {"scope": "display", "face": "", "places": "12", "except": ""},
    ),
    "unexplained": (small(B13="dun"), ("B-1-3",), {"due": "ivy", "found": "dun"}),
}
EXAMPLE_KINDS = {
    "swapped": "swapped",
    "shelves": "shelves_exchanged",
    "shelves, one tray put right": "shelves_exchanged",
    "faces": "faces_exchanged",
    "mirrored": "face_mirrored",
    "brand for brand": "brand_for_brand",
    "run out": "labels_run_out",
    "bare face": "no_labels",
    "bare display": "no_labels",
    "unexplained": "unexplained",
}


@pytest.mark.parametrize("example", EXAMPLES)
def test_each_kind_is_named_with_its_trays_and_what_a_sentence_needs(example: str) -> None:
    """One pattern on a small display gives just that pattern, every wrong tray in it, every field filled."""
    trays, positions, detail = EXAMPLES[example]
    kind = EXAMPLE_KINDS.get(example, "shelf_shifted")
    assert explain(trays) == [Pattern(kind, positions, detail)]


def test_every_kind_has_an_example() -> None:
    """The kinds that words must be found for are those that the examples show."""
    assert set(KINDS) == {EXAMPLE_KINDS.get(example, "shelf_shifted") for example in EXAMPLES}


def test_nothing_wrong_is_no_pattern() -> None:
    """A display with every label as due, or without trays, has nothing to explain."""
    assert explain(small()) == []
    assert explain([]) == []


def test_two_things_that_happened_are_both_named() -> None:
    """A shifted shelf and a swap elsewhere are told as two patterns, the larger first, and a stray label after them."""
    trays = small(A21="elm", A22="fir", A23="", B11="ivy", B13="gum", B22="cob")
    assert [pattern.kind for pattern in explain(trays)] == ["shelf_shifted", "swapped", "unexplained"]


def test_a_missing_label_may_be_told_as_none_or_as_an_empty_text() -> None:
    """None and "" are the same: no label."""
    empty = small(A22="", B23="")
    none = [Tray(t.position, t.face, t.shelf, t.place, t.due, t.found or None) for t in empty]
    assert explain(none) == explain(empty)


def test_two_of_three_trays_of_a_brand_are_not_wherever_it_is_due() -> None:
    """One brand's label at two places for another's, and right at the third, is no pattern; at three of four it is."""
    line = [Tray(f"A-1-{place}", "A", 1, place, "ash", "ash") for place in range(1, 5)]
    line += [Tray(f"A-2-{place}", "A", 2, place, "bay", "bay") for place in range(1, 5)]

    def with_bay(count: int, among: list[Tray]) -> list[Tray]:
        return [Tray(t.position, t.face, t.shelf, t.place, t.due, "bay") if t in among[:count] else t for t in among]

    assert [pattern.kind for pattern in explain(with_bay(2, line)[1:])] == ["unexplained"]
    assert [pattern.kind for pattern in explain(with_bay(2, line))] == ["unexplained"] * 2
    named = explain(with_bay(3, line))
    assert [(pattern.kind, pattern.detail["places"], pattern.detail["of"]) for pattern in named] == [
        ("brand_for_brand", "3", "4")
    ]


def test_trays_nobody_reported_keep_the_shape_and_are_never_explained() -> None:
    """A shelf shifted right whose middle tray was left blank is still shifted, and the blank tray is in no pattern."""
    trays = [
        Tray(f"A-1-{place}", "A", 1, place, due, found, reported=place != 3)
        for place, due, found in ((1, "ash", ""), (2, "bay", "ash"), (3, "cob", None), (4, "dun", "cob"))
    ]
    (pattern,) = explain(trays)
    assert (pattern.kind, pattern.positions) == ("shelf_shifted", ("A-1-1", "A-1-2", "A-1-4"))
    assert explain([Tray("A-1-1", "A", 1, 1, "ash", None, reported=False)]) == []


def test_two_trays_at_one_place_are_refused() -> None:
    """The caller must not give a place twice: which of two answers holds is decided elsewhere."""
    with pytest.raises(ValueError, match="one tray a place"):
        explain([*small(A11="bay"), small()[0]])


# Planted patterns

UNTIMED = settings(deadline=None)
DISPLAYS = st.randoms(use_true_random=False)


@given(DISPLAYS, st.sampled_from(PLANTED))
@UNTIMED
def test_a_planted_pattern_is_the_one_that_is_named(chance: random.Random, kind: str) -> None:
    """A single pattern is named alone, or, where others give the very same labels, one of those alone.

    Left out are plants that show too little: fewer than two wrong trays, or a shift of which, besides a freely chosen
    label at its end, one tray shows.
    """
    due, brands = draw_display(chance)
    reading = draw_reading(due, brands, kind, chance)
    if reading is None:
        return
    found = set_again(due, reading)
    spoilt = wrong(due, found)
    if len(spoilt) < 2 or (kind == "shelf_shifted" and _hits(due, found, reading) < 2):
        return
    named = explain(trays_of(due, found))
    assert len(named) == 1
    assert set(named[0].positions) == set(map(name, spoilt))
    assert set_again(due, reading_of(named[0])) == found
    assert _same_labels(due, brands, found) != {reading} or reading_of(named[0]) == reading


def _hits(due: Labels, found: Labels, reading: Reading) -> int:
    """The wrong trays of a shelf that its shift foretells; the end counts where it is empty or wrapped."""
    line = shelf_places(due, reading[1], int(reading[2]))
    if reading[3] == "left":
        line.reverse()
    end = line[0]
    foretold = found[end] == "" or (len(wrong(due, found)) > 2 and found[end] == due[line[-1]])
    return sum(place != end or foretold for place in wrong(due, found))


def _same_labels(due: Labels, brands: list[str], found: Labels) -> set[Reading]:
    """All single patterns that give these labels."""
    bare = [name(place) for place in due if not found[place]]
    possible = [r for kind in PLANTED if kind != "labels_run_out" for r in readings(due, brands, kind)]
    possible += [("labels_run_out", *sorted(bare))] if len({due[place_of(one)] for one in bare}) == 1 else []
    return {reading for reading in possible if set_again(due, reading) == found}


@given(DISPLAYS, st.integers(0, 12))
@UNTIMED
def test_each_wrong_tray_is_in_one_pattern_and_no_right_tray_in_any(chance: random.Random, errors: int) -> None:
    """Whatever the labels and the order of the trays, the patterns part the wrong trays among them."""
    due, brands = draw_display(chance)
    found = add_errors(due, list(due), [*brands, ""], errors, chance)
    trays = trays_of(due, found)
    told = explain(trays)
    assert sorted(p for pattern in told for p in pattern.positions) == sorted(map(name, wrong(due, found)))
    assert explain(chance.sample(trays, len(trays))) == told


@given(DISPLAYS, st.integers(2, 16), st.integers(2, 8))
@UNTIMED
def test_no_set_of_patterns_is_shorter_than_the_one_told(chance: random.Random, errors: int, few: int) -> None:
    """The search finds what trying every set of patterns, with every set of swaps, finds."""
    due, _ = draw_display(chance)
    brands = [f"brand {number}" for number in range(few)]
    due = {place: chance.choice(brands) for place in list(due)[:20]}
    display = Display(trays_of(due, add_errors(due, list(due), [*brands, ""], errors, chance)))
    possible = candidates(display)[:12]
    best = shortest(display, possible)
    told = sum(one.saved for one in best) + display.swap_saves * _most_swaps(display, sum(one.claimed for one in best))
    tried = [
        sum(one.saved for one in some) + display.swap_saves * _most_swaps(display, sum(one.claimed for one in some))
        for size in range(4)
        for some in combinations(possible, size)
        if not any(a.claimed & b.claimed for a, b in combinations(some, 2))
    ]
    assert told >= max(tried) - 1e-6


def _most_swaps(display: Display, claimed: int) -> int:
    left = [index for index in display.wrong if not claimed >> index & 1]
    kinds = Counter((display.due[index], display.found[index]) for index in left)
    return sum(min(count, kinds[label, due]) for (due, label), count in kinds.items() if due < label)
