"""The setup workbook in a real spreadsheet program: its checks answer what is typed, and it can be carried on."""

from __future__ import annotations

from pathlib import Path

import openpyxl

from tests.apps.gnumeric import Gnumeric
from tests.apps.office import Edit, Office
from tests.program.setups import IN_ORDER
from tests.program.test_live_checks import MISTAKES
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.names import a1
from workbook_tools.contract.words import words_for
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import read_setup
from workbook_tools.program.setup_book import FIRST_ROW, setup_workbook

ENGLISH = words_for("en")


def _glance(sheet: str, row: int) -> str:
    """The address of the check beside a row, counted from 1."""
    column = max(field.index for field in default_contract().setup.block(sheet.lower()).fields)
    return a1(FIRST_ROW + row - 1, column)


def _results(path: Path) -> dict[tuple[str, str], object]:
    """The stored results of every check and count in a workbook, by sheet and address."""
    formulas, values = openpyxl.load_workbook(path), openpyxl.load_workbook(path, data_only=True)
    return {
        (sheet.title, cell.coordinate): values[sheet.title][cell.coordinate].value or ""
        for sheet in formulas.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }


def test_all_checks_come_out_alike_when_recalculated(office: Office, tmp_path: Path) -> None:
    """LibreOffice computes every check and count anew and comes to the results that were stored."""
    book = tmp_path / "program.xlsx"
    book.write_bytes(setup_workbook(ENGLISH, MISTAKES))
    office.resave(book, tmp_path / "saved.xlsx", recalculate=True)
    before, after = _results(book), _results(tmp_path / "saved.xlsx")
    assert len(before) > 1_000
    assert {place: (before[place], value) for place, value in after.items() if before.get(place) != value} == {}


def test_a_row_answers_what_is_typed(office: Office, tmp_path: Path) -> None:
    """An unknown brand, a wrong check digit and a store twice are told at once; put right, the row says ✓."""
    book = tmp_path / "program.xlsx"
    book.write_bytes(setup_workbook(ENGLISH, IN_ORDER))
    wrong = [Edit("Items", "E5", "Pelwood"), Edit("Items", "D6", "9520000000012"), Edit("Stores", "B6", "00417")]
    office.edit(book, tmp_path / "wrong.xlsx", wrong)
    told = _results(tmp_path / "wrong.xlsx")
    assert told["Items", _glance("Items", 1)] == "! Brand is not on Labels"
    assert told["Items", _glance("Items", 2)] == "! GTIN: check digit wrong"
    assert told["Stores", _glance("Stores", 2)] == "! Store stands twice"
    right = [Edit("Items", "E5", "Pellwood"), Edit("Items", "D6", "9520000000028"), Edit("Stores", "B6", "00418")]
    office.edit(tmp_path / "wrong.xlsx", tmp_path / "right.xlsx", right)
    told = _results(tmp_path / "right.xlsx")
    assert {told["Items", _glance("Items", row)] for row in (1, 2, 3)} == {"✓"}
    assert told["Stores", _glance("Stores", 2)] == "✓"


def test_a_setup_saved_by_another_program_is_the_same_program(
    office: Office, gnumeric: Gnumeric, tmp_path: Path
) -> None:
    """Saved by LibreOffice or by Gnumeric, with its checks and all, the setup reads as before."""
    folders = [ProgramFolder(tmp_path / name) for name in ("ours", "office", "gnumeric")]
    content = {**IN_ORDER, "items": [{**row, "picture": ""} for row in IN_ORDER["items"]]}
    content["steps"] = [{**row, "picture": ""} for row in IN_ORDER["steps"]]
    for folder in folders:
        folder.root.mkdir()
    folders[0].setup.write_bytes(setup_workbook(ENGLISH, content))
    office.resave(folders[0].setup, folders[1].setup)
    gnumeric.resave(folders[0].setup, folders[2].setup)
    first, *others = [read_setup(folder, ENGLISH) for folder in folders]
    assert first.program is not None
    for other in others:
        assert [one.rule for one in other.findings if one.severity == "must mend"] == []
        assert other.program == first.program
