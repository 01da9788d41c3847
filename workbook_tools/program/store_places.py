"""Where the stores of a program lie, and which of them lie where no store of it can be."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from math import cos, hypot, radians
from statistics import median
from typing import Generic, TypeVar

from workbook_tools.program.ways import Point

Key = TypeVar("Key", bound=Hashable)
"""What a store goes by: its number, or the row it stands in."""

_KM_A_DEGREE = 111.2
"""Of a great circle (pi x 6371 / 180); far stores are measured on the flat, which is enough to tell the far ones."""
_FAR_KM, _FAR_TIMES = 500.0, 8.0
"""A store is far off when it lies so far from the middle of all, and so many times as far as the middle one does (our
own choice).
"""
_VERY_FAR_KM, _FEW_STORES, _TOO_FEW_STORES = 3_000.0, 10, 4
"""Of few stores, one is far off only beyond this many km; of too few, none is."""


@dataclass(frozen=True)
class Places(Generic[Key]):
    """Stores by what they go by. told: where each lies. far: km from the middle of all, of those far off."""

    told: Mapping[Key, Point]
    far: Mapping[Key, float]

    def trusted(self, store: Key) -> Point | None:
        """Where a store lies, unless it is far off or not told."""
        return None if store in self.far else self.told.get(store)


def places_of(stores: Iterable[tuple[Key, object, object]]) -> Places[Key]:
    """The places of stores, each (what it goes by, latitude, longitude) in decimal degrees, north and east positive.

    A point without one of its coordinates, off the globe, or 0 and 0, is none.
    """
    told: dict[Key, Point] = {}
    for store, north, east in stores:
        if isinstance(north, float) and isinstance(east, float) and abs(north) <= 90 and abs(east) <= 180:
            told[store] = (north, east)
    told = {store: where for store, where in told.items() if where != (0, 0)}
    return Places(told, _far_off(told))


def _far_off(told: Mapping[Key, Point]) -> dict[Key, float]:
    """Stores far from all others: a sign was lost, or latitude and longitude were exchanged."""
    if len(told) < _TOO_FEW_STORES:
        return {}
    middle = (median(where[0] for where in told.values()), median(where[1] for where in told.values()))
    distances = {store: flat_km(where, middle) for store, where in told.items()}
    least = _VERY_FAR_KM if len(told) < _FEW_STORES else _FAR_KM
    far = max(least, _FAR_TIMES * median(distances.values()))
    return {store: distance for store, distance in distances.items() if distance > far}


def flat_km(a: Point, b: Point) -> float:
    """About how far two points lie apart, in km."""
    east = abs(a[1] - b[1])
    return _KM_A_DEGREE * hypot(a[0] - b[0], min(east, 360 - east) * cos(radians((a[0] + b[0]) / 2)))
