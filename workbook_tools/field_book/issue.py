"""Issuing: a book for every store, a row in the register for every book, the program as issued kept for good."""

from __future__ import annotations

import datetime as dt
import secrets
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError, SetupError
from workbook_tools.field_book.build import build, stamp_values
from workbook_tools.field_book.stamp import Stamp
from workbook_tools.folder import ProgramFolder, digests_after, safe_file_name, sha256, write_bytes_whole
from workbook_tools.program.load import check_setup, read_setup
from workbook_tools.program.model import Program, Store
from workbook_tools.program.pictures import Picture, prepare
from workbook_tools.program.register import IssuedBook, Register, append, read_register

PICTURE_BOX = (168, 126)
"""Width and height in pixels that a picture takes up at the most, on any sheet."""
FIRST_VISIT = 1
_BATCH = 64
"""Books in memory at once: rendered, then registered, then written."""

Watch = Callable[[Sequence["Store | None"]], Iterable["Store | None"]]


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
    """What was issued: the program and its revision, the books' register rows, and (file, kept as) of books changed
    by hand.
    """

    program: Program
    revision: int
    books: tuple[IssuedBook, ...]
    new: int
    kept: tuple[tuple[str, str], ...]


def issue(folder: ProgramFolder, order: Order, words: Words) -> Issued:
    """Issue the field books of a program folder.

    Raises SetupError when the setup has something that must be mended or a store is not in it, FolderError when
    a file cannot be read or written, BuildError when a book cannot be written as described.
    """
    setup = read_setup(folder, words)
    program = setup.program
    if program is None:
        count = sum(finding.severity == "must mend" for finding in setup.findings)
        raise SetupError(words("messages.setup_must_be_mended", count=count, folder=folder.root))
    stores = _chosen(program, order.stores, words)
    register = read_register(folder.register, words)
    revision = _revision(folder, program, register, words)
    desk = _Desk(folder, program, register, revision, order, words)
    return desk.issue([None] if order.shared else stores)


def _chosen(program: Program, numbers: tuple[str, ...], words: Words) -> list[Store]:
    for number in numbers:
        if number not in program.store:
            raise SetupError(words("messages.no_such_store", store=number))
    return [store for store in program.stores if not numbers or store.store in numbers]


def _revision(folder: ProgramFolder, program: Program, register: Register, words: Words) -> int:
    """The revision this program is issued as: the newest one if nothing has changed since, else a new one, kept."""
    newest = register.newest_revision()
    kept = folder.revision(newest)
    if newest and kept.setup.is_file():
        before = check_setup(kept.setup.read_bytes(), kept).program
        if before == program:
            return newest
    revision = newest + 1
    while folder.revision(revision).root.exists():
        if check_setup(folder.revision(revision).setup.read_bytes(), folder.revision(revision)).program == program:
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


class _Desk:
    """Issues the books of one revision."""

    def __init__(
        self, folder: ProgramFolder, program: Program, register: Register, revision: int, order: Order, words: Words
    ) -> None:
        self.folder = folder
        self.program = program
        self.register = register
        self.revision = revision
        self.order = order
        self.words = words
        self._stamps: dict[str, tuple[Stamp, Callable[[bytes], str]]] = {}
        self._pictures = prepare_pictures(folder, program)
        self._known = {(book.file, book.sha256) for book in register.books}

    def issue(self, stores: Sequence[Store | None]) -> Issued:
        """Render, register and write in batches: a book is never on the drive without its row in the register."""
        books: list[IssuedBook] = []
        kept: list[tuple[str, str]] = []
        new = 0
        waiting = iter(self.order.watch(stores))
        while batch := [self._book(store) for store in islice(waiting, _BATCH)]:
            fresh = [book for book, _ in batch if book != self._before(book.store)]
            append(self.folder.register, fresh, self.words)
            for book, data in batch:
                kept += self._write(book, data)
            books += [book for book, _ in batch]
            new += len(fresh)
        return Issued(self.program, self.revision, tuple(books), new, tuple(kept))

    def _before(self, number: str) -> IssuedBook | None:
        return self.register.find(number, FIRST_VISIT, self.revision)

    def _book(self, store: Store | None) -> tuple[IssuedBook, bytes]:
        number = store.store if store else ""
        before = self._before(number)
        token = before.token if before else self.order.make_token()
        values = stamp_values(store, self.program, token=token, revision=self.revision, visit=FIRST_VISIT)
        stamp, digest_of = self._stamp(store)
        data = stamp.render(values)
        digest = digest_of(data)
        if before and before.sha256 == digest:
            return before, data
        name = safe_file_name(self.program.settings.code, number or self.words("messages.shared_book"), suffix=".xlsx")
        book = IssuedBook(
            store=number,
            visit=FIRST_VISIT,
            merchandiser=store.merchandiser if store else "",
            token=token,
            revision=self.revision,
            file=self.folder.relative(self.folder.issued / name),
            sha256=digest,
            issued=self.order.now.isoformat(timespec="seconds"),
        )
        return book, data

    def _stamp(self, store: Store | None) -> tuple[Stamp, Callable[[bytes], str]]:
        """The stamp of a store's language, and what gives the sha256 of its books."""
        language = self.program.language_of(store) if store else self.program.settings.language
        if language not in self._stamps:
            stamp = build(self.program, language, self._pictures, shared=store is None)
            self._stamps[language] = stamp, digests_after(stamp.shared)
        return self._stamps[language]

    def _write(self, book: IssuedBook, data: bytes) -> Iterator[tuple[str, str]]:
        path = self.folder.root / book.file
        if path.exists():
            before = sha256(path.read_bytes())
            if before == book.sha256:
                return
            if (book.file, before) not in self._known:
                aside = path.with_name(f"{path.stem} ({before[:8]}){path.suffix}")
                path.replace(aside)
                yield book.file, self.folder.relative(aside)
        write_bytes_whole(path, data, self.words)


def prepare_pictures(folder: ProgramFolder, program: Program) -> dict[str, Picture]:
    """Every picture the setup names, scaled down for the sheets."""
    made = {name: prepare(folder.images / name, PICTURE_BOX) for name in program.pictures}
    return {name: picture for name, picture in made.items() if isinstance(picture, Picture)}
