"""What `check` writes when asked: marks in a copy, faces drawn, orders, a proposal; the setup itself never changes."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openxml_audit import FileFormat, OpenXmlValidator

from tests.field_book.programs import SETTINGS
from tests.program.setups import IN_ORDER, Content, Typed, changed, checked, put, setup_file, with_values
from tests.program.views import ENGLISH, demo, found, view
from tests.program.views import put as in_demo
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.assign import propose
from workbook_tools.program.check import Checked, Wanted, check_program
from workbook_tools.program.draw import drawn_faces
from workbook_tools.program.mark import UnmarkableWorkbookError, marked_setup
from workbook_tools.program.model import Merchandiser, Program, Store
from workbook_tools.program.table_book import FIRST_ROW, Column, TableBook

TODAY = dt.date(2027, 2, 1)
# Common practice, no source: four units stand back to back in two pairs, each with three shelves and a top tray.
PAIRS = [
    {"face": face, "shelf": shelf, "place": unit, "item": ("Lids", "Wax")[unit - 1], "units": 6}
    for face in "AB" for shelf in (1, 2, 3, 4) for unit in (1, 2)
]  # fmt: skip


def run(folder: Path, content: Content = IN_ORDER, *damage: Typed, **wanted: Any) -> tuple[ProgramFolder, Checked]:
    """A setup checked with something asked for."""
    made = setup_file(folder, content, damage)
    return made, check_program(made, Wanted(today=TODAY, **wanted), ENGLISH)


def complaints(path: Path) -> set[str]:
    """What openxml-audit, which knows what makes the common spreadsheet program offer a repair, says of a workbook."""
    result = OpenXmlValidator(file_format=FileFormat.OFFICE_2019).validate(str(path))
    return {error.id or error.description for error in result.errors}


def opens(path: Path) -> openpyxl.Workbook:
    """A workbook that opens without a repair prompt, opened."""
    assert complaints(path) == set()
    return openpyxl.load_workbook(path)


def marked(made: ProgramFolder) -> openpyxl.Workbook:
    """The marked copy, opened. The library that changes workbooks orders some formats otherwise than the standard, as
    all programs take it; marking adds nothing to what is said of the same setup loaded and saved by it.
    """
    book = openpyxl.load_workbook(made.setup)
    again = made.root / "saved again.xlsx"
    book.save(again)
    assert complaints(made.checked) <= complaints(again)
    return openpyxl.load_workbook(made.checked)


def table(data: bytes, sheet: str) -> list[dict[str, object]]:
    """The rows of a table in a workbook of tables, by heading; sums are left out."""
    rows = list(openpyxl.load_workbook(BytesIO(data))[sheet].iter_rows(min_row=4, values_only=True))
    named = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    return [row for row in named if next(iter(row.values())) != "Sum"]


def sums(data: bytes, sheet: str) -> dict[str, object]:
    """The last row of a table, by heading."""
    rows = list(openpyxl.load_workbook(BytesIO(data), data_only=True)[sheet].iter_rows(min_row=4, values_only=True))
    return dict(zip(rows[0], rows[-1], strict=True))


# -- marks


def test_every_finding_is_marked_in_its_cell(tmp_path: Path) -> None:
    """Colour by how grave it is, both sentences in the comment, and a list with a link to every cell."""
    damage = (put("items", 2, "gtin", "9520000000012"), put("stores", 1, "merchandiser", "Kin"))
    made, seen = run(tmp_path, IN_ORDER, *damage, mark=True)
    book = marked(made)
    for finding in seen.setup.findings:
        cell = book[finding.sheet][finding.cell]
        assert finding.problem(ENGLISH) in cell.comment.text
        assert finding.todo(ENGLISH) in cell.comment.text
        assert cell.fill.fill_type == "solid"
    assert book["Items"]["D6"].fill.start_color.rgb.endswith("FDE4DD")
    rows = list(book["Findings"].iter_rows(min_row=3, values_only=True))
    assert [(row[1], row[2]) for row in rows[:2]] == [("Items", "D6"), ("Stores", "J5")]
    assert len(rows) == len(seen.setup.findings)
    assert book["Findings"]["C3"].hyperlink.location == "'Items'!D6"


def test_a_row_is_as_high_as_the_text_that_wraps_in_it(tmp_path: Path) -> None:
    """Not every program makes rows grow: of the list of findings, and of a table with a long name."""
    long = "The store beside the old mill at the end of the quay"
    made, _ = run(tmp_path, with_values("stores", 1, name=long), put("items", 2, "gtin", "9520000000012"), mark=True)
    rows = marked(made)["Findings"]
    heights = {row: rows.row_dimensions[row].height for row in range(3, rows.max_row + 1)}
    letters = {row: max(len(str(rows.cell(row, column).value)) for column in (4, 5)) for row in heights}
    assert all(heights[row] >= (30 if count > 75 else 15) for row, count in letters.items())
    assert max(letters.values()) > 75
    book = TableBook("Tables", ENGLISH)
    book.sheet("One", "Title", "", (Column("Store"), Column("Name", 200)), (("001", "Quay"), ("002", long)))
    table = openpyxl.load_workbook(BytesIO(book.close()))["One"]
    assert table.row_dimensions[FIRST_ROW + 1].height is None
    assert table.row_dimensions[FIRST_ROW + 2].height >= 27


def test_the_setup_is_left_as_it_was(tmp_path: Path) -> None:
    """Whatever is asked for, not a byte of program.xlsx changes, and the copy holds the same values."""
    made = setup_file(tmp_path, IN_ORDER, [put("items", 2, "gtin", "9520000000012")])
    before = made.setup.read_bytes()
    check_program(made, Wanted(today=TODAY, mark=True, draw=True, orders=True, assign=True), ENGLISH)
    assert made.setup.read_bytes() == before
    was, now = openpyxl.load_workbook(made.setup), openpyxl.load_workbook(made.checked)
    assert now.sheetnames == ["Findings", *was.sheetnames]
    for sheet in was.worksheets:
        same = now[sheet.title]
        assert [[cell.value for cell in row] for row in sheet.iter_rows()] == [
            [same.cell(cell.row, cell.column).value for cell in row] for row in sheet.iter_rows()
        ]
        assert len(same.data_validations.dataValidation) == len(sheet.data_validations.dataValidation)


def test_a_finding_without_a_cell_is_said_at_the_title(tmp_path: Path) -> None:
    """What is wrong with a sheet as a whole stands in its title; a sheet that is missing is listed only."""
    made, seen = run(tmp_path, changed(labels=[]), mark=True)
    assert ("block_empty", "Labels") in [(one.rule, one.sheet) for one in seen.setup.findings]
    assert "Nothing is filled in on this sheet." in marked(made)["Labels"]["B1"].comment.text
    setup = checked(tmp_path, IN_ORDER, lambda book: book.remove(book["Steps"]))
    listed = openpyxl.load_workbook(BytesIO(marked_setup(made.setup.read_bytes(), setup.findings, ENGLISH)))["Findings"]
    assert "The block #steps is missing." in [cell.value for cell in listed["D"]]


def test_findings_on_one_cell_share_its_comment(tmp_path: Path) -> None:
    """The gravest gives the colour, and what a person noted there stays."""
    made = setup_file(tmp_path, IN_ORDER, [put("items", 3, "width", "-4")])
    book = openpyxl.load_workbook(made.setup)
    book["Items"]["G7"].comment = openpyxl.comments.Comment("ask Robin", "Robin")
    book.save(made.setup)
    check_program(made, Wanted(today=TODAY, mark=True), ENGLISH)
    cell = marked(made)["Items"]["G7"]
    assert cell.fill.start_color.rgb.endswith("FDE4DD")
    assert cell.comment.text.startswith("ask Robin")
    assert cell.comment.text.count("“-4”") == 2
    again = marked_setup(
        made.checked.read_bytes(), check_program(made, Wanted(today=TODAY), ENGLISH).setup.findings, ENGLISH
    )
    assert openpyxl.load_workbook(BytesIO(again)).sheetnames.count("Findings") == 1


def test_merged_cells_are_marked_where_their_value_stands(tmp_path: Path) -> None:
    """Only the first cell of a merged area can be marked."""
    made = setup_file(tmp_path, IN_ORDER, [lambda book: book["Items"].merge_cells("C5:C6")])
    check_program(made, Wanted(today=TODAY, mark=True), ENGLISH)
    assert marked(made)["Items"]["C5"].comment


def test_a_book_that_cannot_be_marked_is_refused_in_a_sentence() -> None:
    """What the library cannot load raises its own error, never a traceback of the library."""
    with pytest.raises(UnmarkableWorkbookError):
        marked_setup(b"no workbook", [], ENGLISH)


def test_text_of_the_field_never_becomes_a_formula(tmp_path: Path) -> None:
    """A value that begins with = stands in sentences and lists as text."""
    made, _ = run(tmp_path, with_values("items", 2, brand="=1+1"), mark=True, draw=True)
    for path in (made.checked, made.faces):
        for sheet in openpyxl.load_workbook(path).worksheets:
            formulas = [str(cell.value) for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
            assert not [formula for formula in formulas if "1+1" in formula], sheet.title


# -- faces


def test_faces_are_drawn_from_what_is_there(tmp_path: Path) -> None:
    """One sheet a face; every tray with its item, counts, brand and item code, and what is wrong with it."""
    blocks = demo(in_demo("positions", 1, facings=9))
    seen = view(blocks)
    path = tmp_path / "faces.xlsx"
    path.write_bytes(drawn_faces(seen, found(seen), ENGLISH))
    book = opens(path)
    assert book.sheetnames == ["Face A", "Face B", "Face C"]
    texts = [str(cell.value) for row in book["Face A"].iter_rows() for cell in row if cell.value]
    assert "A-1-1\nVanilla extract, 4 fl oz" in texts
    assert "9 × 5 × 1 ≠ 25" in texts
    assert "6 × 6 × 1 = 36" in texts
    assert {"Marrowkettle", "031846", "Shelf A-1 · 27 × 9 × 7 in", "Drawn to scale."} <= set(texts)
    assert "The trays of shelf A-1 take 33.25 in side by side; the shelf is 27 in wide." in texts
    widths = {str(area): area.max_col - area.min_col for area in book["Face A"].merged_cells.ranges}
    at = next(cell.coordinate for row in book["Face A"].iter_rows() for cell in row if cell.value == texts[3])
    assert max(width for area, width in widths.items() if area.startswith(at)) > 25


def test_a_half_filled_setup_can_be_drawn(tmp_path: Path) -> None:
    """Unknown items, missing sizes and places do not stand in the way; without positions a sheet says so."""
    rows = [
        {"face": "A", "shelf": 1, "place": 1, "item": "Unheard of"},
        {"face": "A", "shelf": 1, "place": 2},
        {"face": "B"},
    ]
    made, seen = run(tmp_path, changed(positions=rows, items=[], labels=[], shelves=[]), draw=True)
    assert seen.setup.program is None
    texts = [str(cell.value) for row in opens(made.faces)["Face A"].iter_rows() for cell in row if cell.value]
    assert "A-1-1\nUnheard of" in texts
    assert "no brand" in texts
    data = drawn_faces(view({}), [], ENGLISH)
    assert openpyxl.load_workbook(BytesIO(data)).active["A1"].value.startswith("There is no position to draw yet.")


# -- orders


def test_sixteen_trays_are_sixteen_labels_and_up_to_sixteen_tags(tmp_path: Path) -> None:
    """Two pairs of units back to back, three shelves and a top tray each: sixteen trays on two faces."""
    labels = [{"brand": "Pellwood", "packed": 8}, {"brand": "Quarnby", "packed": 10}]
    made, seen = run(tmp_path, changed(positions=PAIRS, labels=labels, shelves=[]), orders=True)
    opens(made.orders)
    data = made.orders.read_bytes()
    assert sums(data, "Labels")["Trays a display"] == 16
    assert sums(data, "Shelf tags")["Tags a display"] == 16
    assert [(row["Brand"], row["Trays a display"], row["Spare a display"]) for row in table(data, "Labels")] == [
        ("Pellwood", 8, 0), ("Quarnby", 8, 2),
    ]  # fmt: skip
    assert "A display: 16 trays, 16 brand labels, 16 shelf tags" in "\n".join(seen.lines(ENGLISH))


def test_cases_are_rounded_both_ways(tmp_path: Path) -> None:
    """8 trays of 6 are 48 a display, 96 for two; in cases of 36 that is 3 shared out, or 2 whole ones each (COMP)."""
    items = [{**row, "case_pack": 36} for row in IN_ORDER["items"]]
    made, _ = run(tmp_path, changed(positions=PAIRS, items=items, shelves=[]), orders=True)
    (lids, _wax) = table(made.orders.read_bytes(), "Goods")
    assert list(lids.values())[4:] == [48, 96, 36, 3, 12, 2, 4, 48]


def test_parts_and_labels_have_spares_for_the_loss_asked_for(tmp_path: Path) -> None:
    """100 parts of which 2 in 100 are lost need 103, not 102 (COMP: 102 x 0.98 = 99.96)."""
    parts = [{"part": "P1", "name": "Base", "quantity": 50}]
    made, _ = run(tmp_path, changed(parts=parts), orders=True, loss=0.02)
    (row,) = table(made.orders.read_bytes(), "Parts")
    assert list(row.values()) == ["P1", "Base", 50, 100, 3, 103]
    made, _ = run(tmp_path, changed(parts=parts), orders=True, loss=0)
    (row,) = table(made.orders.read_bytes(), "Parts")
    assert list(row.values()) == ["P1", "Base", 50, 100, 0, 100]


def test_labels_are_shared_out_by_district_and_merchandiser(tmp_path: Path) -> None:
    """Every share adds up to the whole; a store without a district counts under its own heading."""
    stores = [
        {"store": "1", "name": "One", "merchandiser": "Kim", "district": "North"},
        {"store": "2", "name": "Two", "merchandiser": "Lee", "district": "North"},
        {"store": "3", "name": "Three", "merchandiser": "Lee"},
    ]
    made, _ = run(tmp_path, changed(stores=stores), orders=True)
    data = made.orders.read_bytes()
    by_district = {row["District"]: (row["Pellwood"], row["Quarnby"]) for row in table(data, "Labels by district")}
    assert by_district == {"North": (2, 4), "without": (1, 2)}
    by_person = {row["Merchandiser"]: row["Sum"] for row in table(data, "Labels by merchandiser")}
    assert by_person == {"Kim": 3, "Lee": 6}
    assert sums(data, "Tags by district")["Sum"] == 9


def test_orders_wait_until_the_setup_is_mended(tmp_path: Path) -> None:
    """Nothing is written from a setup that must be mended, and a line says so."""
    made, seen = run(tmp_path, with_values("items", 2, brand="Nobody"), orders=True, assign=True)
    assert not made.orders.exists()
    assert not made.assign.exists()
    assert sum("was not written" in line for line in seen.lines(ENGLISH)) == 2


# -- who goes where


def _crowded() -> Program:
    """Ten stores of Kim in a row, none of Lee, who has as many hours."""
    stores = tuple(
        Store(store=str(n), name=f"Store {n}", merchandiser="Kim", latitude=40.0, longitude=-80 + n / 10)
        for n in range(10)
    )
    people = (Merchandiser(merchandiser="Kim", hours=12), Merchandiser(merchandiser="Lee", hours=12))
    settings = dataclasses.replace(SETTINGS, visit_minutes=90)
    return Program(settings=settings, stores=stores, merchandisers=people)


def test_a_proposal_moves_stores_and_leaves_the_list_in_order() -> None:
    """Moves, everyone's hours before and after, and the store list with the names to paste over the setup's."""
    program = _crowded()
    proposal = propose(program, ENGLISH)
    assert proposal.balance is not None
    assert proposal.balance.verdict == "balanced"
    moves = table(proposal.book, "Moves proposed")
    assert {(row["From"], row["To"]) for row in moves} == {("Kim", "Lee")}
    stores = table(proposal.book, "Store list")
    assert [row["Store"] for row in stores] == [store.store for store in program.stores]
    assert sum(row["Merchandiser"] == "Lee" for row in stores) == len(moves)
    hours = {row["Merchandiser"]: row for row in table(proposal.book, "Hours")}
    assert hours["Kim"]["Over now"] > 0
    assert hours["Kim"]["Over then"] == hours["Lee"]["Over then"] == 0


def test_a_store_that_cannot_lie_where_it_is_said_to_does_not_use_up_hours() -> None:
    """One with coordinates of 0 and 0 counts as one whose place is not told: the way to it is in nobody's hours."""
    near = _crowded()
    lost = dataclasses.replace(near.stores[-1], latitude=0.0, longitude=0.0)
    untold = dataclasses.replace(near.stores[-1], latitude=None, longitude=None)
    made = [
        propose(dataclasses.replace(near, stores=(*near.stores[:-1], last)), ENGLISH).balance for last in (lost, untold)
    ]
    assert made[0] == made[1]
    assert made[0] is not None
    assert made[0].verdict == "balanced"


def test_without_hours_or_minutes_there_is_no_proposal(tmp_path: Path) -> None:
    """A line says what is needed, and no workbook is written."""
    people = [{"merchandiser": "Kim"}, {"merchandiser": "Lee"}]
    made, seen = run(tmp_path, changed(merchandisers=people), assign=True)
    assert not made.assign.exists()
    assert any("hours of merchandisers" in line for line in seen.lines(ENGLISH))
    assert seen.as_json(ENGLISH)["written"] == []


def test_what_is_written_can_be_printed_as_json(tmp_path: Path) -> None:
    """Everything a check says is plain values."""
    made, seen = run(tmp_path, IN_ORDER, mark=True, draw=True, orders=True, assign=True)
    told = json.loads(json.dumps(seen.as_json(ENGLISH), default=str))
    paths = [made.checked, made.faces, made.orders, made.assign]
    assert told["written"] == [str(path) for path in paths if path.exists()]
    assert len(told["findings"]) == len(seen.setup.findings)
