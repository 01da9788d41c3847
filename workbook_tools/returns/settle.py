"""All returns of some stores: validated together, put in order and judged, their answers laid down as tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence

import polars as pl

from workbook_tools.contract.findings import Finding
from workbook_tools.returns.across import two_people_one_visit
from workbook_tools.returns.answers import RETURN, Answers, Source
from workbook_tools.returns.judge import FileResult, judge, order_of
from workbook_tools.returns.repair import Repairs
from workbook_tools.returns.validate import validate

STANDING = frozenset(("merged", "to correct"))
"""Outcomes of the returns whose answers count."""
TABLES = ("visit", "positions", "parts")
_KNOWN = {
    RETURN: pl.UInt32,
    "store": pl.String,
    "visit_number": pl.Int64,
    "revision": pl.Int64,
    "order": pl.Int64,
    "standing": pl.Boolean,
    "file": pl.String,
}
"""What is known of each return beside its answers."""


def settle(
    batch: Sequence[Source], repairs: Mapping[int, Repairs], results: Sequence[FileResult]
) -> tuple[list[Answers], dict[str, pl.DataFrame]]:
    """Give every return of a batch its findings and its outcome in `results`, which are numbered as the returns are.

    `repairs` are those of the programs by revision. Gives the answers of each revision, and the tables of
    intake.Intake.
    """
    answers = _validated(batch, repairs, results)
    _order(results, answers)
    judge(results[source.number] for source in batch)
    earlier = frozenset(one.number for one in batch if results[one.number].outcome == "superseded")
    for number, finding in two_people_one_visit(answers, earlier):
        results[number].findings.append(finding)
    return answers, _tables(answers, [results[source.number] for source in batch])


def _validated(
    sources: Sequence[Source], repairs: Mapping[int, Repairs], results: Sequence[FileResult]
) -> list[Answers]:
    """The answers of each revision, validated; findings go to their files. At least one, which may be empty."""
    every = []
    for revision in sorted({source.revision for source in sources}):
        of_revision = [source for source in sources if source.revision == revision]
        answers = Answers(of_revision)
        for number, finding in validate(answers, repairs[revision]):
            results[number].findings.append(finding)
        every.append(answers)
    return every or [Answers(())]


def _order(results: Sequence[FileResult], answers: Sequence[Answers]) -> None:
    """What sorts the returns of a visit; a blank return keeps one finding only."""
    for table in answers:
        for row in table.tables["visit"].iter_rows(named=True):
            result, read = results[row[RETURN]], table.sources[row[RETURN]].read
            about = {"saved": read.saved, "received": result.received, "file": result.file}
            result.order = order_of(row, told=read.told, correction=read.correction, **about)
            if not read.told and "block_lost" not in {one.rule for one in result.findings}:
                result.findings = [result.finding("blank_return")]
            elif late := _late(result, row["visit_date"]):
                result.findings.append(late)


def _late(result: FileResult, visited: dt.date | None) -> Finding | None:
    """A visit later than the file itself; a day is allowed for time zones."""
    received = result.received[:10]
    if not visited or not received or visited - dt.date.fromisoformat(received) <= dt.timedelta(days=1):
        return None
    rule = "after_received" if result.sender else "after_saved"
    return result.finding(rule, visited.isoformat(), received=received)


def _tables(answers: Sequence[Answers], results: Sequence[FileResult]) -> dict[str, pl.DataFrame]:
    """The tables of all revisions, one under another, with what is known of each return beside its answers."""
    known = pl.DataFrame(list(_places(results)), schema=_KNOWN, orient="row")
    made = {}
    for key in TABLES:
        tables = pl.concat([one.tables[key] for one in answers]).drop("store", strict=False)
        made[key] = tables.join(known if key == "visit" else known.drop("file"), on=RETURN, how="inner")
    return made


def _places(results: Sequence[FileResult]) -> Iterator[tuple[object, ...]]:
    """A row of _KNOWN for every return that is no duplicate, the earliest of a visit first."""
    counts: dict[tuple[str, int | None], int] = {}
    for one in sorted((one for one in results if one.order and one.outcome != "duplicate"), key=lambda one: one.order):
        place = (one.store, one.visit)
        counts[place] = counts.get(place, -1) + 1
        yield (one.number, one.store, one.visit, one.revision, counts[place], one.outcome in STANDING, one.file)
