"""Is the planogram whole: numbers of faces, shelves, places and steps that are skipped, shelves that stand empty."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from statistics import median

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.program.checks_fit import counts_of
from workbook_tools.program.fit import units_of
from workbook_tools.program.view import Shelf, View, count, figure, listed, size, tray

_ENOUGH_SHELVES, _UNLIKE = 3, 5
"""A shelf is doubted when it is so many times as large as the middle one of so many."""


def check_plan(view: View) -> Iterator[Finding]:
    """Everything about the planogram and the steps that looks as if a row were missing."""
    if view.standing:
        yield from _faces(view)
        yield from _shelves(view)
        yield from _places(view)
        yield from _units(view)
    yield from _unlike_others(view)
    yield from _steps(view)


def _faces(view: View) -> Iterator[Finding]:
    """A letter that is skipped: A, B, D."""
    first = _first_rows(view)
    faces = sorted({face for face, _ in first if len(face) == 1 and "A" <= face <= "Z"})
    for before, face in pairwise([chr(ord("A") - 1), *faces]):
        if ord(face) - ord(before) > 1:
            missing = ", ".join(map(chr, range(ord(before) + 1, ord(face))))
            block, row = first[min(shelf for shelf in first if shelf[0] == face)]
            yield view.at(block, "face_skipped", row, "face", missing=missing)


def _shelves(view: View) -> Iterator[Finding]:
    """A number that is skipped on a face, and a shelf that is described and holds nothing."""
    first = _first_rows(view)
    for face in dict.fromkeys(face for face, _ in first):
        numbers = [number for other, number in first if other == face]
        for before, number in pairwise([0, *numbers]):
            if number - before > 1:
                block, row = first[face, number]
                missing = ", ".join(f"{face}-{skipped}" for skipped in range(before + 1, min(number, before + 10)))
                yield view.at(block, "shelf_skipped", row, "shelf", missing=missing, shelf=f"{face}-{number}")
    for shelf, row in view.described.items():
        if shelf not in view.standing:
            yield view.at("shelves", "shelf_empty", row, "shelf", shelf=f"{shelf[0]}-{shelf[1]}")


def _first_rows(view: View) -> dict[Shelf, tuple[str, Row]]:
    """Every shelf that is described or holds something, in order, with the row that names it first and its block."""
    found = {shelf: ("positions", rows[0]) for shelf, rows in view.standing.items()}
    found |= {shelf: ("shelves", row) for shelf, row in view.described.items() if shelf not in found}
    return dict(sorted(found.items()))


def _places(view: View) -> Iterator[Finding]:
    """A place that is skipped on a shelf: 1, 2, 4."""
    for (face, shelf), rows in view.standing.items():
        before = 0
        for row in rows:
            place = count(row, "place")
            if place and place > before + 1:
                fields = {"shelf": f"{face}-{shelf}", "missing": f"{face}-{shelf}-{before + 1}", "tray": tray(row)}
                yield view.at("positions", "place_skipped", row, "place", **fields)
            before = max(before, place or 0)


def _units(view: View) -> Iterator[Finding]:
    """One note on trays of which nobody can tell how many units they hold, where others tell it."""
    rows = view.rows("positions")
    silent = [row for row in rows if units_of(counts_of(row)) is None]
    if silent and len(silent) < len(rows):
        names = listed([tray(row) for row in silent])
        yield view.at("positions", "units_not_told", silent[0], "units", count=len(silent), trays=names)


def _unlike_others(view: View) -> Iterator[Finding]:
    """A shelf many times as wide, deep or high as the middle one of all shelves, or as small a part of it."""
    for key in ("width", "depth", "height"):
        sizes = [(value, row) for row in view.rows("shelves") if (value := size(row, key))]
        middle = median(value for value, _ in sizes) if len(sizes) >= _ENOUGH_SHELVES else 0
        for value, row in sizes if middle else ():
            if not middle / _UNLIKE < value < middle * _UNLIKE:
                yield view.at("shelves", "shelf_unlike", row, key, middle=figure(middle), unit=view.length)


def _steps(view: View) -> Iterator[Finding]:
    """A step number that is skipped."""
    numbered = sorted((number, row.number, row) for row in view.rows("steps") if (number := count(row, "step")))
    before = 0
    for number, _, row in numbered:
        if number > before + 1:
            yield view.at("steps", "step_skipped", row, "step", missing=before + 1)
        before = number
