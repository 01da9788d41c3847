"""What happened in each store, in a sentence a pattern: its labels first, then its items."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from workbook_tools.contract.words import Words
from workbook_tools.program.model import Program
from workbook_tools.rollup.flags import NO_LABEL, OTHER_ITEM
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.patterns import Pattern, Tray, explain

LABELS, ITEMS = "labels", "items"
_SPOILT = {LABELS: ("label_mismatch", "label_missing"), ITEMS: ("item_missing", "item_other")}
_READ = ("label_told", "product_told", "other_item", "due_brand", "item_code")
_DUE_AND_FOUND = {
    LABELS: (
        pl.col("due_brand").alias("due"),
        pl.col("label_told").replace(NO_LABEL, "").alias("found"),
    ),
    ITEMS: (
        pl.col("item_code").alias("due"),
        pl.when(pl.col("product_told") == "none")
        .then(pl.lit(""))
        .when(pl.col("product_told") == OTHER_ITEM)
        .then("other_item")
        .when(pl.col("product_told").is_not_null())
        .then("item_code")
        .alias("found"),
    ),
}
_OF_ITEM_CODES = ("first_due", "second_due", "due", "found", "label", "end_found")
_Told = tuple[str | None, str | None]
"""What is due at a position and what was found there ("" for nothing), as far as it was told."""


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
    told = {about: _told(facts, about) for about in (LABELS, ITEMS)}
    places = [(one.key, one.face, one.shelf, one.place) for one in facts.program.walk]
    explained: dict[tuple[_Told | None, ...], list[Pattern]] = {}
    for store in facts.program.stores:
        for about, stores in told.items():
            if rows := stores.get(store.store):
                display = tuple(rows.get(key) for key, *_ in places)
                if display not in explained:
                    explained[display] = explain([_tray(*pair) for pair in zip(places, display, strict=True)])
                yield from (Happening(store.store, about, pattern) for pattern in explained[display])


def _told(facts: Facts, about: str) -> dict[str, dict[str, _Told]]:
    """Store → position → what was told, of the stores where something of this kind is wrong."""
    spoilt = facts.flags.filter(pl.col("kind").is_in(_SPOILT[about]))["store"].unique()
    due, found = _DUE_AND_FOUND[about]
    told: dict[str, dict[str, _Told]] = {}
    for rows in facts.positions.select("store", "position", *_READ):
        asked = rows.filter(pl.col("store").is_in(spoilt.implode())).select("store", "position", due, found)
        for store, positions, *pairs in asked.group_by("store", maintain_order=True).all().iter_rows():
            told[store] = dict(zip(positions, zip(*pairs, strict=True), strict=True))
    return told


def _tray(place: tuple[str, str, int, int], told: _Told | None) -> Tray:
    """A tray as the patterns want it; a position that was not asked for is not reported."""
    due, found = told or (None, None)
    return Tray(*place, due or "", found, reported=bool(due) and found is not None)
