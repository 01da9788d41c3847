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
    every = sorted(spoilt[LABELS] | spoilt[ITEMS])
    told = facts.trays.filter(pl.col("store").is_in(every))
    by_store = {store: table for (store,), table in told.group_by("store", maintain_order=True)}
    for store in (one.store for one in facts.program.stores):
        for about in (LABELS, ITEMS):
            if store in spoilt[about] and store in by_store:
                found = explain(list(_trays(facts.program, by_store[store], about)))
                yield from (Happening(store, about, pattern) for pattern in found)


def _trays(program: Program, table: pl.DataFrame, about: str) -> Iterator[Tray]:
    """The trays of a store as the patterns want them; positions that were not asked for are not reported."""
    told = {row["position"]: row for row in table.iter_rows(named=True)}
    for position in program.walk:
        place = (position.key, position.face, position.shelf, position.place)
        row = told.get(position.key)
        due, found = _label(row) if about == LABELS else _item(row)
        yield Tray(*place, due or "", found, reported=bool(due) and found is not None)


def _label(row: dict[str, str | None] | None) -> tuple[str | None, str | None]:
    if row is None:
        return None, None
    label = row["label_told"]
    return row["due_brand"], "" if label == NO_LABEL else label


def _item(row: dict[str, str | None] | None) -> tuple[str | None, str | None]:
    if row is None:
        return None, None
    due, product = row["planned_code"], row["product_told"]
    found = {None: None, "none": "", OTHER_ITEM: row["other_item"]}.get(product, due)
    return due, found
