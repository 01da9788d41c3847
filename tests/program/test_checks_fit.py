"""What does not fit is found at its cell and must be mended; what fits exactly, or is not told, is let alone."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.program.setups import IN_ORDER, Content, Place, advised, changed, checked, only, places
from workbook_tools.contract.words import words_for

ENGLISH = words_for("en")

# Two shelves of three trays each, filled exactly: 3 x 20 = 60 wide, 5 x 8 = 40 deep, 2 x 15 = 30 high. Each shelf
# holds 3 x 20 units of 0.5 = 30, all that it may carry. Centimetres and kilograms.
SHELVES = [{"face": "A", "shelf": n, "width": 60, "depth": 40, "height": 30, "load": 30} for n in (1, 2)]
POSITIONS = [
    {"face": "A", "shelf": shelf, "place": place, "item": item, "facings": 2, "deep": 5, "high": 2, "units": 20}
    for shelf in (1, 2)
    for place, item in enumerate(("Lids", "Wax", "Jars"), start=1)
]
SIZED = {"width": 10, "depth": 8, "height": 15, "weight": 0.5}


def exact_fit(
    positions: Mapping[int, Mapping[str, object]] | None = None,
    items: Mapping[int, Mapping[str, object]] | None = None,
    shelves: Mapping[int, Mapping[str, object]] | None = None,
) -> Content:
    """The setup that fits exactly, with other values in some rows, counted from 1."""
    sized = [{**row, **SIZED} for row in IN_ORDER["items"]]
    blocks = {"positions": POSITIONS, "items": sized, "shelves": SHELVES}
    changes = {"positions": positions, "items": items, "shelves": shelves}
    new = {
        key: [{**row, **(changes[key] or {}).get(number, {})} for number, row in enumerate(rows, start=1)]
        for key, rows in blocks.items()
    }
    labels = [{"brand": "Pellwood", "packed": 2}, {"brand": "Quarnby", "packed": 4}]
    return changed(program=[{**IN_ORDER["program"][0], "units": "cm, kg"}], labels=labels, **new)


def test_what_fits_exactly_fits(tmp_path: Path) -> None:
    """Filling a shelf to the last millimetre and gram is right; nothing is said about it."""
    setup = advised(tmp_path, exact_fit())
    assert [place for place in places(setup) if place[1] in ("Positions", "Shelves", "Items")] == []
    assert setup.program is not None


# CHECK_VALUES: a tray of 600 holds 12 facings of 50.0 and not of 50.1; 8 items of 75 (COMP).
CASES: list[tuple[str, Content, list[Place]]] = [
    ("a facing too many on the shelf", exact_fit({1: {"facings": 3, "units": 30}}),
     [("shelf_overloaded", "Shelves", "G5"), ("shelf_overfull", "Positions", "F5")]),
    ("facings too wide for the shelf alone", exact_fit({1: {"facings": 7, "units": 20}}),
     [("width_too_much", "Positions", "F5")]),
    ("a row too many behind", exact_fit({2: {"deep": 6, "units": 20}}), [("depth_too_much", "Positions", "G6")]),
    ("a layer too many", exact_fit({3: {"high": 3, "units": 20}}), [("height_too_much", "Positions", "H7")]),
    ("an item wider than the shelf", exact_fit(items={1: {"width": 61}}),
     [("width_too_large", "Positions", "E5"), ("width_too_large", "Positions", "E8")]),
    ("an item higher than the shelf", exact_fit({1: {"high": None}, 4: {"high": None}}, items={1: {"height": 30.5}}),
     [("height_too_large", "Positions", "E5"), ("height_too_large", "Positions", "E8")]),
    ("a hair too wide", exact_fit(items={1: {"width": 10.01}}),
     [("shelf_overfull", "Positions", "F5"), ("shelf_overfull", "Positions", "F8")]),
    ("all trays of a shelf a hair too wide", exact_fit(shelves={1: {"width": 59.99}}),
     [("shelf_overfull", "Shelves", "D5")]),
    ("too heavy", exact_fit(items={3: {"weight": 0.51}}),
     [("shelf_overloaded", "Shelves", "G5"), ("shelf_overloaded", "Shelves", "G6")]),
    ("a load too low", exact_fit(shelves={2: {"load": 3}}), [("shelf_overloaded", "Shelves", "G6")]),
    ("more units than fit in the tray", exact_fit({5: {"units": 21}}, shelves={2: {"load": 100}}),
     [("units_too_many", "Positions", "I9")]),
    ("more units than fit, facings not told", exact_fit({5: {"facings": None, "units": 21}}, shelves={2: {"load": 99}}),
     [("units_too_many", "Positions", "I9")]),
]  # fmt: skip


@pytest.mark.parametrize(("content", "expected"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_what_does_not_fit_must_be_mended(tmp_path: Path, content: Content, expected: list[Place]) -> None:
    """Each is found once, at the cell that has to change, and no book can be issued."""
    setup = checked(tmp_path, content)
    assert places(setup) == expected
    assert setup.program is None


LOOKED_AT: list[tuple[str, Content, list[Place]]] = [
    ("more units than drawn", exact_fit({5: {"deep": 4}}), [("units_above_drawn", "Positions", "I9")]),
    ("fewer units than drawn", exact_fit({5: {"units": 12}}), [("units_below_drawn", "Positions", "I9")]),
    ("a shelf with a gap", exact_fit({1: {"facings": 1, "units": 10}}, items={2: {"width": 9}, 3: {"width": 7.5}}),
     [("shelf_gap", "Shelves", "D5")]),
    ("a tray hardly filled", exact_fit({4: {"deep": 2, "units": 8}}), [("depth_gap", "Positions", "G8")]),
    ("a size missing", exact_fit(items={2: {"height": None}}), [("sizes_missing", "Items", "G6")]),
]  # fmt: skip


@pytest.mark.parametrize(("content", "expected"), [case[1:] for case in LOOKED_AT], ids=[case[0] for case in LOOKED_AT])
def test_what_fits_but_may_not_be_meant_is_said(tmp_path: Path, content: Content, expected: list[Place]) -> None:
    """It is advice only: books can be issued all the same."""
    setup = advised(tmp_path, content)
    assert [place for place in places(setup) if place[1] in ("Positions", "Shelves", "Items")] == expected
    assert setup.program is not None


def test_one_tray_wider_than_its_share_is_looked_at(tmp_path: Path) -> None:
    """Where all trays but one keep to an equal share of their shelf, the one is named; where many do not, none is."""
    wide = {1: {"facings": 3, "units": 30}, 2: {"facings": 1, "units": 10}}
    rows = [{**row, "shelf": shelf} for shelf in range(1, 6) for row in POSITIONS[:3]]
    shelves = [{**SHELVES[0], "shelf": shelf} for shelf in range(1, 6)]
    one = [{**row, **(wide.get(number) or {})} for number, row in enumerate(rows, start=1)]
    assert ("tray_wider", "Positions", "F5") in places(
        advised(tmp_path, {**exact_fit(), "shelves": shelves, "positions": one})
    )
    many = [{**row, **wide[row["place"]]} if row["place"] < 3 else row for row in rows]
    said = places(advised(tmp_path, {**exact_fit(), "shelves": shelves, "positions": many}))
    assert "tray_wider" not in {rule for rule, *_ in said}


def test_numbers_are_shown_as_typed_in_the_units_chosen(tmp_path: Path) -> None:
    """12 facings of 5.01 take 60.12, not 60.120000000000005, and the unit stands behind."""
    rows = [{**POSITIONS[0], "facings": 12, "units": None}]
    content = {**exact_fit(items={1: {"width": 5.01}}), "positions": rows, "shelves": SHELVES[:1]}
    found = next(one for one in checked(tmp_path, content).findings if one.rule == "width_too_much")
    assert found.problem(ENGLISH) == "A-1-1: 12 facings of 5.01 cm take 60.12 cm; the shelf is 60 cm wide."
    assert found.todo(ENGLISH) == "Plan at most 11 facings, or correct the sizes."
    content = {**content, "positions": [{**rows[0], "facings": 8}], "program": IN_ORDER["program"]}
    content["items"] = exact_fit(items={1: {"width": 7.5}})["items"]
    assert "shelf_overfull" not in {one.rule for one in checked(tmp_path, content).findings}


def test_sizes_of_another_side_are_recognised(tmp_path: Path) -> None:
    """Where it would fit with width and depth exchanged, the finding says so."""
    content = exact_fit({1: {"facings": 2, "deep": 1, "units": None}}, items={1: {"width": 32, "depth": 6}})
    content = {**content, "positions": content["positions"][:1]}
    found = next(one for one in checked(tmp_path, content).findings if one.rule == "width_too_much")
    assert "with width and depth exchanged it would fit" in found.todo(ENGLISH)


def test_what_is_not_told_is_not_judged(tmp_path: Path) -> None:
    """Without any size there is nothing to say; one note tells where some are told and others are not."""
    blank = [{key: value for key, value in row.items() if key not in SIZED} for row in exact_fit()["items"]]
    bare = [{"face": row["face"], "shelf": row["shelf"]} for row in SHELVES]
    silent = advised(tmp_path, {**exact_fit(), "items": blank, "shelves": bare})
    assert [place for place in places(silent) if place[1] in ("Positions", "Shelves", "Items")] == []
    noted = advised(tmp_path, {**exact_fit(), "items": blank})
    assert [place for place in places(noted) if place[1] in ("Positions", "Shelves", "Items")] == [
        ("sizes_missing", "Items", "G5")
    ]


@pytest.mark.parametrize("broken", [{"width": 0}, {"width": -4}, {"width": "wide"}])
def test_a_broken_size_is_one_finding(tmp_path: Path, broken: dict[str, object]) -> None:
    """A size that is no size is found as that, and nothing is reckoned with it."""
    assert only(checked(tmp_path, exact_fit(items={1: broken}))).rule in ("out_of_range", "not_a_number")
