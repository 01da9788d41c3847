"""Great circles against values from outside.

READ: the number was read in the source named. COMP: recomputed with code of our own or the library named.
MEM: from memory. What is not READ is a reproducible value, not a published one.
"""

import math

import pytest

from workbook_tools.program.hours import decimal_hours
from workbook_tools.program.ways import EARTH_RADIUS_KM, great_circle_km

KM_PER_MILE = 1.609344
"""The international mile, exactly."""
NASHVILLE, LOS_ANGELES = (36.12, -86.67), (33.94, -118.40)
NEWPORT, CLEVELAND = (41.49008, -71.312796), (41.499498, -81.695391)


def _degrees(degrees: int, minutes: int, seconds: int = 0) -> float:
    return degrees + minutes / 60 + seconds / 3600


@pytest.mark.parametrize(("radius", "km"), [(6371.0, 2886.4444428379832997), (6372.8, 2887.2599506071103394)])
def test_haversine_task_of_rosetta_code(radius, km):
    """BNA to LAX with two radii of the earth (READ in a copy of the task's data, COMP)."""
    assert great_circle_km(NASHVILLE, LOS_ANGELES, radius) == pytest.approx(km, rel=1e-12)


def test_movable_type_scripts_example():
    """50 03 59 N 005 42 53 W to 58 38 38 N 003 04 12 W: 968.9 km (READ in a copy; COMP 968.8535)."""
    start, end = (_degrees(50, 3, 59), -_degrees(5, 42, 53)), (_degrees(58, 38, 38), -_degrees(3, 4, 12))
    assert round(great_circle_km(start, end), 1) == 968.9
    assert great_circle_km(start, end) == pytest.approx(968.8535, abs=5e-5)


def test_aviation_formulary_example():
    """LAX to JFK: .623585 rad, 2144 nautical miles (MEM; COMP .6235846 rad, 2143.726 nm, 3972.86 km)."""
    km = great_circle_km((_degrees(33, 57), -_degrees(118, 24)), (_degrees(40, 38), -_degrees(73, 47)))
    angle = km / EARTH_RADIUS_KM
    assert round(angle, 6) == 0.623585
    assert round(math.degrees(angle) * 60) == 2144
    assert km == pytest.approx(3972.86, abs=5e-3)


def test_geopy_documentation_example():
    """Newport to Cleveland: great circle 536.998 mi with geopy's radius, 6371.009 km (MEM; COMP 536.9979906964)."""
    miles = great_circle_km(NEWPORT, CLEVELAND, 6371.009) / KM_PER_MILE
    assert miles == pytest.approx(536.9979906964, abs=1e-9)
    assert great_circle_km(NEWPORT, CLEVELAND) == pytest.approx(miles * KM_PER_MILE, rel=2e-6)


@pytest.mark.parametrize(
    ("a", "b", "km"),
    [
        ((0, 0), (0, 90), 10007.543),
        ((0, 0), (0, 180), 20015.087),
        ((90, 0), (-90, 77), 20015.087),
        ((0, 0), (1, 0), 111.1949),
        ((0, 179.5), (0, -179.5), 111.1949),
    ],
)
def test_parts_of_the_circle(a, b, km):
    """A quarter, the antipodes and a degree on a sphere of 6371 km, also over the poles and the date line (COMP)."""
    assert great_circle_km(a, b) == pytest.approx(km, abs=5e-4)


@pytest.mark.parametrize(
    ("a", "b", "geodesic_km"), [(NASHVILLE, LOS_ANGELES, 2892.777), (NEWPORT, CLEVELAND, 538.3904453677 * KM_PER_MILE)]
)
def test_sphere_is_near_the_ellipsoid(a, b, geodesic_km):
    """Within about 0.3 % (READ movable-type.co.uk) of the geodesic (COMP geopy; its printed 538.390 mi is MEM)."""
    assert great_circle_km(a, b) == pytest.approx(geodesic_km, rel=0.003)
    assert great_circle_km(a, b) != pytest.approx(geodesic_km, rel=0.001)


@pytest.mark.parametrize(
    ("minutes", "hours"),
    [(5, 0.08), (10, 0.17), (15, 0.25), (20, 0.33), (25, 0.42), (30, 0.50), (35, 0.58), (40, 0.67)],
)
def test_minutes_as_decimal_hours(minutes, hours):
    """The table of draftlessig.org (READ, COMP)."""
    assert decimal_hours(minutes) == hours
