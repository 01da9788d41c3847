"""Blocks of the contract → pandera schemas for the tables read from them.

pandera takes half a second to load, so this is loaded only where something is validated.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

import pandera.polars as pa
import polars as pl

from workbook_tools.contract.dtypes import dtype
from workbook_tools.contract.model import Block, Contract, Field


def block_schema(contract: Contract, block: Block, sources: Mapping[str, tuple[str, ...]]) -> pa.DataFrameSchema:
    """The schema of a table whose columns are the block's answered fields.

    Each check's name is the rule it stands for (`not_a_choice`, `out_of_range`, `too_long`, `pattern`). Blank
    cells are null and pass: whether a blank matters is for the rules across columns.
    """
    columns = {
        f.key: pa.Column(dtype(f), checks=_checks(contract, f, sources), nullable=True) for f in block.answered_fields
    }
    return pa.DataFrameSchema(columns, strict=False)


def _checks(contract: Contract, field: Field, sources: Mapping[str, tuple[str, ...]]) -> list[pa.Check]:
    if field.type == "choice" and not field.free:
        options = contract.choices[field.choices].options(dict(sources))
        return [pa.Check.isin(options, name="not_a_choice")]
    if field.type in ("integer", "number"):
        return list(_range_checks(field))
    checks = []
    if field.maximum is not None and field.type in ("text", "code"):
        checks.append(pa.Check.str_length(max_value=int(field.maximum), name="too_long"))
    if field.pattern:
        checks.append(pa.Check.str_matches(f"^(?:{field.pattern})$", name="pattern"))
    return checks


def _range_checks(field: Field) -> Iterable[pa.Check]:
    if field.minimum is not None:
        yield pa.Check.ge(field.minimum, name="out_of_range")
    if field.maximum is not None:
        yield pa.Check.le(field.maximum, name="out_of_range")
    if field.above is not None:
        yield pa.Check.gt(field.above, name="out_of_range")


class Failure(NamedTuple):
    """One value that the contract does not allow: 0-based row in the table, column key, name of the rule."""

    row: int
    column: str
    rule: str


def failures(schema: pa.DataFrameSchema, table: pl.DataFrame) -> list[Failure]:
    """Validate a table of clean types in one pass and list every value that breaks a rule, row by row."""
    try:
        schema.validate(table, lazy=True)
    except pa.errors.SchemaErrors as found:
        cases = found.failure_cases.select("index", "column", "check_number").iter_rows()
        rules = {name: [check.name for check in column.checks] for name, column in schema.columns.items()}
        return sorted(Failure(row, column, rules[column][number]) for row, column, number in cases)
    return []
