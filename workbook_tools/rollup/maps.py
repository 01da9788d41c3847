"""How often each position is right, over all stores in which it was reported."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from workbook_tools.rollup.merge import Facts


@dataclass(frozen=True, slots=True)
class Rightness:
    """Of `seen` stores whose display stands, `right` have this position right."""

    right: int
    seen: int

    @property
    def share(self) -> float | None:
        """The share that is right, 0 to 1; None when nobody reported it."""
        return self.right / self.seen if self.seen else None


def rightness(facts: Facts) -> dict[str, Rightness]:
    """By position; positions that no return holds are not in it."""
    counted = facts.positions.group_by("position").agg(pl.col("right").sum(), pl.len().alias("seen"))
    return {
        position: Rightness(right, seen)
        for position, right, seen in counted.select("position", "right", "seen").iter_rows()
    }
