"""A reader that remembers rows says what one says that reads every row afresh."""

from __future__ import annotations

import datetime as dt

from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.contract import tables
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.sheets import RawBlock
from workbook_tools.contract.tables import BlockReader, RowMemory, Table

BLOCK = default_contract().field_book.block("positions")
CELLS = st.sampled_from(["", "yes", " yes", "on tray", 1.0, True, 0.0, False, 3.5, "7,5", "٣", dt.date(2026, 3, 2)])
ROWS = st.lists(st.tuples(st.sampled_from(["A-1-1", "A-1-2", 1.0, True, ""]), *([CELLS] * 4)), max_size=6)
LAYOUTS = st.sampled_from(
    [{"as_planned": 1, "tag": 2, "units": 3, "note": 4}, {"units": 1, "as_planned": 2, "tag": 3, "note": 4}]
)
SHEETS = st.lists(st.tuples(LAYOUTS, ROWS, st.sampled_from(["en", "es"]), st.booleans()), min_size=1, max_size=5)


def read(
    layout: dict[str, int], rows: list[tuple[object, ...]], about: tuple[str, bool], memory: RowMemory | None
) -> Table:
    """The table that some cells make."""
    language, from_1904 = about
    body = tuple(enumerate(rows, start=3))
    raw = RawBlock("positions", "Return", 2, layout, body, counts_from_1904=from_1904)
    return BlockReader(default_contract(), "field_book", "", language, memory).read(BLOCK, raw)


def exactly(table: Table) -> list[object]:
    """All a table says, with the types of its values: 1 and True are equal, and not the same."""
    rows = [
        (row.number, row.key, sorted((k, repr(v)) for k, v in row.values.items()), row.broken) for row in table.rows
    ]
    return [*rows, *table.findings]


@given(SHEETS)
def test_what_is_remembered_is_what_would_be_read(
    sheets: list[tuple[dict[str, int], list[tuple[object, ...]], str, bool]],
) -> None:
    """Whatever sheets were read before, in whatever layout and language."""
    memory = RowMemory()
    for _ in range(2):
        for layout, rows, language, from_1904 in sheets:
            about = (language, from_1904)
            assert exactly(read(layout, rows, about, memory)) == exactly(read(layout, rows, about, None))


def test_the_memory_stays_small() -> None:
    """After so many different rows it begins anew."""
    memory = RowMemory()
    layout = {"note": 1}
    for start in range(0, 3 * tables.MOST_REMEMBERED, tables.MOST_REMEMBERED // 4):
        rows = [("A-1-1", f"note {start + number}") for number in range(tables.MOST_REMEMBERED // 4)]
        read(layout, rows, ("en", False), memory)
        held = memory.of("field_book", BLOCK, RawBlock("positions", "Return", 2, layout, ()), "en")
        assert len(held) <= 2 * tables.MOST_REMEMBERED
