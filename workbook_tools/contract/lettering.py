"""How much room a text takes on a sheet, and the type size at which it fits: rows keep the height they are given.

Merged cells never make a row grow, and spreadsheet programs do not grow the rows of a protected sheet, so every
height is worked out here, from the widths of Arial's characters.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil

PX_A_POINT = 96 / 72
LINE = 1.25
"""Height of a line of type, in type sizes."""

# Advance widths of the characters 32 to 126 in thousandths of the type size: those of Liberation Sans, which has
# the metrics of Arial.
_REGULAR = (
    *(278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278),
    *(556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556),
    *(1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778),
    *(667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556),
    *(333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556),
    *(556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584),
)
_BOLD = (
    *(278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278),
    *(556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611),
    *(975, 722, 722, 722, 722, 667, 611, 778, 722, 278, 556, 722, 611, 833, 722, 778),
    *(667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 333, 278, 333, 584, 556),
    *(333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556, 278, 889, 611, 611),
    *(611, 611, 389, 556, 333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584),
)
_OTHERS = {"·": 333, "–": 556, "×": 584, "“": 500, "”": 500, "’": 278, "…": 1000}
_FULL_WIDTH, _UNKNOWN = 1000, 750
_SAFE = 1.03
"""Programs round the width of every character to what their screen can show."""


@dataclass(frozen=True)
class Fit:
    """A type size in points, and the lines and pixels of height that a text takes in it."""

    points: int
    lines: int

    @property
    def height(self) -> int:
        """Pixels, line spacing included."""
        return ceil(self.lines * self.points * PX_A_POINT * LINE)


@dataclass(frozen=True)
class PairFit:
    """Type sizes in points of a name in bold and of what is said under it, and the pixels of height of both."""

    points: int
    details: int
    height: int


@lru_cache(maxsize=8192)
def width(text: str, points: float, bold: bool = False) -> float:
    """The width of a text on one line, in pixels."""
    return sum(_advance(character, bold) for character in text) / 1000 * points * PX_A_POINT * _SAFE


def _advance(character: str, bold: bool) -> int:
    """Thousandths of the type size; an accented letter is as wide as the plain one."""
    letter = unicodedata.category(character).startswith("L")
    plain = unicodedata.normalize("NFKD", character)[:1] if letter else character
    if " " <= plain <= "~":
        return (_BOLD if bold else _REGULAR)[ord(plain) - ord(" ")]
    if unicodedata.combining(character):
        return 0
    if character in _OTHERS:
        return _OTHERS[character]
    return _FULL_WIDTH if unicodedata.east_asian_width(character) in "WF" else _UNKNOWN


@lru_cache(maxsize=8192)
def lines(text: str, room: float, points: float, bold: bool = False) -> int:
    """The lines a text takes when it wraps at `room` pixels; a word that is wider than that breaks."""
    return sum(_wrapped(paragraph, room, points, bold) for paragraph in text.split("\n"))


def fit(text: str, room: float, sizes: Sequence[int], most_lines: int, bold: bool = False) -> Fit:
    """The largest of `sizes` (points, falling) at which a text takes at most `most_lines` and no word breaks.

    When none does, the smallest, however many lines that takes.
    """
    for points in sizes:
        count = lines(text, room, points, bold)
        if count <= most_lines and all(width(word, points, bold) <= room for word in _words(text)):
            return Fit(points, count)
    return Fit(sizes[-1], lines(text, room, sizes[-1], bold))


def fit_pair(name: str, details: str, room: float, sizes: Sequence[tuple[int, int]], most_height: float) -> PairFit:
    """The first of `sizes` (name, details; points, falling) at which both take at most `most_height` pixels.

    When none does, the last, however high that is.
    """
    made = [_pair(name, details, room, points, small) for points, small in sizes]
    unbroken = [
        one
        for one in made
        if one.height <= most_height and all(width(word, one.points, True) <= room for word in _words(name))
    ]
    return (unbroken or made[-1:])[0]


def common(fits: Iterable[Fit], texts: Sequence[str], room: float, bold: bool = False) -> list[Fit]:
    """The fits of texts that stand side by side, all in the size of the smallest."""
    points = min(one.points for one in fits)
    return [Fit(points, lines(text, room, points, bold)) for text in texts]


def _pair(name: str, details: str, room: float, points: int, small: int) -> PairFit:
    height = Fit(points, lines(name, room, points, True)).height
    if details:
        height += Fit(small, lines(details, room, small)).height
    return PairFit(points, small, height)


def _wrapped(paragraph: str, room: float, points: float, bold: bool) -> int:
    count, used = 1, 0.0
    space = width(" ", points, bold)
    for word in _words(paragraph):
        wide = width(word, points, bold)
        if used and used + space + wide <= room:
            used += space + wide
            continue
        count += bool(used)
        count += max(ceil(wide / room) - 1, 0)
        used = wide % room if wide > room else wide
    return count


@lru_cache(maxsize=8192)
def _words(text: str) -> Sequence[str]:
    """What stays together on a line: words between spaces; every full-width character by itself."""
    spaced = "".join(f" {one} " if unicodedata.east_asian_width(one) in "WF" else one for one in text)
    return spaced.split()
