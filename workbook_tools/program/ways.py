"""The ways between stores: great circles, what is assumed of roads, and a simple way through all; plain arithmetic,
loaded at once.

Points are (latitude, longitude) in decimal degrees, north and east positive.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

Point: TypeAlias = tuple[float, float]

EARTH_RADIUS_KM = 6371.0
"""Radius of the sphere: the mean radius of the earth, to the kilometre."""

ROAD_FACTOR = 1.3
"""Road length over great circle: an assumption. About 1.2 has been reported for car trips in towns (1.21-1.23 in one
study; en.wikibooks.org, Transportation Geography and Network Science, Circuity); where roads are few it is more."""

ROAD_SPEED_KM_H = 50.0
"""Speed from door to door on such roads: an assumption, no source."""

_POINTS_A_STRIP = 3


@dataclass(frozen=True, slots=True)
class Tour:
    """A way through points: their indexes (from 0) in the order in which they are met, and its length in km."""

    order: tuple[int, ...]
    km: float


def check_points(points: Iterable[Point]) -> None:
    """Refuse what lies nowhere on the earth.

    Raises:
        ValueError: a latitude is not from -90 to 90, or a longitude not from -180 to 180.
    """
    for point in points:
        if not (abs(point[0]) <= 90 and abs(point[1]) <= 180):
            raise ValueError(f"expected a latitude from -90 to 90 and a longitude from -180 to 180, got {point!r}")


def road_km(km: float, factor: float = ROAD_FACTOR) -> float:
    """The road estimated for a great circle of `km`."""
    return km * factor


def road_minutes(km: float, factor: float = ROAD_FACTOR, speed_km_h: float = ROAD_SPEED_KM_H) -> float:
    """The minutes estimated for the road of a great circle of `km`."""
    return road_km(km, factor) / speed_km_h * 60


def great_circle_km(a: Point, b: Point, radius_km: float = EARTH_RADIUS_KM) -> float:
    """The shortest way over the sphere in km, by the haversine formula.

    A sphere is off by up to about 0.3 % from the ellipsoid (movable-type.co.uk), which is little against what the road
    factor leaves open.

    Raises:
        ValueError: as for `check_points`.
    """
    check_points((a, b))
    north, south = math.radians(a[0]), math.radians(b[0])
    chord = math.sin((south - north) / 2) ** 2
    chord += math.cos(north) * math.cos(south) * math.sin(math.radians(b[1] - a[1]) / 2) ** 2
    # Rounding may carry the chord of antipodes past 1, of which there is no arcsine.
    return 2 * radius_km * math.asin(math.sqrt(min(chord, 1.0)))


def simple_tour(points: Sequence[Point]) -> Tour:
    """An open way that goes to and fro in strips through every point: found at once, and often half as long again as
    the shortest.

    Raises:
        ValueError: as for `check_points`.
    """
    check_points(points)
    order = _in_strips(points) if points else []
    return Tour(tuple(order), math.fsum(great_circle_km(points[a], points[b]) for a, b in pairwise(order)))


def _in_strips(points: Sequence[Point]) -> list[int]:
    """Indexes to and fro through strips of equal latitude that lie about as far apart as the points in them."""
    south = min(point[0] for point in points)
    count = max(1, round(math.sqrt(len(points) / _POINTS_A_STRIP)))
    height = (max(point[0] for point in points) - south) / count or 1.0

    def place(index: int) -> tuple[int, float]:
        north, east = points[index]
        strip = min(int((north - south) // height), count - 1)
        return strip, -east if strip % 2 else east

    return sorted(range(len(points)), key=place)
