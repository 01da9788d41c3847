"""Columns are defined once: a line in the TOML is a column everywhere, and no key lives anywhere else."""

from __future__ import annotations

import ast
import dataclasses
import datetime as dt
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import get_type_hints

import openpyxl
import pandera.polars as pa
import polars as pl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from tests.contract.conftest import Templates
from tests.contract.source import modules
from tests.program.setups import IN_ORDER, changed, checked, put, with_values
from workbook_tools.contract.dtypes import table_dtypes
from workbook_tools.contract.load import default_contract, templates_from
from workbook_tools.contract.model import Block, Field
from workbook_tools.contract.schema import Failure, block_schema, failures
from workbook_tools.contract.sheets import read_blocks
from workbook_tools.contract.tables import BlockReader
from workbook_tools.contract.words import words_for
from workbook_tools.field_book import layout
from workbook_tools.field_book.build import build, stamp_values
from workbook_tools.program.load import MODELS
from workbook_tools.program.model import Settings
from workbook_tools.program.setup_book import FIRST_ROW, HEADING_ROW, KEY_ROW, setup_workbook

SHADE = '    { key = "shade", type = "choice", choices = "carton", required = true, width = 90, example = "found" },\n'
DUSTY = '    { key = "dusty", type = "integer", minimum = 0, maximum = 9, open = true, width = 60 },\n'
SHADED = changed(items=[{**row, "shade": "found"} for row in IN_ORDER["items"]])


@pytest.fixture
def wider(templates: Templates) -> Iterator[Templates]:
    """A contract with a column more in the setup's items and one more, open, in the field book's positions."""
    after = '    { key = "substitutes", type = "list",    refers = "items.item", width = 220, example = "" },\n'
    templates.edit("setup.toml", after, after + SHADE)
    after = '    { key = "note",       type = "text",    maximum = 1000, open = true, width = 70 },\n'
    templates.edit("field_book.toml", after, after + DUSTY)
    words = '[setup.items]\nshade.heading = "Shade"\nshade.prompt = "Which shade it has."\n'
    templates.edit("words/en.toml", "[setup.items]\n", words)
    words = '[field_book.positions]\ndusty.heading = "Dusty"\ndusty.prompt = "How many are dusty."\n'
    templates.edit("words/en.toml", "[field_book.positions]\n", words)
    with templates_from(templates.folder):
        yield templates


def _prompt(sheet: Worksheet, address: str) -> tuple[str, str]:
    """The title and text of the input prompt of a cell."""
    (found,) = [rule for rule in sheet.data_validations.dataValidation if address in rule.sqref]
    return found.promptTitle, found.prompt


def test_a_column_added_to_the_setup_is_written(wider: Templates) -> None:
    """One line in setup.toml gives a heading, a key, a drop-down with its prompt, and a cell in the example row."""
    sheet = openpyxl.load_workbook(BytesIO(setup_workbook(words_for("en"))))["Items"]
    column = default_contract().setup.block("items").columns["shade"] + 1
    assert sheet.cell(HEADING_ROW + 1, column).value == "Shade *"
    assert sheet.cell(KEY_ROW + 1, column).value == "shade"
    assert sheet.cell(FIRST_ROW + 1, column).value == "found"
    (rule,) = [
        r for r in sheet.data_validations.dataValidation if sheet.cell(FIRST_ROW + 1, column).coordinate in r.sqref
    ]
    assert (rule.type, rule.promptTitle, rule.prompt) == ("list", "Shade", "Which shade it has.")


def test_a_column_added_to_the_setup_is_read_and_validated(wider: Templates, tmp_path: Path) -> None:
    """Its values come out of the table, and blanks and wrong choices are found at their cells."""
    setup = checked(tmp_path, SHADED, put("items", 2, "shade", "fund"), put("items", 3, "shade", None))
    assert [row.values.get("shade") for row in setup.tables["items"].rows] == ["found", "fund", None]
    column = openpyxl.utils.get_column_letter(default_contract().setup.block("items").columns["shade"] + 1)
    assert [(one.rule, one.sheet, one.cell) for one in setup.findings] == [
        ("not_a_choice", "Items", f"{column}6"),
        ("required", "Items", f"{column}7"),
    ]


def test_a_column_added_to_the_field_book_travels(wider: Templates, tmp_path: Path) -> None:
    """One line in field_book.toml gives an open cell with its heading and prompt, and its answer reads back."""
    program = checked(tmp_path, SHADED).program
    assert program is not None
    stamp = build(program, "en", {})
    values = stamp_values(program.stores[0], program, token="t" * 32, revision=1, visit=1)
    book = openpyxl.load_workbook(BytesIO(stamp.render(values)))
    sheet = book["Return"]
    column = default_contract().field_book.block("positions").columns["dusty"] + 1
    row = next(row for row in range(1, 30) if sheet.cell(row, 1).value == "A-1-1")
    assert sheet.cell(layout.HEADING_ROW + 1, column).value == "Dusty"
    assert sheet.cell(layout.KEY_ROW + 1, column).value == "dusty"
    assert not sheet.cell(row, column).protection.locked
    assert _prompt(sheet, sheet.cell(row, column).coordinate) == ("Dusty", "How many are dusty.")
    sheet.cell(row, column).value = 3
    saved = BytesIO()
    book.save(saved)

    (raw,) = read_blocks(saved.getvalue(), ["positions"])
    block = default_contract().field_book.block("positions")
    table = BlockReader(default_contract(), "field_book", "return.xlsx").read(block, raw)
    assert [(line.key, line.values.get("dusty")) for line in table.rows] == [
        ("A-1-1", 3),
        ("A-1-2", None),
        ("A-2-1", None),
    ]


@pytest.mark.parametrize(("form", "block", "key"), [("setup", "items", "shade"), ("field_book", "positions", "dusty")])
def test_an_added_column_is_in_the_schema(wider: Templates, form: str, block: str, key: str) -> None:
    """The pandera schema has the column with its type and its check, and lists what breaks it."""
    contract = default_contract()
    defined: Block = getattr(contract, form).block(block)
    schema = block_schema(contract, defined, {})
    assert isinstance(schema.columns[key], pa.Column)
    wrong = {"shade": "blue", "dusty": 10}[key]
    table = pl.DataFrame([{key: wrong}], schema=table_dtypes(defined.fields))
    assert Failure(0, key, {"shade": "not_a_choice", "dusty": "out_of_range"}[key]) in failures(schema, table)


def test_the_contract_that_ships_has_no_such_column(tmp_path: Path) -> None:
    """What the tests above find comes from the line they add and from nothing else."""
    assert "shade" not in default_contract().setup.block("items").by_key
    assert "dusty" not in default_contract().field_book.block("positions").by_key
    setup = checked(tmp_path, with_values("items", 1, shade="found"))
    assert [row.values.get("shade") for row in setup.tables["items"].rows] == [None] * 3


BLOCKS = {
    f"{form.key} #{block.key}": block
    for form in (default_contract().setup, default_contract().field_book)
    for block in form.blocks
}
WRITE_READ_VALIDATE = (
    "contract/", "program/load.py", "program/checks.py", "program/setup_book.py", "field_book/layout.py",
    "field_book/return_sheet.py", "returns/read.py", "returns/answers.py",
)  # fmt: skip
"""The modules through which every column passes; other code may name the columns that it means."""


@cache
def _listed() -> list[tuple[str, int, frozenset[str]]]:
    """Every list, tuple, set or dict written out in the package: module, line and the texts in it (a dict's keys)."""
    found = []
    for path, tree in modules().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Tuple | ast.List | ast.Set | ast.Dict):
                members = node.keys if isinstance(node, ast.Dict) else node.elts
                texts = [one.value for one in members if isinstance(one, ast.Constant)]
                found.append((path, node.lineno, frozenset(text for text in texts if isinstance(text, str))))
    return found


def test_no_list_of_keys_lives_where_columns_are_written_read_or_validated() -> None:
    """Code through which all columns pass takes them from the contract: it names no three keys of a block."""
    passed = [one for one in _listed() if one[0].startswith(WRITE_READ_VALIDATE)]
    assert len({path for path, *_ in passed}) > 15
    found = [
        (path, line, name)
        for path, line, texts in passed
        for name, block in BLOCKS.items()
        if len(texts & block.by_key.keys()) >= 3
    ]
    assert found == []


def test_no_block_is_listed_whole_anywhere_else() -> None:
    """Nowhere but in the demo's own rows do all keys of a block, or all its open ones, stand in one list."""
    found = []
    for name, block in BLOCKS.items():
        wholes = [set(block.by_key), {field.key for field in block.open_fields}]
        for path, line, texts in _listed():
            if any(len(whole) >= 3 and whole <= texts for whole in wholes) and not path.startswith("demo/"):
                found.append((name, path, line))
    assert found == []


def _holds(field: Field) -> set[object]:
    """The Python types that a model attribute of a field may be declared as."""
    plain = {"integer": int, "number": float, "date": dt.date, "list": tuple[str, ...]}.get(field.type, str)
    return {plain} if field.required or plain in (str, tuple[str, ...]) else {plain | None}  # type: ignore[operator]


@pytest.mark.parametrize(("block", "kind"), [("program", Settings), *MODELS.items()])
def test_the_model_holds_what_the_contract_defines(block: str, kind: type) -> None:
    """Attributes are keys of the block, of its types; what the contract lets be blank has a default."""
    by_key = default_contract().setup.block(block).by_key
    hints = get_type_hints(kind)
    for attribute in dataclasses.fields(kind):
        assert attribute.name in by_key
        assert hints[attribute.name] in _holds(by_key[attribute.name]), attribute.name
        blank = attribute.default is dataclasses.MISSING
        assert blank == by_key[attribute.name].required, attribute.name


def test_every_block_of_the_setup_has_a_model() -> None:
    """No block of the setup is read for nothing."""
    assert {"program", *MODELS} == {block.key for block in default_contract().setup.blocks}
