"""Taking returns in: collected, read in worker processes, placed, then settled batch by batch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import issued_program
from workbook_tools.program.model import Program
from workbook_tools.program.register import Register, read_register
from workbook_tools.returns.across import two_stores_at_once
from workbook_tools.returns.address import Place
from workbook_tools.returns.answers import Answers, Source
from workbook_tools.returns.batches import Batches
from workbook_tools.returns.collect import Candidate, collect
from workbook_tools.returns.corrected import give_way
from workbook_tools.returns.identify import TO_PUT_RIGHT, Identifier
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.kept import Pack, load_kept, rules_digest
from workbook_tools.returns.pieces import Pieces
from workbook_tools.returns.read import ReadReturn
from workbook_tools.returns.repair import Repairs
from workbook_tools.returns.settle import STANDING, TABLES
from workbook_tools.returns.sharing import Sharing
from workbook_tools.returns.validate import get_ready
from workbook_tools.returns.workers import FEW_WORKERS, Reading, Said, begin_reading, readers

PLAIN = Reading()
"""On this machine, whatever was read before."""


@dataclass(frozen=True)
class Intake:
    """Everything the returns of one program say.

    `tables` ("visit", "positions", "parts") hold the answers of every return that has a place in the program,
    with its store, visit, revision, `order` (0, 1, … from a visit's earliest return to the standing one) and
    `standing`, in pieces that hold all returns of a store. `programs` are the revisions as issued, by number;
    `program` is the newest.
    """

    program: Program
    programs: dict[int, Program]
    register: Register
    results: tuple[FileResult, ...]
    tables: dict[str, Pieces]
    photos: int
    fresh: int = 0
    """How many files were read now; the content of all others was read before."""

    def batches(self) -> Iterator[dict[str, pl.DataFrame]]:
        """The tables, piece by piece."""
        for frames in zip(*self.tables.values(), strict=True):
            yield dict(zip(self.tables, frames, strict=True))

    @property
    def findings(self) -> Iterator[Finding]:
        """All findings that still matter: those of standing returns and of files set aside, file by file."""
        for result in self.results:
            if result.outcome in STANDING or result.outcome == "set aside":
                yield from result.findings


def take_in(folder: ProgramFolder, paths: Sequence[Place], words: Words, how: Reading = PLAIN) -> Intake:
    """Take in whatever lies under `paths`.

    Raises FolderError when nothing was issued from the folder yet, or what was issued cannot be read.
    """
    register = read_register(folder.register, words)
    revisions = sorted({book.revision for book in register.books})
    if not revisions:
        raise FolderError(words("messages.nothing_issued", folder=folder.root))
    rules = rules_digest() if how.keep else ""
    known = load_kept(folder.kept_reads, rules) if how.keep else {}
    candidates: list[Candidate] = []
    photos: list[Candidate] = []
    collected = _sorted_out(collect(paths, folder.root), candidates, photos)
    gathered = _Gathered(candidates, known, rules)
    with begin_reading(collected, known.keys(), how) as said:
        programs = {number: _issued_program(folder, number, words) for number in revisions}
        get_ready()
        placing = _Placing(candidates, gathered.reads, programs, register)
        batches = Batches(programs, placing.results, placing.place, early=readers() <= FEW_WORKERS)
        for number in gathered.gather(said):
            if source := placing.place(number):
                batches.add(source)
    if gathered.pack:
        gathered.pack.save(folder.kept_reads, words)
    results = placing.results
    tables = _settled(batches, results)
    give_way(results, gathered.reads)
    newest = programs[max(programs)]
    return Intake(newest, programs, register, tuple(results), tables, len(photos), gathered.fresh)


def _sorted_out(
    collected: Iterable[Candidate], candidates: list[Candidate], photos: list[Candidate]
) -> Iterator[Candidate]:
    """What may be a return, as it is collected; it is put to `candidates`, and what else came to `photos`."""
    for one in collected:
        if one.kind == "photo":
            photos.append(one)
        else:
            candidates.append(one)
            yield one


def _settled(batches: Batches, results: Sequence[FileResult]) -> dict[str, Pieces]:
    """Every return that has a place gets its findings and its outcome; gives the tables."""
    tables = {key: Pieces() for key in TABLES}
    visits: list[Answers] = []
    for of_batch, answers in batches.settled():
        for key, pieces in of_batch.items():
            tables[key].extend(pieces)
        visits += answers
    standing = frozenset(result.number for result in results if result.outcome in STANDING)
    for number, finding in two_stores_at_once(visits, standing):
        results[number].findings.append(finding)
    return tables


class _Gathered:
    """What the candidates say, as far as it is there: `reads`, how many of them were read now, and all of them packed
    once one was. Nothing is packed where there are no `rules`.
    """

    def __init__(self, candidates: Sequence[Candidate], known: Mapping[str, ReadReturn], rules: str) -> None:
        self.reads: list[ReadReturn] = []
        self.fresh = 0
        self.pack: Pack | None = None
        self._candidates, self._known, self._rules = candidates, known, rules
        self._sharing = Sharing()
        self._packed = 0

    def gather(self, said: Iterable[Said]) -> Iterator[int]:
        """The number of each candidate, in order, once what it says is there."""
        for number, one in enumerate(said):
            if isinstance(one, str):
                self.reads.append(self._known[one])
            else:
                self.reads.append(self._sharing.share(one))
                self.fresh += 1
            if self._rules and self.fresh:
                self._pack()
            yield number

    def _pack(self) -> None:
        self.pack = self.pack or Pack(self._rules)
        for number in range(self._packed, len(self.reads)):
            if self._candidates[number].refusal is None:
                self.pack.add(self.reads[number])
        self._packed = len(self.reads)


class _Placing:
    """Says where each return belongs: `results` by number, as far as they are placed."""

    def __init__(
        self,
        candidates: Sequence[Candidate],
        reads: Sequence[ReadReturn],
        programs: Mapping[int, Program],
        register: Register,
    ) -> None:
        self.results: list[FileResult] = []
        self._candidates, self._reads = candidates, reads
        self._newest = max(programs)
        program = programs[self._newest]
        self._identifier = Identifier(program, register, Repairs(program))

    def place(self, number: int) -> Source | None:
        """A return's place in the program; one that has none gets its outcome. Whatever was said of it is forgotten."""
        candidate, read = self._candidates[number], self._reads[number]
        result = FileResult(number, candidate.origin, read.sha256, candidate.received, candidate.sender)
        self.results[number : number + 1] = [result]
        found = self._identifier.identify(number, result.file, read)
        if isinstance(found, Finding):
            result.findings.append(found)
            result.outcome = "to correct" if found.rule in TO_PUT_RIGHT else "set aside"
            result.reason = found
            return None
        result.store, result.visit, result.revision = found.store, found.visit, found.revision
        result.answers, result.correction = read.answers, read.correction
        if found.revision < self._newest:
            result.findings.append(result.finding("earlier_revision", str(found.revision), newest=self._newest))
        return found


def _issued_program(folder: ProgramFolder, number: int, words: Words) -> Program:
    kept = folder.revision(number)
    if program := issued_program(kept):
        return program
    raise FolderError(words("messages.revision_lost", revision=number, folder=kept.root))


def count_outcomes(results: Iterable[FileResult]) -> dict[str, int]:
    """How many files had each outcome, in the contract's order; outcomes that did not occur are 0."""
    counted = dict.fromkeys(default_contract().outcomes, 0)
    for result in results:
        counted[result.outcome] += 1
    return counted
