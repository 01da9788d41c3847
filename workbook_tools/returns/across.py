"""Rules across the returns of different stores: what no single return can show."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.values import plain_form
from workbook_tools.returns.answers import RETURN, Answers, Source

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


def two_people_one_visit(answers: Iterable[Answers], earlier: frozenset[int]) -> Iterator[tuple[int, Finding]]:
    """A visit that another person reported before, said at the standing return: (file number, finding).

    `earlier` are the returns whose place a later one took; those in which nothing was filled in do not count.
    """
    said = [
        (table.sources[row[RETURN]], row["merchandiser"], table)
        for table in answers
        for row in table.tables["visit"].iter_rows(named=True)
        if row["merchandiser"] is not None and table.sources[row[RETURN]].read.told
    ]
    others: dict[tuple[str, int], list[tuple[Source, str]]] = {}
    for source, person, _ in said:
        if source.number in earlier:
            others.setdefault((source.store, source.visit), []).append((source, person))
    for source, person, table in said:
        if source.number in earlier:
            continue
        for before, other in others.get((source.store, source.visit), ()):
            if plain_form(other) != plain_form(person):
                about = {"value": person, "other": other, "first": before.file}
                rule, field = "two_people_one_visit", "merchandiser"
                yield source.number, table.finding(rule, source.number, "visit", field, field, **about)
