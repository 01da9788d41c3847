"""The register of issued books: one row a book, appended and never rewritten."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError

BYTE_ORDER_MARK = "\ufeff"


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
    """All books ever issued for a program, by token and by store."""

    def __init__(self, books: Iterable[IssuedBook]) -> None:
        self.books = tuple(books)
        self.by_token = {book.token: book for book in self.books}
        self._by_visit = {(book.store, book.visit, book.revision): book for book in self.books}

    def newest_revision(self) -> int:
        """The highest revision issued so far; 0 when nothing was."""
        return max((book.revision for book in self.books), default=0)

    def find(self, store: str, visit: int, revision: int) -> IssuedBook | None:
        """The book of a store's visit in a revision (store "" for the shared book), or None."""
        return self._by_visit.get((store, visit, revision))


def read_register(path: Path, words: Words) -> Register:
    """Read register.csv; an empty register when there is none. Raises FolderError when it is damaged."""
    if not path.exists():
        return Register(())
    try:
        text = path.read_text(encoding="utf-8-sig")
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
        return Register([_book(row) for row in rows])
    except (KeyError, ValueError, TypeError, OSError, csv.Error) as slip:
        raise FolderError(words("messages.register_damaged", path=path, reason=slip)) from None


def append(path: Path, books: Iterable[IssuedBook], words: Words) -> None:
    """Add rows at the end of register.csv, making it when there is none. Raises FolderError."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists():
            text.write(BYTE_ORDER_MARK)
            writer.writerow(COLUMNS)
        writer.writerows(astuple(book) for book in books)
        with path.open("a", encoding="utf-8", newline="") as file:
            file.write(text.getvalue())
            file.flush()
            os.fsync(file.fileno())
    except OSError as slip:
        raise FolderError(words("messages.cannot_write", path=path, reason=slip.strerror or slip)) from None


def _book(row: dict[str, str]) -> IssuedBook:
    texts = {name: row[name] for name in COLUMNS if name not in ("visit", "revision")}
    return IssuedBook(visit=int(row["visit"]), revision=int(row["revision"]), **texts)
