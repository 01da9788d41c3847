"""Fields of the contract → the polars types of the columns that hold their values."""

from __future__ import annotations

from collections.abc import Iterable

import polars as pl

from workbook_tools.contract.model import Field

_DTYPES: dict[str, type[pl.DataType] | pl.DataType] = {
    "text": pl.String,
    "code": pl.String,
    "gtin": pl.String,
    "choice": pl.String,
    "list": pl.List(pl.String),
    "integer": pl.Int64,
    "number": pl.Float64,
    "date": pl.Date,
    "time": pl.Time,
}


def dtype(field: Field) -> type[pl.DataType] | pl.DataType:
    """The polars type of a field's values."""
    return _DTYPES[field.type]


def table_dtypes(fields: Iterable[Field]) -> dict[str, type[pl.DataType] | pl.DataType]:
    """Column key → polars type, for building a table of a block."""
    return {field.key: dtype(field) for field in fields}
