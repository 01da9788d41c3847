"""Displays drawn at random, and patterns planted in them, for the tests of what happened in a store.

Displays have 1-4 faces of 1-5 shelves of 2-4 places and 8-10 brands. Patterns are planted, read off and set again by
the code of this file alone, which shares nothing with the code under test but the trays and the fields of a pattern.
"""

import random
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import combinations

from workbook_tools.rollup.patterns import Pattern, Tray

Place = tuple[str, int, int]
Labels = dict[Place, str]
Reading = tuple[str, ...]
"""A kind and what tells one pattern of that kind from another."""


def trays_of(due: Labels, found: Labels) -> list[Tray]:
    """The trays of a store with these labels."""
    return [Tray(name(place), *place, due=due[place], found=found[place]) for place in due]


def name(place: Place) -> str:
    """The position's name."""
    return "-".join(map(str, place))


def place_of(position: str) -> Place:
    """The place that a position's name says."""
    face, shelf, place = position.split("-")
    return face, int(shelf), int(place)


def shelf_places(due: Labels, face: str, shelf: int) -> list[Place]:
    """The places of a shelf from the left."""
    return [place for place in due if place[:2] == (face, shelf)]


def faces_in(due: Labels) -> dict[str, dict[int, int]]:
    """Face → shelf → number of places."""
    faces: dict[str, dict[int, int]] = {}
    for face, shelf, _ in due:
        faces.setdefault(face, Counter())[shelf] += 1
    return faces


def wrong(due: Labels, found: Labels) -> list[Place]:
    """The places whose label is not the one due."""
    return [place for place in due if found[place] != due[place]]


# Setting a pattern: what the labels are after it happened


def set_again(due: Labels, reading: Reading) -> Labels:
    """The labels that a reading says are there."""
    return SETTERS[reading[0]](due, *reading[1:])


def _swapped(due: Labels, first: str, second: str) -> Labels:
    one, other = place_of(first), place_of(second)
    return due | {one: due[other], other: due[one]}


def _shifted(due: Labels, face: str, shelf: str, direction: str, end_found: str) -> Labels:
    line = shelf_places(due, face, int(shelf))
    labels = [due[place] for place in line]
    moved = [end_found, *labels[:-1]] if direction == "right" else [*labels[1:], end_found]
    return due | dict(zip(line, moved, strict=True))


def _shelves(due: Labels, face: str, shelf: str, other_face: str, other_shelf: str) -> Labels:
    one, other = shelf_places(due, face, int(shelf)), shelf_places(due, other_face, int(other_shelf))
    return due | {a: due[b] for a, b in zip(one + other, other + one, strict=True)}


def _faces(due: Labels, face: str, other_face: str) -> Labels:
    partner = {face: other_face, other_face: face}
    return {place: due[partner.get(place[0], place[0]), *place[1:]] for place in due}


def _mirrored(due: Labels, face: str) -> Labels:
    widths = faces_in(due)[face]
    return {(f, s, p): due[f, s, widths[s] + 1 - p] if f == face else label for (f, s, p), label in due.items()}


def _brand_for_brand(due: Labels, wanted: str, label: str) -> Labels:
    return {place: label if brand == wanted else brand for place, brand in due.items()}


def _run_out(due: Labels, *positions: str) -> Labels:
    return {place: "" if name(place) in positions else brand for place, brand in due.items()}


SETTERS: dict[str, Callable[..., Labels]] = {
    "swapped": _swapped,
    "shelf_shifted": _shifted,
    "shelves_exchanged": _shelves,
    "faces_exchanged": _faces,
    "face_mirrored": _mirrored,
    "brand_for_brand": _brand_for_brand,
    "labels_run_out": _run_out,
}
DETAILS = {
    "swapped": ("first", "second"),
    "shelf_shifted": ("face", "shelf", "direction", "end_found"),
    "shelves_exchanged": ("face", "shelf", "other_face", "other_shelf"),
    "faces_exchanged": ("face", "other_face"),
    "face_mirrored": ("face",),
    "brand_for_brand": ("due", "label"),
}


def reading_of(pattern: Pattern) -> Reading:
    """What a named pattern says, as this file writes it."""
    if pattern.kind == "labels_run_out":
        return (pattern.kind, *pattern.positions)
    return (pattern.kind, *(pattern.detail[key] for key in DETAILS[pattern.kind]))


def readings(due: Labels, brands: list[str], kind: str) -> Iterator[Reading]:
    """All patterns of a kind that can happen to a display; of those with a free choice of trays or labels, all too."""
    faces = faces_in(due)
    shelves = [(face, str(shelf), size) for face, sizes in faces.items() for shelf, size in sizes.items()]
    if kind == "swapped":
        yield from (("swapped", name(a), name(b)) for a, b in combinations(due, 2))
    elif kind == "shelf_shifted":
        for face, shelf, _ in shelves:
            for end in ["", *brands]:
                yield from (("shelf_shifted", face, shelf, direction, end) for direction in ("left", "right"))
    elif kind == "shelves_exchanged":
        yield from ((kind, *a[:2], *b[:2]) for a, b in combinations(shelves, 2) if a[2] == b[2])
    elif kind == "faces_exchanged":
        yield from ((kind, a, b) for a, b in combinations(faces, 2) if faces[a] == faces[b])
    elif kind == "face_mirrored":
        yield from ((kind, face) for face in faces)
    else:
        often = [brand for brand, count in Counter(due.values()).items() if count > 1]
        yield from ((kind, brand, label) for brand in often for label in brands if label != brand)


PLANTED = tuple(SETTERS)


def draw_reading(due: Labels, brands: list[str], kind: str, chance: random.Random) -> Reading | None:
    """One pattern of a kind; None where the display allows none."""
    if kind == "labels_run_out":
        often = sorted(brand for brand, count in Counter(due.values()).items() if count > 1)
        if not often:
            return None
        brand = chance.choice(often)
        bare = [name(place) for place in due if due[place] == brand]
        return (kind, *sorted(chance.sample(bare, chance.randint(2, len(bare)))))
    if kind == "shelf_shifted":
        face, shelf = chance.choice(sorted({place[:2] for place in due}))
        line = [due[place] for place in shelf_places(due, face, shelf)]
        direction = chance.choice(["left", "right"])
        end = chance.choice(["", line[0 if direction == "left" else -1], chance.choice(brands)])
        return (kind, face, str(shelf), direction, end)
    possible = list(readings(due, brands, kind))
    return chance.choice(possible) if possible else None


def draw_display(chance: random.Random) -> tuple[Labels, list[str]]:
    """A display and its brands; on half of the displays a brand likes to stand beside itself."""
    brands = [f"brand {number}" for number in range(chance.randint(8, 10))]
    alike = chance.random() < 0.4
    shape = _draw_shape(chance)
    shapes = {face: shape if alike else _draw_shape(chance) for face in "ABCD"[: chance.randint(1, 4)]}
    blocks = chance.random() < 0.5
    due: Labels = {}
    for face, widths in shapes.items():
        for shelf, width in enumerate(widths, 1):
            for place in range(1, width + 1):
                beside = due.get((face, shelf, place - 1))
                due[face, shelf, place] = (
                    beside if beside and blocks and chance.random() < 0.4 else chance.choice(brands)
                )
    return due, brands


def _draw_shape(chance: random.Random) -> list[int]:
    return [chance.randint(2, 4) for _ in range(chance.randint(1, 5))]


def add_errors(found: Labels, at: list[Place], brands: list[str], errors: int, chance: random.Random) -> Labels:
    """Labels of random other brands on some of these places."""
    spoilt = chance.sample(at, min(errors, len(at)))
    return found | {place: chance.choice([b for b in brands if b != found[place]]) for place in spoilt}
