"""A face is planned true to scale, as far as it stays readable."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.field_book.programs import SETTINGS, made_program
from workbook_tools.program.face_plan import plan_face, shares_of
from workbook_tools.program.model import Item, Position, Program, Shelf

COLUMNS, LEAST = 60, 6


def shelf_of(*widths: float, facings: int = 1, shelf: float = 60.0, other: float = 60.0) -> Program:
    """A face whose first shelf holds items of these widths; a second shelf of width `other` holds one item."""
    items = [Item(item=str(n), item_code=str(n), brand="b", width=width) for n, width in enumerate(widths)]
    items.append(Item(item="last", item_code="last", brand="b", width=other))
    positions = [Position(face="A", shelf=1, place=n + 1, item=str(n), facings=facings) for n in range(len(widths))]
    positions.append(Position(face="A", shelf=2, place=1, item="last", facings=1))
    shelves = (Shelf(face="A", shelf=1, width=shelf, height=10), Shelf(face="A", shelf=2, width=other, height=10))
    return Program(settings=SETTINGS, shelves=shelves, positions=tuple(positions), items=tuple(items))


def test_trays_are_as_wide_as_their_facings() -> None:
    """30, 20 and 10 of a shelf of 60 take 30, 20 and 10 of 60 columns."""
    plan = plan_face(shelf_of(15, 10, 5, facings=2), "A", COLUMNS, LEAST)
    assert [tray.columns for tray in plan.lines[0].trays] == [30, 20, 10]
    assert [(tray.first, tray.last) for tray in plan.lines[0].trays] == [(0, 29), (30, 49), (50, 59)]
    assert plan.scale == "to_scale"


def test_a_narrower_shelf_is_drawn_narrower() -> None:
    """A shelf of 40 beside one of 60 takes two thirds of the columns."""
    plan = plan_face(shelf_of(20, 20, shelf=40, other=60), "A", COLUMNS, LEAST)
    assert [line.columns for line in plan.lines] == [40, 60]


def test_a_shelf_that_is_not_full_stays_free_at_its_right() -> None:
    """Half-filled, half the columns are used; nearly full, the trays take all of it."""
    half = plan_face(shelf_of(15, 15), "A", COLUMNS, LEAST).lines[0]
    assert half.trays[-1].last == 29
    full = plan_face(shelf_of(27, 27), "A", COLUMNS, LEAST).lines[0]
    assert full.trays[-1].last == 59


def test_missing_sizes_share_the_width_evenly() -> None:
    """Without sizes the plan says so."""
    plan = plan_face(made_program(1, 2, 4, sized=False), "A", COLUMNS, LEAST)
    assert plan.scale == "not_to_scale"
    assert [tray.columns for tray in plan.lines[0].trays] == [15, 15, 15, 15]


def test_a_narrow_tray_is_widened_and_that_is_said() -> None:
    """A tray of a hundredth of the shelf is as wide as it must be to be read."""
    plan = plan_face(shelf_of(59, 1), "A", COLUMNS, LEAST)
    assert [tray.columns for tray in plan.lines[0].trays] == [54, 6]
    assert plan.scale == "nearly_to_scale"


@pytest.mark.parametrize("places", [1, 9, 10, 11, 23, 400])
def test_a_shelf_with_very_many_trays_goes_on_in_further_lines(places: int) -> None:
    """At most ten trays stand side by side, lines are evenly filled, every position is drawn once, in order."""
    program = made_program(1, 1, places)
    plan = plan_face(program, "A", COLUMNS, LEAST)
    sizes = [len(line.trays) for line in plan.lines]
    assert max(sizes) <= COLUMNS // LEAST
    assert max(sizes) - min(sizes) <= 1
    assert [tray.position for line in plan.lines for tray in line.trays] == list(program.walk)
    assert (plan.scale == "to_scale") == (places <= 10)


@given(st.lists(st.fractions(Fraction(1, 100), 100), min_size=1, max_size=10))
def test_shares_use_every_column_and_keep_the_least(widths: list[Fraction]) -> None:
    """All columns are given, none has too few, and wider things never get fewer."""
    shares = shares_of(widths, COLUMNS, LEAST)
    assert sum(shares) == COLUMNS
    assert min(shares) >= LEAST
    for wide, share in zip(widths, shares, strict=True):
        for other, other_share in zip(widths, shares, strict=True):
            assert wide < other or share >= other_share - 1


def test_too_many_shares_are_refused() -> None:
    """Eleven trays of six columns do not fit into sixty."""
    with pytest.raises(ValueError, match="11 trays of at least 6 columns"):
        shares_of([Fraction(1)] * 11, COLUMNS, LEAST)
