"""Since when a flag is open, over returns of several visits."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from workbook_tools.contract.dtypes import table_dtypes
from workbook_tools.contract.load import default_contract
from workbook_tools.rollup.since import with_since

FIRST = dt.date(2026, 3, 2)
WRONG, BLANK, RIGHT, NOT_ASKED = "wrong", "blank", "right", "not asked"
KINDS = {WRONG: "label_mismatch", BLANK: "not_reported"}


def day(visit: int) -> dt.date:
    """Visits are a day apart, the first on FIRST."""
    return FIRST + dt.timedelta(days=visit - 1)


def since_of(story: list[str], store: str = "001") -> dict[tuple[int, str], dt.date]:
    """(visit, kind) → since, of the flags at A-1-1 of one store whose visits told these things of it."""
    book = default_contract().field_book
    place = {"store": pl.String, "visit_number": pl.Int64, "order": pl.Int64, "visit_date": pl.Date}
    common = {"return": pl.UInt32, "broken": pl.String, "settled": pl.String, **place}
    visits, positions, flags = [], [], []
    for number, what in enumerate(story, start=1):
        about = {"return": number, "broken": "", "settled": "", "store": store, "visit_number": number, "order": 0}
        about["visit_date"] = day(number)
        visits.append(about)
        if what != NOT_ASKED:
            label = {WRONG: "Quarnby", RIGHT: "Pellwood"}.get(what)
            positions.append({**about, "key": "A-1-1", "label": label})
        if what in KINDS:
            flags.append({**about, "position": "A-1-1", "kind": KINDS[what]})
    keyed = {**common, "key": pl.String}
    tables = {
        "visit": pl.DataFrame(visits, schema={**table_dtypes(book.block("visit").fields), **common}),
        "positions": pl.DataFrame(positions, schema={**table_dtypes(book.block("positions").fields), **keyed}),
        "parts": pl.DataFrame([], schema={**table_dtypes(book.block("parts").fields), **keyed}),
    }
    shown = pl.DataFrame(flags, schema={**common, "position": pl.String, "kind": pl.String})
    found = with_since(shown, tables)
    assert found.height == len(flags)
    return {(row["visit_number"], row["kind"]): row["since"] for row in found.iter_rows(named=True)}


@pytest.mark.parametrize(
    ("story", "since"),
    [
        ([WRONG], 1),
        ([WRONG, WRONG], 1),
        ([WRONG, BLANK, WRONG], 1),
        ([WRONG, NOT_ASKED, WRONG], 1),
        ([WRONG, BLANK, NOT_ASKED, BLANK, WRONG], 1),
        ([WRONG, RIGHT, WRONG], 3),
        ([RIGHT, WRONG, WRONG], 2),
        ([WRONG, RIGHT, BLANK, WRONG, BLANK, WRONG], 4),
    ],
)
def test_a_flag_is_open_since_the_first_visit_of_those_in_a_row_that_show_it(story: list[str], since: int) -> None:
    """A visit that left the tray blank, or was not asked, does not begin it anew; one that found it right does."""
    assert since_of(story)[len(story), "label_mismatch"] == day(since)


def test_a_blank_tray_is_open_until_something_is_told_there() -> None:
    """Blank, wrong, blank: the second blank is a new one; blank twice is one."""
    found = since_of([BLANK, BLANK, WRONG, BLANK, BLANK])
    assert [found[visit, "not_reported"] for visit in (1, 2, 4, 5)] == [day(1), day(1), day(4), day(4)]


def test_no_returns_have_no_flags() -> None:
    """Empty tables give an empty one."""
    assert since_of([]) == {}
