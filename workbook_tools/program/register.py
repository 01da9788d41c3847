"""The register of issued books: one row a book, appended and never rewritten."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from workbook_tools.contract.words import Words
from workbook_tools.program.asked import Asked, read_asked
from workbook_tools.program.ledger import append_rows, read_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class IssuedBook:
    """One row of register.csv. `store` is blank for a shared book; `issued` is ISO 8601 in UTC."""

    store: str
    visit: int
    merchandiser: str
    token: str
    revision: int
    file: str
    sha256: str
    issued: str


COLUMNS = tuple(one.name for one in fields(IssuedBook))


class Register:
    """All books ever issued for a program, by token and by store; `asked` holds those that ask for a part only."""

    def __init__(self, books: Iterable[IssuedBook], asked: Mapping[str, Asked] | None = None) -> None:
        self.books = tuple(books)
        self.asked = dict(asked or {})
        self.by_token = {book.token: book for book in self.books}
        self._last_visits: dict[str, int] = {}
        for book in self.books:
            self._last_visits[book.store] = max(book.visit, self._last_visits.get(book.store, 0))
        self._by_visit = {(book.store, book.visit, book.revision): book for book in self.books}

    def newest_revision(self) -> int:
        """The highest revision issued so far; 0 when nothing was."""
        return max((book.revision for book in self.books), default=0)

    def last_visit(self, store: str) -> int:
        """The last visit for which a store has a book of its own; 0 when it has none."""
        return self._last_visits.get(store, 0)

    def find(self, store: str, visit: int, revision: int) -> IssuedBook | None:
        """The book of a store's visit in a revision (store "" for the shared book), or None."""
        return self._by_visit.get((store, visit, revision))


def read_register(path: Path, words: Words) -> Register:
    """Read register.csv and asked.csv beside it; an empty register when there is none.

    Raises FolderError when one of them is damaged.
    """
    rows = read_rows(path, COLUMNS, words, is_good=lambda row: row["visit"].isdecimal() and row["revision"].isdecimal())
    return Register(map(_book, rows), read_asked(path.with_name("asked.csv"), words))


def append(path: Path, books: Iterable[IssuedBook], words: Words) -> None:
    """Add rows at the end of register.csv, whole or not at all, making it when there is none. Raises FolderError."""
    append_rows(path, COLUMNS, (astuple(book) for book in books), words)


def _book(row: dict[str, str]) -> IssuedBook:
    visit, revision = int(row.pop("visit")), int(row.pop("revision"))
    return IssuedBook(visit=visit, revision=revision, **row)
