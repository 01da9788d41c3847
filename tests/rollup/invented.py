"""Facts made by hand: a program of as many stores as wanted, told store by store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import polars as pl

from workbook_tools.contract.load import default_contract
from workbook_tools.program.model import Item, Label, Merchandiser, Position, Program, Settings, Store
from workbook_tools.returns.pieces import Pieces
from workbook_tools.rollup.merge import Facts

STARTS, DUE = dt.date(2026, 3, 2), dt.date(2026, 3, 29)
"""A Monday, and the Sunday four weeks later."""
BRANDS = ("Pellwood", "Quarnby", "Rusholt", "Selwick")
POSITIONS = tuple(
    Position(face=face, shelf=shelf, place=place, item=f"{face}{shelf}{place}")
    for face in "AB"
    for shelf in (1, 2)
    for place in (1, 2, 3)
)
"""Twelve trays; brands follow one another tray by tray."""
ITEMS = tuple(
    Item(item=one.item, item_code=f"{number:06}", brand=BRANDS[number % 4]) for number, one in enumerate(POSITIONS)
)
BRAND = {one.key: item.brand for one, item in zip(POSITIONS, ITEMS, strict=True)}
CODE = {one.key: item.item_code for one, item in zip(POSITIONS, ITEMS, strict=True)}
NO_LABEL = "no label"


@dataclass
class Told:
    """One store: when it was visited (None: not back), which labels are wrong (position → label found), what is asked
    of it (positions without a shelf tag), how long the visit took.
    """

    visited: dt.date | None = dt.date(2026, 3, 3)
    wrong: Mapping[str, str] = field(default_factory=dict)
    asked: Sequence[str] = ()
    minutes: int | None = 60
    built: str = "yes"
    district: str = "North"
    merchandiser: str = "Kim"

    @property
    def state(self) -> str:
        """The store's state."""
        if self.visited is None:
            return "not back"
        if self.wrong or self.built != "yes":
            return "go back"
        return "waiting" if self.asked else "done"


def facts_of(told: Sequence[Told], as_of: dt.date = dt.date(2026, 3, 9), hours: float | None = None) -> Facts:
    """The facts of stores 0001, 0002 … as told."""
    stores = {f"{number:04}": one for number, one in enumerate(told, start=1)}
    program = _program(stores, hours)
    columns = default_contract().tables
    return Facts(
        program=program,
        as_of=as_of,
        status=pl.DataFrame(_status(stores), schema=dict(zip(columns["status"], _STATUS, strict=True)), orient="row"),
        flags=pl.DataFrame(_flags(stores), schema=dict(zip(columns["flags"], _FLAGS, strict=True)), orient="row"),
        positions=Pieces([_positions(stores)]),
        findings=(),
        results=(),
        visits=pl.DataFrame(_visits(stores), schema=_VISITS, orient="row"),
        identity="invented",
    )


_STATUS = (pl.String,) * 6 + (pl.Date,) + (pl.Int64,) * 3 + (pl.String,)
_FLAGS = (pl.String, pl.Int64) + (pl.String,) * 7 + (pl.Date, pl.String)
_POSITIONS = {
    "store": pl.String,
    "visit": pl.Int64,
    "position": pl.String,
    "item": pl.String,
    "item_code": pl.String,
    "brand": pl.String,
    "due_brand": pl.String,
    "other_item": pl.String,
    "right": pl.Boolean,
    "label_told": pl.String,
    "product_told": pl.String,
}
_VISITS = {
    "store": pl.String,
    "visit": pl.Int64,
    "merchandiser": pl.String,
    "visit_date": pl.Date,
    "time_in": pl.Time,
    "time_out": pl.Time,
    "built": pl.String,
    "place": pl.String,
    "file": pl.String,
}


def _program(stores: Mapping[str, Told], hours: float | None) -> Program:
    settings = Settings(
        name="Invented",
        code="INV",
        units="in, lb",
        starts=STARTS,
        due=DUE,
        contact="The office",
        place="End of aisle",
        photos="none",
        visit_minutes=60,
    )
    people = dict.fromkeys(one.merchandiser for one in stores.values())
    return Program(
        settings=settings,
        positions=POSITIONS,
        items=ITEMS,
        labels=tuple(Label(brand=brand, packed=9) for brand in BRANDS),
        stores=tuple(
            Store(store=key, name=f"Store {key}", merchandiser=one.merchandiser, district=one.district)
            for key, one in stores.items()
        ),
        merchandisers=tuple(Merchandiser(merchandiser=name, name=f"{name} Full", hours=hours) for name in people),
    )


def _status(stores: Mapping[str, Told]) -> list[tuple[object, ...]]:
    rows = []
    for key, one in stores.items():
        spoilt = len({*one.wrong, *one.asked})
        right = len(POSITIONS) - spoilt if one.visited and one.built != "no" else 0
        count = len(one.wrong) + len(one.asked) + (one.built != "yes" and one.visited is not None)
        file = f"returns/{key}.xlsx" if one.visited else ""
        place = (key, f"Store {key}", one.district, one.merchandiser, one.state, "no", one.visited)
        rows.append((*place, len(POSITIONS), right, count, file))
    return rows


def _flags(stores: Mapping[str, Told]) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for key, one in stores.items():
        for position, label in one.wrong.items():
            kind = "label_missing" if label == NO_LABEL else "label_mismatch"
            about = (BRAND[position], label, CODE[position], BRAND[position], "merchandiser")
            rows.append((key, 1, position, kind, *about, one.visited, ""))
        for position in one.asked:
            about = (CODE[position], "asked store", CODE[position], BRAND[position], "store")
            rows.append((key, 1, position, "tag_asked", *about, one.visited, ""))
        if one.visited and one.built != "yes":
            rows.append((key, 1, "", "not_built", "yes", one.built, "", "", "merchandiser", one.visited, ""))
    return rows


def _positions(stores: Mapping[str, Told]) -> pl.DataFrame:
    rows = []
    for key, one in stores.items():
        if one.visited is None or one.built == "no":
            continue
        for tray in POSITIONS:
            spoilt = tray.key in one.wrong or tray.key in one.asked
            brand, label = BRAND[tray.key], one.wrong.get(tray.key, BRAND[tray.key])
            rows.append((key, 1, tray.key, tray.item, CODE[tray.key], brand, brand, None, not spoilt, label, "set"))
    return pl.DataFrame(rows, schema=_POSITIONS, orient="row")


def _visits(stores: Mapping[str, Told]) -> list[tuple[object, ...]]:
    rows = []
    for key, one in stores.items():
        if one.visited:
            out = None if one.minutes is None else dt.time(9 + one.minutes // 60, one.minutes % 60)
            rows.append(
                (key, 1, one.merchandiser, one.visited, dt.time(9), out, one.built, "End of aisle", f"{key}.xlsx")
            )
    return rows
