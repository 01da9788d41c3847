"""What is to be built, where and by whom: the setup as plain immutable objects.

Attribute names are the contract's keys; lengths and weights are in the program's units, minutes are minutes.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from workbook_tools.program.joined import joined
from workbook_tools.program.store_places import Places, places_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The `#program` block."""

    name: str
    code: str
    units: str
    starts: dt.date
    due: dt.date
    contact: str
    place: str
    photos: str
    client: str = ""
    chain: str = ""
    display: str = ""
    phone: str = ""
    email: str = ""
    visit_minutes: int | None = None
    other_places: tuple[str, ...] = ()
    carton_length: float | None = None
    carton_width: float | None = None
    carton_height: float | None = None
    carton_weight: float | None = None
    carton_marks: str = ""
    display_width: float | None = None
    display_depth: float | None = None
    display_height: float | None = None
    item_code_name: str = ""
    language: str = "en"
    country: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """One shelf of one face; `shelf` counts from 1 at the top."""

    face: str
    shelf: int
    width: float | None = None
    depth: float | None = None
    height: float | None = None
    load: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """One tray: `place` counts from 1 at the left of its shelf."""

    face: str
    shelf: int
    place: int
    item: str
    facings: int | None = None
    deep: int | None = None
    high: int | None = None
    units: int | None = None

    @property
    def key(self) -> str:
        """The position's name, such as `A-2-3`: face A, shelf 2, place 3."""
        return f"{self.face}-{self.shelf}-{self.place}"

    @property
    def order(self) -> tuple[str, int, int]:
        """Sorts positions as a person walking around the display meets them."""
        return (self.face, self.shelf, self.place)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One item of the chain; `item` is the name the planogram uses."""

    item: str
    item_code: str
    brand: str
    gtin: str = ""
    description: str = ""
    width: float | None = None
    depth: float | None = None
    height: float | None = None
    weight: float | None = None
    case_pack: int | None = None
    picture: str = ""
    substitutes: tuple[str, ...] = ()

    @property
    def described(self) -> str:
        """What people know it by: its description, or its name where it has none."""
        return self.description or self.item


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """The printed label of one brand; `packed` counts those in one display's kit."""

    brand: str
    wording: str = ""
    packed: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the display, `quantity` to a display."""

    part: str
    name: str
    quantity: int
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of building the display."""

    step: int
    do: str
    watch_out: str = ""
    minutes: float | None = None
    picture: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """One store and who serves it."""

    store: str
    name: str
    merchandiser: str
    street: str = ""
    city: str = ""
    region: str = ""
    postcode: str = ""
    district: str = ""
    phone: str = ""
    latitude: float | None = None
    longitude: float | None = None

    @property
    def address(self) -> str:
        """Street, postcode, city and region in one line, as far as they are told."""
        return joined([self.street, joined([self.postcode, self.city], " "), self.region], ", ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Merchandiser:
    """One person who visits stores; `merchandiser` is the short name the store list uses."""

    merchandiser: str
    name: str = ""
    email: str = ""
    phone: str = ""
    hours: float | None = None
    language: str = ""

    @property
    def full_name(self) -> str:
        """The name to print."""
        return self.name or self.merchandiser


@dataclass(frozen=True, kw_only=True)
class Program:
    """One display program, checked: every reference in it leads somewhere."""

    settings: Settings
    shelves: tuple[Shelf, ...] = ()
    positions: tuple[Position, ...] = ()
    items: tuple[Item, ...] = ()
    labels: tuple[Label, ...] = ()
    parts: tuple[Part, ...] = ()
    steps: tuple[Step, ...] = ()
    stores: tuple[Store, ...] = ()
    merchandisers: tuple[Merchandiser, ...] = ()
    pictures: dict[str, str] = field(default_factory=dict)
    """Picture file name → sha256 of its bytes, for every picture the setup names."""

    @cached_property
    def item(self) -> dict[str, Item]:
        """Items by name."""
        return {one.item: one for one in self.items}

    @cached_property
    def item_by_code(self) -> dict[str, Item]:
        """Items by the chain's item code."""
        return {one.item_code: one for one in self.items}

    @cached_property
    def store(self) -> dict[str, Store]:
        """Stores by number."""
        return {one.store: one for one in self.stores}

    @cached_property
    def merchandiser(self) -> dict[str, Merchandiser]:
        """Merchandisers by short name."""
        return {one.merchandiser: one for one in self.merchandisers}

    @cached_property
    def store_places(self) -> Places[str]:
        """Where the stores lie on earth, by number."""
        return places_of((one.store, one.latitude, one.longitude) for one in self.stores)

    @cached_property
    def walk(self) -> tuple[Position, ...]:
        """All positions, face by face, top shelf first, left to right."""
        return tuple(sorted(self.positions, key=lambda one: one.order))

    @cached_property
    def faces(self) -> tuple[str, ...]:
        """The letters of the faces, in order."""
        return tuple(dict.fromkeys(one.face for one in self.walk))

    def shelves_of(self, face: str) -> Iterator[tuple[Shelf, tuple[Position, ...]]]:
        """A face's shelves from the top, each with its positions from the left.

        A shelf that the setup does not describe comes without sizes.
        """
        described = {one.shelf: one for one in self.shelves if one.face == face}
        standing = [one for one in self.walk if one.face == face]
        for number in sorted({one.shelf for one in standing}):
            shelf = described.get(number, Shelf(face=face, shelf=number))
            yield shelf, tuple(one for one in standing if one.shelf == number)

    def item_at(self, position: Position) -> Item:
        """The item planned at a position."""
        return self.item[position.item]

    def person(self, short_name: str) -> Merchandiser:
        """The merchandiser with a short name; one of whom nothing else is known when the setup has none."""
        return self.merchandiser.get(short_name) or Merchandiser(merchandiser=short_name)

    def language_of(self, store: Store) -> str:
        """The language of a store's book: its merchandiser's, or the program's."""
        return self.person(store.merchandiser).language or self.settings.language

    @cached_property
    def sources(self) -> dict[str, tuple[str, ...]]:
        """The lists that drop-downs take from the program, by the names choices.toml uses."""
        return {
            "brands": tuple(one.brand for one in self.labels),
            "places": tuple(dict.fromkeys((self.settings.place, *self.settings.other_places))),
            "stores": tuple(one.store for one in self.stores),
            "merchandisers": tuple(one.merchandiser for one in self.merchandisers),
        }
