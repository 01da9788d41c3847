"""The program folder: where things lie, files written whole or not at all, names that are legal everywhere."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from workbook_tools.contract.words import words_for
from workbook_tools.errors import BuildError, FolderError
from workbook_tools.folder import (
    ProgramFolder,
    digests_after,
    is_plain_name,
    lock_of,
    open_folder,
    safe_file_name,
    sha256,
    write_bytes_whole,
    write_whole,
)

WORDS = words_for("en")
DEVICES = [
    "CON",
    "con",
    "PRN",
    "AUX",
    "NUL",
    "COM1",
    "LPT9",
    "COM\u00b9",
    "CONIN$",
    "con.png",
    "NUL.tar.gz",
    "aux .png",
]
"""Names that Windows keeps for devices (Microsoft, Naming Files, Paths, and Namespaces, READ)."""


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_everything_has_its_place(tmp_path: Path) -> None:
    """The folder is laid out as the design says."""
    folder = ProgramFolder(tmp_path)
    places = (folder.setup, folder.images, folder.issued, folder.register, folder.returns, folder.rollup)
    assert [folder.relative(place) for place in places] == [
        "program.xlsx", "images", "issued", "issued/register.csv", "returns", "rollup",
    ]  # fmt: skip
    assert folder.relative(folder.revision(7).setup) == "issued/revisions/0007/program.xlsx"
    assert folder.relative(tmp_path.parent / "elsewhere.xlsx") == (tmp_path.parent / "elsewhere.xlsx").as_posix()


def test_a_folder_without_a_setup_is_refused_with_what_to_do(tmp_path: Path) -> None:
    """No folder, a file in its place, and a folder without program.xlsx each get a sentence that names the command."""
    with pytest.raises(FolderError, match=r"There is no folder .*nowhere\. Make one with: workbook-tools new"):
        open_folder(tmp_path / "nowhere", WORDS)
    (tmp_path / "file").write_text("x")
    with pytest.raises(FolderError, match="There is no folder"):
        open_folder(tmp_path / "file", WORDS)
    with pytest.raises(FolderError, match=r"holds no program\.xlsx\. Make one with: workbook-tools new"):
        open_folder(tmp_path, WORDS)
    (tmp_path / "program.xlsx").write_text("x")
    assert open_folder(tmp_path, WORDS).root == tmp_path


@pytest.mark.parametrize("name", ["~$program.xlsx", ".~lock.program.xlsx#"])
def test_a_lock_file_says_that_a_workbook_is_open(tmp_path: Path, name: str) -> None:
    """The lock files of the common spreadsheet programs are seen; those of other workbooks are not meant."""
    (tmp_path / name.replace("program", "other")).write_text("")
    assert lock_of(tmp_path / "program.xlsx") is None
    (tmp_path / name).write_text("")
    assert lock_of(tmp_path / "program.xlsx") == tmp_path / name


def test_a_file_is_written_with_its_folders(tmp_path: Path) -> None:
    """Missing folders are made, an old file is replaced, and nothing is left beside it."""
    path = tmp_path / "a" / "b" / "out.csv"
    write_bytes_whole(path, b"one", WORDS)
    write_bytes_whole(path, b"two", WORDS)
    assert path.read_bytes() == b"two"
    assert _names(path.parent) == ["out.csv"]


@pytest.mark.parametrize(
    ("slip", "raised"),
    [
        (BuildError("no"), BuildError),
        (OSError(28, "No space left on device"), FolderError),
        (KeyboardInterrupt(), KeyboardInterrupt),
    ],
)
def test_a_write_that_fails_leaves_the_old_file(
    tmp_path: Path, slip: BaseException, raised: type[BaseException]
) -> None:
    """Half a file is never seen: the old one stays, byte for byte, and the half is taken away."""
    path = tmp_path / "out.csv"
    path.write_bytes(b"old")
    with pytest.raises(raised), write_whole(path, WORDS) as beside:
        beside.write_bytes(b"half of the n")
        raise slip
    assert path.read_bytes() == b"old"
    assert _names(tmp_path) == ["out.csv"]


def test_until_the_end_readers_see_the_old_file(tmp_path: Path) -> None:
    """The new file takes the place in one step, from a file beside it on the same drive."""
    path = tmp_path / "out.csv"
    path.write_bytes(b"old")
    with write_whole(path, WORDS) as beside:
        beside.write_bytes(b"new")
        assert beside.parent == path.parent
        assert beside.suffix == path.suffix
        assert path.read_bytes() == b"old"
    assert path.read_bytes() == b"new"


def test_a_place_that_cannot_be_written_gives_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder in the way, a file where a folder should be, and a file that another program holds open."""
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "file").write_text("")
    for path in (tmp_path / "folder.csv", tmp_path / "file" / "out.csv"):
        with pytest.raises(FolderError, match=r"cannot be written: .+\. Close it if it is open in another program"):
            write_bytes_whole(path, b"", WORDS)

    def held(self: Path, target: Path) -> Path:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "replace", held)
    (tmp_path / "out.csv").write_bytes(b"old")
    with pytest.raises(FolderError, match=r"out\.csv cannot be written: Permission denied"):
        write_bytes_whole(tmp_path / "out.csv", b"new", WORDS)
    assert (tmp_path / "out.csv").read_bytes() == b"old"
    assert _names(tmp_path) == ["file", "folder.csv", "out.csv"]


@pytest.mark.parametrize(
    ("parts", "name"),
    [
        (("ST27", "00417"), "ST27 00417.xlsx"),
        (("ST27", ""), "ST27.xlsx"),
        (("Zo\u00eb 1\u20442",), "Zo\u00eb 1\u20442.xlsx"),
        (("\u5e97\u8217 7",), "\u5e97\u8217 7.xlsx"),
        (("x" * 80,), "x" * 80 + ".xlsx"),
        (("Console",), "Console.xlsx"),
    ],
)
def test_a_legal_name_stays_as_it_is(parts: tuple[str, ...], name: str) -> None:
    """Texts that are legal everywhere are joined by spaces and not changed."""
    assert safe_file_name(*parts, suffix=".xlsx") == name


@pytest.mark.parametrize(
    ("text", "begins"),
    [
        ("12/3", "12 3 "), ("a:b*c", "a b c "), ("417.", "417 "), ("417 ", "417 "), (" 417", "417 "), ("../../x", "x "),
        (".hidden", "hidden "), ("~$417", "$417 "), ("a\u202eb\x00c", "a b c "), ("x" * 200, "x" * 71 + " "),
        ("\U0001f9e9" * 90, "\U0001f9e9" * 47 + " "), ("", "book "), ("...", "book "), ("\ud800", "book "),
        ("CON", "_CON "), ("nul.txt", "_nul.txt "), ("COM\u00b9", "_COM\u00b9 "),
    ],
)  # fmt: skip
def test_a_text_that_is_no_legal_name_is_changed_and_marked(text: str, begins: str) -> None:
    """What is illegal somewhere goes, the rest stays to be recognised, and a mark of 8 digits follows."""
    name = safe_file_name(text, suffix=".xlsx")
    assert name.startswith(begins)
    assert len(name) == len(begins) + len("0123abcd.xlsx")


def test_stores_never_share_a_file() -> None:
    """Numbers that differ only in what a file name cannot hold, in their ends or beyond its length keep apart."""
    numbers = ["1/2", "1:2", "1 2", "1  2", "1 2.", " 1 2", "1\u00002", "x" * 81, "x" * 82, "CON", "_CON", "", "book"]
    names = {safe_file_name(number, suffix=".xlsx").casefold() for number in numbers}
    assert len(names) == len(numbers)


@given(st.lists(st.text(), max_size=3))
@example(["CON"])
@example(["x" * 79 + " y"])
@example(["\U0001f9e9" * 80])
def test_any_texts_make_a_name_that_is_legal_everywhere(parts: list[str]) -> None:
    """No path, no device, no character or ending that a system refuses; short enough for every file system."""
    name = safe_file_name(*parts, suffix=".xlsx")
    assert PurePosixPath(name).name == PureWindowsPath(name).name == name
    assert is_plain_name(name)
    assert len(name) <= 85
    assert len(name.encode()) <= 255
    assert not name.startswith((".", "~", " "))
    assert safe_file_name(*parts, suffix=".xlsx") == name


@pytest.mark.parametrize("name", ["lids.png", "Lids 2 (final).JPG", "\u5e97.png", "a.b.c", ".png", "x" * 251 + ".png"])
def test_a_bare_file_name_is_plain(name: str) -> None:
    """What can lie in the images folder on every system."""
    assert is_plain_name(name)


@pytest.mark.parametrize(
    "name",
    [
        "", ".", "..", "../lids.png", "a/b.png", "a\\b.png", "/etc/passwd", "C:lids.png", "C:\\lids.png", "lids.png.",
        "lids.png ", "li*ds.png", "lids?.png", "li\x00ds.png", "li\nds.png", "lids\u202egnp.exe", "x" * 252 + ".png",
        "\u5e97" * 90, "\ud800.png", *DEVICES,
    ],
)  # fmt: skip
def test_a_name_that_could_lead_elsewhere_is_not_plain(name: str) -> None:
    """Folders, drives, devices, endings that Windows drops, and names no file system holds."""
    assert not is_plain_name(name)


def test_a_digest_is_that_of_the_bytes() -> None:
    """SHA-256 of "abc" (FIPS 180-4 example, MEM; COMP by hashlib)."""
    assert sha256(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@given(st.binary(max_size=200), st.binary(max_size=200))
def test_a_digest_after_a_known_start_is_the_digest_of_the_whole(start: bytes, rest: bytes) -> None:
    """What is digested only once for all books changes no book's sha256."""
    assert digests_after(start)(start + rest) == sha256(start + rest)
