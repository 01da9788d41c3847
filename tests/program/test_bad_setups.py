"""Setups as people hand them in: what is meant is read where it can be proved, the rest is found at its cell."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from openpyxl.comments import Comment
from openpyxl.workbook.workbook import Workbook
from openpyxl.worksheet.filters import FilterColumn, Filters

from tests.program.setups import (
    IN_ORDER,
    Content,
    Damage,
    Place,
    Typed,
    advised,
    changed,
    checked,
    places,
    put,
    rules_of,
)
from workbook_tools.contract.words import words_for
from workbook_tools.program.load import Setup

ENGLISH = words_for("en")


def _merged(sheet: str, area: str) -> Damage:
    return lambda book: book[sheet].merge_cells(area)


def _hide(sheet: str, *rows: int) -> Damage:
    def damage(book: Workbook) -> None:
        for row in rows:
            book[sheet].row_dimensions[row].hidden = True

    return damage


def _filtered(book: Workbook) -> None:
    """A filter on the merchandiser that shows Kim's stores only, as a spreadsheet program leaves it."""
    sheet = book["Stores"]
    sheet.auto_filter.ref = "B3:L6"
    sheet.auto_filter.filterColumn.append(FilterColumn(colId=8, filters=Filters(filter=["Kim"])))
    sheet.row_dimensions[6].hidden = True


def _own_column(book: Workbook) -> None:
    sheet = book["Stores"]
    sheet["P3"] = "Format"
    for row in (5, 6, 7):
        sheet[f"P{row}"] = "large"
    sheet["B7"], sheet["C7"], sheet["J7"] = "00419", "Quay", "Lee"


def _remarks(book: Workbook) -> None:
    book["Stores"]["O5"] = "closed on Mondays"
    book["Items"]["Q40"] = "checked by Robin"
    book["Items"]["B5"].comment = Comment("new pack", "Robin")


def _total(book: Workbook) -> None:
    book["Parts"]["B6"] = "Total"
    book["Parts"]["D6"] = "=SUM(D5:D5)"


CASES: list[tuple[str, Damage, list[Place]]] = [
    # -- read as meant
    ("rows with gaps", lambda book: book["Stores"].insert_rows(6, 3), []),
    ("remarks beside the table", _remarks, []),
    ("a face merged over its rows", _merged("Positions", "B5:B7"), [("merged_down", "Positions", "B5")]),
    ("a merchandiser merged over stores",
     lambda book: [put("stores", 2, "merchandiser", "Kim")(book), _merged("Stores", "J5:J6")(book)],
     [("merged_down", "Stores", "J5")]),
    ("trailing spaces", put("stores", 1, "merchandiser", "Kim "), [("spaces_removed", "Stores", "J5")]),
    ("numbers as text", put("positions", 1, "facings", "3"), [("text_as_number", "Positions", "F5")]),
    ("feet and inches", put("shelves", 1, "width", "2'"), [("measure_read", "Shelves", "D5")]),
    ("a store number typed as a number", put("stores", 2, "store", 418), [("number_as_text", "Stores", "B6")]),
    # -- worth a look
    ("cells merged across columns",
     lambda book: [put("items", 1, "description", "Lids")(book), _merged("Items", "F5:H5")(book)],
     [("merged_across", "Items", "F5")]),
    ("a hidden row", _hide("Items", 6), [("rows_hidden", "Items", "B6")]),
    ("a filter left on", _filtered, [("rows_filtered", "Stores", "B6")]),
    ("a column of their own", _own_column, [("column_not_read", "Stores", "P5")]),
    # -- to be mended
    ("a formula nobody calculated", put("items", 3, "item_code", '=TEXT(103,"000000")'),
     [("formula_without_result", "Items", "C7")]),
    ("a formula gone wrong", put("items", 3, "width", "#REF!"), [("error_cell", "Items", "G7")]),
    ("a GTIN cut short", put("items", 2, "gtin", "4.00E+11"), [("gtin_shortened", "Items", "D6")]),
    ("a size of zero", put("items", 3, "width", 0), [("out_of_range", "Items", "G7")]),
    ("a size below zero", put("shelves", 1, "depth", -16), [("out_of_range", "Shelves", "E5")]),
    ("other units", put("shelves", 1, "width", "60 cm"), [("other_unit", "Shelves", "D5")]),
    ("a size in words", put("items", 3, "width", "two feet"), [("not_a_number", "Items", "G7")]),
    ("a size with a comma", put("items", 3, "width", "4,5"), [("comma_in_number", "Items", "G7")]),
    ("a fraction that became a date", put("items", 3, "width", dt.date(2027, 1, 2)), [("not_a_number", "Items", "G7")]),
    ("two sheets of a block", lambda book: book.copy_worksheet(book["Stores"]), [("block_twice", "Stores Copy", "")]),
    ("a line of totals", _total, [("required", "Parts", "C6"), ("formula_without_result", "Parts", "D6")]),
    ("a store without anything but a note", Typed("Stores", {"C7": "call them first"}),
     [("required", "Stores", "B7"), ("required", "Stores", "J7")]),
]  # fmt: skip
"""What is done to a setup in order → all that is found."""


@pytest.mark.parametrize(("damage", "expected"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_it_is_read_as_meant_or_found_at_its_cell(tmp_path: Path, damage: Damage, expected: list[Place]) -> None:
    """Exactly this is said, and only what must be mended holds the program back."""
    setup = checked(tmp_path, IN_ORDER, damage)
    assert places(setup) == expected
    assert (setup.program is None) == any(one.severity == "must mend" for one in setup.findings)


def test_every_rule_about_sheets_and_units_is_broken_here() -> None:
    """No rule about what people do to sheets is without a case."""
    broken = {rule for _, _, expected in CASES for rule, *_ in expected}
    assert rules_of("what was done to a setup's sheets") - broken == set()


def _program(setup: Setup) -> object:
    assert setup.program is not None
    return setup.program


def test_merged_cells_give_the_same_program(tmp_path: Path) -> None:
    """A face, a shelf and a merchandiser merged downwards are read in every row that they reach."""
    content = changed(stores=[{**row, "merchandiser": "Kim"} for row in IN_ORDER["stores"]])
    damage = (_merged("Positions", "B5:B7"), _merged("Positions", "C5:C6"), _merged("Stores", "J5:J6"))
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    before = _program(checked(tmp_path / "a", content))
    assert _program(checked(tmp_path / "b", content, *damage)) == before


def test_merged_codes_are_one_code_twice(tmp_path: Path) -> None:
    """What must be unique cannot be merged: the second row is found."""
    setup = checked(tmp_path, IN_ORDER, _merged("Items", "C5:C6"))
    assert places(setup) == [("merged_down", "Items", "C5"), ("duplicate", "Items", "C6")]


def test_a_merged_cell_over_blank_rows_fills_nothing(tmp_path: Path) -> None:
    """Merging far below the table makes no rows of it."""
    setup = checked(tmp_path, IN_ORDER, _merged("Stores", "J6:J60"))
    assert places(setup) == []


def test_filtered_and_hidden_rows_count_like_all_others(tmp_path: Path) -> None:
    """They are in the program, and the sentence says how many and where."""
    setup = checked(tmp_path, IN_ORDER, _filtered)
    assert setup.program is not None
    assert len(setup.program.stores) == 2
    assert setup.findings[0].problem(ENGLISH) == (
        "A filter hides 1 row with data, the first of them row 6; hidden rows count like all others."
    )
    assert places(checked(tmp_path, IN_ORDER, _hide("Items", 4, 30))) == []


def test_all_slips_at_once(tmp_path: Path) -> None:
    """A setup with many slips has each of them found, and none twice."""
    damage = [
        case[1] for case in CASES if case[0] in ("a hidden row", "a filter left on", "other units", "a line of totals")
    ]
    found = places(checked(tmp_path, IN_ORDER, *damage))
    assert sorted(found) == sorted(set(found))
    assert {rule for rule, *_ in found} == {
        "rows_hidden",
        "rows_filtered",
        "other_unit",
        "required",
        "formula_without_result",
    }


def test_a_list_of_twenty_thousand_stores(tmp_path: Path) -> None:
    """Every store is read, one slip in the last row is found, and advice comes too."""
    stores = [{"store": f"{n:06}", "name": f"Store {n}", "merchandiser": "Kim"} for n in range(20_000)]
    stores[-1]["merchandiser"] = "Kin"
    content: Content = changed(stores=stores)
    setup = advised(tmp_path, content)
    assert [place for place in places(setup) if place[0] == "refers_nowhere"] == [
        ("refers_nowhere", "Stores", "J20004")
    ]
    assert len(setup.tables["stores"].rows) == 20_000
