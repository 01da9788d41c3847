"""Rules across the returns of different stores: what no single return can show."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from workbook_tools.contract.findings import Finding
from workbook_tools.returns.answers import RETURN, Answers

_NEEDED = ("merchandiser", "visit_date", "time_in", "time_out")


def two_stores_at_once(answers: Iterable[Answers], standing: frozenset[int]) -> Iterator[tuple[int, Finding]]:
    """A person who was in two stores at the same time, said at the later visit's time in: (file number, finding)."""
    visits = [
        (str(row["merchandiser"]), row["visit_date"], row["time_in"], row["time_out"], row[RETURN], table)
        for table in answers
        for row in table.tables["visit"].iter_rows(named=True)
        if row[RETURN] in standing and all(row[name] is not None for name in _NEEDED)
    ]
    visits.sort(key=lambda visit: visit[:5])
    for (person, _), days in groupby(visits, key=lambda visit: visit[:2]):
        last = None
        for visit in days:
            _, _, time_in, time_out, number, table = visit
            if last and time_in < last[0] and table.sources[number].store != last[1]:
                about = {"value": f"{time_in:%H:%M}", "merchandiser": person, "other": last[1]}
                yield number, table.finding("two_stores_at_once", number, "visit", "time_in", "time_in", **about)
            if last is None or time_out > last[0]:
                last = (time_out, table.sources[number].store)
