"""How often each position is right, over all stores in which it was reported."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from workbook_tools.rollup.merge import TOLD, Facts


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
    counted = pl.concat(
        rows.group_by("position").agg(pl.col("right").sum(), pl.len()) for rows in reported(facts, "position", "right")
    )
    whole = counted.group_by("position").sum()
    return {position: Rightness(right, seen) for position, right, seen in whole.iter_rows()}


def reported(facts: Facts, *columns: str) -> Iterator[pl.DataFrame]:
    """Some columns of `facts.positions`, piece by piece: the rows of which the label or the product was told."""
    told = pl.any_horizontal(pl.col(TOLD).is_not_null())
    return (rows.filter(told).select(columns) for rows in facts.positions.select(*columns, *TOLD))
