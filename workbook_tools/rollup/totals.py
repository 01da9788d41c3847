"""The figures that matter, counted from the facts; every number can be traced back to status.csv and flags.csv."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from workbook_tools.contract.load import default_contract
from workbook_tools.rollup.merge import Facts


@dataclass(frozen=True)
class Totals:
    """Counts over a whole program."""

    stores: int
    states: dict[str, int]
    overdue: int
    built: int
    positions: int
    right: int
    kinds: dict[str, int]
    files: int
    outcomes: dict[str, int]

    @property
    def back(self) -> int:
        """Stores of which a return stands."""
        return self.stores - self.states["not back"]

    @property
    def open_flags(self) -> int:
        """All flags that stand."""
        return sum(self.kinds.values())

    @property
    def five(self) -> dict[str, int]:
        """What the demo and `merge` print, by the names their words use."""
        return {
            "stores": self.stores,
            "done": self.states["done"],
            "positions": self.positions,
            "right": self.right,
            "mismatches": self.kinds["label_mismatch"],
            "tags": self.kinds["tag_missing"] + self.kinds["tag_asked"],
            "open": self.open_flags,
        }

    @property
    def history(self) -> dict[str, int]:
        """What a merge adds to history.csv, by its columns."""
        states = {state.replace(" ", "_"): count for state, count in self.states.items()}
        whole = {"stores": self.stores, "overdue": self.overdue, "built": self.built, "files": self.files}
        return {**states, **whole, "positions": self.positions, "right": self.right, "open_flags": self.open_flags}


def totals(facts: Facts) -> Totals:
    """Count the facts of a program."""
    contract = default_contract()
    states = Counter(facts.status["state"])
    kinds = Counter(facts.flags["kind"])
    outcomes = Counter(result.outcome for result in facts.results)
    return Totals(
        stores=facts.status.height,
        states={state: states[state] for state in contract.states},
        overdue=facts.status.filter(pl.col("overdue") == "yes").height,
        built=len(built_stores(facts)),
        positions=int(facts.status["positions"].sum()),
        right=int(facts.status["right"].sum()),
        kinds={kind: kinds[kind] for kind in contract.flag_owners},
        files=len(facts.results),
        outcomes={outcome: outcomes[outcome] for outcome in contract.outcomes},
    )


WHOLLY, PARTLY = "yes", "partly"
"""Answers to whether the display is built by which it stands."""


def built_stores(facts: Facts, answers: Sequence[str] = (WHOLLY, PARTLY)) -> dict[str, dt.date | None]:
    """The stores whose display is built as one of these answers says, as last reported, with the date of their first
    visit.
    """
    told = facts.visits.filter(pl.col("built").is_not_null()).group_by("store", maintain_order=True)
    last = told.agg(pl.col("built").last(), pl.col("visit_date").min())
    standing = last.filter(pl.col("built").is_in(answers) & pl.col("store").is_in(facts.status["store"].implode()))
    return dict(standing.select("store", "visit_date").iter_rows())
