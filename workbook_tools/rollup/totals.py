"""The figures that matter, counted from the facts; every number can be traced back to status.csv and flags.csv."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
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
    positions: int
    right: int
    kinds: dict[str, int]
    files: int
    outcomes: dict[str, int]

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

    def lines(self) -> Iterator[tuple[str, int, int | None]]:
        """(words key, count, out of how many or None), in the order of the first sheet."""
        yield "rollup.stores", self.stores, None
        yield from ((f"states.{state}", count, self.stores) for state, count in self.states.items())
        yield "rollup.overdue", self.overdue, self.stores
        yield "rollup.right", self.right, self.positions
        yield "rollup.open_flags", self.open_flags, None
        yield from ((f"flags.{kind}", count, None) for kind, count in self.kinds.items())
        yield "rollup.files", self.files, None
        yield from ((f"outcomes.{outcome}", count, self.files) for outcome, count in self.outcomes.items())


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
        positions=int(facts.status["positions"].sum()),
        right=int(facts.status["right"].sum()),
        kinds={kind: kinds[kind] for kind in contract.flag_owners},
        files=len(facts.results),
        outcomes={outcome: outcomes[outcome] for outcome in contract.outcomes},
    )
