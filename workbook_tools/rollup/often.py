"""What is wrong more often than the rest: positions, brands, and the stores of a merchandiser."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import polars as pl

from workbook_tools.rollup.flags import TRAY_KINDS
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.rightness import reported
from workbook_tools.rollup.statistics import LEAST_WRONG, Outlier, worse_than_rest

POSITION, BRAND, PERSON = "position", "brand", "merchandiser"
_TRAY = ["store", "position"]
NOT_WRONG = ("not_reported",)
"""Flags of a position that do not say that anything stands wrong there."""


@dataclass(frozen=True, slots=True)
class Often:
    """Something that is wrong more often than the rest; `about` is position, brand or merchandiser. Trials are trays
    in stores, of people the stores that came back.
    """

    about: str
    name: str
    found: Outlier


def often_wrong(facts: Facts) -> list[Often]:
    """Positions, brands and people that stand out, the surest first within each."""
    is_wrong = pl.col("kind").is_in(TRAY_KINDS) & ~pl.col("kind").is_in(NOT_WRONG)
    named = facts.flags.filter(is_wrong).select(*_TRAY, pl.lit(True).alias("wrong")).unique()
    pieces = [rows.join(named, _TRAY, how="left") for rows in reported(facts, *_TRAY, "brand")]
    made = []
    for about in (POSITION, BRAND):
        counted = pl.concat(_counted(trays, about) for trays in pieces).group_by(about).sum()
        stores = dict(counted.select(about, "stores").iter_rows())
        found = worse_than_rest(list(counted.select(about, "wrong", "len").sort(about).iter_rows()))
        made += [Often(about, str(one.key), one) for one in found if stores[one.key] >= LEAST_WRONG]
    return [*made, *_people(facts)]


def _counted(trays: pl.DataFrame, about: str) -> pl.DataFrame:
    """Trays that are wrong, all trays, and stores with a wrong one, of some whole stores."""
    spoilt = pl.col("store").filter("wrong").n_unique().alias("stores")
    return trays.group_by(about).agg(pl.col("wrong").sum(), pl.len(), spoilt)


def _people(facts: Facts) -> list[Often]:
    """Merchandisers in more of whose stores something is left for them to put right."""
    theirs = facts.flags.filter((pl.col("who") == "merchandiser") & ~pl.col("kind").is_in(NOT_WRONG))
    spoilt = set(theirs["store"])
    back = facts.status.filter(pl.col("state") != "not back").select("store", "merchandiser")
    wrong: Counter[str] = Counter()
    total: Counter[str] = Counter()
    for store, person in back.iter_rows():
        total[person] += 1
        wrong[person] += store in spoilt
    named = worse_than_rest([(key, wrong[key], total[key]) for key in sorted(total)])
    return [Often(PERSON, str(one.key), one) for one in named]
