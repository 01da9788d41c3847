"""How often each position is right, over all stores in which it was reported."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from workbook_tools.rollup.merge import Facts


@dataclass(frozen=True, slots=True)
class Rightness:
    """Of `seen` stores that told anything of this position, `right` have it right."""

    right: int
    seen: int

    @property
    def share(self) -> float | None:
        """The share that is right, 0 to 1; None when nobody reported it."""
        return self.right / self.seen if self.seen else None


def rightness(facts: Facts) -> dict[str, Rightness]:
    """By position; positions of which nobody told anything are not in it."""
    counted = reported(facts).group_by("position").agg(pl.col("right").sum(), pl.len())
    return {position: Rightness(right, seen) for position, right, seen in counted.iter_rows()}


def reported(facts: Facts) -> pl.DataFrame:
    """The rows of `facts.positions` of which the label or the product was told."""
    told = facts.trays["label_told"].is_not_null() | facts.trays["product_told"].is_not_null()
    return facts.positions.filter(told)
