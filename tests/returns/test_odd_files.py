"""What else lies in a folder of returns: odd zips, odd names, links, pipes. Each is read, or has one reason."""

from __future__ import annotations

import io
import os
import socket
import sys
import warnings
import zipfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest

from tests.returns.scene import Scene, parts_of
from tests.small_program import WORDS
from workbook_tools.returns.collect import Candidate, collect
from workbook_tools.returns.workers import read_candidate

POSIX_ONLY = pytest.mark.skipif(sys.platform == "win32", reason="there are no such files there")


class OneWay(io.RawIOBase):
    """A stream that cannot go back, as a server writes to: sizes come behind each member."""

    def __init__(self) -> None:
        self.written = BytesIO()

    def writable(self) -> bool:
        return True

    def write(self, data: object) -> int:
        return self.written.write(data)  # type: ignore[arg-type]


def zip_of(members: list[tuple[str, bytes]], method: int = zipfile.ZIP_DEFLATED, zip64: bool = False) -> bytes:
    """A zip of these members."""
    made = BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(made, "w", method) as archive:
        warnings.simplefilter("ignore")
        for name, data in members:
            info = zipfile.ZipInfo(name)
            info.compress_type = method
            with archive.open(info, "w", force_zip64=zip64) as member:
                member.write(data)
    return made.getvalue()


def streamed(members: list[tuple[str, bytes]]) -> bytes:
    """The same, written to a stream that cannot go back."""
    stream = OneWay()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:  # type: ignore[call-overload]
        for name, data in members:
            archive.writestr(name, data)
    return stream.written.getvalue()


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A return."""
    return Scene(tmp_path_factory.mktemp("book")).filled()


ZIPS: dict[str, Callable[[bytes], bytes]] = {
    "plain": lambda book: zip_of([("a.xlsx", book)]),
    "stored": lambda book: zip_of([("a.xlsx", book)], zipfile.ZIP_STORED),
    "zip64": lambda book: zip_of([("a.xlsx", book)], zip64=True),
    "streamed": lambda book: streamed([("a.xlsx", book)]),
    "names in another alphabet": lambda book: zip_of([("tienda nº 1/店舗.xlsx", book)]),
    "names that climb": lambda book: zip_of([("../../a.xlsx", book)]),
    "zips in zips": lambda book: zip_of([("a.zip", zip_of([("b.zip", zip_of([("c.xlsx", book)]))]))]),
    "what systems leave": lambda book: zip_of(
        [("a.xlsx", book), ("__MACOSX/._a.xlsx", b"\0\5\x16\7" + bytes(90)), (".DS_Store", b"x"), ("folder/", b"")]
    ),
    "a book streamed by a server": lambda book: streamed(list(parts_of(book).items())),
    "a book that says its kind first": lambda book: zip_of(
        [("mimetype", b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"), *parts_of(book).items()]
    ),
    "a book in zip64 form": lambda book: zip_of(list(parts_of(book).items()), zip64=True),
}


def found_in(folder: Path) -> list[Candidate]:
    """What lies in a folder."""
    return list(collect([folder], folder))


@pytest.mark.parametrize("name", ZIPS)
def test_a_book_in_any_zip_is_read(name: str, book: bytes, tmp_path: Path) -> None:
    """One candidate, whose answers are those of the book, whatever its own name is."""
    (tmp_path / "return.dat").write_bytes(ZIPS[name](book))
    (one,) = found_in(tmp_path)
    read, whole = read_candidate(one), read_candidate(Candidate(origin="", received="", data=book))
    assert not isinstance(read, str)
    assert not isinstance(whole, str)
    assert (read.refusal, read.answers) == (None, whole.answers)
    assert ".." not in one.origin


def test_a_name_twice_in_a_zip_is_two_files(book: bytes, tmp_path: Path) -> None:
    """Two people's books under one name: none is lost, and each can be told from the other."""
    (tmp_path / "a.zip").write_bytes(zip_of([("a.xlsx", book), ("a.xlsx", book)]))
    assert [one.origin for one in found_in(tmp_path)] == ["a.zip → a.xlsx", "a.zip → a.xlsx (2)"]


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_zip_packed_otherwise_is_said_to_be_unpacked_by_hand(method: int, book: bytes, tmp_path: Path) -> None:
    """Its books cannot be got out here; who reads that can do it."""
    (tmp_path / "a.zip").write_bytes(zip_of([("a.xlsx", book)], method))
    (one,) = found_in(tmp_path)
    assert one.refusal
    assert one.refusal.rule == "archive_other"
    assert WORDS(f"rules.{one.refusal.rule}.todo").startswith("Unpack it by hand")


def test_a_locked_member_costs_itself_and_no_other(book: bytes, tmp_path: Path) -> None:
    """The zip is said to have a password, and what is not locked is read."""
    data = bytearray(zip_of([("locked.xlsx", book), ("open.xlsx", book)]))
    data[6] |= 1
    data[int.from_bytes(data[-6:-2], "little") + 8] |= 1
    (tmp_path / "a.zip").write_bytes(data)
    found = {one.origin: one.refusal.rule if one.refusal else "" for one in found_in(tmp_path)}
    assert found == {"a.zip": "encrypted", "a.zip → open.xlsx": ""}


@POSIX_ONLY
def test_links_and_things_that_are_no_files_are_not_waited_for(tmp_path: Path) -> None:
    """A pipe, a socket, links that lead out, nowhere, in a circle and back up: each once, with a reason, at once."""
    returns = tmp_path / "returns"
    returns.mkdir()
    (returns / "a.txt").write_bytes(b"x")
    (tmp_path / "outside.txt").write_bytes(b"x")
    os.mkfifo(returns / "pipe")
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(str(returns / "sock"))
        for name, target in (("in", "a.txt"), ("out", "../outside.txt"), ("dead", "gone"), ("circle", "circle")):
            (returns / name).symlink_to(target)
        (returns / "up").symlink_to(returns, target_is_directory=True)
        found = {one.origin: one.refusal.rule if one.refusal else "" for one in collect([returns], returns)}
    assert found == {
        "a.txt": "not_a_workbook",
        "circle": "unreadable",
        "dead": "unreadable",
        "out": "leads_outside",
        "pipe": "unreadable",
        "sock": "unreadable",
    }


NAMES = ["new\nline\x1b[31m.xlsx", "=cmd()+1.xlsx", "\u202egnp.xlsx", "x" * 240 + ".xlsx", "no ending", "a.xlsx.part"]


@POSIX_ONLY
@pytest.mark.parametrize("name", [os.fsencode(name) for name in NAMES] + [b"caf\xe9 \xff.xlsx"])
def test_a_book_under_any_name_is_read_and_its_name_fit_to_be_shown(name: bytes, book: bytes, tmp_path: Path) -> None:
    """Bytes of no alphabet, line ends, signs that turn the direction of writing, and the longest names there are."""
    try:
        (tmp_path / os.fsdecode(name)).write_bytes(book)
    except OSError:
        pytest.skip("this file system takes no such name")
    (one,) = found_in(tmp_path)
    read = read_candidate(one)
    assert not isinstance(read, str)
    assert read.refusal is None
    assert one.origin.isprintable()
    one.origin.encode("utf-8")


@POSIX_ONLY
@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may read everything")
def test_what_may_not_be_read_has_a_reason(book: bytes, tmp_path: Path) -> None:
    """A file and a folder without permission: set aside, the others read."""
    for name in ("closed.xlsx", "open.xlsx", "folder/a.xlsx"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(book)
    (tmp_path / "closed.xlsx").chmod(0)
    (tmp_path / "folder").chmod(0)
    try:
        found = {one.origin: one.refusal.rule if one.refusal else "" for one in found_in(tmp_path)}
    finally:
        (tmp_path / "folder").chmod(0o755)
    assert found == {"closed.xlsx": "unreadable", "folder": "unreadable", "open.xlsx": ""}
