"""The program folder: where things lie in it, and writing files whole or not at all."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import time
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError

_NOT_IN_FILE_NAMES = frozenset('<>:"/\\|?*')
_RESERVED_NAMES = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])\s*(\..*)?", re.IGNORECASE)
"""Names that Windows keeps for devices, with any ending (Microsoft, Naming Files, Paths, and Namespaces)."""
_UNFINISHED = re.compile(r"\..{1,20}-[a-z0-9_]{8}\.[a-z]+")
"""A file that `write_whole` has not yet put in its place: the name's start, eight signs by the system, the ending."""
_SECONDS_A_DAY = 24 * 60 * 60
_LONGEST_STEM, _LONGEST_STEM_BYTES = 80, 200
_LONGEST_NAME_BYTES = 255
"""What common file systems hold; a name of this many bytes has no more than 255 UTF-16 units either."""


@dataclass(frozen=True)
class ProgramFolder:
    """One program's folder on the office's drive; the folder is the database."""

    root: Path

    @property
    def setup(self) -> Path:
        """The setup workbook the office fills in."""
        return self.root / "program.xlsx"

    @property
    def images(self) -> Path:
        """Item and step pictures named in the setup."""
        return self.root / "images"

    @property
    def issued(self) -> Path:
        """Field books as they went out."""
        return self.root / "issued"

    @property
    def register(self) -> Path:
        """One row for every book ever issued; append only."""
        return self.issued / "register.csv"

    @property
    def asked(self) -> Path:
        """What each book asks for that does not ask for everything; append only."""
        return self.issued / "asked.csv"

    @property
    def corrections(self) -> Path:
        """Returns that go back to their senders, with the mail drafts that take them there."""
        return self.issued / "corrections"

    @property
    def mail(self) -> Path:
        """Mail drafts that take field books to merchandisers."""
        return self.issued / "mail"

    @property
    def returns(self) -> Path:
        """Whatever came back; never changed by us."""
        return self.root / "returns"

    @property
    def rollup(self) -> Path:
        """The roll-up workbook and its plain tables."""
        return self.root / "rollup"

    @property
    def kept_reads(self) -> Path:
        """What was read from returns by earlier merges; safe to delete."""
        return self.rollup / "cache" / "reads.json.gz"

    @property
    def checked(self) -> Path:
        """A copy of the setup with everything marked that `check` found; safe to delete."""
        return self.root / "program-checked.xlsx"

    @property
    def faces(self) -> Path:
        """The faces as the setup draws them so far; safe to delete."""
        return self.root / "faces.xlsx"

    @property
    def orders(self) -> Path:
        """What has to be ordered and packed; safe to delete."""
        return self.root / "orders.xlsx"

    @property
    def assign(self) -> Path:
        """A proposal to move stores between merchandisers; safe to delete."""
        return self.root / "assign.xlsx"

    def revision(self, number: int) -> ProgramFolder:
        """The program as it was issued in one revision: its setup and the pictures it names."""
        return ProgramFolder(self.issued / "revisions" / f"{number:04d}")

    def relative(self, path: Path) -> str:
        """A path as tables show it: from the program folder, with forward slashes."""
        if path.is_relative_to(self.root) and ".." not in path.parts:
            return path.relative_to(self.root).as_posix()
        try:
            return path.resolve().relative_to(self.root.resolve()).as_posix()
        except ValueError:
            return path.as_posix()


def open_folder(root: Path, words: Words) -> ProgramFolder:
    """The program folder at `root`. Raises FolderError when there is none or it holds no setup."""
    folder = ProgramFolder(root)
    if not root.is_dir():
        raise FolderError(words("messages.no_folder", folder=root))
    if not folder.setup.is_file():
        raise FolderError(words("messages.no_setup", folder=root))
    return folder


def lock_of(path: Path) -> Path | None:
    """The lock file a spreadsheet program keeps beside a workbook while it is open, or None."""
    beside = (path.with_name(f"~${path.name}"), path.with_name(f".~lock.{path.name}#"))
    return next((lock for lock in beside if lock.exists()), None)


@contextmanager
def write_whole(path: Path, words: Words) -> Iterator[Path]:
    """A path beside `path` to write to, put in its place in one step when the block ends without an error.

    Raises FolderError when the place cannot be written, for example because it is open in another program.
    """
    with _opened_beside(path, words) as (handle, beside):
        os.close(handle)
        yield beside


@contextmanager
def _opened_beside(path: Path, words: Words) -> Iterator[tuple[int, Path]]:
    """As `write_whole`, with a file open for writing there, to be closed in the block."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.stem[:20]}-", suffix=path.suffix, dir=path.parent)
    except OSError as slip:
        raise FolderError(words("messages.cannot_write", path=path, reason=slip.strerror or slip)) from None
    beside = Path(name)
    try:
        yield handle, beside
        beside.chmod(0o644)
        beside.replace(path)
    except OSError as slip:
        raise FolderError(words("messages.cannot_write", path=path, reason=slip.strerror or slip)) from None
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


def sweep_unfinished(folder: Path) -> None:
    """Delete what somebody began to write whole in a folder more than a day ago and was stopped at."""
    before = time.time() - _SECONDS_A_DAY
    with suppress(OSError):
        for path in folder.iterdir():
            if _UNFINISHED.fullmatch(path.name) and path.stat().st_mtime < before:
                path.unlink()


def write_bytes_whole(path: Path, data: bytes, words: Words) -> None:
    """Write a file whole or not at all. Raises FolderError."""
    with _opened_beside(path, words) as (handle, _), os.fdopen(handle, "wb") as file:
        file.write(data)


def safe_file_name(*parts: str, suffix: str) -> str:
    """A file name from free texts that is legal on every system, at most 80 characters before the suffix.

    Where a text had to be changed for that, a mark is added that tells it from other texts changed to the same.
    """
    wanted = " ".join(part for part in parts if part)
    legal = "".join(" " if _is_illegal(one) else one for one in unicodedata.normalize("NFC", wanted))
    stem = _cut(" ".join(legal.split()).lstrip(" .~"))
    if _RESERVED_NAMES.fullmatch(stem):
        stem = f"_{stem}"
    if stem and stem == wanted:
        return f"{stem}{suffix}"
    mark = sha256(wanted.encode("utf-8", "surrogatepass"))[:8]
    return f"{_cut(stem, len(mark) + 1) or 'book'} {mark}{suffix}"


def _is_illegal(one: str) -> bool:
    """A character that some file system refuses, or that cannot be seen."""
    return one in _NOT_IN_FILE_NAMES or unicodedata.category(one) in ("Cc", "Cf", "Cs", "Cn")


def _cut(stem: str, spare: int = 0) -> str:
    """As much of a name as fits, without a space or point at its end."""
    short = stem[: _LONGEST_STEM - spare].encode()[: _LONGEST_STEM_BYTES - spare]
    return short.decode(errors="ignore").rstrip(" .")


def sha256(data: bytes) -> str:
    """The hex sha256 of some bytes."""
    return hashlib.sha256(data).hexdigest()


def digests_after(start: bytes) -> Callable[[bytes], str]:
    """A function that gives the hex sha256 of anything that begins with `start`, which is digested only once."""
    digested = hashlib.sha256(start)

    def digest(data: bytes) -> str:
        rest = digested.copy()
        rest.update(memoryview(data)[len(start) :])
        return rest.hexdigest()

    return digest


def is_plain_name(name: str) -> bool:
    """True for a bare file name that is legal on every system: no folder, no drive, nothing that leads elsewhere."""
    return (
        not any(map(_is_illegal, name))
        and not _RESERVED_NAMES.fullmatch(name)
        and name == name.rstrip(" .") != ""
        and len(name.encode("utf-8", "surrogatepass")) <= _LONGEST_NAME_BYTES
    )
