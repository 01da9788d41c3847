"""All patterns that could explain some of a store's wrong trays, and the bits that each saves over telling them singly.

An explanation is measured as a message from which the labels could be set again (minimum description length; Rissanen
1978, "Modeling by shortest data description"). With n trays on the display and b different labels (no label is one),

    one tray on its own      3 + log2 n + log2 b          which tray, which label; also each tray that a pattern
                                                          predicts wrongly
    swapped                  1 + log2 (n (n - 1) / 2)     which two trays
    shelf_shifted            2 + log2 (2 * 3 * shelves)   shelf, direction, end; + log2 b if the end has another label
    shelves_exchanged        2 + log2 (pairs of shelves with equally many places)
    faces_exchanged          1 + log2 (pairs of faces with the same shape)
    face_mirrored            1 + log2 faces
    brand_for_brand          1 + 2 log2 b + log2 C(m, k)  which brands; at which k of the m trays where the one is due
    labels_run_out           1 + log2 b + log2 C(m, k)    which brand; which k of its m trays
    no_labels                2 + log2 (faces + 1)         a whole face or the whole display

The constants (1 to 3) say how common a thing is and were set by simulation. What makes a pattern at all:
- it is right for more trays than it is wrong for;
- shelves, faces, no_labels: at least three wrong trays explained (two are a swap, or chance); a shifted shelf whose
  first place is empty, or has any label, needs two, the empty one counted; with any label, it is right for all others;
- no_labels: at least two brands;
- brand_for_brand: all trays of a brand, two or more, or three of them; labels_run_out: at least two.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, combinations, pairwise

KINDS = (
    "faces_exchanged",
    "face_mirrored",
    "shelves_exchanged",
    "shelf_shifted",
    "no_labels",
    "brand_for_brand",
    "labels_run_out",
    "swapped",
    "unexplained",
)
"""All kinds, in the order in which equally short explanations are preferred."""


@dataclass(frozen=True, slots=True)
class Tray:
    """One tray as reported: `due` is what belongs there, `found` what is there, None or "" for nothing.

    position: its name, as `A-2-3`. shelf counts from 1 at the top, place from 1 at the left.
    reported: False where nobody told what is there; such a tray counts for the shape of its shelf only.
    For labels, due is the brand of the item that stands there; for items, the item planned.
    """

    position: str
    face: str
    shelf: int
    place: int
    due: str
    found: str | None
    reported: bool = True

    @property
    def is_wrong(self) -> bool:
        """Whether what is there is known not to be what is due."""
        return self.reported and (self.found or "") != self.due


@dataclass(frozen=True, slots=True)
class Candidate:
    """A pattern that may have happened. Sets of trays are the bits of an int; `saved` is in bits of the message.

    claimed: trays for which it predicts another label than the one due. explained: the wrong trays among them that it
    gets right.
    """

    kind: str
    claimed: int
    explained: int
    saved: float
    detail: dict[str, str]

    @property
    def rate(self) -> float:
        """What it saves for each tray it explains."""
        return self.saved / self.explained.bit_count()

    @property
    def order(self) -> tuple[float, int, int]:
        """Most saved first, then by kind, then the first in the walk."""
        return (-round(self.saved, 6), KINDS.index(self.kind), self.claimed & -self.claimed)


class Display:
    """A store's trays, by index in walking order: face, shelf from the top, place from the left.

    alone: bits to tell one tray on its own. swap_saves: bits that telling two trays as a swap saves.
    """

    def __init__(self, trays: Iterable[Tray]) -> None:
        self.trays = sorted(trays, key=lambda tray: (tray.face, tray.shelf, tray.place))
        self.due = [tray.due for tray in self.trays]
        self.found = [tray.found or "" for tray in self.trays]
        self.wrong = [index for index, tray in enumerate(self.trays) if tray.is_wrong]
        self.shelves: dict[tuple[str, int], list[int]] = defaultdict(list)
        for index, tray in enumerate(self.trays):
            self.shelves[tray.face, tray.shelf].append(index)
        self.faces: dict[str, list[list[int]]] = defaultdict(list)
        for (face, _), shelf in self.shelves.items():
            self.faces[face].append(shelf)
        seen = {tray.found or "" for tray in self.trays if tray.reported}
        self.label_bits = math.log2(max(2, len(seen.union(self.due))))
        self.alone = 3 + math.log2(max(2, len(self.trays))) + self.label_bits
        self.swap_saves = 2 * self.alone - 1 - math.log2(max(1, math.comb(len(self.trays), 2)))

    def of(self, mask: int) -> list[int]:
        """The indexes of a set of trays."""
        return [index for index in range(mask.bit_length()) if mask >> index & 1]

    def names(self, indexes: Iterable[int]) -> tuple[str, ...]:
        """Their positions."""
        return tuple(self.trays[index].position for index in indexes)

    def spoilt(self) -> list[tuple[tuple[str, int], list[int]]]:
        """The shelves that have a wrong tray, as ((face, shelf), indexes)."""
        bad = dict.fromkeys((self.trays[index].face, self.trays[index].shelf) for index in self.wrong)
        return [(key, self.shelves[key]) for key in bad]


def candidates(display: Display) -> list[Candidate]:
    """All patterns but swaps that save something, the one that saves most first."""
    if len(display.wrong) < 2:
        return []
    makers = (_shifted, _shelves_exchanged, _faces_exchanged, _mirrored, _by_brand, _bare)
    found = [one for make in makers for one in make(display) if one.saved > 0]
    return sorted(found, key=lambda one: one.order)


def _weigh(
    display: Display, pattern: tuple[str, float, dict[str, str]], predicted: Iterable[tuple[int, str]], least: int = 3
) -> Iterator[Candidate]:
    """The pattern (kind, bits, detail) that puts these labels on these trays, if it explains at least `least`."""
    claimed = explained = hits = contrary = 0
    exceptions = []
    for index, label in predicted:
        if label == display.due[index] or not display.trays[index].reported:
            continue
        claimed |= 1 << index
        if display.found[index] == label:
            explained |= 1 << index
            hits += 1
        else:
            exceptions.append(index)
            contrary += display.found[index] == display.due[index]
    if hits >= max(least, len(exceptions) + 1):
        kind, bits, detail = pattern
        saved = (hits - contrary) * display.alone - bits
        detail = detail | {"except": " ".join(display.names(sorted(exceptions)))}
        yield Candidate(kind, claimed, explained, saved, detail)


# Shelves and faces: each tray has the label that is due at another one


def _shelves_exchanged(display: Display) -> Iterator[Candidate]:
    bits = 2 + _pair_bits(map(len, display.shelves.values()))
    for (key, shelf), (other_key, other) in combinations(display.spoilt(), 2):
        if len(shelf) == len(other):
            detail = {"face": key[0], "shelf": str(key[1])}
            detail |= {"other_face": other_key[0], "other_shelf": str(other_key[1])}
            yield from _weigh(display, ("shelves_exchanged", bits, detail), _exchange(display, shelf, other))


def _faces_exchanged(display: Display) -> Iterator[Candidate]:
    shapes = {
        face: tuple((display.trays[shelf[0]].shelf, len(shelf)) for shelf in shelves)
        for face, shelves in display.faces.items()
    }
    bits = 1 + _pair_bits(shapes.values())
    for face, other in combinations(_spoilt_faces(display), 2):
        if shapes[face] == shapes[other]:
            shelves = zip(display.faces[face], display.faces[other], strict=True)
            predicted = [pair for one, two in shelves for pair in _exchange(display, one, two)]
            detail = {"face": face, "other_face": other}
            yield from _weigh(display, ("faces_exchanged", bits, detail), predicted)


def _mirrored(display: Display) -> Iterator[Candidate]:
    bits = 1 + math.log2(len(display.faces))
    for face in _spoilt_faces(display):
        predicted = [pair for shelf in display.faces[face] for pair in _moved(display, shelf, shelf[::-1])]
        yield from _weigh(display, ("face_mirrored", bits, {"face": face}), predicted)


def _spoilt_faces(display: Display) -> list[str]:
    return list(dict.fromkeys(face for (face, _), _ in display.spoilt()))


def _moved(display: Display, to: Sequence[int], source: Sequence[int]) -> list[tuple[int, str]]:
    return [(index, display.due[other]) for index, other in zip(to, source, strict=True)]


def _exchange(display: Display, one: list[int], other: list[int]) -> list[tuple[int, str]]:
    return _moved(display, one + other, other + one)


def _pair_bits(shapes: Iterable[Hashable]) -> float:
    return math.log2(max(1, sum(math.comb(alike, 2) for alike in Counter(shapes).values())))


# A shelf shifted by one: the place left free has no label, the label pushed out at the far end, or any


def _shifted(display: Display) -> Iterator[Candidate]:
    bits = 2 + math.log2(6 * max(1, sum(len(shelf) > 1 for shelf in display.shelves.values())))
    for (face, number), shelf in display.spoilt():
        for direction, line in (("right", shelf), ("left", shelf[::-1])):
            free, end = line[0], _end(display, line)
            detail = {"face": face, "shelf": str(number), "direction": direction, "end": end}
            detail |= {"end_position": display.trays[free].position, "end_found": display.found[free]}
            pattern = ("shelf_shifted", bits, detail)
            predicted = [(index, display.due[source]) for source, index in pairwise(line)]
            if end in ("empty", "wrapped"):
                end_too = [*predicted, (free, display.found[free])]
                yield from _weigh(display, pattern, end_too, 2 if end == "empty" else 3)
            else:
                yield from _any_end(display, pattern, predicted, free)


def _end(display: Display, line: list[int]) -> str:
    found = display.found[line[0]]
    if not display.trays[line[0]].reported:
        return "unknown"
    if not found:
        return "empty"
    # A shelf of two that "wraps" is two labels swapped.
    return "wrapped" if found == display.due[line[-1]] and len(line) > 2 else "other"


def _any_end(
    display: Display, pattern: tuple[str, float, dict[str, str]], predicted: list[tuple[int, str]], free: int
) -> Iterator[Candidate]:
    """A shift whose free place has a label that must be told on its own: its place is known, the label is not."""
    for one in _weigh(display, pattern, predicted, 2):
        if one.claimed != one.explained:
            continue
        if not display.trays[free].is_wrong:
            yield one
            continue
        end, gain = 1 << free, display.alone - display.label_bits
        yield Candidate(one.kind, one.claimed | end, one.explained | end, one.saved + gain, one.detail)


# Brands: one brand's label, or none, where another brand's is due


def _by_brand(display: Display) -> Iterator[Candidate]:
    due_at = Counter(tray.due for tray in display.trays if tray.reported)
    for (due, label), trays in alike(display).items():
        places, among = trays.bit_count(), due_at[due]
        if not due or places < (2 if places == among or not label else 3):
            continue
        bits = 1 + math.log2(math.comb(among, places)) + display.label_bits * (2 if label else 1)
        detail = {"due": due, "places": str(places), "of": str(among)} | ({"label": label} if label else {})
        kind = "brand_for_brand" if label else "labels_run_out"
        yield Candidate(kind, trays, trays, places * display.alone - bits, detail)


def alike(display: Display) -> dict[tuple[str, str], int]:
    """The wrong trays by (due, found): sets of trays as the bits of an int."""
    sets: dict[tuple[str, str], int] = defaultdict(int)
    for index in display.wrong:
        sets[display.due[index], display.found[index]] |= 1 << index
    return sets


def _bare(display: Display) -> Iterator[Candidate]:
    """A face, or the display, without labels."""
    bits = 2 + math.log2(len(display.faces) + 1)
    scopes = [(face, list(chain(*shelves))) for face, shelves in display.faces.items()]
    if len(scopes) > 1:
        scopes.append(("", list(range(len(display.trays)))))
    for face, indexes in scopes:
        bare = [index for index in indexes if display.trays[index].is_wrong and not display.found[index]]
        if len({display.due[index] for index in bare}) > 1:
            detail = {"scope": "face" if face else "display", "face": face, "places": str(len(bare))}
            yield from _weigh(display, ("no_labels", bits, detail), [(index, "") for index in indexes])
