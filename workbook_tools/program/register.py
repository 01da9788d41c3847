"""The register of issued books: one row a book, appended and never rewritten."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Mapping
from dataclasses import astuple, dataclass, fields
from pathlib import Path
from typing import Any, BinaryIO

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
        reader = csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline=""), strict=True)
        books = [_book(row) for row in reader]
    except (ValueError, OSError, csv.Error) as slip:
        raise FolderError(words("messages.register_damaged", path=path, reason=slip)) from None
    is_headed = tuple(reader.fieldnames or ()) == COLUMNS
    if not is_headed or None in books:
        reason = words("messages.register_row", row=books.index(None) + 2 if is_headed else 1)
        raise FolderError(words("messages.register_damaged", path=path, reason=reason))
    return Register(book for book in books if book)


def append(path: Path, books: Iterable[IssuedBook], words: Words) -> None:
    """Add rows at the end of register.csv, whole or not at all, making it when there is none. Raises FolderError."""
    text = io.StringIO(newline="")
    csv.writer(text).writerows(astuple(book) for book in books)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a+b") as file:
            before = file.seek(0, os.SEEK_END)
            try:
                file.write(_opening(file, before).encode() + text.getvalue().encode())
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                file.truncate(before)
                raise
    except OSError as slip:
        raise FolderError(words("messages.cannot_write", path=path, reason=slip.strerror or slip)) from None


def _opening(file: BinaryIO, size: int) -> str:
    """What has to stand before new rows: the heading in an empty file, the end of a last line that lacks it."""
    if size == 0:
        return f"{BYTE_ORDER_MARK}{','.join(COLUMNS)}\r\n"
    file.seek(-1, os.SEEK_END)
    return "" if file.read(1) in b"\r\n" else "\r\n"


def _book(row: Mapping[str, Any]) -> IssuedBook | None:
    """A row as read; None when a cell is missing, one is left over, or a number is none."""
    if (
        set(row) != set(COLUMNS)
        or None in row.values()
        or not all(row[name].isdecimal() for name in ("visit", "revision"))
    ):
        return None
    return IssuedBook(**{**row, "visit": int(row["visit"]), "revision": int(row["revision"])})
