"""Programs of any shape for tests of the field book, made without a setup workbook."""

from __future__ import annotations

import datetime as dt
import string
from collections.abc import Callable, Mapping

from workbook_tools.field_book.build import build, stamp_values
from workbook_tools.program.model import (
    Item,
    Label,
    Merchandiser,
    Part,
    Position,
    Program,
    Settings,
    Shelf,
    Step,
    Store,
)
from workbook_tools.program.pictures import Picture

SETTINGS = Settings(
    name="Small stand",
    code="SMALL",
    units="in, lb",
    starts=dt.date(2026, 3, 2),
    due=dt.date(2026, 3, 8),
    contact="The office",
    place="End of aisle",
    other_places=("Front",),
    photos="one",
)
STORES = (
    Store(store="001", name="Hill Street", merchandiser="Kim", street="1 Hill Street", city="North Quay"),
    Store(store="002", name="Mill Lane", merchandiser="Kim"),
)


def numbered(number: int) -> str:
    """A plain name."""
    return f"Item {number}"


def made_program(
    faces: int = 2,
    shelves: int = 2,
    places: int = 2,
    *,
    brands: int = 3,
    name: Callable[[int], str] = numbered,
    brand: Callable[[int], str] = lambda number: f"Brand {number}",
    sized: bool = True,
    pictured: bool = False,
    **settings: object,
) -> Program:
    """Every face has `shelves` shelves of `places` places; each position has an item of its own.

    Brands go round; with `sized` all sizes are known. Pictures are named `1.png` and on.
    """
    items, positions, stand = [], [], []
    for face in string.ascii_uppercase[:faces]:
        for shelf in range(1, shelves + 1):
            stand.append(Shelf(face=face, shelf=shelf, width=6.2 * places, depth=9, height=8) if sized else None)
            for place in range(1, places + 1):
                number = len(items) + 1
                items.append(
                    Item(
                        item=name(number),
                        item_code=f"{number:06d}",
                        brand=brand(number % brands),
                        width=3 if sized else None,
                        height=5 if sized else None,
                        gtin="9520158001106",
                        description=f"What {number} is",
                        picture=f"{number}.png" if pictured else "",
                    )
                )
                planned = {"item": name(number), "facings": 2, "deep": 3, "high": 1, "units": 6}
                positions.append(Position(face=face, shelf=shelf, place=place, **planned))
    return Program(
        settings=Settings(**{**{field: getattr(SETTINGS, field) for field in SETTINGS.__slots__}, **settings}),
        shelves=tuple(shelf for shelf in stand if shelf),
        positions=tuple(positions),
        items=tuple(items),
        labels=tuple(Label(brand=brand(number), packed=9) for number in range(brands)),
        parts=(Part(part="P1", name="Base", quantity=1), Part(part="P2", name="Shelf", quantity=4)),
        steps=(Step(step=1, do="Unfold the base.", watch_out="Folded edges can cut.", minutes=5),),
        stores=STORES,
        merchandisers=(Merchandiser(merchandiser="Kim"),),
    )


def book_of(
    program: Program, pictures: Mapping[str, Picture] | None = None, *, shared: bool = False, language: str = "en"
) -> bytes:
    """The book of the program's first store, or the shared one."""
    stamp = build(program, language, pictures or {}, shared=shared)
    store = None if shared else program.stores[0]
    return stamp.render(stamp_values(store, program, token="0" * 32, revision=1, visit=1))
