"""Displays that stand and stores done, day by day: as each merge counted them, before the first by day of visit."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import polars as pl

from workbook_tools.rollup.history import HistoryRow
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.totals import built_stores


class CurvePoint(NamedTuple):
    """How many displays stood and how many stores were done on the evening of a day; None where nobody knows."""

    day: dt.date
    built: int | None
    done: int | None


def curve(facts: Facts, history: Sequence[HistoryRow]) -> list[CurvePoint]:
    """The points in the order of their days.

    Before the first merge nobody counted. There, the stores of which it is known today count from the day of their
    visit: the first one for a display that stands, the last one for a store that is done; never more of them than the
    first merge counted, for the returns of some came later.
    """
    merged = [CurvePoint(row.as_of, row.counts.get("built"), row.counts.get("done")) for row in history]
    first = merged[0] if merged else CurvePoint(facts.as_of, None, None)
    return [*_by_visit(facts, first), *merged]


def _by_visit(facts: Facts, first: CurvePoint) -> Iterator[CurvePoint]:
    built = sorted(day for day in built_stores(facts).values() if day is not None)
    last = facts.status.filter(pl.col("state") == "done")["visit_date"]
    done = sorted(day for day in last if day is not None)
    for day in sorted({*built, *done}):
        if day < first.day:
            yield CurvePoint(day, _until(built, day, first.built), _until(done, day, first.done))


def _until(days: Sequence[dt.date], day: dt.date, most: int | None) -> int:
    count = bisect_right(days, day)
    return count if most is None else min(count, most)
