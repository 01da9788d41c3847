"""Who is sent which books: a mail draft a merchandiser, in their language, split where attachments grow too large."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.contract.words import Words, words_for
from workbook_tools.errors import FolderError
from workbook_tools.field_book.canvas import date_in
from workbook_tools.field_book.mail import LARGEST_MAIL, Attachment, Draft, addresses_in, within_limit
from workbook_tools.folder import ProgramFolder, safe_file_name, write_bytes_whole
from workbook_tools.program.joined import joined
from workbook_tools.program.model import Merchandiser, Program, Store
from workbook_tools.program.register import IssuedBook

_NUMBERED = re.compile(r" \d+-\d+")


@dataclass(frozen=True, slots=True)
class Enclosed:
    """A book that goes with a letter, and the store it is for; None when the store is picked in the book."""

    file: Path
    store: Store | None


@dataclass(frozen=True, slots=True)
class Letter:
    """What one person is sent. `name` is its draft's file name without the ending; `about` names the words ("issue",
    "revisit", "correct"), `language` whose they are.
    """

    name: str
    about: str
    person: Merchandiser
    language: str
    enclosed: tuple[Enclosed, ...]
    addresses: tuple[str, ...]


@dataclass(frozen=True)
class Drafts:
    """The drafts that were written, and the full names of those for whom no mail address is known."""

    files: tuple[Path, ...]
    no_address: tuple[str, ...]

    def lines(self, folder: Path, words: Words) -> Iterator[str]:
        """What there is to say about them."""
        yield words("messages.drafts", count=len(self.files), folder=folder)
        if self.no_address:
            yield words("messages.no_address", names=", ".join(self.no_address))


def letters(
    folder: ProgramFolder, program: Program, books: Iterable[IssuedBook], about: str, words: Words
) -> list[Letter]:
    """A letter to everyone who has one of the books, in the order of the books; a shared book goes to everyone."""
    enclosed: dict[str, list[Enclosed]] = {}
    for book in books:
        names = [book.merchandiser] if book.store else list(program.merchandiser)
        for name in names:
            enclosed.setdefault(name, []).append(Enclosed(folder.root / book.file, program.store.get(book.store)))
    made = []
    for name, theirs in enclosed.items():
        person = program.person(name)
        file = _draft_name(program, name, about, words)
        language = person.language or program.settings.language
        made.append(Letter(file, about, person, language, tuple(theirs), addresses_in(person.email)))
    return made


def _draft_name(program: Program, person: str, about: str, words: Words) -> str:
    return safe_file_name(program.settings.code, person, words(f"mail.{about}.file"), suffix="")


def write_letters(
    target: Path, program: Program, letters: Iterable[Letter], words: Words, limit: int = LARGEST_MAIL
) -> Drafts:
    """Write the drafts of some letters into a folder, in place of earlier drafts of the same letters.

    Raises FolderError when a book cannot be read or a draft cannot be written.
    """
    files: list[Path] = []
    no_address: dict[str, None] = {}
    for letter in letters:
        with _readable(letter, words):
            sized = [(one, one.file.stat().st_size) for one in letter.enclosed]
        parts = list(within_limit(sized, limit))
        written = []
        for number, part in enumerate(parts, start=1):
            suffix = f" {number}-{len(parts)}.eml" if len(parts) > 1 else ".eml"
            written.append(target / f"{letter.name}{suffix}")
            with _readable(letter, words):
                draft = _draft(program, letter, part, (number, len(parts)))
            write_bytes_whole(written[-1], draft.to_bytes(), words)
        remove_drafts(target, letter.name, written)
        files += written
        if not letter.addresses:
            no_address[letter.person.full_name] = None
    return Drafts(tuple(files), tuple(no_address))


@contextmanager
def _readable(letter: Letter, words: Words) -> Iterator[None]:
    try:
        yield
    except OSError as slip:
        path = slip.filename or letter.name
        raise FolderError(words("messages.cannot_read", path=path, reason=slip.strerror or slip)) from None


def take_back(target: Path, program: Program, about: str, letters: Iterable[Letter], words: Words) -> int:
    """Take away the earlier drafts of those who are not sent such a letter any more; gives how many drafts."""
    names = {_draft_name(program, person, about, words) for person in program.merchandiser}
    return sum(remove_drafts(target, name) for name in names.difference(letter.name for letter in letters))


def remove_drafts(target: Path, stem: str, written: Sequence[Path] = ()) -> int:
    """Take away drafts that an earlier run wrote for the same letter, but for those that were written now; gives how
    many.
    """
    gone = 0
    kept = {path.name for path in written}
    for path in target.glob("*.eml"):
        middle = path.stem.removeprefix(stem)
        ours = path.stem.startswith(stem) and (not middle or _NUMBERED.fullmatch(middle))
        if ours and path.name not in kept:
            with suppress(OSError):
                path.unlink()
                gone += 1
    return gone


def _draft(program: Program, letter: Letter, part: Sequence[Enclosed], place: tuple[int, int]) -> Draft:
    attached = tuple(Attachment(one.file.name, one.file.read_bytes()) for one in part)
    words = words_for(letter.language)
    fields = _fields(program, part, words)
    subject = words(_words_key(letter.about, "subject", part, words), **fields)
    text = "\n".join(_lines(letter, part, place, words, fields))
    return Draft(letter.person.full_name, letter.addresses, subject, text, attached)


def _words_key(about: str, what: str, part: Sequence[Enclosed], words: Words) -> str:
    """The key of a letter's subject or text: one of its own, where there is one, for a book in which the store is
    picked.
    """
    key = f"mail.{about}.{what}"
    shared = f"{key}_shared"
    return shared if shared in words and not any(one.store for one in part) else key


def _fields(program: Program, part: Sequence[Enclosed], words: Words) -> Mapping[str, object]:
    settings = program.settings
    stores = [one.store.store for one in part if one.store]
    return {
        "program": settings.name,
        "count": len(part),
        "stores": ", ".join(stores),
        "starts": date_in(words, settings.starts),
        "due": date_in(words, settings.due),
        "contact": joined([settings.contact, settings.phone], ", "),
        "email": settings.email,
    }


def _lines(
    letter: Letter, part: Sequence[Enclosed], place: tuple[int, int], words: Words, fields: Mapping[str, object]
) -> Iterator[str]:
    number, count = place
    yield words("mail.hello", name=letter.person.full_name) if letter.person.full_name else words("mail.hello_all")
    yield ""
    yield words(_words_key(letter.about, "text", part, words), **fields)
    yield ""
    for one in part:
        store = one.store
        about = joined([store.name, store.city], ", ") if store else words("mail.pick_store")
        yield f"- {store.store}  {about}" if store else f"- {about}"
    yield ""
    if count > 1:
        yield words("mail.part", number=number, count=count)
    yield words(f"mail.{letter.about}.todo", **fields)
    yield words("mail.send_to", **fields) if fields["email"] else words("mail.send_back")
    yield words("mail.contact", **fields)
    yield ""
