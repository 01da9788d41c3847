"""The setup workbook checks itself while it is filled in: its formulas say what they should, in every program."""

from __future__ import annotations

import datetime as dt
import re
from io import BytesIO
from pathlib import Path

import ironcalc
import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.program.setups import IN_ORDER, Content, changed
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.names import column_letters
from workbook_tools.contract.words import words_for
from workbook_tools.demo.scenario import scenario
from workbook_tools.program.setup_book import (
    FIRST_ROW,
    LAST_ROW,
    LIVE_ROWS,
    LIVE_SPARE,
    LIVE_STORES,
    MOST_LIVE_ROWS,
    setup_workbook,
)

ENGLISH = words_for("en")
OVERVIEW = ENGLISH("setup.overview.sheet")
MISTAKES: Content = changed(
    items=[
        {"item": "Lids", "item_code": "000101", "gtin": "9520000000011", "brand": "Pellwood"},
        {"item": "lids", "item_code": "000102", "brand": "Pellwood"},
        {"item": "Wax", "item_code": "000101", "brand": "Pellwood"},
        {"item": "Jars", "item_code": "000104", "brand": "pellwood"},
        {"item": "Jugs", "item_code": "000105", "gtin": "9520000000012", "brand": "Quarnby"},
        {"item": "Salt", "item_code": "000106", "gtin": "952000000001", "brand": "Quarnby"},
        {"item": "Rum", "item_code": "000107", "gtin": "95200", "brand": "Quarnby"},
        {"item": "Gum", "item_code": "000108", "gtin": "952-0000 00003-5", "brand": "Quarnby"},
        {"item": "Nut?", "item_code": "101", "gtin": "12345670", "brand": "Quarnby"},
        {"item": "Nut1", "item_code": "000110", "gtin": "01234560", "brand": "Quarnby", "width": 0},
        {"item": "Fig", "item_code": "000111", "brand": "Quarnby", "width": "wide"},
        {"item": "Tea", "brand": "Quarnby"},
        {"item": "Pie", "item_code": "000113", "gtin": "9520000000028A", "brand": "Quarnby"},
        {},
        {"item": "Oil", "item_code": "000114", "brand": "Quarnby", "case_pack": 12, "width": 4.5},
    ],
    positions=[
        {"face": "A", "shelf": 1, "place": 1, "item": "Lids"},
        {"face": "A", "shelf": 1, "place": 1, "item": "Wax"},
        {"face": "A", "shelf": 1, "place": 2, "item": "Waks"},
        {"face": "A", "shelf": 100, "place": 3, "item": "Nut?"},
        {"face": "A", "shelf": 1, "place": 4, "item": "Nut?"},
        {"shelf": 1, "place": 5, "item": "Oil"},
    ],
    stores=[
        {"store": "00417", "name": "Hill Street", "merchandiser": "Kim"},
        {"store": "417", "name": "Mill Lane", "merchandiser": "Lee"},
        {"store": "00417", "name": "Quay", "merchandiser": "Lee"},
        {"store": "00418", "name": "Rise", "merchandiser": "Kin"},
    ],
)  # fmt: skip
SAID = {
    "Items": [
        "✓", "! Item stands twice", "! Item code stands twice", "! Brand is not on Labels", "! GTIN: check digit wrong",
        "! GTIN: check digit wrong", "! GTIN: 8, 12, 13 or 14 digits", "✓", "✓", "! Width: give a number above 0",
        "! Width is no number", "! Item code is blank", "! GTIN: check digit wrong", "", "✓", "",
    ],
    "Positions": [
        "! Face Shelf Place stands twice", "! Face Shelf Place stands twice", "! Item is not on Items",
        "! Shelf: give a number from 1 to 99", "✓", "! Face is blank", "",
    ],
    "Stores": ["✓", "✓", "! Store stands twice", "! Merchandiser is not on Merchandisers", ""],
}  # fmt: skip


class Recalculated:
    """A workbook with every formula evaluated by ironcalc, an engine of its own, and with its stored results."""

    def __init__(self, data: bytes, folder: Path) -> None:
        path = folder / "setup.xlsx"
        path.write_bytes(data)
        self.model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
        self.model.evaluate()
        self.sheets = {one["name"]: n for n, one in enumerate(self.model.get_worksheets_properties())}
        self.formulas = openpyxl.load_workbook(path)
        self.stored = openpyxl.load_workbook(path, data_only=True)

    def differing(self) -> list[tuple[str, str, object, object]]:
        """Sheet, cell, stored and computed result of every formula where these two differ."""
        found, count = [], 0
        for sheet in self.formulas.worksheets:
            for cell in (cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"):
                count += 1
                stored = self.stored[sheet.title][cell.coordinate].value or ""
                computed = self.model.get_cell_value(self.sheets[sheet.title], cell.row, cell.column) or ""
                if stored != computed:
                    found.append((sheet.title, cell.coordinate, stored, computed))
        assert count > 1_000
        return found

    def at_a_glance(self, sheet: str, rows: int) -> list[object]:
        """What the first rows of a table say about themselves, as computed."""
        column = max(field.index for field in default_contract().setup.block(sheet.lower()).fields)
        return [
            self.model.get_cell_value(self.sheets[sheet], FIRST_ROW + 1 + row, column + 1) or "" for row in range(rows)
        ]

    def overview(self) -> dict[str, list[object]]:
        """The counts of every sheet, as stored."""
        rows = self.stored[OVERVIEW].iter_rows(min_row=7, max_col=4, values_only=True)
        return {str(row[0]): list(row[1:]) for row in rows if isinstance(row[1], int)}


@pytest.fixture(scope="module")
def mistakes(tmp_path_factory: pytest.TempPathFactory) -> Recalculated:
    """A setup full of mistakes."""
    return Recalculated(setup_workbook(ENGLISH, MISTAKES), tmp_path_factory.mktemp("mistakes"))


@pytest.mark.parametrize("sheet", SAID)
def test_each_row_says_the_first_thing_to_mend(mistakes: Recalculated, sheet: str) -> None:
    """Blank, twice, unknown, no number, out of range, check digit; 00417 is not 417; * and ? are letters."""
    assert mistakes.at_a_glance(sheet, len(SAID[sheet])) == SAID[sheet]


@pytest.mark.parametrize(
    "content", [None, IN_ORDER, scenario(1).blocks, MISTAKES], ids=["new", "in order", "demo", "mistakes"]
)
def test_stored_results_are_what_the_formulas_give(content: Content | None, tmp_path: Path) -> None:
    """Programs that never recalculate show the truth all the same."""
    assert Recalculated(setup_workbook(ENGLISH, content), tmp_path).differing() == []


def test_an_example_that_was_typed_over_is_called_one_no_longer(tmp_path: Path) -> None:
    """The note that it is never taken as data stays beside it while that is true, and its row is grey as long."""
    book = Recalculated(setup_workbook(ENGLISH), tmp_path)
    labels, row, note = book.sheets["Labels"], FIRST_ROW + 1, 6
    assert book.model.get_cell_value(labels, row, note) == ENGLISH("setup.guide.example_note")
    book.model.update_cell_with_text(labels, row, 2, "Pellwood")
    book.model.evaluate()
    assert not book.model.get_cell_value(labels, row, note)
    sheet = book.formulas["Labels"]
    assert not any(sheet.cell(row, column).font.italic for column in (2, 3, 4))
    greys = [rule for area in sheet.conditional_formatting if "B5" in area for rule in area.rules]
    assert ['$E5="example"'] in [rule.formula for rule in greys]


def test_a_setup_in_order_is_all_ticks(tmp_path: Path) -> None:
    """The demo's rows say ✓ and nothing else; the counts say that nothing is missing."""
    book = Recalculated(setup_workbook(ENGLISH, scenario(1).blocks), tmp_path)
    assert set(book.at_a_glance("Stores", 60)) == {"✓"}
    assert set(book.at_a_glance("Items", 33)) == {"✓"}
    counts = book.overview()
    assert counts["Stores"] == [60, 0, 0]
    assert counts["Positions"] == [36, 0, 0]
    assert [missing + look for _, missing, look in counts.values()] == [0] * 9


def test_the_overview_counts_what_is_missing(mistakes: Recalculated, tmp_path: Path) -> None:
    """Rows filled in, needed cells that are blank, rows that complain; an example counts as nothing."""
    counts = mistakes.overview()
    assert counts["Items"] == [14, 1, 10]
    assert counts["Stores"] == [4, 0, 2]
    assert counts["Positions"] == [5, 1, 5]
    fresh = Recalculated(setup_workbook(ENGLISH), tmp_path).overview()
    required = sum(field.required for field in default_contract().setup.block("program").fields)
    assert fresh["Program"] == [0, required, 0]
    assert fresh["Stores"] == [0, 0, 0]


def test_a_face_is_drawn_while_it_is_filled_in(tmp_path: Path) -> None:
    """Item, brand and counts of every place of the face that is picked; another letter shows another face."""
    book = Recalculated(setup_workbook(ENGLISH, scenario(1).blocks), tmp_path)
    faces = book.sheets[ENGLISH("setup.faces.sheet")]

    def shown(shelf: int, place: int) -> list[object]:
        top = 5 + (shelf - 1) * 4
        return [book.model.get_cell_value(faces, top + row, 2 + place) for row in range(3)]

    assert shown(1, 1) == ["Vanilla extract, 4 fl oz", "Marrowkettle", "5 × 5 × 1 = 25"]
    assert shown(4, 3) == ["Powdered sugar, 1 lb", "Dunsopple", "2 × 3 × 2 = 12"]
    assert shown(1, 4) == shown(5, 1) == ["", "", ""]
    assert [book.model.get_cell_value(faces, row, 2) for row in (17, 21)] == ["Shelf 4", ""]
    book.model.update_cell_with_text(faces, 2, 3, "C")
    book.model.evaluate()
    assert shown(4, 1) == ["Cookie tin, round", "Tolvane", "1 × 2 × 4 = 8"]


def test_a_face_in_the_making_shows_what_is_not_told(tmp_path: Path) -> None:
    """Counts that are blank and brands that are not known yet stand as question marks."""
    rows = [
        {"face": "B", "shelf": 1, "place": 2, "item": "Lids", "facings": 3},
        {"face": "B", "shelf": 2, "place": 1, "item": "Tea"},
        {"face": "B", "shelf": 2, "place": 2},
    ]
    book = Recalculated(setup_workbook(ENGLISH, changed(positions=rows)), tmp_path)
    assert book.differing() == []
    sheet = book.stored[ENGLISH("setup.faces.sheet")]
    assert sheet["C2"].value == "B"
    assert [sheet.cell(row, 4).value for row in (5, 6, 7)] == ["Lids", "Pellwood", "3 × ? × ?"]
    assert [sheet.cell(row, 3).value for row in (9, 10, 11)] == ["Tea", "?", "? × ? × ?"]
    assert [sheet.cell(row, 4).value for row in (9, 10, 11)] == ["?", "?", "? × ? × ?"]


def test_formulas_need_no_newer_functions() -> None:
    """Every function has been in all spreadsheet programs for long; no dynamic arrays."""
    known = {
        "IF", "COUNTA", "LEFT", "AND", "OR", "NOT", "ISERROR", "ISNUMBER", "ISTEXT", "VALUE", "IFERROR", "MATCH",
        "INDEX", "ROW", "COUNTIFS", "COUNTIF", "EXACT", "SUBSTITUTE", "LEN", "SUMPRODUCT", "MID", "RIGHT", "MOD", "MAX",
    }  # fmt: skip
    used = set()
    for sheet in openpyxl.load_workbook(BytesIO(setup_workbook(ENGLISH))).worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert len(cell.value) < 8_192
                    used |= set(re.findall(r"([A-Z][A-Z.]+)\(", cell.value))
    assert used - known == set()
    assert {"MATCH", "SUMPRODUCT"} <= used


def test_a_thousand_pasted_stores_are_checked_and_coloured() -> None:
    """A thousand rows have words; colours reach as far as the drop-downs, for a list of twenty thousand."""
    sheet = openpyxl.load_workbook(BytesIO(setup_workbook(ENGLISH)))["Stores"]
    column = column_letters(max(field.index for field in default_contract().setup.block("stores").fields))
    assert sheet[f"{column}{FIRST_ROW + LIVE_STORES}"].data_type == "f"
    assert sheet[f"{column}{FIRST_ROW + LIVE_STORES + 1}"].value is None
    rules = {
        str(area.sqref): [rule.type for rule in found] for area, found in sheet.conditional_formatting._cf_rules.items()
    }
    assert sorted(rules[f"B5:B{LAST_ROW + 1}"]) == ["duplicateValues", "expression"]
    assert rules[f"C5:C{LAST_ROW + 1}"] == ["expression"]
    items = openpyxl.load_workbook(BytesIO(setup_workbook(ENGLISH)))["Items"]
    assert sum(1 for cell in items["N"] if cell.data_type == "f") == LIVE_ROWS


def test_checks_reach_beyond_a_long_list() -> None:
    """A workbook written with more rows than that has checks beside all of them and some more, up to a limit."""
    stores = [{"store": f"{n:05}", "name": f"Store {n}", "merchandiser": "Kim"} for n in range(LIVE_STORES + 500)]
    sheet = openpyxl.load_workbook(BytesIO(setup_workbook(ENGLISH, changed(stores=stores))))["Stores"]
    column = column_letters(max(field.index for field in default_contract().setup.block("stores").fields))
    assert sum(1 for cell in sheet[column] if cell.data_type == "f") == len(stores) + LIVE_SPARE
    more = [{**stores[0], "store": f"x{n}"} for n in range(MOST_LIVE_ROWS)]
    longest = openpyxl.load_workbook(BytesIO(setup_workbook(ENGLISH, changed(stores=[*stores, *more]))))["Stores"]
    assert sum(1 for cell in longest[column] if cell.data_type == "f") == MOST_LIVE_ROWS


TEXTS = st.sampled_from(["", "a", "A", "a*", "a?", "ab", "~", "00417", "417", "x y"])
CODES = st.sampled_from(["", "00417", "417", "9520000000011", "9520000000012", "02000145", "12-3", "40000000013"])
NUMBERS = st.sampled_from(["", 0, -1, 1, 2.5, "3", "x", 99, 1000])
ROWS = st.lists(
    st.fixed_dictionaries({"item": TEXTS, "item_code": CODES, "gtin": CODES, "brand": TEXTS, "width": NUMBERS}),
    max_size=30,
)


@given(ROWS, st.lists(st.fixed_dictionaries({"brand": TEXTS}), max_size=6))
@settings(
    max_examples=5, deadline=dt.timedelta(seconds=30), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_whatever_is_typed_is_judged_alike(
    tmp_path: Path, items: list[dict[str, object]], labels: list[dict[str, object]]
) -> None:
    """For any rows, the results that we store are those that an engine computes."""
    content = {"program": [{}], "items": items, "labels": labels}
    assert Recalculated(setup_workbook(ENGLISH, content), tmp_path).differing() == []
