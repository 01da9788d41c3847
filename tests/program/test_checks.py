"""Every rule about the values of a setup: what breaks it is found at its sheet and cell, and said with a way out."""

from __future__ import annotations

import datetime as dt
import re
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import TypeVar

import pytest
from PIL import Image

from tests.program.setups import (
    IN_ORDER,
    Place,
    Typed,
    changed,
    checked,
    only,
    places,
    put,
    rules_of,
    setup_file,
    with_values,
)
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import words_for
from workbook_tools.program.load import read_setup

ENGLISH = words_for("en")
Case = tuple[Typed, list[Place]]
_Found = TypeVar("_Found")

CELLS: list[Case] = [
    # -- one cell
    (put("items", 2, "width", "four"), [("not_a_number", "Items", "G6")]),
    (put("stores", 1, "latitude", True), [("not_a_number", "Stores", "K5")]),
    (put("items", 2, "width", "4,5"), [("comma_in_number", "Items", "G6")]),
    (put("positions", 1, "facings", 2.5), [("not_whole", "Positions", "F5")]),
    (put("positions", 1, "facings", "three"), [("not_whole", "Positions", "F5")]),
    (put("program", 1, "starts", "soon"), [("not_a_date", "Program", "C11")]),
    (put("program", 1, "starts", "03/04/2027"), [("date_two_ways", "Program", "C11")]),
    (put("items", 1, "item_code", dt.date(2027, 3, 5)), [("not_a_code", "Items", "C5")]),
    (put("stores", 1, "phone", True), [("not_a_code", "Stores", "I5")]),
    (put("program", 1, "units", "feet"), [("not_a_choice", "Program", "C10")]),
    (put("program", 1, "photos", "two"), [("not_a_choice", "Program", "C19")]),
    (put("program", 1, "language", "xx"), [("not_a_choice", "Program", "C29")]),
    (put("merchandisers", 1, "language", "xx"), [("not_a_choice", "Merchandisers", "G5")]),
    (put("positions", 1, "facings", 0), [("out_of_range", "Positions", "F5")]),
    (put("stores", 1, "latitude", 90.5), [("out_of_range", "Stores", "K5")]),
    (put("stores", 2, "longitude", -181), [("out_of_range", "Stores", "L6")]),
    (put("items", 3, "width", 0), [("out_of_range", "Items", "G7")]),
    (put("items", 3, "width", "-4"), [("out_of_range", "Items", "G7"), ("text_as_number", "Items", "G7")]),
    (put("program", 1, "visit_minutes", 1441), [("out_of_range", "Program", "C16")]),
    (put("labels", 1, "packed", -1), [("out_of_range", "Labels", "D5")]),
    (put("program", 1, "code", "SMALL/1"), [("pattern", "Program", "C6")]),
    (put("shelves", 3, "face", "a"), [("pattern", "Shelves", "B7"), ("required", "Shelves", "C7")]),
    (put("program", 1, "name", None), [("required", "Program", "C5")]),
    (put("items", 3, "item_code", " \u00a0"), [("required", "Items", "C7")]),
    (put("stores", 2, "merchandiser", None), [("required", "Stores", "J6")]),
    (put("stores", 2, "name", "\u200b"), [("required", "Stores", "C6")]),
    (put("parts", 1, "quantity", None), [("required", "Parts", "D5")]),
    (put("items", 1, "description", "=1+1"), [("formula_without_result", "Items", "F5")]),
    (put("items", 2, "width", "#N/A"), [("error_cell", "Items", "G6")]),
    # -- repairs
    (put("items", 1, "description", " Two-part lids\u200b"), [("spaces_removed", "Items", "F5")]),
    (put("items", 1, "description", True), [("truth_as_text", "Items", "F5")]),
    (put("stores", 1, "name", 7), [("number_as_text", "Stores", "C5")]),
    (put("items", 1, "description", dt.date(2027, 3, 5)), [("date_as_text", "Items", "F5")]),
    (put("items", 2, "item_code", "\uff10\uff10\uff11\uff10\uff12"), [("full_width", "Items", "C6")]),
    (put("items", 3, "width", "4.5"), [("text_as_number", "Items", "G7")]),
    (put("program", 1, "starts", "2027-03-02"), [("text_as_date", "Program", "C11")]),
    (put("program", 1, "units", "IN,LB"), [("choice_recognised", "Program", "C10")]),
    (put("program", 1, "photos", "Una"), [("choice_recognised", "Program", "C19")]),
    (put("stores", 1, "merchandiser", "KIM"), [("choice_recognised", "Stores", "J5")]),
    (put("positions", 3, "item", "jars"), [("choice_recognised", "Positions", "E7")]),
    (put("items", 2, "substitutes", "lids;JARS"), [("choice_recognised", "Items", "M6")]),
    # -- GTINs; 02000145 is right as a GTIN-8 and, expanded, as a UPC-E (COMP)
    (put("items", 2, "gtin", "95200000000ABC"), [("gtin_not_digits", "Items", "D6")]),
    (put("items", 2, "gtin", "952000000"), [("gtin_length", "Items", "D6")]),
    (put("items", 2, "gtin", "9520000000012"), [("gtin_check_digit", "Items", "D6")]),
    (put("items", 2, "gtin", "02000145"), [("gtin_two_ways", "Items", "D6")]),
    (put("items", 2, "gtin", "4.00E+11"), [("gtin_shortened", "Items", "D6")]),
    (put("items", 2, "gtin", "400000000000"), [("gtin_shortened", "Items", "D6")]),
    (put("items", 3, "gtin", "40000000013"), [("gtin_repaired", "Items", "D7")]),
    (put("items", 3, "gtin", 40000000013), [("gtin_repaired", "Items", "D7"), ("number_as_text", "Items", "D7")]),
    (put("items", 3, "gtin", "952-0000-0000-35"), [("gtin_repaired", "Items", "D7")]),
    (put("items", 2, "gtin", "9520000000011"), [("gtin_duplicate", "Items", "D6")]),
    (put("items", 2, "gtin", "09520000000011"), [("gtin_duplicate", "Items", "D6")]),
    # -- twice
    (put("stores", 2, "store", "00417"), [("duplicate", "Stores", "B6")]),
    (put("merchandisers", 3, "merchandiser", "kim"), [("duplicate", "Merchandisers", "B7")]),
    (put("items", 2, "item_code", "000101"), [("duplicate", "Items", "C6")]),
    (put("labels", 3, "brand", "QUARNBY"), [("duplicate", "Labels", "B7"), ("brand_no_positions", "Labels", "B7")]),
    (put("positions", 2, "place", 1), [("duplicate", "Positions", "D6")]),
    (Typed("Shelves", {"B7": "A", "C7": 1}), [("duplicate", "Shelves", "C7")]),
    (Typed("Parts", {"B6": "p1", "C6": "Lid", "D6": 1}), [("duplicate", "Parts", "B6")]),
    (Typed("Steps", {"B6": 1, "C6": "Fold"}), [("duplicate", "Steps", "B6")]),
    (
        Typed("Items", {"B8": "lids", "C8": "000109", "E8": "Quarnby"}),
        [("duplicate", "Items", "B8"), ("item_no_position", "Items", "B8")],
    ),
    # -- names that mean something else in books
    (
        put("labels", 3, "brand", "No label"),
        [("brand_no_positions", "Labels", "B7"), ("reserved_answer", "Labels", "B7")],
    ),
    (
        put("labels", 3, "brand", "Sin rotulo"),
        [("brand_no_positions", "Labels", "B7"), ("reserved_answer", "Labels", "B7")],
    ),
    (put("program", 1, "place", "Elsewhere"), [("reserved_answer", "Program", "C17")]),
    (put("program", 1, "other_places", "Front; ailleurs"), [("reserved_answer", "Program", "C18")]),
    (put("stores", 2, "store", "Shared"), [("reserved_store", "Stores", "B6")]),
    (put("parts", 1, "part", "#1"), [("reserved_mark", "Parts", "B5")]),
    # -- leading nowhere
    (put("items", 2, "substitutes", "Lids; Jugs"), [("refers_nowhere", "Items", "M6")]),
    (put("stores", 1, "merchandiser", "Kin"), [("refers_nowhere", "Stores", "J5")]),
    (
        put("positions", 2, "item", "Waks"),
        [("refers_nowhere", "Positions", "E6"), ("item_no_position", "Items", "B6")],
    ),
    (put("items", 2, "brand", "Quarnbie"), [("refers_nowhere", "Items", "E6")]),
    # -- not used, not described
    (put("labels", 3, "brand", "Rusholt"), [("brand_no_positions", "Labels", "B7")]),
    (Typed("Items", {"B8": "Salt", "C8": "000104", "E8": "Quarnby"}), [("item_no_position", "Items", "B8")]),
    (put("positions", 3, "shelf", 3), [("shelf_not_described", "Positions", "C7")]),
    (put("program", 1, "starts", dt.date(2027, 3, 15)), [("dates_out_of_order", "Program", "C12")]),
    # -- pictures
    (put("items", 2, "picture", "../lids.png"), [("picture_name", "Items", "L6")]),
    (put("items", 2, "picture", "x" * 300), [("picture_name", "Items", "L6")]),
    (put("items", 2, "picture", "CON.png"), [("picture_name", "Items", "L6")]),
    (put("steps", 1, "picture", "images\\step.png"), [("picture_name", "Steps", "F5")]),
    (put("items", 2, "picture", "wax.png"), [("picture_missing", "Items", "L6")]),
    (put("items", 2, "picture", "notes.png"), [("picture_kind", "Items", "L6")]),
    (put("items", 2, "picture", "half.png"), [("picture_unreadable", "Items", "L6")]),
    (put("items", 2, "picture", "huge.png"), [("picture_too_many_pixels", "Items", "L6")]),
    (put("items", 2, "picture", "tiny.png"), [("picture_small", "Items", "L6")]),
    (Typed("Items", {"L7": "wide.png", "G7": 2, "I7": 5}), [("picture_turned", "Items", "L7")]),
]
"""Values typed into the setup in order → what is found, all of it. What two of them damage does not overlap."""


def _apart(cases: Sequence[tuple[Typed, list[_Found]]]) -> list[list[tuple[Typed, list[_Found]]]]:
    """The cases in as few workbooks as hold no two that touch a row together, or a face's shelves."""
    books: list[list[tuple[Typed, list[_Found]]]] = []
    touched: list[set[tuple[str, str]]] = []
    for case in cases:
        rows = {(case[0].sheet, re.sub(r"\D", "", address)) for address in case[0].cells}
        number = next((number for number, there in enumerate(touched) if not there & rows), len(books))
        if number == len(books):
            books.append([])
            touched.append(set())
        books[number].append(case)
        touched[number] |= rows
    return books


BOOKS = _apart(CELLS)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A program folder whose images hold, beside the right ones, files that only look like pictures."""
    images = tmp_path / "images"
    images.mkdir()
    (images / "notes.png").write_text("no picture")
    Image.new("RGB", (9, 9)).save(images / "half.png")
    Image.new("RGB", (9, 9)).save(images / "tiny.png")
    Image.new("RGB", (200, 90)).save(images / "wide.png")
    whole = (images / "half.png").read_bytes()
    (images / "half.png").write_bytes(whole[:20])
    # Width and height stand as 4 bytes each at byte 16 of a PNG, the checksum of their chunk at 29 (W3C PNG, MEM).
    head = whole[12:16] + (100_000).to_bytes(4, "big") * 2 + whole[24:29]
    (images / "huge.png").write_bytes(whole[:12] + head + zlib.crc32(head).to_bytes(4, "big") + whole[33:])
    return tmp_path


@pytest.mark.parametrize("cases", BOOKS, ids=range(len(BOOKS)))
def test_a_damaged_cell_is_found_where_it_is(folder: Path, cases: list[Case]) -> None:
    """Exactly what is wrong is found, rule by rule at its sheet and cell; only what must be mended holds back."""
    setup = checked(folder, IN_ORDER, *(typed for typed, _ in cases))
    expected = [place for _, found in cases for place in found]
    assert sorted(places(setup)) == sorted(expected)
    mends = any(default_contract().rules[rule] == "must mend" for rule, *_ in expected)
    assert (setup.program is None) == mends


def test_every_rule_about_values_is_broken_here() -> None:
    """No rule of the setup is without a case: those about sheets, columns and rows are broken in test_load."""
    broken = {rule for _, expected in CELLS for rule, *_ in expected}
    about_form = {
        "workbook_unreadable", "block_missing", "block_twice", "block_empty", "block_unused", "column_missing",
        "column_unknown", "column_twice", "row_missing", "row_unknown", "row_twice", "example_row",
        "setup_refused", "setup_too_large",
    }  # fmt: skip
    of_returns = {
        "not_readable", "not_a_time", "too_long", "number_as_date", "number_as_time", "text_as_time",
        "zeros_restored", "code_restored",
    }  # fmt: skip
    assert rules_of("one cell", "repairs", "the setup") - about_form - of_returns == broken


def test_a_setup_in_order_has_no_findings(tmp_path: Path) -> None:
    """The setup that all tests here damage is one about which nothing is said."""
    setup = checked(tmp_path)
    assert places(setup) == []
    assert setup.program is not None


SAID: list[tuple[Typed, list[tuple[str, str]]]] = [
    (put("items", 1, "brand", "Pelwood"), [
        ("“Pelwood” does not stand under Labels.", "Correct it, or add it there (did you mean “Pellwood”?)."),
    ]),
    (put("stores", 1, "merchandiser", "Nobody at all"), [
        ("“Nobody at all” does not stand under Merchandisers.", "Correct it, or add it there."),
    ]),
    (put("stores", 2, "store", "00417"), [
        ("Store “00417” stands already in B5.", "Give each its own, or delete one of the two rows."),
    ]),
    (put("positions", 2, "place", 1), [
        ("Place “A-1-1” stands already in D5.", "Give each its own, or delete one of the two rows."),
    ]),
    (put("items", 2, "gtin", "9520000000012"), [
        (
            "The check digit of “9520000000012” is wrong: the last digit would have to be 1.",
            "Compare it with the digits under the bar code; one of them was mistyped.",
        ),
    ]),
    (put("items", 2, "gtin", "9520000000011"), [
        ("The GTIN “9520000000011” stands already in D5.", "Give each item its own."),
    ]),
    (put("items", 2, "gtin", "02000145"), [
        (
            "“02000145” can be read as a GTIN-8 and as a short UPC-E code.",
            "If it is a UPC-E code, type its full 12 digits: 020000000015. "
            "If it is a GTIN-8, type it with four zeros in front.",
        ),
    ]),
    (put("program", 1, "units", "feet"), [
        ("“feet” is not one of the choices for “Units of measure”.", "Pick one of: in, lb · cm, kg."),
    ]),
    (put("program", 1, "due", dt.date(2027, 2, 28)), [
        ("The last day (2027-02-28) is before the first day (2027-03-01).", "Correct one of the two."),
    ]),
    (put("program", 1, "code", "two words"), [
        (
            "“two words” is not written as Short code has to be.",
            "Letters, digits, - and _; no spaces. It stands in file names.",
        ),
    ]),
    (put("shelves", 2, "shelf", 100), [
        ("“100” is outside what Shelf can be.", "Give a number from 1 to 99."),
    ]),
]  # fmt: skip
"""Values typed into the setup in order → the sentences about them."""


@pytest.mark.parametrize("cases", _apart(SAID), ids=range(len(_apart(SAID))))
def test_a_finding_says_what_and_what_to_do(tmp_path: Path, cases: list[tuple[Typed, list[tuple[str, str]]]]) -> None:
    """The sentences name the value, the column by its heading, and the way out."""
    setup = checked(tmp_path, IN_ORDER, *(typed for typed, _ in cases))
    said = [(one.problem(ENGLISH), one.todo(ENGLISH)) for one in setup.findings if one.severity == "must mend"]
    assert sorted(said) == sorted(pair for _, pairs in cases for pair in pairs)


def test_a_store_needs_a_merchandiser_and_a_tray_a_label(tmp_path: Path) -> None:
    """A blank merchandiser, one that is not listed, and a brand without a label each hold the program back."""
    content = changed(
        stores=[{"store": "1", "name": "One"}, {"store": "2", "name": "Two", "merchandiser": "Max"}],
        labels=[{"brand": "Pellwood"}],
    )
    assert places(checked(tmp_path, content)) == [
        ("refers_nowhere", "Items", "E6"),
        ("refers_nowhere", "Items", "E7"),
        ("required", "Stores", "J5"),
        ("refers_nowhere", "Stores", "J6"),
    ]


def test_a_repaired_gtin_is_used_in_its_full_digits(tmp_path: Path) -> None:
    """What the check digit proves is taken, and said; what is typed as UPC-E is taken as its GTIN-12."""
    repaired = checked(tmp_path, with_values("items", 3, gtin="40000000013"))
    assert repaired.program is not None
    assert repaired.program.item["Jars"].gtin == "040000000013"
    assert only(repaired).problem(ENGLISH) == (
        "“40000000013” was read as 040000000013: its check digit proves that this is the number."
    )


def test_findings_come_in_the_order_of_the_workbook(tmp_path: Path) -> None:
    """Sheet by sheet as they stand, each from its top down: as a person goes through them."""
    setup = checked(
        tmp_path, IN_ORDER, put("stores", 1, "name", None), put("items", 3, "item_code", None),
        put("items", 1, "item_code", None), put("program", 1, "contact", None), put("program", 1, "name", None),
    )  # fmt: skip
    assert [(sheet, cell) for _, sheet, cell in places(setup)] == [
        ("Program", "C5"), ("Program", "C13"), ("Items", "C5"), ("Items", "C7"), ("Stores", "C5"),
    ]  # fmt: skip


def test_a_picture_that_is_missing_is_told_with_the_file_that_may_be_meant(tmp_path: Path) -> None:
    """The nearest name in the images folder; capital and small letters are no difference in looking for it."""
    made = setup_file(tmp_path, with_values("items", 1, picture="LID.png"))
    (missing,) = read_setup(made, ENGLISH).findings
    assert missing.todo(ENGLISH) == (
        "Put the picture there, or correct the name (did you mean “lids.png”?): capital and small letters count."
    )


def test_pictures_are_looked_for_in_the_images_folder_only(tmp_path: Path) -> None:
    """A file of that name beside the setup, or a folder in images, is no picture."""
    made = setup_file(tmp_path, with_values("items", 1, picture="wax.png"))
    (tmp_path / "wax.png").write_bytes((made.images / "lids.png").read_bytes())
    assert places(read_setup(made, ENGLISH)) == [("picture_missing", "Items", "L5")]
    (made.images / "wax.png").mkdir()
    assert places(read_setup(made, ENGLISH)) == [("picture_missing", "Items", "L5")]
