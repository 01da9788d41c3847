"""How many displays stand and stand right, and how sure that is when only a part of the stores is back."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import polars as pl

from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.rightness import reported
from workbook_tools.rollup.statistics import Interval, wilson
from workbook_tools.rollup.totals import WHOLLY, built_stores

STAND, RIGHT, DONE = "stand", "whole", "done"
"""The display stands; it is built in full and every tray of it is right; nothing is open in the store."""


@dataclass(frozen=True, slots=True)
class Rate:
    """`hits` of `trials` of which something is known, out of `population` in all."""

    name: str
    hits: int
    trials: int
    population: int

    @property
    def share(self) -> float | None:
        """Hits of trials, 0 to 1; None without trials."""
        return self.hits / self.trials if self.trials else None

    @property
    def interval(self) -> Interval | None:
        """The 95 % Wilson interval of the share in the whole population; None without trials."""
        return wilson(self.hits, self.trials, population=self.population) if self.trials else None


@dataclass(frozen=True, slots=True)
class StoreFact:
    """What counts of one store: whether it is back, its display stands, it is built in full with every tray right, and
    nothing is open.
    """

    store: str
    district: str
    visited: dt.date | None
    back: bool
    stand: bool
    whole: bool
    done: bool


def store_facts(facts: Facts) -> list[StoreFact]:
    """The stores in the order of the setup."""
    built, in_full = built_stores(facts), built_stores(facts, [WHOLLY])
    made = []
    for row in facts.status.iter_rows(named=True):
        stand = row["store"] in built
        whole = row["store"] in in_full and row["right"] == row["positions"]
        back = row["state"] != "not back"
        made.append(
            StoreFact(row["store"], row["district"], row["visit_date"], back, stand, whole, row["state"] == "done")
        )
    return made


def rates_of(stores: Iterable[StoreFact]) -> list[Rate]:
    """Of the stores that are back: displays that stand, that stand right, stores with nothing open."""
    stores = list(stores)
    back = [one for one in stores if one.back]
    return [
        Rate(name, sum(getattr(one, name) for one in back), len(back), len(stores)) for name in (STAND, RIGHT, DONE)
    ]


def by_district(stores: Iterable[StoreFact]) -> Iterator[tuple[str, list[Rate]]]:
    """The same for each district, in alphabetical order."""
    districts: dict[str, list[StoreFact]] = defaultdict(list)
    for one in stores:
        districts[one.district].append(one)
    yield from ((district, rates_of(theirs)) for district, theirs in sorted(districts.items()))


@dataclass(frozen=True, slots=True)
class Week:
    """The stores last visited in the week that begins on a Monday, and how many displays stand at its end.

    visited: stores. stand, whole: of them, those whose display stands, and stands right. stand_in_all: since the first
    week.
    """

    monday: dt.date
    visited: int
    stand: int
    whole: int
    stand_in_all: int


def by_week(stores: Iterable[StoreFact]) -> Iterator[Week]:
    """The weeks in which stores were last visited, in order; stores without a date of visit are in none.

    Weeks between them are left out: one date that was mistyped by years would make hundreds of them.
    """
    weeks: dict[dt.date, Counter[str]] = defaultdict(Counter)
    for one in stores:
        if one.back and one.visited:
            monday = one.visited - dt.timedelta(days=one.visited.weekday())
            weeks[monday] += Counter(visited=1, stand=int(one.stand), whole=int(one.whole))
    standing = 0
    for monday, counts in sorted(weeks.items()):
        standing += counts["stand"]
        yield Week(monday, counts["visited"], counts["stand"], counts["whole"], standing)


@dataclass(frozen=True, slots=True)
class BrandRate:
    """One brand's trays, and the stores in which all of them are right. Trays of one store are alike, so only the
    stores have an interval.
    """

    brand: str
    right: int
    trays: int
    stores: Rate


def by_brand(facts: Facts) -> list[BrandRate]:
    """The brands in the order of the label kit, by the brand planned at each tray."""
    counts = (pl.col("right").sum(), pl.col("right").all().alias("all"), pl.len())
    trays = reported(facts, "store", "brand", "right")
    by_store = pl.concat(rows.group_by("store", "brand").agg(counts) for rows in trays)
    sums = by_store.group_by("brand").agg(pl.col("right", "len", "all").sum(), pl.len().alias("stores")).sort("brand")
    found = {row["brand"]: row for row in sums.iter_rows(named=True)}
    made = []
    for brand in dict.fromkeys((*(label.brand for label in facts.program.labels), *found)):
        if row := found.get(brand):
            stores = Rate(brand, row["all"], row["stores"], facts.status.height)
            made.append(BrandRate(brand, row["right"], row["len"], stores))
    return made
