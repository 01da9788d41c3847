"""Issuing: a book for every store, a row in the register for every book, the program as issued kept for good."""

from __future__ import annotations

import datetime as dt
import secrets
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path
from typing import Any, NamedTuple

from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError, SetupError
from workbook_tools.field_book.build import build, stamp_values
from workbook_tools.field_book.own_books import OwnBook, built
from workbook_tools.field_book.particulars import PLAIN, Particulars
from workbook_tools.field_book.stamp import Stamp
from workbook_tools.folder import ProgramFolder, digests_after, safe_file_name, sha256, write_bytes_whole
from workbook_tools.program.asked import append_asked
from workbook_tools.program.load import issued_program, read_setup
from workbook_tools.program.model import Program, Store
from workbook_tools.program.pictures import Picture, prepare
from workbook_tools.program.register import IssuedBook, Register, append, read_register

PICTURE_BOX = (168, 126)
"""Width and height in pixels that a picture takes up at the most, on any sheet."""
FIRST_VISIT = 1
_BATCH = 64
"""Books that are rendered, then registered, then written; so many are written while as many are rendered."""
_WRITERS = 2
"""Threads that write; Python lets others run meanwhile."""


@dataclass(frozen=True)
class Job:
    """One book to write: for which store (None: the shared book), and what makes it differ from the program's."""

    store: Store | None
    particulars: Particulars = PLAIN

    @property
    def number(self) -> str:
        """The store's number, "" for the shared book."""
        return self.store.store if self.store else ""

    @property
    def is_own(self) -> bool:
        """True for a book that is built for itself alone and not stamped."""
        return self.particulars is not PLAIN


Watch = Callable[[Sequence[Any]], Iterable[Any]]
"""Passes on what it is given, one for every book, and sees how far that has come."""


@dataclass(frozen=True)
class Order:
    """What to issue: all stores, or those named; one shared book instead; when; with what tokens."""

    now: dt.datetime
    stores: tuple[str, ...] = ()
    shared: bool = False
    make_token: Callable[[], str] = lambda: secrets.token_hex(16)
    watch: Watch = iter


@dataclass(frozen=True)
class Issued:
    """What was issued: the program and its revision, the books' register rows, how many of them are new, and (file,
    kept as) of books changed by hand.
    """

    program: Program
    revision: int
    books: tuple[IssuedBook, ...]
    new: int
    kept: tuple[tuple[str, str], ...]

    def lines(self, folder: ProgramFolder, words: Words) -> Iterator[str]:
        """How many books were issued, and how many of them are as before."""
        count = len(self.books)
        yield words("messages.issued", count=count, revision=self.revision, folder=folder.issued)
        if unchanged := count - self.new:
            yield words("messages.issued_unchanged", count=unchanged)

    def kept_lines(self, words: Words) -> Iterator[str]:
        """Where each book that somebody had changed is kept."""
        yield from (words("messages.book_kept", file=file, kept=kept) for file, kept in self.kept)


def issue(folder: ProgramFolder, order: Order, words: Words) -> Issued:
    """Issue the field books of a program folder.

    Raises SetupError when the setup has something that must be mended or a store is not in it, FolderError when
    a file cannot be read or written, BuildError when a book cannot be written as described.
    """
    program = program_to_issue(folder, words)
    stores = chosen(program, order.stores, words)
    jobs = [Job(None)] if order.shared else [Job(store) for store in stores]
    return Desk(folder, program, order, words).issue(jobs)


def program_to_issue(folder: ProgramFolder, words: Words) -> Program:
    """The program as the setup has it now. Raises SetupError when it has something that must be mended."""
    setup = read_setup(folder, words)
    if setup.program is None:
        count = sum(finding.severity == "must mend" for finding in setup.findings)
        raise SetupError(words("messages.setup_must_be_mended", count=count, folder=folder.root))
    return setup.program


def chosen(program: Program, numbers: Sequence[str], words: Words) -> list[Store]:
    """The stores with some numbers, all if there are none, in the order of the setup. Raises SetupError."""
    for number in numbers:
        if number not in program.store:
            raise SetupError(words("messages.no_such_store", store=number))
    return [store for store in program.stores if not numbers or store.store in numbers]


def _revision(folder: ProgramFolder, program: Program, register: Register, words: Words) -> int:
    """The revision this program is issued as: the newest one if nothing has changed since, else a new one, kept."""
    newest = register.newest_revision()
    if newest and issued_program(folder.revision(newest)) == program:
        return newest
    revision = newest + 1
    while folder.revision(revision).root.exists():
        if issued_program(folder.revision(revision)) == program:
            return revision
        revision += 1
    _keep(folder, folder.revision(revision), program, words)
    return revision


def _keep(folder: ProgramFolder, kept: ProgramFolder, program: Program, words: Words) -> None:
    """Copy the setup and the pictures it names to where the revision is kept, whole or not at all."""
    try:
        kept.root.parent.mkdir(parents=True, exist_ok=True)
        beside = ProgramFolder(Path(tempfile.mkdtemp(prefix=".revision-", dir=kept.root.parent)))
        shutil.copyfile(folder.setup, beside.setup)
        beside.images.mkdir()
        for name in program.pictures:
            shutil.copyfile(folder.images / name, beside.images / name)
        beside.root.chmod(0o755)
        beside.root.rename(kept.root)
    except OSError as slip:
        raise FolderError(words("messages.cannot_write", path=kept.root, reason=slip.strerror or slip)) from None


class Desk:
    """Issues books of a program, as the revision that it is or becomes.

    Raises FolderError when a file cannot be read or written.
    """

    def __init__(self, folder: ProgramFolder, program: Program, order: Order, words: Words) -> None:
        self.folder = folder
        self.program = program
        self.register = register = read_register(folder.register, words)
        self.revision = _revision(folder, program, register, words)
        self.order = order
        self.words = words
        self._stamps: dict[str, tuple[Stamp, Callable[[bytes], str]]] = {}
        self._pictures = prepare_pictures(folder, program)
        self._known = {(book.file, book.sha256) for book in register.books}

    def issue(self, jobs: Sequence[Job]) -> Issued:
        """Render, register and write in batches: a book is never on the drive without its row in the register.

        While a batch is written, the next one is rendered.
        """
        books: list[IssuedBook] = []
        kept: list[tuple[str, str]] = []
        new = 0
        plans = [self._planned(job) for job in jobs]
        rendered = zip(self.order.watch(plans), self._rendered(plans), strict=True)
        waiting = (self._book(plan, data) for plan, data in rendered)
        with ThreadPoolExecutor(_WRITERS) as writers:
            writing: list[Future[list[tuple[str, str]]]] = []
            while batch := list(islice(waiting, _BATCH)):
                fresh = [one for one in batch if one.book != one.plan.before]
                self._register(fresh)
                kept += chain.from_iterable(one.result() for one in writing)
                writing = [writers.submit(self._write, one.book, one.data) for one in batch]
                books += [one.book for one in batch]
                new += len(fresh)
            kept += chain.from_iterable(one.result() for one in writing)
        return Issued(self.program, self.revision, tuple(books), new, tuple(kept))

    def _register(self, fresh: Sequence[_Written]) -> None:
        asked = {one.book.token: one.plan.job.particulars.asked for one in fresh}
        known = self.register.asked
        news = {token: one for token, one in asked.items() if one is not None and token not in known}
        append_asked(self.folder.asked, news, self.words)
        append(self.folder.register, [one.book for one in fresh], self.words)

    def _registered(self, job: Job) -> IssuedBook | None:
        """The book of the same visit that was issued last, if it asks for the same."""
        before = self.register.find(job.number, job.particulars.visit, self.revision)
        same = before is not None and self.register.asked.get(before.token) == job.particulars.asked
        return before if same else None

    def _planned(self, job: Job) -> _Plan:
        before = self._registered(job)
        return _Plan(job, before, before.token if before else self.order.make_token())

    def _rendered(self, plans: Sequence[_Plan]) -> Iterator[bytes]:
        """The bytes of each book, in order."""
        own = built(
            [self._own(one) for one in plans if one.job.is_own], {self.revision: (self.program, self._pictures)}
        )
        for one in plans:
            yield next(own) if one.job.is_own else self._stamp(one.job)[0].render(self._values(one))

    def _own(self, plan: _Plan) -> OwnBook:
        job = plan.job
        return OwnBook(self.revision, self._language(job), job.store is None, job.particulars, self._values(plan))

    def _values(self, plan: _Plan) -> dict[str, str]:
        store, visit = plan.job.store, plan.job.particulars.visit
        return stamp_values(store, self.program, token=plan.token, revision=self.revision, visit=visit)

    def _book(self, plan: _Plan, data: bytes) -> _Written:
        job, before, token = plan
        store, visit = job.store, job.particulars.visit
        digest = sha256(data) if job.is_own else self._stamp(job)[1](data)
        if before and before.sha256 == digest:
            return _Written(plan, before, data)
        again = self.words("messages.visit_file", visit=visit) if visit > FIRST_VISIT else ""
        named = job.number or self.words("messages.shared_book")
        name = safe_file_name(self.program.settings.code, named, again, suffix=".xlsx")
        book = IssuedBook(
            store=job.number,
            visit=visit,
            merchandiser=store.merchandiser if store else "",
            token=token,
            revision=self.revision,
            file=self.folder.relative(self.folder.issued / name),
            sha256=digest,
            issued=self.order.now.isoformat(timespec="seconds"),
        )
        return _Written(plan, book, data)

    def _stamp(self, job: Job) -> tuple[Stamp, Callable[[bytes], str]]:
        """The stamp of a store's language, and what gives the sha256 of its books."""
        language = self._language(job)
        if language not in self._stamps:
            stamp = build(self.program, language, self._pictures, shared=job.store is None)
            self._stamps[language] = stamp, digests_after(stamp.shared)
        return self._stamps[language]

    def _language(self, job: Job) -> str:
        return self.program.language_of(job.store) if job.store else self.program.settings.language

    def _write(self, book: IssuedBook, data: bytes) -> list[tuple[str, str]]:
        """Write a book that is not there yet; gives (file, kept as) of one that somebody changed."""
        path = self.folder.root / book.file
        kept = []
        if path.exists():
            before = sha256(path.read_bytes())
            if before == book.sha256:
                return []
            if (book.file, before) not in self._known:
                aside = path.with_name(f"{path.stem} ({before[:8]}){path.suffix}")
                path.replace(aside)
                kept.append((book.file, self.folder.relative(aside)))
        write_bytes_whole(path, data, self.words)
        return kept


class _Plan(NamedTuple):
    """A book to write: the one issued before, if it asks for the same, and its token."""

    job: Job
    before: IssuedBook | None
    token: str


class _Written(NamedTuple):
    plan: _Plan
    book: IssuedBook
    data: bytes


def prepare_pictures(folder: ProgramFolder, program: Program) -> dict[str, Picture]:
    """Every picture the setup names, scaled down for the sheets."""
    made = {name: prepare(folder.images / name, PICTURE_BOX) for name in program.pictures}
    return {name: picture for name, picture in made.items() if isinstance(picture, Picture)}
