"""The live cells of an issued book: what they may use, what is stored in them, what they say while it is filled in."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.field_book.programs import book_of, made_program
from tests.field_book.recalculated import Sheets, formulas_of, stored_results_of
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import words_for
from workbook_tools.field_book.layout import plan_return

WORDS = words_for("en")
PROGRAM = made_program()
BOOK, SHARED = book_of(PROGRAM), book_of(PROGRAM, shared=True)
EVERYWHERE = {
    *("AND", "COUNTA", "COUNTIF", "EXACT", "IF", "IFERROR", "INDEX", "ISNUMBER", "LEFT", "MATCH", "N", "NOT", "OR"),
    *("SUBSTITUTE", "TRIM"),
}
"""Functions that every spreadsheet program has had for twenty years."""
LAYOUT = plan_return(PROGRAM, default_contract(), "Return")
FRACTION = 1 / 24


@pytest.mark.parametrize("book", [BOOK, SHARED], ids=["one store", "shared"])
def test_only_functions_that_every_program_has_are_used(book: bytes) -> None:
    """No function outside the list, in any cell."""
    formulas = formulas_of(book)
    used = {name for formula in formulas.values() for name in re.findall(r"([A-Z][A-Z0-9.]*)\(", _unquoted(formula))}
    assert used <= EVERYWHERE
    assert len(formulas) > 2 * len(PROGRAM.positions)


def _unquoted(formula: str) -> str:
    return re.sub(r'"[^"]*"', '""', formula)


@pytest.mark.parametrize("book", [BOOK, SHARED], ids=["one store", "shared"])
def test_stored_results_are_the_true_ones(book: bytes, tmp_path: Path) -> None:
    """What a viewer shows without computing is what a spreadsheet program computes."""
    sheets = Sheets(book, tmp_path)
    sheets.evaluate()
    stored = stored_results_of(book)
    computed = {place: sheets.at(*place) for place in stored}
    shown = {place: "" if value is None else value for place, value in stored.items()}
    assert {place: (value, computed[place]) for place, value in shown.items() if value != computed[place]} == {}


def check(tmp_path: Path, key: str, book: bytes = BOOK, **visit: object) -> str:
    """What the live check beside a question says."""
    sheets = Sheets(book, tmp_path)
    for question, value in visit.items():
        sheets.answer("visit", question, "answer", value)
    sheets.evaluate()
    return str(sheets.value("Return", LAYOUT.visit_rows[key], LAYOUT.check_column))


TODO, DONE = WORDS("state.todo"), WORDS("return.answered")


@pytest.mark.parametrize(
    ("key", "visit", "says"),
    [
        ("visit_date", {}, TODO),
        ("visit_date", {"visit_date": 46083}, DONE),  # 2 March 2026
        ("visit_date", {"visit_date": 46089}, DONE),  # 8 March 2026
        ("visit_date", {"visit_date": 46082}, "! not between 2 Mar 2026 and 8 Mar 2026"),
        ("visit_date", {"visit_date": 46090}, "! not between 2 Mar 2026 and 8 Mar 2026"),
        ("visit_date", {"visit_date": "3 March"}, DONE),
        ("time_out", {}, TODO),
        ("time_out", {"time_out": 10 * FRACTION}, DONE),
        ("time_out", {"time_in": 9 * FRACTION, "time_out": 10 * FRACTION}, DONE),
        ("time_out", {"time_in": 10 * FRACTION, "time_out": 9 * FRACTION}, WORDS("return.out_before_in")),
        ("time_out", {"time_in": 1010, "time_out": 940}, WORDS("return.out_before_in")),
        ("time_out", {"time_in": 10.1, "time_out": 9.4}, WORDS("return.out_before_in")),
        ("time_out", {"time_in": 940, "time_out": 10.55}, DONE),
        ("time_out", {"time_in": 940, "time_out": 11 * FRACTION}, DONE),
        ("time_out", {"time_in": "10:10 am", "time_out": "9:40 am"}, DONE),
        ("spoke_to", {}, ""),
        ("place", {}, TODO),
        ("place", {"place": "Front"}, DONE),
        ("place", {"built": "no"}, ""),
        ("built", {"built": "yes"}, DONE),
        ("why_not", {"built": "yes"}, ""),
        ("why_not", {"built": "no"}, WORDS("return.say_why")),
        ("why_not", {"built": "partly"}, WORDS("return.say_why")),
        ("why_not", {"built": "no", "why_not": "no room"}, DONE),
        ("note", {}, ""),
        ("note", {"place": "elsewhere"}, WORDS("return.say_where")),
        ("note", {"place": "elsewhere", "note": "by the door"}, DONE),
        ("photo", {}, TODO),
        ("photo", {"photo": "no"}, WORDS("return.photo_wanted")),
        ("photo", {"photo": "no", "built": "no"}, DONE),
        ("photo", {"built": "no"}, ""),
        ("tags_asked", {"built": "no"}, ""),
        ("carton", {"built": "no"}, TODO),
        ("store", {}, DONE),
        ("merchandiser", {}, DONE),
    ],
)
def test_a_visit_question_is_checked_at_once(tmp_path: Path, key: str, visit: dict[str, object], says: str) -> None:
    """Open, answered, or at odds with another answer; times typed in different forms are not compared."""
    assert check(tmp_path, key, **visit) == says


def test_a_shared_book_asks_for_store_and_person(tmp_path: Path) -> None:
    """Both are open until they are picked."""
    assert check(tmp_path, "store", SHARED) == check(tmp_path, "merchandiser", SHARED) == TODO
    assert check(tmp_path, "store", SHARED, store="002") == DONE


def test_no_photo_is_asked_for_where_none_is_wanted(tmp_path: Path) -> None:
    """The question stays, but is not open."""
    book = book_of(made_program(photos="none"))
    assert check(tmp_path, "photo", book) == ""
    assert check(tmp_path, "photo", book, photo="no") == DONE


def test_answers_about_tags_and_building_are_held_against_the_trays(tmp_path: Path) -> None:
    """Asked for on a tray but "no" to the visit's question; not built but trays reported."""
    sheets = Sheets(BOOK, tmp_path)
    sheets.answer("positions", "B-2-1", "tag", "asked store")
    sheets.answer("visit", "tags_asked", "answer", "no")
    sheets.answer("visit", "built", "answer", "no")
    sheets.evaluate()
    rows, column = LAYOUT.visit_rows, LAYOUT.check_column
    asked = WORDS("return.tags_were_asked", asked="asked store")
    assert sheets.value("Return", rows["tags_asked"], column) == asked
    assert sheets.value("Return", rows["built"], column) == WORDS("return.trays_reported")


def test_more_parts_missing_than_there_are_is_said(tmp_path: Path) -> None:
    """Missing and damaged together are held against the quantity."""
    sheets = Sheets(BOOK, tmp_path)
    sheets.answer("parts", "P1", "missing", 1)
    sheets.answer("parts", "P2", "missing", 3)
    sheets.answer("parts", "P2", "damaged", 2)
    sheets.evaluate()
    column = max(LAYOUT.parts.columns.values()) + 1
    assert sheets.value("Return", LAYOUT.part_rows["P1"], column) == ""
    assert sheets.value("Return", LAYOUT.part_rows["P2"], column) == WORDS("return.too_many")


def cover_counts(sheets: Sheets) -> tuple[list[object], str]:
    """The four live counts of the cover, and its live sentence."""
    formulas = formulas_of(BOOK)
    cells = [address for (sheet, address), _ in formulas.items() if sheet == WORDS("cover.sheet")]
    values = [sheets.at(WORDS("cover.sheet"), cell) for cell in cells]
    return values[:4], str(values[4])


def test_the_cover_counts_what_is_left(tmp_path: Path) -> None:
    """Trays to report, right and to look at again, visit questions open; then whether the book can be sent."""
    sheets = Sheets(BOOK, tmp_path)
    sheets.evaluate()
    assert cover_counts(sheets) == ([8, 0, 0, 8], WORDS("cover.not_ready"))
    keys = [position.key for position in PROGRAM.walk]
    for key in keys[1:]:
        sheets.answer("positions", key, "as_planned", "yes")
    sheets.answer("positions", keys[0], "as_planned", "no")
    sheets.answer("positions", keys[0], "label", "no label")
    sheets.evaluate()
    assert cover_counts(sheets) == ([0, 7, 1, 8], WORDS("cover.not_ready"))
    visit = {"visit_date": 46083, "time_in": 9 * FRACTION, "time_out": 10 * FRACTION, "place": "Front"}
    visit |= {"carton": "found", "built": "yes", "tags_asked": "no", "photo": "yes"}
    for key, value in visit.items():
        sheets.answer("visit", key, "answer", value)
    sheets.evaluate()
    assert cover_counts(sheets) == ([0, 7, 1, 0], WORDS("cover.ready_again"))
    sheets.answer("positions", keys[0], "label", PROGRAM.item_at(PROGRAM.walk[0]).brand)
    sheets.answer("positions", keys[0], "tag", "on tray")
    sheets.answer("positions", keys[0], "product", "set")
    sheets.evaluate()
    assert cover_counts(sheets) == ([0, 8, 0, 0], WORDS("cover.ready"))


def test_a_shared_book_shows_the_store_that_is_picked(tmp_path: Path) -> None:
    """Name and address on the cover follow the number; an unknown one shows nothing."""
    sheets = Sheets(SHARED, tmp_path)
    sheets.answer("visit", "store", "answer", "001")
    sheets.evaluate()
    cells = [address for (sheet, address), _ in formulas_of(SHARED).items() if sheet == WORDS("cover.sheet")]
    shown = {sheets.at(WORDS("cover.sheet"), cell) for cell in cells}
    assert {"001", "Hill Street", "1 Hill Street, North Quay"} <= shown
    sheets.answer("visit", "store", "answer", "777")
    sheets.evaluate()
    assert "Hill Street" not in {sheets.at(WORDS("cover.sheet"), cell) for cell in cells}


def test_a_tray_shows_the_state_of_its_row(tmp_path: Path) -> None:
    """The face sheets follow the Return sheet."""
    sheets = Sheets(BOOK, tmp_path)
    sheets.answer("positions", "A-1-2", "as_planned", "yes")
    sheets.evaluate()
    faces = {place: formula for place, formula in formulas_of(BOOK).items() if place[0] == "Face A"}
    shown = [sheets.at("Face A", address) for _, address in faces]
    assert shown.count(WORDS("state.right")) == 1
    assert shown.count(TODO) == 3
    assert any(str(value).startswith("3 to do · 0 look again · 1 right") for value in shown)
