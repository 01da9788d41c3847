"""The register of issued books: rows are only ever added, and a damaged register is never taken for a shorter one."""

from __future__ import annotations

import csv
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.contract.csv_text import text_meant
from workbook_tools.contract.words import words_for
from workbook_tools.errors import FolderError
from workbook_tools.program.register import COLUMNS, IssuedBook, append, read_register

WORDS = words_for("en")
HEADING = "store,visit,merchandiser,token,revision,file,sha256,issued"


def _book(store: str = "00417", token: str = "t1", revision: int = 1, **others: object) -> IssuedBook:
    values: dict[str, object] = {
        "store": store, "visit": 1, "merchandiser": "Kim", "token": token, "revision": revision,
        "file": f"issued/{store}.xlsx", "sha256": "0" * 64, "issued": "2027-03-01T09:00:00+00:00", **others,
    }  # fmt: skip
    return IssuedBook(**values)  # type: ignore[arg-type]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the register lies; neither it nor its folder is there yet."""
    return tmp_path / "issued" / "register.csv"


def test_a_program_without_a_register_has_issued_nothing(path: Path) -> None:
    """No file is an empty register, and reading does not make one."""
    register = read_register(path, WORDS)
    assert (register.books, register.newest_revision(), register.find("00417", 1, 1)) == ((), 0, None)
    assert not path.exists()


def test_a_book_is_found_by_token_and_by_store_visit_and_revision(path: Path) -> None:
    """What was appended is read back, in order; the newest revision is the highest."""
    books = [_book(), _book(token="t2", revision=2), _book(store="", token="t3", revision=2)]
    append(path, books, WORDS)
    register = read_register(path, WORDS)
    assert list(register.books) == books
    assert register.by_token["t2"] == books[1]
    assert register.find("00417", 1, 1) == books[0]
    assert register.find("", 1, 2) == books[2]
    assert register.find("00417", 2, 1) is None
    assert register.newest_revision() == 2


def test_the_register_opens_rightly_by_a_double_click(path: Path) -> None:
    """UTF-8 with one byte-order mark, RFC 4180 quoting and line ends, and the columns of the design in their order."""
    append(path, [_book(merchandiser='Kim, "K"')], WORDS)
    append(path, [_book(token="t2", merchandiser="Zo\u00eb")], WORDS)
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf" + HEADING.encode() + b"\r\n")
    assert data.count(b"\xef\xbb\xbf") == data.count(HEADING.encode()) == 1
    assert data.count(b"\n") == data.count(b"\r\n") == 3
    assert b'"Kim, ""K"""' in data
    assert ",".join(COLUMNS) == HEADING


def test_rows_are_only_added(path: Path) -> None:
    """Whatever is appended, every byte that was there stays where it was."""
    append(path, [_book()], WORDS)
    before = path.read_bytes()
    append(path, [_book(token="t2")], WORDS)
    append(path, [], WORDS)
    after = path.read_bytes()
    assert after.startswith(before)
    assert len(read_register(path, WORDS).books) == 2


def test_a_last_line_without_an_end_is_not_run_into(path: Path) -> None:
    """An editor may have taken the last line end away: the next row still begins on a line of its own."""
    append(path, [_book()], WORDS)
    path.write_bytes(path.read_bytes().rstrip(b"\r\n"))
    append(path, [_book(token="t2")], WORDS)
    assert [book.token for book in read_register(path, WORDS).books] == ["t1", "t2"]


def test_rows_that_cannot_be_written_leave_the_register_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk in the middle gives a sentence, and takes back what was written of the rows."""
    append(path, [_book()], WORDS)
    before = path.read_bytes()

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FolderError, match=r"register\.csv cannot be written: No space left on device"):
        append(path, [_book(token="t2")], WORDS)
    assert path.read_bytes() == before


def test_a_register_that_cannot_be_opened_gives_a_sentence(tmp_path: Path) -> None:
    """A folder in its place, or a file in the place of its folder, is a FolderError when reading and when writing."""
    (tmp_path / "register.csv").mkdir()
    with pytest.raises(FolderError, match=r"register\.csv is damaged"):
        read_register(tmp_path / "register.csv", WORDS)
    with pytest.raises(FolderError, match=r"register\.csv cannot be written"):
        append(tmp_path / "register.csv", [_book()], WORDS)
    (tmp_path / "file").write_text("")
    with pytest.raises(FolderError, match=r"cannot be written"):
        append(tmp_path / "file" / "register.csv", [_book()], WORDS)


ROW = "00417,1,Kim,t1,1,issued/00417.xlsx,00,2027-03-01T09:00:00+00:00"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "row 1"),
        (f"{ROW}\r\n", "row 1"),
        (f"{HEADING.replace(',', ';')}\r\n{ROW.replace(',', ';')}\r\n", "row 1"),
        (f"{HEADING.replace('token', 'tokens')}\r\n{ROW}\r\n", "row 1"),
        (f"{HEADING}\r\n{ROW}\r\n{ROW[:30]}", "row 3"),
        (f"{HEADING}\r\n{ROW[:40]}{ROW}\r\n", "row 2"),
        (f"{HEADING}\r\n{ROW.replace(',1,', ',one,')}\r\n", "row 2"),
        (f"{HEADING}\r\n{ROW.replace(',1,', ',,')}\r\n", "row 2"),
        (f"{HEADING}\r\n{ROW.replace('Kim', chr(34) + 'Kim')}\r\n", ""),
    ],
    ids=["blank", "no heading", "semicolons", "heading changed", "cut short", "glued", "words", "blanks", "open quote"],
)
def test_a_damaged_register_is_refused(path: Path, text: str, reason: str) -> None:
    """Books must not be forgotten because a line cannot be read: the sentence names the file and the row."""
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FolderError, match=r"register\.csv is damaged") as refused:
        read_register(path, WORDS)
    assert f"({reason}" in str(refused.value)
    assert path.read_text(encoding="utf-8") == text.replace("\r\n", "\n")


def test_a_register_in_another_encoding_is_refused(path: Path) -> None:
    """Text saved as something other than UTF-8 is damage, not another merchandiser."""
    path.parent.mkdir()
    path.write_bytes(f"{HEADING}\r\n{ROW.replace('Kim', 'Zoe')}\r\n".replace("Zoe", "Zo\u00eb").encode("latin-1"))
    with pytest.raises(FolderError, match=r"register\.csv is damaged"):
        read_register(path, WORDS)


TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc"]))


@given(st.lists(st.builds(_book, store=TEXTS, merchandiser=TEXTS, revision=st.integers(1, 10**6)), max_size=5))
@settings(max_examples=30, deadline=None)
def test_any_book_reads_back_the_same(tmp_path_factory: pytest.TempPathFactory, books: list[IssuedBook]) -> None:
    """Commas, quotes and letters of any script come back as they were, as does the plain csv module's reading but for
    the apostrophe that keeps a text from being a formula.
    """
    path = tmp_path_factory.mktemp("register") / "register.csv"
    append(path, books, WORDS)
    assert list(read_register(path, WORDS).books) == books
    with path.open(encoding="utf-8-sig", newline="") as file:
        assert [text_meant(row["store"]) for row in csv.DictReader(file)] == [book.store for book in books]
