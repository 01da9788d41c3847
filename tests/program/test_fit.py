"""What fits on a shelf, exactly.

The capacity of a display has no published check value; the cases of tray and item below are computed by hand (COMP).
"""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.program.fit import (
    Counts,
    Size,
    even_share,
    position_fit,
    shelf_load,
    shelf_width,
    span,
    units_of,
)

TENTHS = st.integers(1, 10_000).map(lambda tenths: tenths / 10)
ITEM = Size(width=75, depth="75.5", height=100)
TRAY = Size(width=600, depth=302, height=210)


@pytest.mark.parametrize(("space", "count"), [(600, 8), (599, 7), (600.0, 8), ("600", 8), (74.9, 0), (75, 1), (0, 0)])
def test_a_tray_holds_the_whole_items_that_stand_in_it(space, count):
    """Tray 600 mm, item 75 mm: 8; 599 mm: 7 (COMP)."""
    assert span("width", None, 75, space).most == count


@pytest.mark.parametrize(("size", "needed", "fit"), [(50.0, 600, True), (50.1, 601.2, False), ("50.0", 600, True)])
def test_twelve_facings_in_600_mm(size, needed, fit):
    """12 x 50.0 = 600.0 fits and 12 x 50.1 = 601.2 does not, and they are shown without a stray digit (COMP)."""
    judged = span("width", 12, size, 600)
    assert repr(judged.needed) == repr(needed)
    assert judged.verdict == ("fits" if fit else "too_much")


@pytest.mark.parametrize(("count", "size", "space"), [(3, 0.1, 0.3), (7, 0.7, 4.9), (3, 4.35, 13.05), (6, 1.1, 6.6)])
def test_what_fills_the_space_fits_though_binary_numbers_say_otherwise(count, size, space):
    """These products or quotients miss in binary floating point; as typed they are exact."""
    assert count * size != space or math.floor(space / size) != count
    judged = span("width", count, size, space)
    assert (judged.verdict, judged.most) == ("fits", count)


@pytest.mark.parametrize("number", [2.5, "2.5", Decimal("2.5"), Fraction(5, 2)])
def test_sizes_may_come_in_any_form(number):
    """A float, a text, a decimal or a fraction: the same number."""
    assert span("width", None, number, 10).most == 4


@given(TENTHS, TENTHS)
def test_the_most_that_fits_fits_and_one_more_does_not(space, size):
    """That many fit, and one more does not."""
    count = span("width", None, size, space).most
    assert span("width", count, size, space).verdict == "fits"
    assert span("width", count + 1, size, space).verdict == "too_much"


@given(st.integers(1, 500), TENTHS)
def test_the_space_that_a_row_needs_holds_that_row(count, size):
    """What `span` says is needed is exactly enough, also after it was shown as a float."""
    needed = span("width", count, size, None).needed
    judged = span("width", count, size, needed)
    assert (judged.most, judged.spare) == (count, 0)


def test_a_position_is_judged_in_three_directions():
    """Facings x width, deep x depth and high x height, each with what is left and how many more would fit."""
    fit = position_fit(Counts(facings=8, deep=3, high=2, units=48), ITEM, TRAY)
    assert [(one.axis, one.verdict, one.needed, one.spare, one.most, one.room) for one in fit.spans] == [
        ("width", "fits", 600, 0, 8, 0),
        ("depth", "fits", 226.5, 75.5, 4, 1),
        ("height", "fits", 200, 10, 2, 0),
    ]
    assert fit.turned is False


@pytest.mark.parametrize(
    ("counts", "axis"), [(Counts(9, 3, 2), "width"), (Counts(8, 5, 2), "depth"), (Counts(8, 3, 3), "height")]
)
def test_the_direction_that_is_too_much_is_named(counts, axis):
    """One facing, row or layer more than fits shows in its own direction only."""
    fit = position_fit(counts, ITEM, TRAY)
    assert [one.axis for one in fit.spans if one.verdict == "too_much"] == [axis]


def test_what_is_not_known_is_unknown_and_not_all_right():
    """A size or a count left blank leaves that direction unknown, and the others judged."""
    fit = position_fit(Counts(facings=8, high=2), Size(width=75), TRAY)
    assert [one.verdict for one in fit.spans] == ["fits", "unknown", "unknown"]
    assert (fit.depth.most, fit.height.spare) == (None, None)


@pytest.mark.parametrize(
    ("counts", "turned"), [(Counts(4, 2), True), (Counts(8, 2), False), (Counts(2, 1), False), (Counts(4, None), False)]
)
def test_sizes_taken_with_another_face_to_the_front_are_suspected(counts, turned):
    """An item of 12 x 6 in a tray of 24 x 24: 4 facings, 2 deep fit only with width and depth exchanged."""
    assert position_fit(counts, Size(12, 6, None), Size(24, 24, None)).turned is turned


def test_even_shares_fill_the_shelf_again():
    """Three trays on 25 in have a third each, and an item of just that width fits its tray."""
    share = even_share(25, 3)
    assert share * 3 == 25
    assert span("width", 1, share, share).verdict == "fits"


def test_a_shelf_is_judged_by_all_its_positions():
    """4 x 3.5 + 3 x 3.3 = 23.9 in fits 23.9 in, and 23.8 in not."""
    parts = [(4, 3.5), (3, "3.3")]
    assert (shelf_width(parts, 23.9).verdict, shelf_width(parts, 23.9).total) == ("fits", 23.9)
    assert (shelf_width(parts, 23.8).verdict, shelf_width(parts, 23.8).spare) == ("too_much", -0.1)


@pytest.mark.parametrize(
    ("parts", "load", "verdict", "total", "unknown"),
    [
        ([(24, 0.6), (12, 1.3)], 30, "fits", 30, 0),
        ([(24, 0.6), (12, 1.3)], 29.9, "too_much", 30, 0),
        ([(24, 0.6), (12, None)], 30, "unknown", 14.4, 1),
        ([(24, 0.6), (None, 1.3)], 14, "too_much", 14.4, 1),
        ([(24, 0.6)], None, "unknown", 14.4, 0),
        ([], 30, "fits", 0, 0),
    ],
)
def test_weights_are_summed_against_the_load(parts, load, verdict, total, unknown):
    """Too much is too much even while some weights are missing; enough room is only said when all are known."""
    judged = shelf_load(parts, load)
    assert (judged.verdict, judged.total, judged.unknown) == (verdict, total, unknown)


def test_units_are_as_planned_or_as_drawn():
    """The plan's own count comes first, then facings x deep x high, else it is unknown."""
    assert units_of(Counts(2, 3, 4, 20)) == 20
    assert units_of(Counts(2, 3, 4)) == 24
    assert units_of(Counts(2, None, 4)) is None


@pytest.mark.parametrize(("size", "space"), [(0, 10), (1, -1), (-2, 10)])
def test_sizes_that_cannot_be_are_refused(size, space):
    """An item of no size and a space below 0 have no answer."""
    with pytest.raises(ValueError, match="expected"):
        span("width", 1, size, space)
