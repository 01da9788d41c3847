"""Advice on a setup: each slip that an old hand would see is found at its cell, and a clean setup is let alone."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.program.setups import IN_ORDER, advised, rules_of
from tests.program.test_checks_fit import CASES, LOOKED_AT
from tests.program.views import ENGLISH, TODAY, Blocks, Change, add, demo, drop, found, put, view
from tests.small_program import CONTENT as SMALL
from workbook_tools.demo.scenario import scenario
from workbook_tools.program.draw import drawn_faces
from workbook_tools.program.slips import one_slip
from workbook_tools.program.summary import summary

DEMO_NOTES = ["carton_too_wide", "display_lift", "cases_not_whole"]
"""What is said about the demo itself: three notes, nothing to look at."""


def _all(block: str, **values: object) -> Change:
    return lambda blocks: [row.update(values) for row in blocks[block]]


def _times(block: str, factor: float, *keys: str) -> Change:
    return lambda blocks: [row.update({key: row[key] * factor for key in keys}) for row in blocks[block]]


def _longer(blocks: Blocks) -> None:
    blocks["program"][0]["visit_minutes"] = 60


def _in_one_district(blocks: Blocks) -> None:
    """A store of the coast, without coordinates, is given to someone who has all others in the north."""
    for row in blocks["stores"]:
        row.update(latitude=None, longitude=None)
    next(row for row in blocks["stores"] if row["district"] == "Coast").update(merchandiser="Dana")


def _store(key: str, value: str) -> int:
    """The number of the first store with a value, counted from 1."""
    return 1 + next(n for n, row in enumerate(demo()["stores"]) if row[key] == value)


def _in_one_area(blocks: Blocks) -> None:
    """The stores 4 to 6 lie in one city, with one postcode."""
    for row in blocks["stores"][3:6]:
        row.update(city="Ostermouth", region="Tarn Valley", postcode="41000")


NORTH = _store("district", "North")
PLANTED: list[tuple[str, list[Change], list[tuple[str, str, str]]]] = [
    # -- the window and the carton
    ("year of the window", [put("program", 1, starts=dt.date(2025, 11, 2), due=dt.date(2025, 11, 29))],
     [("window_over", "Program", "C12")]),
    ("year of the last day", [put("program", 1, due=dt.date(2027, 11, 29))], [("window_long", "Program", "C12")]),
    ("a window of a weekend", [put("program", 1, starts=dt.date(2026, 11, 7), due=dt.date(2026, 11, 8))],
     [("no_working_day", "Program", "C11")]),
    ("a country that is none", [put("program", 1, country="XX")], [("country_unknown", "Program", "C30")]),
    ("a holiday inside", [put("program", 1, country="US")], [("holidays_inside", "Program", "C11")]),
    ("too few days", [put("program", 1, due=dt.date(2026, 11, 2)), _all("merchandisers", hours=None)],
     [("pace_high", "Merchandisers", f"B{row}") for row in range(5, 14)]),
    ("carton in part", [put("program", 1, carton_weight=None)], [("carton_in_part", "Program", "C23")]),
    ("heavy carton", [put("program", 1, carton_length=20, carton_width=14, carton_weight=55)],
     [("carton_heavy", "Program", "C23")]),
    ("carton to get help with", [put("program", 1, carton_length=20, carton_width=14, carton_weight=40)],
     [("carton_help", "Program", "C23")]),
    ("carton nobody lifts", [put("program", 1, carton_length=20, carton_width=14, carton_weight=150)],
     [("carton_too_heavy", "Program", "C23"), ("carton_odd", "Program", "C23")]),
    ("a first day that is over", [put("program", 1, starts=dt.date(2026, 10, 19))],
     [("starts_over", "Program", "C11")]),
    ("a first day on a Sunday", [put("program", 1, starts=dt.date(2026, 11, 1))], [("day_off", "Program", "C11")]),
    ("a carton for two that nobody holds close", [put("program", 1, carton_weight=60)],
     [("carton_wide_heavy", "Program", "C23")]),
    ("a carton weighed in grams", [put("program", 1, carton_weight=13600)],
     [("carton_wide_heavy", "Program", "C23"), ("carton_odd", "Program", "C23")]),
    ("a carton too small for its shelves", [put("program", 1, carton_length=8, carton_width=6, carton_height=6,
                                               carton_weight=4)], [("carton_small", "Program", "C20")]),
    ("display in part", [put("program", 1, display_depth=None)], [("display_in_part", "Program", "C26")]),
    ("display that nobody holds close", [put("program", 1, display_width=40, display_depth=36)],
     [("display_too_wide", "Program", "C25")]),
    ("a place that is the usual one", [lambda blocks: blocks["program"][0].update(
        other_places=blocks["program"][0]["place"])], [("place_twice", "Program", "C18")]),
    ("places between commas", [put("program", 1, other_places="Front of store, By the coolers")],
     [("list_commas", "Program", "C18")]),
    # -- planogram, items and the label kit
    ("a shelf ten times as high", [put("shelves", 2, height=90)], [("shelf_unlike", "Shelves", "F6")]),
    ("a case of gross", [put("items", 1, case_pack=1440)], [("case_heavy", "Items", "K5")]),
    ("a digit too many", [put("items", 3, item_code="0318634")], [("code_unlike", "Items", "C7")]),
    ("an O for a 0", [put("items", 3, item_code="O31863")], [("code_unlike", "Items", "C7")]),
    ("a part copied down", [lambda blocks: blocks["parts"][1].update(name=blocks["parts"][0]["name"])],
     [("text_twice", "Parts", "C6")]),
    ("a step copied down", [lambda blocks: blocks["steps"][1].update(do=blocks["steps"][0]["do"])],
     [("text_twice", "Steps", "C6")]),
    ("a step without minutes", [put("steps", 2, minutes=None)], [("left_blank", "Steps", "E6")]),
    ("a face skipped", [lambda blocks: [row.update(face="D") for row in blocks["positions"] + blocks["shelves"]
                                        if row["face"] == "C"]], [("face_skipped", "Positions", "B29")]),
    ("a shelf skipped", [lambda blocks: [row.update(shelf=5) for row in blocks["positions"] + blocks["shelves"]
                                         if (row["face"], row["shelf"]) == ("B", 4)]],
     [("shelf_skipped", "Positions", "C26")]),
    ("a shelf without positions", [add("shelves", face="C", shelf=5, width=18, depth=12, height=9)],
     [("shelf_empty", "Shelves", "C17")]),
    ("a position missing", [drop("positions", 2)],
     [("place_skipped", "Positions", "D6"), ("shelf_gap", "Shelves", "D5")]),
    ("a position misnumbered", [put("positions", 9, place=4)], [("place_skipped", "Positions", "D13")]),
    ("a step missing", [drop("steps", 3)], [("step_skipped", "Steps", "B7")]),
    ("units not told", [put("positions", 1, deep=None, units=None)], [("units_not_told", "Positions", "I5")]),
    ("metric chosen, inches typed", [put("program", 1, units="cm, kg", carton_weight=None)],
     [("carton_in_part", "Program", "C23"), ("units_too_heavy", "Program", "C10")]),
    ("inches chosen, metric typed",
     [_times("items", 2.54, "width", "depth", "height"), _times("shelves", 2.54, "width", "depth", "height"),
      _times("items", 0.4536, "weight"), put("program", 1, carton_weight=None)],
     [("carton_in_part", "Program", "C23"), ("units_too_light", "Program", "C10")]),
    ("a weight in grams", [put("items", 1, weight=204.0), _all("shelves", load=None)],
     [("item_too_heavy", "Items", "J5")]),
    ("a weight with a slip of the point", [put("items", 10, weight=0.0021)], [("item_too_light", "Items", "J14")]),
    ("a code that lost its zero", [put("items", 3, item_code="31863")], [("zeros_lost", "Items", "C7")]),
    ("a substitute of itself", [put("items", 3, substitutes="Peppermint flavoring, 2 fl oz")],
     [("substitute_itself", "Items", "M7")]),
    ("a description copied down", [lambda blocks: blocks["items"][4].update(
        description=blocks["items"][3]["description"])], [("description_twice", "Items", "F9")]),
    ("a picture copied down", [lambda blocks: blocks["items"][3].update(picture=blocks["items"][2]["picture"])],
     [("picture_twice", "Items", "L8")]),
    ("wordings mixed up", [put("labels", 1, wording="TOLVANE · cut, keep, carry")],
     [("wording_twice", "Labels", "C9"), ("wording_of_another", "Labels", "C5")]),
    ("a wording copied down", [lambda blocks: blocks["labels"][1].update(wording=blocks["labels"][0]["wording"])],
     [("wording_twice", "Labels", "C6"), ("wording_of_another", "Labels", "C6")]),
    ("a district forgotten", [put("stores", 7, district="")], [("left_blank", "Stores", "H11")]),
    ("two GTINs forgotten", [put("items", 9, gtin=""), put("items", 4, gtin="")], [("left_blank", "Items", "D8")]),
    ("a label short", [put("labels", 5, packed=4)], [("labels_short", "Labels", "D9")]),
    ("a label too many", [put("labels", 5, packed=60)], [("labels_surplus", "Labels", "D9")]),
    ("a label not counted", [put("labels", 5, packed=None)], [("labels_not_told", "Labels", "D9")]),
    ("an item of another brand", [put("items", 11, brand="Wexlode"), put("labels", 4, packed=4)],
     [("labels_short", "Labels", "D12")]),
    # -- stores and people
    ("a coordinate alone", [put("stores", 4, longitude=None)], [("coordinate_alone", "Stores", "L8")]),
    ("coordinates of nowhere", [put("stores", 4, latitude=0, longitude=0)], [("coordinates_zero", "Stores", "K8")]),
    ("a lost sign", [put("stores", 4, longitude=39.3)], [("store_far_off", "Stores", "K8")]),
    ("coordinates exchanged", [lambda blocks: blocks["stores"][6].update(
        latitude=blocks["stores"][6]["longitude"], longitude=blocks["stores"][6]["latitude"])],
     [("store_far_off", "Stores", "K11")]),
    ("two columns of coordinates exchanged", [lambda blocks: [row.update(
        latitude=-75.1 - n / 100, longitude=40.2 + n / 100) for n, row in enumerate(blocks["stores"])]],
     [("coordinates_exchanged", "Stores", "K5")]),
    ("coordinates copied down", [lambda blocks: blocks["stores"][5].update(
        latitude=blocks["stores"][4]["latitude"], longitude=blocks["stores"][4]["longitude"])],
     [("same_point", "Stores", "K10")]),
    ("one store twice", [lambda blocks: blocks["stores"][9].update({key: blocks["stores"][8][key] for key in (
        "street", "city", "postcode", "latitude", "longitude")})], [("address_twice", "Stores", "D14")]),
    ("a store number that lost its zeros", [lambda blocks: blocks["stores"][2].update(
        store=blocks["stores"][2]["store"].lstrip("0"))], [("zeros_lost", "Stores", "B7")]),
    ("a district in capitals", [put("stores", NORTH, district="NORTH")],
     [("spelled_otherwise", "Stores", f"H{NORTH + 4}")]),
    ("a district mistyped", [put("stores", NORTH, district="Nroth")],
     [("spelled_otherwise", "Stores", f"H{NORTH + 4}")]),
    ("another's district", [_in_one_district],
     [("district_of_another", "Stores", f"J{_store('district', 'Coast') + 4}")]),
    ("a region of another postcode", [_in_one_area, put("stores", 6, region="QQ")],
     [("region_of_another", "Stores", "F10")]),
    ("a city mistyped", [_in_one_area, put("stores", 6, city="Ostermuoth")],
     [("spelled_otherwise", "Stores", "E10")]),
    ("a postcode with a digit missing", [
        lambda blocks: [row.update(postcode="41000") for row in blocks["stores"]], put("stores", 7, postcode="4210")],
     [("code_unlike", "Stores", "G11")]),
    ("a telephone number cut short", [put("stores", 7, phone="55")], [("phone_form", "Stores", "I11")]),
    ("a name of another store", [lambda blocks: blocks["stores"][6].update(
        {key: blocks["stores"][5][key] for key in ("name", "city")})], [("text_twice", "Stores", "C11")]),
    ("a mail domain mistyped", [put("merchandisers", 1, email="dana.orvell@exmaple.com")],
     [("email_domain", "Merchandisers", "D5")]),
    ("a visit of two hours", [put("program", 1, visit_minutes=2), _all("steps", minutes=None)],
     [("minutes_odd", "Program", "C16")]),
    ("no mail address", [put("merchandisers", 1, email="dana.orvell example.com")],
     [("email_form", "Merchandisers", "D5")]),
    ("the office's mail address", [put("program", 1, email="frost-tower@example")], [("email_form", "Program", "C15")]),
    ("a mail address copied down", [put("merchandisers", 2, email="dana.orvell@example.com")],
     [("email_twice", "Merchandisers", "D6")]),
    ("a mail address missing", [put("merchandisers", 3, email="")], [("email_missing", "Merchandisers", "D7")]),
    ("someone without a store", [add("merchandisers", merchandiser="Ada", email="ada@example.com", hours=9)],
     [("no_stores", "Merchandisers", "B14")]),
    ("too few hours", [put("merchandisers", 4, hours=8)], [("hours_over", "Merchandisers", "F8")]),
    ("hours missing", [put("merchandisers", 4, hours=None)], [("hours_not_told", "Merchandisers", "F8")]),
    ("minutes missing", [put("program", 1, visit_minutes=None), _all("steps", minutes=None)],
     [("minutes_not_told", "Program", "C16")]),
    ("steps longer than the visit", [_longer], [("steps_longer", "Program", "C16")]),
]  # fmt: skip
"""A slip made in the demo's setup → what is said about it, beside the demo's own notes."""


@pytest.mark.parametrize(("changes", "expected"), [case[1:] for case in PLANTED], ids=[case[0] for case in PLANTED])
def test_a_slip_is_found_where_it_is(changes: list[Change], expected: list[tuple[str, str, str]]) -> None:
    """Exactly the slip is said, at the cell to look at."""
    said = [(one.rule, one.sheet, one.cell) for one in found(view(demo(*changes))) if one.rule not in DEMO_NOTES]
    assert said == [(rule, sheet, cell) for rule, sheet, cell in expected if rule not in DEMO_NOTES]


def test_few_days_left_are_said_until_books_are_out() -> None:
    """Once the window has begun, every working day counts; when books are issued the office knows."""
    late = dt.date(2026, 11, 26)
    assert "few_days_left" in [one.rule for one in found(view(demo(), late))]
    assert [one.rule for one in found(view(demo(), late, is_issued=True))] == DEMO_NOTES
    over = dt.date(2026, 12, 1)
    assert "window_over" in [one.rule for one in found(view(demo(), over))]
    assert [one.rule for one in found(view(demo(), over, is_issued=True))] == DEMO_NOTES


def test_every_piece_of_advice_is_given_here() -> None:
    """No rule of the advice is without a slip that calls it."""
    called = {rule for _, _, expected in PLANTED for rule, *_ in expected} | {"few_days_left", *DEMO_NOTES}
    called |= {rule for _, _, expected in (*CASES, *LOOKED_AT) for rule, *_ in expected} | {"tray_wider"}
    known = rules_of("what cannot be built", "advice")
    assert called & known == known - {"depth_too_large"}


@pytest.mark.parametrize("seed", range(1, 6))
def test_the_demo_has_nothing_to_look_at(seed: int) -> None:
    """Whatever its stores, all that is said about the demo is three notes."""
    said = found(view(scenario(seed).blocks, TODAY))
    assert [(one.severity, one.rule) for one in said] == [("note", rule) for rule in DEMO_NOTES]


def test_small_setups_without_sizes_are_let_alone(tmp_path: Path) -> None:
    """Where little is told there is little to say: notes only, but for labels that are short."""
    small = [(one.severity, one.rule) for one in found(view(SMALL, dt.date(2026, 2, 1)))]
    assert small == [("note", "sizes_missing"), ("look at", "labels_short")]
    assert {one.severity for one in advised(tmp_path, IN_ORDER).findings} == {"note"}


def test_nothing_follows_from_a_setup_that_is_blank() -> None:
    """An empty setup has no advice: what is missing is found elsewhere."""
    assert found(view({})) == []
    assert found(view({"program": [{"name": "Alone"}]})) == []


@pytest.mark.parametrize("block", ["positions", "items", "labels", "stores", "merchandisers", "shelves", "steps"])
def test_a_block_that_is_missing_leaves_the_others_alone(block: str) -> None:
    """Without one of the sheets, the checks that need it are silent and none fails."""
    blocks = demo()
    blocks[block] = []
    said = {one.rule for one in found(view(blocks)) if one.severity != "note"}
    assert said <= {"no_stores", "hours_over"}


@pytest.mark.parametrize(
    ("a", "b", "is_slip"),
    [
        ("North", "Nroth", True), ("North", "Nort", True), ("North", "Northh", True), ("North", "Morth", True),
        ("North", "North", False), ("North", "South", False), ("East", "Eats", False), ("Area 1", "Area 2", False),
        ("District 11", "District 1", False), ("North East", "North West", False), ("Area A", "Area B", False),
        ("North East", "Nroth East", True), ("New Norvale", "Norvale", False), ("District East", "Distict East", True),
    ],
)  # fmt: skip
def test_one_slip_of_the_hand(a: str, b: str, is_slip: bool) -> None:
    """One letter more, less, other or exchanged; never a digit, never in a short word."""
    assert one_slip(a, b) == one_slip(b, a) == is_slip


ODD = st.sampled_from(
    [None, "", "x", "-", "0", 0, -1, 2.5, 1e300, 1e-300, 10**15, True, "a@b", "A", "Ω", "12:30", dt.date(1900, 3, 1),
     dt.date(9999, 12, 31), "99999999999999999999", "2'6\"", "North", "Kim; Lee", "\u200b", "=1+1", "%s"]
)  # fmt: skip


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_no_setup_is_too_odd_to_be_looked_at(data: st.DataObject) -> None:
    """Whatever stands in its cells, every finding can be said, the summary too, and nothing fails."""
    blocks = demo()
    for _ in range(data.draw(st.integers(1, 25))):
        rows = blocks[data.draw(st.sampled_from(sorted(blocks)))]
        row = rows[data.draw(st.integers(0, len(rows) - 1))]
        row[data.draw(st.sampled_from(sorted(row)))] = data.draw(ODD)
    seen = view(blocks)
    found(seen)
    for phrase in summary(seen):
        assert phrase.say(ENGLISH)
    assert drawn_faces(seen, [], ENGLISH)


def test_the_carton_of_common_practice_is_slid() -> None:
    """A flat carton of about 46 x 32 in and 30 lb is slid by one person: a note with inputs and limits of use."""
    (note,) = [one for one in found(view(demo())) if one.rule == "carton_too_wide"]
    assert note.severity == "note"
    assert "46 × 32 × 8 in, 30 lb" in note.problem(ENGLISH)
    assert "CAUTION" in note.todo(ENGLISH)
    assert "says nothing about carrying" in note.todo(ENGLISH)


def test_hours_are_told_with_what_they_rest_on() -> None:
    """The sentence names visits, minutes, the way and its two assumptions."""
    (over,) = [one for one in found(view(demo(put("merchandisers", 4, hours=8)))) if one.rule == "hours_over"]
    said = over.problem(ENGLISH)
    assert said.startswith("Priya needs ")
    assert "7 visits of 95 minutes" in said
    assert "great circles × 1.3, at 50 km/h" in said
