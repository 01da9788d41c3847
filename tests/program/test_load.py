"""program.xlsx becomes the program, whatever people did to its sheets; what they broke is found, and where."""

from __future__ import annotations

import datetime as dt
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.comments import Comment
from openpyxl.workbook.workbook import Workbook

from tests.program.setups import (
    IN_ORDER,
    Content,
    Damage,
    Place,
    Typed,
    changed,
    checked,
    only,
    places,
    put,
    rules_of,
    setup_file,
)
from workbook_tools.contract.names import a1
from workbook_tools.contract.words import words_for
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder, sha256
from workbook_tools.program.load import check_setup, read_setup
from workbook_tools.program.model import Item, Merchandiser, Position, Settings, Store

ENGLISH = words_for("en")


def _delete(*sheets: str) -> Damage:
    return lambda book: [book.remove(book[sheet]) for sheet in sheets]


def _copy(sheet: str) -> Damage:
    return lambda book: book.copy_worksheet(book[sheet])


def _empty(sheet: str, last: str) -> Typed:
    rows = openpyxl.utils.rows_from_range(f"B5:{last}")
    return Typed(sheet, {address: None for row in rows for address in row})


FORMS: list[tuple[str, Damage, list[Place]]] = [
    ("sheet deleted", _delete("Steps"), [("block_missing", "Steps", "")]),
    ("two sheets deleted", _delete("Program", "Labels"),
     [("block_missing", "Program", ""), ("block_missing", "Labels", "")]),
    ("block name cleared", Typed("Steps", {"A4": None}), [("block_missing", "Steps", "")]),
    ("block name changed", Typed("Steps", {"A4": "#stepz"}), [("block_missing", "Steps", "")]),
    ("sheet copied", _copy("Items"), [("block_twice", "Items Copy", "")]),
    ("block twice on a sheet", Typed("Steps", {"A9": "#steps", "B9": "step"}), [("block_twice", "Steps", "")]),
    ("optional key cleared", Typed("Items", {"G4": None}), [("column_missing", "Items", "")]),
    ("required key cleared", Typed("Items", {"C4": None}), [("column_missing", "Items", "")]),
    ("first key cleared", Typed("Items", {"B4": None}), [("column_missing", "Items", "")]),
    ("key of a reference cleared", Typed("Merchandisers", {"B4": None}), [("column_missing", "Merchandisers", "")]),
    ("key of the answers cleared", Typed("Program", {"C4": None}), [("column_missing", "Program", "")]),
    ("key misspelt", Typed("Items", {"G4": "widht"}),
     [("column_missing", "Items", ""), ("column_unknown", "Items", "G4")]),
    ("column added", Typed("Items", {"P4": "colour"}), [("column_unknown", "Items", "P4")]),
    ("column twice", Typed("Items", {"P4": "gtin"}), [("column_twice", "Items", "D4")]),
    ("row key cleared", Typed("Program", {"A12": None}), [("row_missing", "Program", "")]),
    ("row key misspelt", Typed("Program", {"A12": "deu"}),
     [("row_missing", "Program", ""), ("row_unknown", "Program", "A12")]),
    ("row of an answer deleted that may be blank", lambda book: book["Program"].delete_rows(27), []),
    ("row key of an answer cleared that may be blank", Typed("Program", {"A13": None, "A14": None}),
     [("row_missing", "Program", "")] * 2),
    ("row twice", Typed("Program", {"A40": "due", "C40": "2027-03-20"}), [("row_twice", "Program", "A40")]),
    ("example in the form", put("program", 1, "name", "Example: Spring tower"),
     [("example_row", "Program", "C5"), ("required", "Program", "C5")]),
    ("example in a table", Typed("Stores", {"B7": "Example: 00417", "C7": "The store's name"}),
     [("example_row", "Stores", "B7")]),
    ("example shouted", Typed("Stores", {"B7": " EXAMPLE\uff1a 1", "J7": "Nobody"}), [("example_row", "Stores", "B7")]),
    ("steps empty", _empty("Steps", "F6"), [("block_unused", "Steps", "")]),
    ("shelves empty", _empty("Shelves", "G7"), [("block_unused", "Shelves", "")]),
    ("parts empty", _empty("Parts", "E6"), [("block_unused", "Parts", "")]),
    ("positions empty", _empty("Positions", "I8"), [("block_empty", "Positions", "")]),
    ("items empty", _empty("Items", "M8"), [("block_empty", "Items", "")]),
    ("labels empty", _empty("Labels", "D7"), [("block_empty", "Labels", "")]),
    ("stores empty", _empty("Stores", "L7"), [("block_empty", "Stores", "")]),
    ("merchandisers empty", _empty("Merchandisers", "H7"), [("block_empty", "Merchandisers", "")]),
]  # fmt: skip
"""What is done to the sheets of a setup in order → what is found, all of it."""


@pytest.mark.parametrize(("damage", "expected"), [case[1:] for case in FORMS], ids=[case[0] for case in FORMS])
def test_what_is_done_to_the_sheets_is_found(tmp_path: Path, damage: Damage, expected: list[Place]) -> None:
    """A sheet, column or row that is missing, unknown, twice or empty is found once, and nothing follows from it."""
    setup = checked(tmp_path, IN_ORDER, damage)
    assert sorted(places(setup)) == sorted(expected)
    assert (setup.program is None) == any(one.severity == "must mend" for one in setup.findings)


def test_every_rule_about_sheets_is_broken_here() -> None:
    """Together with test_checks, which says which rules are about the form, no rule of the setup is left out."""
    broken = {rule for _, _, expected in FORMS for rule, *_ in expected} | {"workbook_unreadable"}
    assert broken <= rules_of("the setup", "one cell")
    assert {rule for rule in rules_of("the setup") if rule.startswith(("block", "column", "row", "example"))} <= broken


def test_a_block_on_two_sheets_names_both(tmp_path: Path) -> None:
    """The sentence says which sheets they are, so that a person can choose."""
    found = only(checked(tmp_path, IN_ORDER, _copy("Items")))
    assert found.problem(ENGLISH) == "The block #items stands on two sheets: Items, Items Copy."


def test_a_misspelt_key_is_recognised(tmp_path: Path) -> None:
    """The sentences say which key was meant and where it goes."""
    missing, unknown = checked(tmp_path, IN_ORDER, Typed("Items", {"G4": "widht"})).findings
    assert missing.todo(ENGLISH) == "Put the key “width” back into row 4, over its column."
    assert unknown.problem(ENGLISH) == "The column “widht” is not known; nothing in it is used."
    assert unknown.todo(ENGLISH) == "Delete the column, or correct the key in row 4 (did you mean “width”?)."


def _rows_inserted(book: Workbook) -> None:
    for sheet in book.worksheets:
        sheet.insert_rows(1, 3)


def _columns_moved(book: Workbook) -> None:
    book["Stores"].move_range("B3:C6", cols=14)
    book["Items"].move_range("D3:D7", cols=20)


def _renamed(book: Workbook) -> None:
    for number, sheet in enumerate(book.worksheets):
        sheet.title = f"Blatt {number}"


def _hidden(book: Workbook) -> None:
    book["Items"].row_dimensions[6].hidden = True
    book["Stores"].column_dimensions["J"].hidden = True
    book["Labels"].sheet_state = "hidden"


def _notes(book: Workbook) -> None:
    book["Items"]["Q6"] = "ask Robin about this one"
    book["Items"]["Q30"] = "=1+1"
    book["Stores"]["B1"] = "Our stores"
    book["Positions"]["B5"].comment = Comment("top shelf", "Robin")
    book.create_sheet("Ideas")["A1"] = "#ideas"
    book.create_sheet("Chart", 0)["C3"] = "= not ours ="


def _gaps(book: Workbook) -> None:
    book["Items"].insert_rows(6, 4)
    book["Stores"].insert_rows(6)
    book["Stores"]["B6"] = " \u00a0\u200b"
    book["Labels"]["B2000"] = " "


def _trailing_spaces(book: Workbook) -> None:
    book["Positions"]["E5"] = "Lids \u00a0"
    book["Stores"]["J5"] = "\u200bKim"
    book["Labels"]["B5"] = " Pellwood"


@pytest.mark.parametrize(
    "damage",
    [_rows_inserted, _columns_moved, _renamed, _hidden, _notes, _gaps, _trailing_spaces],
    ids=lambda damage: damage.__name__.strip("_"),
)
def test_what_does_not_change_the_data_does_no_harm(tmp_path: Path, damage: Damage) -> None:
    """Rows and columns moved, hidden, blank or noted beside, sheets renamed or added: the program is the same."""
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    before, after = checked(tmp_path / "a"), checked(tmp_path / "b", IN_ORDER, damage)
    assert {rule for rule, *_ in places(after)} <= {"spaces_removed", "rows_hidden"}
    assert after.program == before.program is not None


def test_addresses_follow_what_was_moved(tmp_path: Path) -> None:
    """After rows and columns were moved, a finding names the cell as it is now."""
    setup = checked(tmp_path, IN_ORDER, _columns_moved, _rows_inserted, Typed("Stores", {"Q9": None}))
    assert places(setup) == [("required", "Stores", "Q9")]


def test_a_formula_counts_by_its_result(tmp_path: Path) -> None:
    """A cell may be computed: what the spreadsheet program last showed in it is what is read."""
    made = setup_file(tmp_path)
    made.setup.write_bytes(
        _with_formulas(made.setup.read_bytes(), {"Items": {"B5": ("=A1", "Lids"), "G5": ("=2+2", 4)}})
    )
    setup = read_setup(made, ENGLISH)
    assert setup.program is not None
    assert (setup.program.item["Lids"].item_code, setup.program.item["Lids"].width) == ("000101", 4)


def _with_formulas(data: bytes, formulas: dict[str, dict[str, tuple[str, object]]]) -> bytes:
    """A workbook with the same texts and numbers, in which some cells are formulas with their last results."""
    written = BytesIO()
    book = xlsxwriter.Workbook(written)
    for sheet in openpyxl.load_workbook(BytesIO(data)).worksheets:
        made = book.add_worksheet(sheet.title)
        for row in sheet.iter_rows():
            for cell in row:
                where = (cell.row - 1, cell.column - 1)
                if found := formulas.get(sheet.title, {}).get(a1(*where)):
                    made.write_formula(*where, found[0], None, found[1])
                elif isinstance(cell.value, dt.datetime):
                    made.write_datetime(*where, cell.value, book.add_format({"num_format": "yyyy-mm-dd"}))
                elif cell.value is not None:
                    made.write(*where, cell.value)
    book.close()
    return written.getvalue()


def test_the_program_is_what_the_setup_says(tmp_path: Path) -> None:
    """Every block becomes its part of the model: codes with their zeros, lists as lists, blanks as their defaults."""
    program = checked(tmp_path).program
    assert program is not None
    assert program.settings == Settings(
        name="Small stand", code="SMALL", units="in, lb", starts=dt.date(2027, 3, 1), due=dt.date(2027, 3, 14),
        contact="Robin", place="End of aisle", other_places=("Front", "Back"), photos="one", language="en",
    )  # fmt: skip
    assert program.positions[0] == Position(face="A", shelf=1, place=1, item="Lids", facings=3, units=12)
    assert program.items[1] == Item(
        item="Wax", item_code="000102", gtin="9520000000028", brand="Quarnby", substitutes=("Lids", "Jars")
    )
    assert program.stores[0] == Store(
        store="00417", name="Hill Street", merchandiser="Kim", latitude=36.1, longitude=-86.7
    )
    assert program.merchandisers == (
        Merchandiser(merchandiser="Kim", language="en"),
        Merchandiser(merchandiser="Lee", hours=20),
    )
    assert program.pictures == {
        name: sha256((tmp_path / "images" / name).read_bytes()) for name in ("lids.png", "step.png")
    }
    assert (len(program.shelves), len(program.labels), len(program.parts), len(program.steps)) == (2, 2, 1, 1)


def test_a_setup_needs_only_the_blocks_that_no_program_can_do_without(tmp_path: Path) -> None:
    """Without shelves, parts and steps there is a program; a person is told to look whether that is meant."""
    content: Content = changed(shelves=[], parts=[], steps=[])
    setup = checked(tmp_path, content)
    assert places(setup) == [
        ("block_unused", "Shelves", ""), ("block_unused", "Parts", ""), ("block_unused", "Steps", ""),
    ]  # fmt: skip
    assert setup.program is not None


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "The file is empty."),
        (b"no workbook at all", "This is a text file, not a workbook."),
        (b"PK\x03\x04", "The file is cut short: its end is missing."),
    ],
    ids=["empty", "text", "cut short"],
)
def test_what_is_no_workbook_is_one_finding(tmp_path: Path, data: bytes, reason: str) -> None:
    """A program.xlsx that cannot be read is found as such, with what to do, and never a traceback."""
    found = only(check_setup(data, ProgramFolder(tmp_path)))
    assert (found.rule, found.sheet, found.cell) == ("setup_refused", "", "")
    assert found.problem(ENGLISH) == f"program.xlsx cannot be read: {reason}"
    assert found.todo(ENGLISH).startswith("Open it in a spreadsheet program, save it as .xlsx without a password and ")


def test_another_workbook_lacks_every_block(tmp_path: Path) -> None:
    """Someone's own list under the name program.xlsx: every sheet is said to be missing, in order."""
    book = openpyxl.Workbook()
    book.active["A1"] = "Shopping list"
    written = BytesIO()
    book.save(written)
    setup = check_setup(written.getvalue(), ProgramFolder(tmp_path))
    assert [rule for rule, *_ in places(setup)] == ["block_missing"] * 9
    assert [sheet for _, sheet, _ in places(setup)][:2] == ["Program", "Shelves"]


def test_an_open_setup_is_not_read(tmp_path: Path) -> None:
    """While another program holds program.xlsx open, its lock file is named and nothing is checked."""
    made = setup_file(tmp_path)
    (tmp_path / "~$program.xlsx").write_text("")
    with pytest.raises(FolderError, match=r"program\.xlsx is open in another program \(~\$program\.xlsx\)\. Close it"):
        read_setup(made, ENGLISH)


def test_a_setup_that_cannot_be_opened_gives_a_sentence(tmp_path: Path) -> None:
    """A folder in the place of the file, or no file, is a FolderError with the reason."""
    (tmp_path / "program.xlsx").mkdir()
    with pytest.raises(FolderError, match=r"program\.xlsx cannot be read: .+\. Close it if it is open elsewhere"):
        read_setup(ProgramFolder(tmp_path), ENGLISH)
