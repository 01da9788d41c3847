"""The limits of single values are the limits of the schemas: a cell of a setup is judged like an answer of a return."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.contract.dtypes import table_dtypes
from workbook_tools.contract.limits import limit_of
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block, Field
from workbook_tools.contract.schema import block_schema, failures

CONTRACT = default_contract()
SOURCES = {"brands": ("Pellwood", "Quarnby")}
BOUND = st.one_of(st.none(), st.integers(-5, 5))
NUMBERS = st.one_of(st.integers(-7, 7), st.floats(-7, 7, allow_nan=False))
TEXTS = st.text(alphabet="aA1é\n ", max_size=4)


def _by_schema(field: Field, value: object) -> list[str]:
    block = Block(key="it", rows="free", fields=(field,))
    table = pl.DataFrame([{"x": value}], schema=table_dtypes([field]))
    return sorted(failure.rule for failure in failures(block_schema(CONTRACT, block, SOURCES), table))


def _by_limit(field: Field, value: object) -> list[str]:
    judge = limit_of(CONTRACT, field, SOURCES)
    return sorted(judge(value)) if judge else []


@given(BOUND, BOUND, BOUND, NUMBERS)
def test_bounds_are_judged_alike(low: int | None, high: int | None, above: int | None, value: float) -> None:
    """Any bounds, any number: the same values are outside."""
    field = Field(key="x", type="number", minimum=low, maximum=high, above=above)
    assert bool(_by_limit(field, float(value))) == bool(_by_schema(field, float(value)))


@given(st.sampled_from(["", "[A-Z]", "a|1a", "a*", "[^a]+"]), st.one_of(st.none(), st.integers(0, 3)), TEXTS)
def test_texts_are_judged_alike(pattern: str, longest: int | None, value: str) -> None:
    """Any text against any of these patterns and lengths breaks the same rules, both when it breaks both."""
    field = Field(key="x", type="code", pattern=pattern, maximum=longest)
    assert _by_limit(field, value) == _by_schema(field, value)


@pytest.mark.parametrize("choices", ["label", "built", "place"])
@pytest.mark.parametrize("value", ["Pellwood", "no label", "yes", "Yes", "elsewhere", ""])
def test_choices_are_judged_alike(choices: str, value: str) -> None:
    """What a drop-down offers passes, the program's lists included; nothing else does."""
    field = Field(key="x", type="choice", choices=choices)
    assert _by_limit(field, value) == _by_schema(field, value)


@pytest.mark.parametrize("kind", ["text", "gtin", "list", "date", "time"])
def test_a_field_without_limits_has_none(kind: str) -> None:
    """Nothing is asked of what the contract leaves free."""
    assert limit_of(CONTRACT, Field(key="x", type=kind), {}) is None  # type: ignore[arg-type]


def test_a_free_choice_has_no_limit() -> None:
    """Choices that are offered only do not refuse another text."""
    assert limit_of(CONTRACT, Field(key="x", type="choice", choices="merchandiser", free=True), {}) is None
