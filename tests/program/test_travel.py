"""Distances and ways between stores."""

import itertools
import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.program.travel import great_circles_km, tour_length
from workbook_tools.program.ways import great_circle_km, road_km, road_minutes, simple_tour

POINTS = st.tuples(st.floats(-90, 90), st.floats(-180, 180))
NEARBY = st.tuples(st.floats(35, 36), st.floats(-90, -89))


def _scattered(count: int) -> list[tuple[float, float]]:
    dice = random.Random(count)
    return [(dice.uniform(35, 36), dice.uniform(-90, -89)) for _ in range(count)]


@given(POINTS, POINTS, POINTS)
def test_distances_are_distances(a, b, c):
    """Nothing to itself, the same both ways, never more by a detour, at most half round the earth."""
    assert great_circle_km(a, a) == 0
    assert great_circle_km(a, b) == pytest.approx(great_circle_km(b, a), abs=1e-9)
    assert great_circle_km(a, c) <= great_circle_km(a, b) + great_circle_km(b, c) + 1e-4
    assert great_circle_km(a, b) <= math.pi * 6371.0 + 1e-9


def test_a_table_of_distances_is_the_single_ones():
    """Rows are the first points, columns the second."""
    a, b = _scattered(3), _scattered(4)
    table = great_circles_km(a, b)
    assert table.shape == (3, 4)
    assert table == pytest.approx(np.array([[great_circle_km(one, other) for other in b] for one in a]), rel=1e-12)
    assert great_circles_km([], b).shape == (0, 4)


@pytest.mark.parametrize("point", [(90.1, 0), (0, -180.1), (math.nan, 0), (0, math.inf)])
def test_points_that_are_not_on_the_earth_are_refused(point):
    """Also where latitude and longitude were exchanged, if that can be seen."""
    for measure in (great_circle_km, lambda a, b: great_circles_km([a], [b]), lambda *points: tour_length(points)):
        with pytest.raises(ValueError, match="latitude from -90 to 90"):
            measure((0, 0), point)


def test_roads_are_longer_and_take_time():
    """100 km of great circle are 130 km of road and 156 minutes at 50 km an hour, unless told otherwise."""
    assert road_km(100) == 130
    assert road_minutes(100) == pytest.approx(156)
    assert road_minutes(100, factor=1.2, speed_km_h=60) == pytest.approx(120)


@settings(deadline=None, max_examples=40)
@given(st.lists(NEARBY, max_size=7))
def test_a_tour_meets_every_point_and_is_not_shorter_than_the_shortest(points):
    """Against all orders of up to seven points; and the length is that of the order given."""
    tour = tour_length(points)
    assert sorted(tour.order) == list(range(len(points)))
    table = great_circles_km(points, points)
    assert tour.km == pytest.approx(_length(table, tour.order), abs=1e-6)
    orders = itertools.permutations(range(len(points)))
    assert tour.km >= min(_length(table, order) for order in orders) - 1e-6


def test_tours_are_near_the_shortest():
    """Over 30 scatters of seven points the tours are on average at most 3 % longer than the shortest."""
    ratios = []
    for seed in range(30):
        dice = random.Random(seed)
        points = [(dice.uniform(35, 36), dice.uniform(-90, -89)) for _ in range(7)]
        table = great_circles_km(points, points)
        shortest = min(_length(table, order) for order in itertools.permutations(range(7)))
        ratios.append(tour_length(points).km / shortest)
    assert sum(ratios) / len(ratios) < 1.03


def _length(table: np.ndarray, order: tuple[int, ...]) -> float:
    return float(sum(table[leg] for leg in itertools.pairwise(order)))


def test_points_on_a_line_are_met_in_order():
    """Stores along a road: from one end to the other, however they are listed."""
    points = [(35.0, -90 + east / 10) for east in (3, 0, 4, 1, 5, 2)]
    tour = tour_length(points)
    assert [points[index][1] for index in tour.order] in (
        [pytest.approx(-90 + east / 10) for east in range(6)],
        [pytest.approx(-90 + east / 10) for east in reversed(range(6))],
    )
    assert tour.km == pytest.approx(great_circle_km((35, -90), (35, -89.5)), rel=1e-4)


def test_no_way_between_no_stores_or_one():
    """None, one, or several at one place: no km."""
    assert [tour_length(points).km for points in ([], [(35, -90)], [(35, -90)] * 5)] == [0, 0, 0]


def test_a_long_list_is_still_a_tour():
    """Beyond 1,000 points it goes in strips: no shorter than the known rate for random points, not twice as long.

    The shortest way through n random points of an area A tends to 0.7124 x sqrt(n A) (MEM: Beardwood, Halton,
    Hammersley 1959; the constant from later simulations).
    """
    points = _scattered(3000)
    tour = tour_length(points)
    assert sorted(tour.order) == list(range(3000))
    area = great_circle_km((35, -90), (36, -90)) * great_circle_km((35.5, -90), (35.5, -89))
    assert 1 < tour.km / (0.7124 * math.sqrt(3000 * area)) < 2
    assert tour_length([(35, -90)] * 1500).km == 0


@given(st.lists(NEARBY, max_size=12))
def test_a_simple_way_meets_every_point_and_is_no_shorter_than_the_shortest(points):
    """What fits by a simple way fits by the shortest, which is found for these few points by trying all."""
    tour = simple_tour(points)
    assert sorted(tour.order) == list(range(len(points)))
    table = np.array([[great_circle_km(one, other) for other in points] for one in points])
    assert tour.km == pytest.approx(_length(table, tour.order))
    if len(points) <= 6:
        shortest = min(_length(table, order) for order in itertools.permutations(range(len(points))))
        assert tour.km >= shortest - 1e-9
