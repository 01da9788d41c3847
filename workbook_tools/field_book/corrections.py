"""Returns that go back to their senders: the same book with all answers in it, and a mail draft that takes it there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from workbook_tools.contract.words import Words
from workbook_tools.field_book.build import stamp_values
from workbook_tools.field_book.issue import Watch, prepare_pictures
from workbook_tools.field_book.letters import Drafts, Enclosed, Letter, remove_drafts, write_letters
from workbook_tools.field_book.mail import addresses_in
from workbook_tools.field_book.own_books import OwnBook, built
from workbook_tools.field_book.particulars import Particulars
from workbook_tools.folder import ProgramFolder, safe_file_name, write_bytes_whole
from workbook_tools.program.model import Program
from workbook_tools.program.pictures import Picture
from workbook_tools.program.register import IssuedBook


@dataclass(frozen=True)
class Correction:
    """One return to be sent back: the book it was filled in, its language, what it holds and what to put right.

    `store` is blank while nobody knows it, `person` whoever made the visit, `sender` the address the return came from,
    each "" when not known; `mark` tells returns of one book apart that have no store.
    """

    book: IssuedBook
    store: str
    language: str
    particulars: Particulars
    person: str = ""
    sender: str = ""
    mark: str = ""


class Taken(NamedTuple):
    """A correction that is not waited for any more: its store and visit, or the mark of a return without a store."""

    store: str = ""
    visit: int = 1
    mark: str = ""


def mark_of(sha256: str) -> str:
    """What tells a return without a store from others, of the SHA-256 of its file."""
    return sha256[:8]


class Sender:
    """Writes corrections of one program folder, each read against the revision its book was issued in."""

    def __init__(self, folder: ProgramFolder, programs: Mapping[int, Program], words: Words) -> None:
        self.folder = folder
        self.programs = programs
        self.words = words

    def send_back(self, corrections: Sequence[Correction], watch: Watch = iter) -> Drafts:
        """Write the books and their mail drafts under issued/corrections/, in place of earlier ones of the same visits.

        Nothing is added to the register: the token stays, so that the corrected return is one of the same visit.
        Raises FolderError when one cannot be written, BuildError when a book cannot be written as described.
        """
        revisions = {one.book.revision for one in corrections}
        sources = {number: (self.programs[number], self._pictures_of(number)) for number in revisions}
        books = built([self._own_book(one) for one in corrections], sources)
        made = [self._letter(one, book) for one, book in zip(watch(corrections), books, strict=True)]
        newest = self.programs[max(self.programs)]
        return write_letters(self.folder.corrections, newest, made, self.words)

    def take_away(self, right: Iterable[Taken]) -> int:
        """Delete the books and drafts of returns that are right or corrected by now; gives how many books.

        What is open in another program stays until the next time.
        """
        there = {path.name: path for path in self.folder.corrections.glob("*.xlsx")}
        codes = {program.settings.code for program in self.programs.values()}
        names = {self._name(code, one) for code in codes for one in right} if there else set()
        gone = [there[name] for name in there if name in names]
        for path in gone:
            remove_drafts(self.folder.corrections, path.stem)
            with suppress(OSError):
                path.unlink()
        return len(gone)

    def _letter(self, one: Correction, book: bytes) -> Letter:
        program = self.programs[one.book.revision]
        store = program.store.get(one.store)
        path = self.path(one)
        write_bytes_whole(path, book, self.words)
        person = program.person(one.person)
        addresses = addresses_in(person.email) or addresses_in(one.sender)
        return Letter(path.stem, "correct", person, one.language, (Enclosed(path, store),), addresses)

    def path(self, one: Correction) -> Path:
        """Where a correction lies once it is written."""
        code = self.programs[one.book.revision].settings.code
        return self.folder.corrections / self._name(code, Taken(one.store, one.book.visit, one.mark))

    def _name(self, code: str, one: Taken) -> str:
        store = one.store or " ".join((self.words("messages.shared_book"), one.mark))
        which = self.words("messages.visit_file", visit=one.visit) if one.visit > 1 else ""
        return safe_file_name(code, store, which, self.words("mail.correct.file"), suffix=".xlsx")

    def _own_book(self, one: Correction) -> OwnBook:
        book, program = one.book, self.programs[one.book.revision]
        store = program.store.get(book.store)
        values = stamp_values(store, program, token=book.token, revision=book.revision, visit=book.visit)
        return OwnBook(book.revision, one.language, not book.store, one.particulars, values)

    def _pictures_of(self, revision: int) -> dict[str, Picture]:
        return prepare_pictures(self.folder.revision(revision), self.programs[revision])
