"""What happened in each store, in a sentence a pattern: its labels first, then its items."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import polars as pl

from workbook_tools.contract.words import Words
from workbook_tools.program.model import Program
from workbook_tools.rollup.flags import NO_LABEL, OTHER_ITEM
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.patterns import Pattern, Tray, explain

LABELS, ITEMS = "labels", "items"
_SPOILT = {LABELS: ("label_mismatch", "label_missing"), ITEMS: ("item_missing", "item_other")}
_OF_ITEM_CODES = ("first_due", "second_due", "due", "found", "label", "end_found")


@dataclass(frozen=True, slots=True)
class Happening:
    """One pattern in one store; `about` is labels or items."""

    store: str
    about: str
    pattern: Pattern

    @property
    def is_explained(self) -> bool:
        """False for a wrong tray that no pattern explains."""
        return self.pattern.kind != "unexplained"

    def say(self, words: Words, program: Program) -> str:
        """The sentence, such as "Labels at A-2-1 and A-2-3 are swapped."."""
        detail = {**self.pattern.detail, "position": self.pattern.positions[0] if self.pattern.positions else ""}
        if self.about == ITEMS:
            items = program.item_by_code
            detail |= {k: items[v].item for k in _OF_ITEM_CODES if (v := detail.get(k, "")) in items}
        if direction := detail.get("direction"):
            detail["direction"] = words(f"patterns.{direction}")
        said = words(f"patterns.{self.about}.{self._variant(detail)}", **detail)
        if other := detail.get("except"):
            said = f"{said} {words('patterns.but', positions=', '.join(other.split()))}"
        return said

    def _variant(self, detail: dict[str, str]) -> str:
        kind = self.pattern.kind
        if kind == "shelf_shifted":
            return f"shelf_shifted_{detail['end']}"
        if kind == "no_labels":
            return f"no_labels_{detail['scope']}"
        return "unexplained_none" if kind == "unexplained" and not detail["found"] else kind


def happenings(facts: Facts) -> Iterator[Happening]:
    """What happened, store by store; only stores with wrong labels or items are looked at."""
    spoilt = {about: set(facts.flags.filter(pl.col("kind").is_in(kinds))["store"]) for about, kinds in _SPOILT.items()}
    told = _told(facts, spoilt[LABELS] | spoilt[ITEMS])
    places = [(one.key, one.face, one.shelf, one.place) for one in facts.program.walk]
    for store in told:
        for about in (LABELS, ITEMS):
            if store in spoilt[about]:
                found = explain(_trays(places, told[store], about))
                yield from (Happening(store, about, pattern) for pattern in found)


_Told = tuple[str | None, str | None, str | None, str | None, str | None]
"""Label, product, other item, brand due, item code planned."""


def _told(facts: Facts, stores: set[str]) -> dict[str, dict[str, _Told]]:
    """Store → position → what was told, in the order of the setup's stores."""
    told: dict[str, dict[str, _Told]] = {one.store: {} for one in facts.program.stores if one.store in stores}
    columns = ("store", "position", "label_told", "product_told", "other_item", "due_brand", "item_code")
    for rows in facts.positions.select(*columns):
        for store, position, *row in rows.filter(pl.col("store").is_in(list(told))).iter_rows():
            told[store][position] = tuple(row)
    return told


def _trays(places: Iterable[tuple[str, str, int, int]], told: dict[str, _Told], about: str) -> list[Tray]:
    """The trays of a store as the patterns want them, from the program's positions with face, shelf and place;
    positions that were not asked for are not reported.
    """
    trays = []
    for place in places:
        row = told.get(place[0])
        due, found = (None, None) if row is None else _label(row) if about == LABELS else _item(row)
        reported = bool(due) and found is not None
        trays.append(Tray(*place, due or "", found, reported))
    return trays


def _label(row: _Told) -> tuple[str | None, str | None]:
    label, _, _, due, _ = row
    return due, "" if label == NO_LABEL else label


def _item(row: _Told) -> tuple[str | None, str | None]:
    _, product, other, _, due = row
    found = {None: None, "none": "", OTHER_ITEM: other}.get(product, due)
    return due, found
