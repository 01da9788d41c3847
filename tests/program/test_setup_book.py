"""The setup workbook that `new` writes: every block with headings, drop-downs, prompts and an example."""

from __future__ import annotations

import dataclasses
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook.workbook import Workbook
from openxml_audit import FileFormat, OpenXmlValidator

from tests.program.setups import IN_ORDER, places
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block, Field
from workbook_tools.contract.sheets import read_blocks
from workbook_tools.contract.words import languages, words_for
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import check_setup
from workbook_tools.program.setup_book import FIRST_ROW, HEADING_ROW, KEY_ROW, LAST_ROW, setup_workbook

ENGLISH = words_for("en")
BLOCKS = default_contract().setup.blocks
TABLES = [block for block in BLOCKS if block.rows == "free"]


@pytest.fixture(scope="module")
def new() -> bytes:
    """A setup workbook to be filled in."""
    return setup_workbook(ENGLISH)


@pytest.fixture(scope="module")
def book(new: bytes) -> Workbook:
    """The same, opened."""
    return openpyxl.load_workbook(BytesIO(new))


def _cell(block: Block, field: Field) -> tuple[int, int]:
    """Row and column (1-based) of a field's first cell to fill in."""
    if block.rows == "fixed":
        return FIRST_ROW + block.fields.index(field) + 1, block.value_index + 1
    return FIRST_ROW + 1, field.index + 1


def _to_fill_in(block: Block) -> list[Field]:
    """The fields that people fill in: all but those that the workbook works out by itself."""
    return [field for field in block.fields if field.source != "formula"]


FIELDS = [pytest.param(block, field, id=f"{block.key}.{field.key}") for block in BLOCKS for field in _to_fill_in(block)]


def test_there_is_a_sheet_for_every_block(new: bytes, book: Workbook) -> None:
    """An overview, one sheet a block in the order of the contract with the faces after the planogram, hidden lists."""
    titles = [ENGLISH(f"setup.sheets.{sheet.key}") for sheet in default_contract().setup.sheets]
    titles.insert(titles.index(ENGLISH("setup.sheets.positions")) + 1, ENGLISH("setup.faces.sheet"))
    assert book.sheetnames == [ENGLISH("setup.overview.sheet"), *titles, "lists"]
    assert book["lists"].sheet_state == "hidden"
    found = read_blocks(new, [block.key for block in BLOCKS])
    assert [(one.key, one.columns) for one in found] == [(block.key, block.columns) for block in BLOCKS]


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.key)
def test_keys_are_hidden_and_headings_are_not(book: Workbook, block: Block) -> None:
    """People see headings; column A and the key row are there for the program."""
    sheet = book[ENGLISH(f"setup.sheets.{block.key}")]
    assert sheet.cell(KEY_ROW + 1, 1).value == f"#{block.key}"
    assert sheet.row_dimensions[KEY_ROW + 1].hidden
    assert sheet.column_dimensions["A"].hidden
    assert not sheet.row_dimensions[HEADING_ROW + 1].hidden
    assert not sheet.protection.sheet


@pytest.mark.parametrize(("block", "field"), FIELDS)
def test_every_field_has_a_heading_a_prompt_and_its_drop_down(book: Workbook, block: Block, field: Field) -> None:
    """A star marks what must be filled in; the prompt is the contract's; choices are offered and bounds are held."""
    sheet = book[ENGLISH(f"setup.sheets.{block.key}")]
    row, column = _cell(block, field)
    heading = sheet.cell(*((row, column - 1) if block.rows == "fixed" else (HEADING_ROW + 1, column))).value
    assert heading == ENGLISH(f"setup.{block.key}.{field.key}.heading") + (" *" if field.required else "")
    (rule,) = [one for one in sheet.data_validations.dataValidation if sheet.cell(row, column).coordinate in one.sqref]
    assert rule.prompt == ENGLISH(f"setup.{block.key}.{field.key}.prompt")
    assert rule.promptTitle == ENGLISH(f"setup.{block.key}.{field.key}.heading")
    bounded = {"integer": "whole", "number": "decimal"}.get(field.type)
    assert rule.type == ("list" if field.type == "choice" else bounded)
    if block.rows == "free":
        assert sheet.cell(LAST_ROW + 1, column).coordinate in rule.sqref


@pytest.mark.parametrize(("block", "field"), [one for one in FIELDS if one.values[1].type == "choice"])
def test_a_drop_down_offers_the_choices(book: Workbook, block: Block, field: Field) -> None:
    """The list that a cell offers holds the keys of the contract, as `check` takes them."""
    sheet = book[ENGLISH(f"setup.sheets.{block.key}")]
    where = sheet.cell(*_cell(block, field)).coordinate
    (rule,) = [one for one in sheet.data_validations.dataValidation if where in one.sqref]
    found = book["lists"][rule.formula1.removeprefix("lists!").removeprefix("'lists'!").replace("$", "")]
    offered = [cell.value for (cell,) in found] if isinstance(found, tuple) else [found.value]
    options = default_contract().choices[field.choices].options({"languages": languages()})
    assert offered == list(options)


@pytest.mark.parametrize("block", TABLES, ids=lambda block: block.key)
def test_every_table_has_one_example_that_says_it_is_one(book: Workbook, block: Block) -> None:
    """The first row is filled in, its first cell says that it is an example, and a note beside it says so again as long
    as that is so.
    """
    sheet = book[ENGLISH(f"setup.sheets.{block.key}")]
    row = [sheet.cell(FIRST_ROW + 1, field.index + 1).value for field in _to_fill_in(block)]
    assert str(row[0]).startswith("Example: ")
    assert all(value for value, field in zip(row, _to_fill_in(block), strict=True) if field.required)
    after = max(field.index for field in block.fields) + 2
    assert ENGLISH("setup.guide.example_note") in sheet.cell(FIRST_ROW + 1, after).value
    assert sheet.cell(FIRST_ROW + 2, 2).value is None


def test_a_language_may_have_quotation_marks_in_what_it_says_of_examples() -> None:
    """In a formula each stands twice, as formulas write them (ECMA-376 part 1, 18.17.2.3, string constants)."""
    key = "setup.guide.example_note"
    words = dataclasses.replace(ENGLISH, table={**ENGLISH.table, key: 'An "example".'})
    sheet = openpyxl.load_workbook(BytesIO(setup_workbook(words)))[ENGLISH("setup.sheets.stores")]
    row = [cell.value for cell in sheet[FIRST_ROW + 1] if isinstance(cell.value, str)]
    assert any('"An ""example""."' in value for value in row)


def test_the_form_shows_an_example_for_every_field(book: Workbook) -> None:
    """Beside each answer stands what one may look like, and what it is for; only the first answer is filled in."""
    sheet = book["Program"]
    block = default_contract().setup.block("program")
    for row, field in enumerate(block.fields, start=FIRST_ROW + 1):
        assert sheet.cell(row, block.value_index + 2).value == field.example
        assert sheet.cell(row, block.value_index + 3).value == ENGLISH(f"setup.program.{field.key}.prompt")
        assert sheet.cell(row, block.value_index + 1).value == (
            "Example: Spring tower" if field.key == "name" else None
        )


def test_no_example_is_taken_as_data(new: bytes, tmp_path: Path) -> None:
    """`check` finds every example at its cell, takes none for a row, and says what is left to fill in."""
    setup = check_setup(new, ProgramFolder(tmp_path))
    found = places(setup)
    sheets = [ENGLISH(f"setup.sheets.{block.key}") for block in BLOCKS]
    assert [(sheet, cell) for rule, sheet, cell in found if rule == "example_row"] == [
        (sheet, "C5" if sheet == "Program" else "B5") for sheet in sheets
    ]
    assert all(table.rows == () for key, table in setup.tables.items() if key != "program")
    assert all(row.values == {} for row in setup.tables["program"].rows)
    assert {sheet for rule, sheet, _ in found if rule == "block_empty"} == {
        "Positions", "Items", "Labels", "Stores", "Merchandisers",
    }  # fmt: skip
    assert {sheet for rule, sheet, _ in found if rule == "block_unused"} == {"Shelves", "Parts", "Steps"}
    required = [field for field in default_contract().setup.block("program").fields if field.required]
    assert len([one for one in found if one[0] == "required"]) == len(required)
    assert setup.program is None


@pytest.mark.parametrize("block", TABLES, ids=lambda block: block.key)
def test_codes_are_typed_into_text_cells(book: Workbook, block: Block) -> None:
    """Item codes, GTINs, store numbers and postcodes keep their zeros: their whole columns are text."""
    sheet = book[ENGLISH(f"setup.sheets.{block.key}")]
    columns = list(sheet.column_dimensions.values())
    for field in _to_fill_in(block):
        wanted = "@" if field.type in ("code", "gtin", "text") else "General"
        (whole,) = [one for one in columns if one.min <= field.index + 1 <= one.max]
        assert whole.number_format == wanted, field.key
        assert sheet.cell(FIRST_ROW + 1, field.index + 1).number_format == wanted, field.key


@pytest.mark.parametrize("content", [None, IN_ORDER], ids=["new", "filled"])
def test_it_opens_without_a_repair_prompt(content: object, tmp_path: Path) -> None:
    """openxml-audit, which knows what makes the common spreadsheet program offer a repair, finds nothing."""
    path = tmp_path / "program.xlsx"
    path.write_bytes(setup_workbook(ENGLISH, content))  # type: ignore[arg-type]
    result = OpenXmlValidator(file_format=FileFormat.OFFICE_2019).validate(str(path))
    assert result.errors == []
    assert result.is_valid


def test_the_same_setup_gives_the_same_bytes() -> None:
    """Written twice, the workbook is the same byte for byte."""
    assert setup_workbook(ENGLISH, IN_ORDER) == setup_workbook(ENGLISH, IN_ORDER)


def test_what_is_filled_in_reads_back_the_same(tmp_path: Path) -> None:
    """Every value given to the writer comes out of `check` as it went in."""
    tables = check_setup(setup_workbook(ENGLISH, IN_ORDER), ProgramFolder(tmp_path)).tables
    for key, rows in IN_ORDER.items():
        read = [row.values for row in tables[key].rows]
        read = [{name: value for row in read for name, value in row.items()}] if key == "program" else read
        written = [
            {name: tuple(v.strip() for v in str(value).split(";")) if name in ("other_places", "substitutes") else value
             for name, value in row.items()}
            for row in rows
        ]  # fmt: skip
        assert read == written, key
