"""Taking returns in: collected, read in worker processes, placed, validated together, judged."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import issued_program
from workbook_tools.program.model import Program
from workbook_tools.program.register import Register, read_register
from workbook_tools.returns.across import two_people_one_visit, two_stores_at_once
from workbook_tools.returns.answers import RETURN, Answers, Source
from workbook_tools.returns.collect import Candidate, collect
from workbook_tools.returns.identify import TO_PUT_RIGHT, Identifier
from workbook_tools.returns.judge import FileResult, judge, order_of
from workbook_tools.returns.kept import load_kept, rules_digest, save_kept
from workbook_tools.returns.read import ReadReturn
from workbook_tools.returns.repair import Repairs
from workbook_tools.returns.validate import validate
from workbook_tools.returns.workers import Reading, read_all

PLAIN = Reading()
"""On this machine, whatever was read before."""
STANDING = frozenset(("merged", "to correct"))
"""Outcomes of the returns whose answers count."""


@dataclass(frozen=True)
class Intake:
    """Everything the returns of one program say.

    `tables` ("visit", "positions", "parts") hold the answers of every return that has a place in the program,
    with its store, visit, revision, `order` (0, 1, … from a visit's earliest return to the standing one) and
    `standing`. `programs` are the revisions as issued, by number; `program` is the newest.
    """

    program: Program
    programs: dict[int, Program]
    register: Register
    results: tuple[FileResult, ...]
    tables: dict[str, pl.DataFrame]
    photos: int
    fresh: int = 0
    """How many files were read now; the content of all others was read before."""

    @property
    def findings(self) -> Iterator[Finding]:
        """All findings that still matter: those of standing returns and of files set aside, file by file."""
        for result in self.results:
            if result.outcome in STANDING or result.outcome == "set aside":
                yield from result.findings


def take_in(folder: ProgramFolder, paths: Sequence[Path], words: Words, how: Reading = PLAIN) -> Intake:
    """Take in whatever lies under `paths`.

    Raises FolderError when nothing was issued from the folder yet, or what was issued cannot be read.
    """
    register = read_register(folder.register, words)
    revisions = sorted({book.revision for book in register.books})
    programs = {number: _issued_program(folder, number, words) for number in revisions}
    if not programs:
        raise FolderError(words("messages.nothing_issued", folder=folder.root))
    newest = max(programs)
    program = programs[newest]
    collected = list(collect(paths, folder.root))
    candidates = [one for one in collected if one.kind != "photo"]
    reads, fresh = _read(folder, candidates, words, how)
    identifier = Identifier(program, register, Repairs(program))
    results = [_result(number, one, read) for number, (one, read) in enumerate(zip(candidates, reads, strict=True))]
    sources = [_place(result, read, identifier, newest) for result, read in zip(results, reads, strict=True)]
    answers = _validated([source for source in sources if source], programs, results)
    _order(results, answers, reads)
    judge(results)
    standing = frozenset(result.number for result in results if result.outcome in STANDING)
    earlier = frozenset(result.number for result in results if result.outcome == "superseded")
    for number, finding in (*two_stores_at_once(answers, standing), *two_people_one_visit(answers, earlier)):
        results[number].findings.append(finding)
    photos = len(collected) - len(candidates)
    return Intake(program, programs, register, tuple(results), _tables(answers, results), photos, fresh)


def _read(
    folder: ProgramFolder, candidates: Sequence[Candidate], words: Words, how: Reading
) -> tuple[list[ReadReturn], int]:
    """What every candidate says, and how many had to be read for that."""
    rules = rules_digest() if how.keep else ""
    known = load_kept(folder.kept_reads, rules) if how.keep else {}
    reads, fresh = read_all(candidates, known, how)
    if how.keep and fresh:
        by_content = (read for one, read in zip(candidates, reads, strict=True) if one.refusal is None)
        save_kept(folder.kept_reads, rules, by_content, words)
    return reads, fresh


def _issued_program(folder: ProgramFolder, number: int, words: Words) -> Program:
    kept = folder.revision(number)
    if program := issued_program(kept):
        return program
    raise FolderError(words("messages.revision_lost", revision=number, folder=kept.root))


def _result(number: int, candidate: Candidate, read: ReadReturn) -> FileResult:
    return FileResult(number, candidate.origin, read.sha256, candidate.received, candidate.sender)


def _place(result: FileResult, read: ReadReturn, identifier: Identifier, newest: int) -> Source | None:
    """Say where a return belongs; one that has no place gets its outcome here."""
    found = identifier.identify(result.number, result.file, read)
    if isinstance(found, Finding):
        result.findings.append(found)
        result.outcome = "to correct" if found.rule in TO_PUT_RIGHT else "set aside"
        result.reason = found
        return None
    result.store, result.visit, result.revision = found.store, found.visit, found.revision
    result.answers = read.answers
    if found.revision < newest:
        rule = "earlier_revision"
        about = {"newest": newest}
        result.findings.append(_about(result, rule, str(found.revision), about))
    return found


def _about(result: FileResult, rule: str, value: str = "", fields: Mapping[str, object] | None = None) -> Finding:
    severity = default_contract().rules[rule]
    return Finding(rule=rule, severity=severity, file=result.file, store=result.store, value=value, fields=fields or {})


def _validated(sources: list[Source], programs: dict[int, Program], results: list[FileResult]) -> list[Answers]:
    """The answers of each revision, validated; findings go to their files."""
    every = []
    for revision in sorted({source.revision for source in sources}):
        of_revision = [source for source in sources if source.revision == revision]
        answers = Answers(of_revision)
        for source in of_revision:
            found = (dataclasses.replace(one, file=source.file, store=source.store) for one in source.read.findings)
            results[source.number].findings += found
        for number, finding in validate(answers, programs[revision]):
            results[number].findings.append(finding)
        every.append(answers)
    return every


def _order(results: list[FileResult], answers: list[Answers], reads: Sequence[ReadReturn]) -> None:
    """What sorts the returns of a visit; a blank return keeps one finding only."""
    for table in answers:
        for row in table.tables["visit"].iter_rows(named=True):
            result, read = results[row[RETURN]], reads[row[RETURN]]
            about = {"saved": read.saved, "received": result.received, "file": result.file}
            result.order = order_of(row, told=read.told, correction=read.correction, **about)
            if not read.told:
                result.findings = [_about(result, "blank_return")]
            elif late := _late(result, row["visit_date"]):
                result.findings.append(late)


def _late(result: FileResult, visited: dt.date | None) -> Finding | None:
    """A visit later than the file itself; a day is allowed for time zones."""
    received = result.received[:10]
    if not visited or not received or visited <= dt.date.fromisoformat(received) + dt.timedelta(days=1):
        return None
    rule = "after_received" if result.sender else "after_saved"
    return _about(result, rule, visited.isoformat(), {"received": received})


def _tables(answers: list[Answers], results: list[FileResult]) -> dict[str, pl.DataFrame]:
    """The tables of all revisions, one under another, with what is known of each return beside its answers."""
    placed = sorted((one for one in results if one.order), key=lambda one: one.order)
    counts: dict[tuple[str, int | None], int] = {}
    rows = []
    for one in placed:
        if one.outcome == "duplicate":
            continue
        place = (one.store, one.visit)
        counts[place] = counts.get(place, -1) + 1
        rows.append((one.number, one.store, one.visit, one.revision, counts[place], one.outcome in STANDING, one.file))
    schema = {
        RETURN: pl.UInt32,
        "store": pl.String,
        "visit_number": pl.Int64,
        "revision": pl.Int64,
        "order": pl.Int64,
        "standing": pl.Boolean,
        "file": pl.String,
    }
    known = pl.DataFrame(rows, schema=schema, orient="row")
    renamed = {key: [one.tables[key] for one in answers] for key in ("visit", "positions", "parts")}
    empty = Answers(())
    return {
        key: pl.concat(tables or [empty.tables[key]]).drop("store", strict=False).join(known, on=RETURN, how="inner")
        for key, tables in renamed.items()
    }


def count_outcomes(results: Iterable[FileResult]) -> dict[str, int]:
    """How many files had each outcome, in the contract's order; outcomes that did not occur are 0."""
    counted = dict.fromkeys(default_contract().outcomes, 0)
    for result in results:
        counted[result.outcome] += 1
    return counted
