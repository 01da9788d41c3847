"""Where the trays of a face are drawn on a grid of columns: as wide as their facings, shelves as wide as they are."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from workbook_tools.program.exact import exact
from workbook_tools.program.model import Position, Program, Shelf

Scale = Literal["to_scale", "nearly_to_scale", "not_to_scale"]
FULL_ENOUGH = Fraction(85, 100)
"""A shelf filled at least this far is drawn full: trays are a little wider than the goods in them."""


@dataclass(frozen=True)
class Tray:
    """A position as drawn: first and last 0-based column of the grid."""

    position: Position
    first: int
    last: int

    @property
    def columns(self) -> int:
        """How many columns it spans."""
        return self.last - self.first + 1


@dataclass(frozen=True)
class Line:
    """A shelf, or a part of one that holds more trays than can be read side by side; `columns` is the shelf's width."""

    shelf: Shelf
    trays: tuple[Tray, ...]
    columns: int


@dataclass(frozen=True)
class FacePlan:
    """One face: its lines from the top, and how true the drawing is."""

    lines: tuple[Line, ...]
    scale: Scale


def plan_face(program: Program, face: str, columns: int, least: int) -> FacePlan:
    """Plan a face on a grid of `columns`, no tray narrower than `least` columns.

    A shelf with more trays than fit goes on in further lines. Where sizes are missing, trays share the width evenly.
    """
    shelves = list(program.shelves_of(face))
    known = all(shelf.width and shelf.height and _goods(program, positions) for shelf, positions in shelves)
    widest = max((exact(shelf.width) for shelf, _ in shelves if shelf.width), default=Fraction(1))
    lines: list[Line] = []
    narrow = False
    for shelf, positions in shelves:
        share = exact(shelf.width) / widest if known and shelf.width else Fraction(1)
        room = max(round(share * columns), min(len(positions) * least, columns))
        narrow = narrow or room > round(share * columns)
        for number, part in enumerate(_folded(positions, room // least)):
            trays, widened = _line(program, shelf, part, room, least, known)
            narrow = narrow or widened or number > 0
            lines.append(Line(shelf, trays, room))
    scale: Scale = "not_to_scale" if not known else "nearly_to_scale" if narrow else "to_scale"
    return FacePlan(tuple(lines), scale)


def shares_of(widths: Sequence[Fraction], columns: int, least: int) -> list[int]:
    """Whole columns for each of `widths` in proportion, `columns` in all, none below `least`.

    Raises ValueError when there are fewer than `least` columns for each.
    """
    if len(widths) * least > columns:
        raise ValueError(f"{len(widths)} trays of at least {least} columns do not fit into {columns}")
    fixed: set[int] = set()
    while True:
        free = columns - least * len(fixed)
        total = sum(width for number, width in enumerate(widths) if number not in fixed)
        low = {n for n, width in enumerate(widths) if n not in fixed and width * free < least * total}
        if not low:
            break
        fixed |= low
    unrounded = [Fraction(least) if n in fixed else width * free / total for n, width in enumerate(widths)]
    edges, edge = [0], Fraction(0)
    for width in unrounded:
        edge += width
        edges.append(round(edge))
    return _at_least([after - before for before, after in itertools.pairwise(edges)], least)


def _at_least(shares: list[int], least: int) -> list[int]:
    """Rounding can leave a share one short: the widest gives it."""
    for number, share in enumerate(shares):
        if share < least:
            shares[shares.index(max(shares))] -= least - share
            shares[number] = least
    return shares


def _folded(positions: tuple[Position, ...], most: int) -> Iterator[tuple[Position, ...]]:
    """The positions in as few lines of at most `most` as can be, evenly filled."""
    count = -(-len(positions) // max(most, 1))
    size, longer = divmod(len(positions), count)
    start = 0
    for number in range(count):
        end = start + size + (number < longer)
        yield positions[start:end]
        start = end


def _line(
    program: Program, shelf: Shelf, positions: tuple[Position, ...], room: int, least: int, known: bool
) -> tuple[tuple[Tray, ...], bool]:
    """The trays of a line in `room` columns, and whether any is drawn wider than it is."""
    widths = [_width(program, one) or Fraction(1) for one in positions] if known else [Fraction(1)] * len(positions)
    total = sum(widths, Fraction(0))
    filled = total / exact(shelf.width) if known and shelf.width else Fraction(1)
    columns = room if filled >= FULL_ENOUGH else max(round(room * filled), least * len(positions))
    shares = shares_of(widths, columns, least)
    widened = any(share > width / total * columns + 1 for share, width in zip(shares, widths, strict=True))
    trays, first = [], 0
    for position, share in zip(positions, shares, strict=True):
        trays.append(Tray(position, first, first + share - 1))
        first += share
    return tuple(trays), widened


def _goods(program: Program, positions: tuple[Position, ...]) -> bool:
    return all(_width(program, one) for one in positions)


def _width(program: Program, position: Position) -> Fraction | None:
    """What the facings of a position take of its shelf, in the program's units of length."""
    width = program.item_at(position).width
    return exact(width) * position.facings if width and position.facings else None
