"""Short ways through many stores, over great circles on a sphere.

Points are (latitude, longitude) in decimal degrees, north and east positive.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from workbook_tools.program.ways import EARTH_RADIUS_KM, Point, Tour, check_points, simple_tour

Matrix: TypeAlias = NDArray[np.float64]

_FEWEST_IMPROVED, _MOST_IMPROVED = 3, 1000
"""Points from which there is something to improve, and up to which a tour is improved: the memory that takes grows with
their square.
"""

_NEIGHBOURS = 8
"""Nearest points that each point of a tour is tried against."""

_ENOUGH_KM = 1e-9


def great_circles_km(a: Sequence[Point], b: Sequence[Point]) -> Matrix:
    """The shortest ways over the sphere in km between all points of `a` (rows) and all of `b` (columns).

    Raises:
        ValueError: as for `ways.check_points`.
    """
    here, there = _radians(a), _radians(b)
    return _haversine(here[:, None, :], there[None, :, :])


def tour_length(points: Sequence[Point]) -> Tour:
    """Estimate the shortest way that meets every point once, over great circles.

    It is open, from the first store to the last, since where a merchandiser lives is not known. From each point to the
    nearest one left, beginning at the point farthest from the middle; then stretches of the way are turned round until
    no turn makes it shorter (2-opt). It is never shorter than the shortest way and often a few percent longer. Beyond
    1,000 points, more than anyone visits, it is the simple tour. The same points in the same order give the same tour.

    Raises:
        ValueError: as for `ways.check_points`.
    """
    if len(points) > _MOST_IMPROVED or len(points) < _FEWEST_IMPROVED:
        return simple_tour(points)
    where = _radians(points)
    distances = _haversine(where[:, None, :], where[None, :, :])
    farthest = int(np.argmax(_haversine(where, where.mean(axis=0))))
    order = _turned(_nearest_neighbours(distances, farthest), distances)
    return Tour(tuple(order), math.fsum(distances[order[:-1], order[1:]].tolist()))


def _radians(points: Sequence[Point]) -> Matrix:
    """Latitudes and longitudes as two columns of radians."""
    check_points(points)
    return np.radians(np.asarray(points, dtype=np.float64).reshape(-1, 2))


def _haversine(a: Matrix, b: Matrix) -> Matrix:
    """Great circles between points in radians whose last axis is latitude, longitude."""
    half = np.sin((b - a) / 2) ** 2
    chord = half[..., 0] + np.cos(a[..., 0]) * np.cos(b[..., 0]) * half[..., 1]
    # Rounding may carry the chord of antipodes past 1, of which there is no arcsine.
    distances: Matrix = 2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.minimum(chord, 1.0)))
    return distances


def _nearest_neighbours(distances: Matrix, first: int) -> list[int]:
    """From `first` to the nearest point left, and so on; of equals the first."""
    left = distances.copy()
    order = [first]
    while len(order) < len(left):
        left[:, order[-1]] = math.inf
        order.append(int(left[order[-1]].argmin()))
    return order


def _turned(order: list[int], distances: Matrix) -> list[int]:
    """Turn stretches of a way round while that shortens it (2-opt, each point against the points nearest to it)."""
    count = len(order)
    # An open way is a closed one through a point that is no distance from any other.
    between = np.zeros((count + 1, count + 1))
    between[:count, :count] = distances
    met = [*order, count]
    way = _Way(met, between.tolist(), _nearest(between, _NEIGHBOURS + 1))
    waiting = deque(met)
    while waiting:
        point = waiting.popleft()
        while touched := way.shorten(point, 1) or way.shorten(point, -1):
            waiting.extend(touched)
    return _from_after(way.met, count)


def _nearest(distances: Matrix, most: int) -> list[list[int]]:
    """The points nearest to each point, itself among them: the nearest first, of equals the first."""
    last = min(most, len(distances)) - 1
    bounds = np.partition(distances, last, axis=1)[:, last]
    near = []
    for row, bound in zip(distances, bounds, strict=True):
        within = np.flatnonzero(row <= bound)
        near.append(within[np.argsort(row[within], kind="stable")][:most].tolist())
    return near


def _from_after(met: list[int], point: int) -> list[int]:
    """The closed way `met`, opened at `point`."""
    at = met.index(point)
    return met[at + 1 :] + met[:at]


class _Way:
    """A closed way through points that can turn a stretch of itself round."""

    def __init__(self, met: list[int], between: list[list[float]], nearest: list[list[int]]) -> None:
        self.met = list(met)
        self.at = [0] * len(met)
        for place, point in enumerate(met):
            self.at[point] = place
        self.between = between
        self.nearest = nearest

    def shorten(self, point: int, step: int) -> tuple[int, ...]:
        """Join `point` to a nearer one instead of to the one after it (step 1) or before it (-1), if that pays.

        Gives the other ends of the legs that changed, or nothing.
        """
        met, at, between = self.met, self.at, self.between
        size = len(met)
        joined = met[(at[point] + step) % size]
        leg = between[point][joined]
        for other in self.nearest[point]:
            nearer = between[point][other]
            if nearer >= leg:
                break
            its = met[(at[other] + step) % size]
            if other != point and nearer + between[joined][its] < leg + between[other][its] - _ENOUGH_KM:
                self._turn(*((joined, other) if step == 1 else (other, joined)))
                return (joined, other, its)
        return ()

    def _turn(self, first: int, last: int) -> None:
        """Turn the stretch from `first` on to `last` round."""
        met, at = self.met, self.at
        start, end = at[first], at[last]
        if start > end:
            # What is left standing is turned instead: the same way, met in the other direction.
            start, end = end + 1, start - 1
        met[start : end + 1] = met[start : end + 1][::-1]
        for place in range(start, end + 1):
            at[met[place]] = place
