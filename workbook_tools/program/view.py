"""A setup as the checks across its sheets see it: tables whose cells may be blank or broken, and findings at cells."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from workbook_tools.contract.findings import Finding, Phrase, shown
from workbook_tools.contract.model import Contract
from workbook_tools.contract.tables import Row, Table
from workbook_tools.program.checks import TableChecker
from workbook_tools.program.exact import exact, plain
from workbook_tools.program.store_places import Places, places_of

Shelf = tuple[str, int]
"""A face's letter and a shelf's number from the top."""
DENSITY = {"cm, kg": 1000.0, "in, lb": 453.59237 / 2.54**3}
"""Grams in a cubic centimetre for one unit of weight in a cube of one unit of length (both are exact by definition)."""
_NAMED = 3
"""How many names a sentence lists before it only counts."""


@dataclass(frozen=True)
class View:
    """The tables of a setup by block key; blocks that are missing have no rows.

    `today` is the day the setup is looked at; `is_issued` says whether books have gone out already.
    """

    contract: Contract
    file: str
    tables: Mapping[str, Table]
    today: dt.date = field(default_factory=dt.date.today)
    is_issued: bool = False
    worked_out: dict[str, object] = field(default_factory=dict, compare=False, repr=False)
    """What a check has worked out from the tables, for the next one; a view of the same on another day shares it."""

    def rows(self, block: str) -> tuple[Row, ...]:
        """The rows of a block in the order of the sheet."""
        return self.tables[block].rows if block in self.tables else ()

    def told(self, block: str, key: str) -> list[tuple[str, Row]]:
        """The texts of a field with their rows, where it is told; quick, for lists of thousands."""
        rows = self.rows(block)
        return [(value, row) for row in rows if isinstance(value := row.values.get(key), str) and value]

    def at(self, block: str, rule: str, row: Row, key: str, **fields: object) -> Finding:
        """A finding at the cell of a field in a row of a block."""
        return self._checker(block).at(rule, row, key, **fields)

    def whole(self, block: str, rule: str, **fields: object) -> Finding:
        """A finding about a block as a whole."""
        return self._checker(block).whole(rule, **fields)

    def cell(self, block: str, row: Row, key: str) -> str:
        """The address of a field in a row of a block."""
        return self.tables[block].cell(row, key)

    def _checker(self, block: str) -> TableChecker:
        return TableChecker(self.contract, self.file, self.tables[block])

    def setting(self, key: str) -> object:
        """The value of a setting; None when it is blank, broken or missing."""
        row = self.setting_row(key)
        return row.values.get(key) if row else None

    def setting_row(self, key: str) -> Row | None:
        """The row of a setting, or None when the sheet lacks it."""
        return self._settings.get(key)

    def date(self, key: str) -> dt.date | None:
        """The value of a setting that is a date."""
        value = self.setting(key)
        return value if isinstance(value, dt.date) else None

    @cached_property
    def _settings(self) -> dict[str, Row]:
        return {row.key: row for row in self.rows("program")}

    @cached_property
    def units(self) -> str:
        """The units of measure as chosen; "" when they are not."""
        value = self.setting("units")
        return value if isinstance(value, str) and value in self.contract.choices["units"].keys else ""

    @cached_property
    def length(self) -> str:
        """The unit of length, as it stands after a number."""
        return self.units.partition(", ")[0]

    @cached_property
    def weight(self) -> str:
        """The unit of weight."""
        return self.units.partition(", ")[2]

    @cached_property
    def items(self) -> dict[str, Row]:
        """Items by name; of two with one name the first."""
        return {name: row for row in reversed(self.rows("items")) if (name := text(row, "item"))}

    @cached_property
    def standing(self) -> dict[Shelf, list[Row]]:
        """The positions of each shelf that has some, from the left; shelves in order."""
        found: dict[Shelf, list[Row]] = {}
        for row in self.rows("positions"):
            shelf = shelf_of(row)
            if shelf:
                found.setdefault(shelf, []).append(row)
        return {shelf: sorted(found[shelf], key=lambda row: count(row, "place") or 0) for shelf in sorted(found)}

    @cached_property
    def described(self) -> dict[Shelf, Row]:
        """The rows of the Shelves sheet; of two with one number the first."""
        return {shelf: row for row in reversed(self.rows("shelves")) if (shelf := shelf_of(row))}

    @cached_property
    def store_places(self) -> Places[int]:
        """Where the stores lie on earth, by the 0-based row that each stands in."""
        told = ((row.number, row.values.get("latitude"), row.values.get("longitude")) for row in self.rows("stores"))
        return places_of(told)

    def item_of(self, position: Row) -> Row | None:
        """The row of the item planned at a position."""
        return self.items.get(text(position, "item"))


def text(row: Row | None, key: str) -> str:
    """The text of a field; "" when it is blank or broken."""
    value = row.values.get(key) if row else None
    return value if type(value) is str else ""


def texts(row: Row, key: str) -> tuple[str, ...]:
    """The entries of a list field."""
    value = row.values.get(key, ())
    return value if isinstance(value, tuple) else ()


def number(row: Row | None, key: str) -> float | None:
    """The number of a field; None when it is blank or broken."""
    value = row.values.get(key) if row else None
    return value if isinstance(value, int | float) else None


def size(row: Row | None, key: str) -> float | None:
    """A size or weight; None also when it is not above 0, which is found as such elsewhere."""
    value = number(row, key)
    return value if value and value > 0 else None


def count(row: Row | None, key: str) -> int | None:
    """A count; None also when it is below 1, which is found as such elsewhere."""
    value = row.values.get(key) if row else None
    return value if isinstance(value, int) and value > 0 else None


def shelf_of(row: Row) -> Shelf | None:
    """Face and shelf of a row; None when either is blank or broken."""
    face, shelf = text(row, "face"), count(row, "shelf")
    return (face, shelf) if face and shelf else None


def tray(row: Row) -> str:
    """A position's name as people say it, such as `A-2-3`."""
    return "-".join(shown(row.values[key]) for key in ("face", "shelf", "place") if key in row.values)


def figure(value: float | None) -> int | float | str:
    """A number as a sentence shows it: whole numbers without `.0`."""
    return "" if value is None else plain(exact(value))


def listed(names: list[str]) -> Phrase | str:
    """The names as a sentence lists them: all of a few, else the first three and how many more."""
    if len(names) <= _NAMED + 1:
        return "; ".join(names)
    return Phrase("messages.and_more", {"names": "; ".join(names[:_NAMED]), "count": len(names) - _NAMED})
