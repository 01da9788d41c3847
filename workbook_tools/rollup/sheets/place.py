"""Where rows stand on a sheet: what the numbers of the first sheet lead to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from workbook_tools.contract.names import a1, quoted

Area = tuple[int, int, int, int]
"""First row, first column, last row, last column; 0-based."""


@dataclass(frozen=True)
class Place:
    """Where rows stand, for links: the sheet's name and the area, both ends included; None when there are none."""

    sheet: str
    area: Area | None = None

    @property
    def target(self) -> str:
        """What a link to these rows leads to; the sheet's heading when there are none."""
        if self.area is None:
            return f"internal:{quoted(self.sheet)}!A1"
        first_row, first_column, last_row, last_column = self.area
        cells = f"{a1(first_row, first_column)}:{a1(last_row, last_column)}"
        return f"internal:{quoted(self.sheet)}!{cells}"

    @property
    def count(self) -> int:
        """How many rows there are."""
        return self.area[2] - self.area[0] + 1 if self.area else 0

    def columns(self, first: int) -> Place:
        """The same rows from a column on."""
        return Place(self.sheet, (self.area[0], first, *self.area[2:])) if self.area else self

    def column(self, number: int) -> Place:
        """One column of the rows, by its 0-based number in the table."""
        if self.area is None:
            return self
        column = self.area[1] + number
        return Place(self.sheet, (self.area[0], column, self.area[2], column))

    def by_key(self, prefix: str, values: Iterable[str], keys: Iterable[str]) -> dict[str, Place]:
        """Where the rows of each key stand in a table sorted by it, by `prefix.key`; `values` are the rows' keys."""
        counts = Counter(values)
        places, first = {}, 0
        for key in keys:
            places[f"{prefix}.{key}"] = self.rows(first, counts[key])
            first += counts[key]
        return places

    def rows(self, first: int, count: int) -> Place:
        """A part of the rows, by their 0-based number: as many of them as there are."""
        count = min(count, self.count - first)
        if self.area is None or count <= 0:
            return Place(self.sheet)
        top = self.area[0] + first
        return Place(self.sheet, (top, self.area[1], top + count - 1, self.area[3]))
