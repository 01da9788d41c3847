"""What is wrong more often than the rest: positions, brands, and the stores of a merchandiser."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass

import polars as pl

from workbook_tools.rollup.maps import reported
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.statistics import LEAST_WRONG, Outlier, worse_than_rest

POSITION, BRAND, PERSON = "position", "brand", "merchandiser"
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
    trays = facts.flags.filter(~pl.col("kind").is_in(NOT_WRONG) & pl.col("position").is_in(_walk(facts)))
    spoilt = set(trays.select("store", "position").iter_rows())
    counts: dict[str, tuple[Counter[Hashable], Counter[Hashable], dict[Hashable, set[str]]]] = {
        POSITION: (Counter(), Counter(), {}),
        BRAND: (Counter(), Counter(), {}),
    }
    for store, position, brand in reported(facts).select("store", "position", "brand").iter_rows():
        for about, key in ((POSITION, position), (BRAND, brand)):
            wrong, total, stores = counts[about]
            total[key] += 1
            if (store, position) in spoilt:
                wrong[key] += 1
                stores.setdefault(key, set()).add(store)
    made = []
    for about, (wrong, total, stores) in counts.items():
        named = worse_than_rest([(key, wrong[key], total[key]) for key in sorted(total, key=str)])
        made += [Often(about, str(one.key), one) for one in named if len(stores[one.key]) >= LEAST_WRONG]
    return [*made, *_people(facts)]


def _walk(facts: Facts) -> list[str]:
    return [position.key for position in facts.program.walk]


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
