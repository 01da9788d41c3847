"""Does what is planned fit: counts times sizes against a width, depth or clear height, and weights against a load.

All arithmetic is exact on the numbers as typed. Sizes may be in any unit as long as all are in the same one, and are
those of the item as it stands on the shelf: the sizes of a trade item are often taken with another face to the front
(GS1 package measurement rules). What is not known (None) is reported as unknown, never as fitting.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from workbook_tools.program.exact import Number, not_negative, plain, positive

Verdict = Literal["fits", "too_much", "unknown"]
Axis = Literal["width", "depth", "height"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """One direction of a position.

    needed: count times size. spare: space less needed, below 0 when it does not fit. most: how many fit.
    room: how many more would fit, 0 when it is full or too much. Each is None where it cannot be known.
    """

    axis: Axis
    verdict: Verdict
    count: int | None
    size: int | float | None
    space: int | float | None
    needed: int | float | None
    spare: int | float | None
    most: int | None
    room: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionFit:
    """How one position fits.

    turned: it does not fit, but with the item's width and depth exchanged it would: the sizes may be those of another
    face to the front.
    """

    width: Span
    depth: Span
    height: Span
    turned: bool

    @property
    def spans(self) -> tuple[Span, Span, Span]:
        """Width, depth and height, in this order."""
        return (self.width, self.depth, self.height)


@dataclass(frozen=True, slots=True)
class Counts:
    """What a planogram says of one position; None where it is left blank."""

    facings: int | None = None
    deep: int | None = None
    high: int | None = None
    units: int | None = None


@dataclass(frozen=True, slots=True)
class Size:
    """Width, depth and height of an item, or of the space for it; None where it is left blank."""

    width: Number | None = None
    depth: Number | None = None
    height: Number | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """A sum against a limit: widths on a shelf, or weights on it.

    total: of the parts that are known. unknown: how many parts are not. spare: limit less total, below 0 when it is too
    much. verdict: 'too_much' as soon as the known parts are; otherwise 'unknown' while a part or the limit is.
    """

    verdict: Verdict
    total: int | float
    limit: int | float | None
    spare: int | float | None
    unknown: int


def span(axis: Axis, count: int | None, size: Number | None, space: Number | None) -> Span:
    """Judge one direction.

    Raises:
        ValueError: `size` is not above 0, or `count` or `space` is below 0.
    """
    one = None if size is None else positive(size)
    whole = None if space is None else not_negative(space)
    needed = None if count is None or one is None else not_negative(count) * one
    most = None if one is None or whole is None else math.floor(whole / one)
    spare = None if needed is None or whole is None else whole - needed
    return Span(
        axis=axis,
        verdict="unknown" if spare is None else "fits" if spare >= 0 else "too_much",
        count=count,
        size=_shown(one),
        space=_shown(whole),
        needed=_shown(needed),
        spare=_shown(spare),
        most=most,
        room=None if most is None or count is None else max(0, most - count),
    )


def position_fit(counts: Counts, item: Size, space: Size) -> PositionFit:
    """Judge one position: facings x width, deep x depth and high x height against the space.

    `space` is the position's own: its share of the shelf's width (see `even_share`; leave it None where the shelf is
    not shared out, and judge the shelf as a whole by `shelf_width`), the shelf's depth and its clear height.

    Raises:
        ValueError: a size is not above 0, or a count or space is below 0.
    """
    width = span("width", counts.facings, item.width, space.width)
    depth = span("depth", counts.deep, item.depth, space.depth)
    height = span("height", counts.high, item.height, space.height)
    return PositionFit(width=width, depth=depth, height=height, turned=_fits_turned(width, depth))


def even_share(space: Number, places: int) -> Fraction:
    """The width of each of `places` equal trays on a shelf; exact, so that three of them fill it again.

    Raises:
        ValueError: `space` is below 0, or `places` is not above 0.
    """
    return not_negative(space) / positive(places)


def shelf_width(parts: Iterable[tuple[int | None, Number | None]], width: Number | None) -> Total:
    """Judge all positions of a shelf together: (facings, item width) of each against the shelf's width.

    Raises:
        ValueError: a number is below 0.
    """
    return _total(parts, width)


def shelf_load(parts: Iterable[tuple[int | None, Number | None]], load: Number | None) -> Total:
    """Judge the weight on a shelf: (units, weight of one) of each position against what the shelf may carry.

    Raises:
        ValueError: a number is below 0.
    """
    return _total(parts, load)


def units_of(counts: Counts) -> int | None:
    """The units that stand at a position: as planned, else facings x deep x high, else unknown."""
    return counts.units if counts.units is not None else _product(counts.facings, counts.deep, counts.high)


def _total(parts: Iterable[tuple[int | None, Number | None]], limit: Number | None) -> Total:
    total, unknown = Fraction(0), 0
    for count, each in parts:
        if count is None or each is None:
            unknown += 1
        else:
            total += not_negative(count) * not_negative(each)
    most = None if limit is None else not_negative(limit)
    spare = None if most is None else most - total
    verdict: Verdict = "fits"
    if spare is not None and spare < 0:
        verdict = "too_much"
    elif spare is None or unknown:
        verdict = "unknown"
    return Total(verdict=verdict, total=plain(total), limit=_shown(most), spare=_shown(spare), unknown=unknown)


def _fits_turned(width: Span, depth: Span) -> bool:
    if "too_much" not in (width.verdict, depth.verdict) or "unknown" in (width.verdict, depth.verdict):
        return False
    across = span("width", width.count, depth.size, width.space)
    away = span("depth", depth.count, width.size, depth.space)
    return across.verdict == away.verdict == "fits"


def _product(*counts: int | None) -> int | None:
    known = [count for count in counts if count is not None]
    return math.prod(known) if len(known) == len(counts) else None


def _shown(value: Fraction | None) -> int | float | None:
    return None if value is None else plain(value)
