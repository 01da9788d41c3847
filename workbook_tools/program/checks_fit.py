"""Does what is planned fit: each tray in width, depth and height, each shelf in width and load, units in their tray.

What is not told is not judged: where sizes are missing, one note says which.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.contract.tables import Row
from workbook_tools.program.exact import exact
from workbook_tools.program.fit import (
    Counts,
    PositionFit,
    Size,
    Span,
    Total,
    even_share,
    position_fit,
    shelf_load,
    shelf_width,
    units_of,
)
from workbook_tools.program.view import Shelf, View, count, figure, listed, size, text, tray

_COUNTED = {"width": "facings", "depth": "deep", "height": "high"}
"""Direction → the field that says how many stand in it."""
_GAP_OF_SHELF, _GAP_OF_DEPTH = Fraction(1, 4), Fraction(1, 2)
"""A gap is worth a remark when this much stays free and one more would fit."""
_ODD_ONES, _ENOUGH_TRAYS = Fraction(1, 10), 6
"""Trays are taken as equally wide when at most this share of so many or more is wider than its share of the shelf."""


@dataclass(frozen=True)
class _Tray:
    """A position with its item and how it fits the shelf as a whole."""

    row: Row
    item: Row | None
    counts: Counts
    fit: PositionFit


@dataclass(frozen=True)
class _Shelf:
    """A described shelf with its trays, and both of its sums."""

    name: str
    row: Row
    trays: tuple[_Tray, ...]
    width: Total
    load: Total

    @property
    def has_all_widths(self) -> bool:
        """Whether the sum of widths is of all trays, and the shelf's own is known."""
        return not self.width.unknown and self.width.limit is not None


def check_fit(view: View) -> Iterator[Finding]:
    """What cannot be built: goods that do not fit their shelf, a shelf that cannot bear them, units beyond the tray."""
    for shelf in _shelves(view):
        too_wide = False
        for one in shelf.trays:
            for span in one.fit.spans:
                if found := _too_much(view, one, span):
                    too_wide = too_wide or span.axis == "width"
                    yield found
            yield from _too_many_units(view, one, shelf)
        if shelf.width.verdict == "too_much" and not too_wide:
            yield _overfull(view, shelf)
        if shelf.load.verdict == "too_much":
            load = {"total": shelf.load.total, "limit": shelf.load.limit, "over": -(shelf.load.spare or 0)}
            yield view.at("shelves", "shelf_overloaded", shelf.row, "load", shelf=shelf.name, unit=view.weight, **load)


def check_set(view: View) -> Iterator[Finding]:
    """What fits and yet may not be meant: units that are not as drawn, a tray wider than the others, gaps."""
    shelves = _shelves(view)
    for row in view.rows("positions"):
        yield from _as_drawn(view, row)
    yield from _wider_than_others(view, shelves)
    for shelf in shelves:
        yield from _gap(view, shelf)
    yield from _half_empty(view, shelves)
    yield from _not_checked(view, shelves)


def _shelves(view: View) -> tuple[_Shelf, ...]:
    """Every shelf that is described and holds something, worked out once."""
    known = view.worked_out.get(__name__)
    if not isinstance(known, tuple):
        found = ((shelf, positions, view.described.get(shelf)) for shelf, positions in view.standing.items())
        known = tuple(_shelf(view, shelf, row, positions) for shelf, positions, row in found if row)
        view.worked_out[__name__] = known
    return known


def _shelf(view: View, shelf: Shelf, row: Row, positions: list[Row]) -> _Shelf:
    space = _size(row)
    trays = []
    for position in positions:
        item = view.item_of(position)
        counts = counts_of(position)
        trays.append(_Tray(position, item, counts, position_fit(counts, _size(item), space)))
    return _Shelf(
        name=f"{shelf[0]}-{shelf[1]}",
        row=row,
        trays=tuple(trays),
        width=shelf_width(((one.counts.facings, size(one.item, "width")) for one in trays), space.width),
        load=shelf_load(((units_of(one.counts), size(one.item, "weight")) for one in trays), size(row, "load")),
    )


def counts_of(position: Row) -> Counts:
    """The counts of a position as far as they are told."""
    return Counts(
        count(position, "facings"), count(position, "deep"), count(position, "high"), count(position, "units")
    )


def _size(row: Row | None) -> Size:
    return Size(size(row, "width"), size(row, "depth"), size(row, "height"))


def _too_much(view: View, one: _Tray, span: Span) -> Finding | None:
    """One direction of a tray in which the goods do not fit the shelf; where no count is told, not even one."""
    key = _COUNTED[span.axis]
    fields: dict[str, object] = {"tray": tray(one.row), "item": text(one.item, "item"), "unit": view.length}
    turned = Phrase("messages.would_fit_turned") if one.fit.turned and span.axis != "height" else ""
    fields |= {"size": span.size, "space": span.space, "turned": turned}
    if span.verdict == "too_much" and span.most:
        fields |= {"count": span.count, "needed": span.needed, "most": span.most}
        return view.at("positions", f"{span.axis}_too_much", one.row, key, **fields)
    if span.most == 0:
        return view.at("positions", f"{span.axis}_too_large", one.row, "item", **fields)
    return None


def _too_many_units(view: View, one: _Tray, shelf: _Shelf) -> Iterator[Finding]:
    """More units than stand in the tray however they are stacked in it."""
    depth, height = one.fit.depth, one.fit.height
    if one.counts.units is None or any(span.verdict == "too_much" or span.most == 0 for span in one.fit.spans):
        return
    wide = one.counts.facings or _room_across(one, shelf)
    if wide and depth.most and height.most and one.counts.units > wide * depth.most * height.most:
        most = wide * depth.most * height.most
        drawn = {"wide": wide, "deep": depth.most, "high": height.most, "most": most}
        yield view.at("positions", "units_too_many", one.row, "units", tray=tray(one.row), **drawn)


def _room_across(one: _Tray, shelf: _Shelf) -> int | None:
    """How many stand side by side in what the other trays leave of the shelf; all of it where they are not told."""
    width = one.fit.width
    if width.most is None or width.size is None or shelf.width.spare is None or shelf.width.unknown > 1:
        return width.most
    return max(int(exact(shelf.width.spare) // exact(width.size)), 0)


def _overfull(view: View, shelf: _Shelf) -> Finding:
    """All trays of a shelf together are wider than it: said at the one that takes more than its share, if it is one."""
    share = even_share(shelf.width.limit or 0, len(shelf.trays))
    large = [one for one in shelf.trays if one.fit.width.needed is not None and exact(one.fit.width.needed) > share]
    fields = {"shelf": shelf.name, "total": shelf.width.total, "limit": shelf.width.limit, "unit": view.length}
    fields["over"] = -(shelf.width.spare or 0)
    if len(large) == 1:
        return view.at("positions", "shelf_overfull", large[0].row, "facings", **fields)
    return view.at("shelves", "shelf_overfull", shelf.row, "width", **fields)


def _as_drawn(view: View, row: Row) -> Iterator[Finding]:
    """Units that are not facings times deep times high."""
    counts = counts_of(row)
    if counts.units is None or counts.facings is None or counts.deep is None or counts.high is None:
        return
    drawn = counts.facings * counts.deep * counts.high
    if counts.units != drawn:
        fields = {"wide": counts.facings, "deep": counts.deep, "high": counts.high, "drawn": drawn}
        rule = "units_above_drawn" if counts.units > drawn else "units_below_drawn"
        yield view.at("positions", rule, row, "units", tray=tray(row), **fields)


def _wider_than_others(view: View, shelves: Sequence[_Shelf]) -> Iterator[Finding]:
    """Trays wider than an equal share of their shelf, where nearly all others keep to theirs."""
    judged = [
        (one, share)
        for shelf in shelves
        if shelf.has_all_widths and len(shelf.trays) > 1 and shelf.width.verdict == "fits"
        for share in [even_share(shelf.width.limit or 0, len(shelf.trays))]
        for one in shelf.trays
    ]
    wider = [(one, share) for one, share in judged if exact(one.fit.width.needed or 0) > share]
    if len(judged) >= _ENOUGH_TRAYS and len(wider) <= _ODD_ONES * len(judged):
        for one, share in wider:
            fields = {"tray": tray(one.row), "needed": one.fit.width.needed, "share": figure(round(float(share), 2))}
            yield view.at("positions", "tray_wider", one.row, "facings", unit=view.length, **fields)


def _gap(view: View, shelf: _Shelf) -> Iterator[Finding]:
    """A shelf of which much stays free although one more facing would fit."""
    spare, limit = shelf.width.spare, shelf.width.limit
    if not shelf.has_all_widths or not spare or not limit or exact(spare) < _GAP_OF_SHELF * exact(limit):
        return
    narrowest = min(shelf.trays, key=lambda one: one.fit.width.size or 0)
    if exact(narrowest.fit.width.size or 0) <= exact(spare):
        fields = {"shelf": shelf.name, "spare": spare, "limit": limit, "unit": view.length}
        yield view.at("shelves", "shelf_gap", shelf.row, "width", item=text(narrowest.item, "item"), **fields)


def _half_empty(view: View, shelves: Sequence[_Shelf]) -> Iterator[Finding]:
    """Trays that are filled to less than half of their depth: one note for all."""
    trays = [one for shelf in shelves for one in shelf.trays if _is_half_empty(one.fit.depth)]
    if trays:
        names = listed([tray(one.row) for one in trays])
        yield view.at("positions", "depth_gap", trays[0].row, "deep", count=len(trays), trays=names)


def _is_half_empty(span: Span) -> bool:
    return bool(span.spare and span.room and exact(span.spare) > _GAP_OF_DEPTH * exact(span.space or 0))


def _not_checked(view: View, shelves: Sequence[_Shelf]) -> Iterator[Finding]:
    """One note on the trays that could not be judged for lack of a size, where some size is told at all."""
    unknown: dict[str, None] = {}
    trays = 0
    for shelf in shelves:
        for one in shelf.trays:
            lacking = [axis for axis in ("width", "depth", "height") if size(one.item, axis) is None]
            if one.item and lacking and any(size(shelf.row, axis) for axis in lacking):
                unknown[text(one.item, "item")] = None
                trays += 1
    if trays:
        first = view.items[next(iter(unknown))]
        yield view.at("items", "sizes_missing", first, "width", count=trays, items=listed(list(unknown)))
