"""The pandera schemas follow from the contract: types, choices, bounds, patterns and lengths."""

from __future__ import annotations

import polars as pl
import pytest

from workbook_tools.contract.dtypes import dtype, table_dtypes
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block, ChoiceList, Contract, Field
from workbook_tools.contract.schema import Failure, block_schema, failures

CONTRACT = default_contract()
BLOCKS = [*CONTRACT.setup.blocks, *CONTRACT.field_book.blocks]


def _failures(fields: list[Field], rows: list[dict[str, object]], contract: Contract = CONTRACT) -> list[Failure]:
    block = Block(key="it", rows="free", fields=tuple(fields))
    sources = {"brands": ("Pellwood", "Quarnby")}
    return failures(block_schema(contract, block, sources), pl.DataFrame(rows, schema=table_dtypes(fields)))


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.key)
def test_a_block_has_a_schema_of_its_answered_fields(block: Block) -> None:
    """Every field that a person fills in is a column of its type; what the program fills in is not validated."""
    schema = block_schema(CONTRACT, block, {})
    assert list(schema.columns) == [field.key for field in block.answered_fields]
    for field in block.answered_fields:
        assert pl.DataFrame(schema={field.key: dtype(field)}).schema[field.key] == schema.columns[field.key].dtype.type
        assert schema.columns[field.key].nullable


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.key)
def test_a_blank_row_passes(block: Block) -> None:
    """Whether a blank matters is for the rules across columns: the schema lets it pass, in a table of any block."""
    table = pl.DataFrame([{}], schema=table_dtypes(block.fields))
    assert failures(block_schema(CONTRACT, block, {}), table) == []


@pytest.mark.parametrize(
    ("field", "right", "wrong", "rule"),
    [
        (Field(key="x", type="integer", minimum=1), [1, 2, 10**15], [0, -1], "out_of_range"),
        (Field(key="x", type="integer", maximum=9), [9, -9], [10], "out_of_range"),
        (Field(key="x", type="number", minimum=-90, maximum=90), [-90.0, 90.0], [-90.5, 90.0001], "out_of_range"),
        (Field(key="x", type="number", above=0), [0.001, 5.0], [0.0, -1.0], "out_of_range"),
        (Field(key="x", type="choice", choices="built"), ["yes", "partly", "no"], ["Yes", " no"], "not_a_choice"),
        (Field(key="x", type="choice", choices="label"), ["Pellwood", "no label"], ["Rusholt"], "not_a_choice"),
        (Field(key="x", type="text", maximum=3), ["", "abc", "\u00e9" * 3, "\U0001f9e9" * 3], ["abcd"], "too_long"),
        (Field(key="x", type="code", maximum=2), ["00"], ["000"], "too_long"),
        (Field(key="x", type="code", pattern="[A-Z]"), ["A"], ["a", "AB", "\u00c4", "A\n", ""], "pattern"),
        (Field(key="x", type="code", pattern="a|bc"), ["a", "bc"], ["ac", "abc"], "pattern"),
    ],
)  # fmt: skip
def test_what_the_contract_does_not_allow_is_listed(
    field: Field, right: list[object], wrong: list[object], rule: str
) -> None:
    """Bounds are inclusive, `above` is not; lengths count characters; a pattern has to match wholly."""
    found = _failures([field], [{"x": value} for value in [*right, None, *wrong]])
    assert found == [Failure(len(right) + 1 + number, "x", rule) for number in range(len(wrong))]


def test_a_free_choice_takes_any_text() -> None:
    """What is only offered is not held against anyone."""
    assert _failures([Field(key="x", type="choice", choices="built", free=True)], [{"x": "almost"}]) == []


def test_all_failures_come_in_one_pass_row_by_row() -> None:
    """One column that is wrong hides no other, and a value that breaks a rule is listed once."""
    fields = [
        Field(key="a", type="integer", minimum=1, maximum=9),
        Field(key="b", type="choice", choices="built"),
        Field(key="c", type="text", maximum=3, pattern="[a-z]*"),
    ]
    rows: list[dict[str, object]] = [
        {"a": 0, "b": "maybe", "c": "ABCD"},
        {"a": 5, "b": "yes", "c": "abc"},
        {"a": 10, "b": "no", "c": None},
    ]
    assert _failures(fields, rows) == [
        (0, "a", "out_of_range"), (0, "b", "not_a_choice"), (0, "c", "pattern"), (0, "c", "too_long"),
        (2, "a", "out_of_range"),
    ]  # fmt: skip


def test_a_choice_comes_from_the_program_and_from_the_list() -> None:
    """The program's entries stand before the fixed ones."""
    choices = ChoiceList(key="label", keys=("no label",), source="brands")
    assert choices.options({"brands": ("Pellwood",), "stores": ("1",)}) == ("Pellwood", "no label")
    assert choices.options({}) == ("no label",)


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.key)
def test_every_pattern_of_the_contract_can_be_checked(block: Block) -> None:
    """Polars matches with other rules than Python (no looking ahead or back): what ships works in both."""
    for field in block.fields:
        if field.pattern:
            assert _failures([field], [{field.key: "\u2603"}]) == [(0, field.key, "pattern")]
