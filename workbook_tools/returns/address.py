"""Returns that lie at an fsspec address, such as s3://bucket/returns: which texts are one, and how bytes are had there.

fsspec is imported where an address is opened and nowhere else, because it is an extra, and slow to load. Stores raise
what they please; here it becomes an OSError, so that to all others a file in a store is like a file in a folder.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BufferedReader, RawIOBase
from pathlib import Path
from typing import Any, Literal, TypeAlias
from urllib.parse import urlsplit
from urllib.request import url2pathname

from workbook_tools.contract.contents import shown_name
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError

_LOOKS_LIKE_ONE = re.compile(r"([a-z][a-z0-9+.\-]*)(?:://|::)", re.IGNORECASE)
_CHAIN = "::"
_SECRETS = re.compile(r"(?<=://)[^/@\s]*@|\?[^\s'\"]*=[^\s'\"]*")
"""A user's name and password, and the fields behind a path, in an address or in a sentence that holds one."""

_READ_AHEAD = 4 << 20


@dataclass(frozen=True, slots=True, order=True)
class Address:
    """A file or folder at an address that fsspec knows; no bytes are had and nothing is loaded until it is opened."""

    url: str

    def __str__(self) -> str:
        """The address as people may see it: without passwords, and without what it is reached through."""
        links = self.url.split(_CHAIN)
        plain = next((link for link in links if "://" in link), links[0])
        return shown_name(_SECRETS.sub("", plain).rstrip("/"), 1_000)

    def opened(self) -> tuple[Any, str]:
        """The file system of fsspec's and the path in it. Raises OSError, MissingPackageError among others."""
        with as_os_errors():
            from fsspec.core import url_to_fs  # noqa: PLC0415

            store, path = url_to_fs(self.url)
        return store, path


@dataclass(frozen=True, slots=True)
class Stored:
    """A file in a store; whatever process reads it opens its address there. `path` is what the store calls it and
    never a path of this machine; `size` is in bytes.
    """

    address: Address
    path: str
    size: int

    @property
    def name(self) -> str:
        """The last part of its path."""
        return self.path.rstrip("/").rpartition("/")[2]

    def span(self, start: int, length: int) -> bytes:
        """Bytes from a 0-based offset on; fewer where the file ends. Raises OSError."""
        if start >= self.size:
            return b""
        with as_os_errors():
            data: bytes = self.address.opened()[0].cat_file(self.path, start=start, end=start + length)
        if start and len(data) > length:
            raise OSError(errno.EIO, "the store gives files only whole")
        return data[:length]

    def open(self, mode: Literal["rb"]) -> BufferedReader:
        """A stream of its bytes, which reads some megabytes at a time and raises OSError."""
        return BufferedReader(_Spans(self), _READ_AHEAD)


class _Spans(RawIOBase):
    """The bytes of a file in a store, one span after another: stores' own streams differ in what they can do."""

    def __init__(self, file: Stored) -> None:
        self._file = file
        self._at = 0

    def readable(self) -> bool:
        return True

    def readinto(self, into: Any) -> int:
        data = self._file.span(self._at, len(into))
        into[: len(data)] = data
        self._at += len(data)
        return len(data)


Place: TypeAlias = Path | Address
"""Where returns may lie."""


def place_of(text: str) -> Place:
    """What a person names as a place of returns: an address, or a path; `file://` is a path too."""
    found = _LOOKS_LIKE_ONE.match(text)
    if not found:
        return Path(text)
    if found[1].lower() not in ("file", "local") or _CHAIN in text:
        return Address(text)
    parts = urlsplit(text)
    server = "" if parts.netloc in ("", "localhost") else f"//{parts.netloc}"
    return Path(url2pathname(server + parts.path))


def must_be_there(places: Iterable[Place], words: Words) -> None:
    """Raise FolderError when nothing lies at one of the places, or its store cannot be reached."""
    for place in places:
        if isinstance(place, Path):
            if not place.exists():
                raise FolderError(words("messages.no_such_path", path=place))
            continue
        try:
            store, path = place.opened()
            with as_os_errors():
                store.info(path)
        except MissingPackageError as slip:
            raise FolderError(words("messages.no_store_package", address=place, reason=slip.strerror)) from None
        except FileNotFoundError:
            raise FolderError(words("messages.no_such_path", path=place)) from None
        except OSError as slip:
            raise FolderError(words("messages.no_store", address=place, reason=slip.strerror)) from None


def first_bytes(files: Sequence[Stored], lengths: Sequence[int]) -> list[bytes | None]:
    """So many first bytes of each of some files of one address, asked for all at once: waiting for one after another
    takes most of the time. None where they have to be asked for again, to know what is wrong.
    """
    if not files:
        return []
    try:
        with as_os_errors():
            store, _ = files[0].address.opened()
            found = store.cat_ranges([one.path for one in files], [0] * len(files), list(lengths))
    except OSError:
        return [None] * len(files)
    return [one[:most] if isinstance(one, bytes) else None for one, most in zip(found, lengths, strict=True)]


class MissingPackageError(OSError):
    """A store's kind is read by a package that is not installed; the message names it."""


@contextmanager
def as_os_errors() -> Iterator[None]:
    """Whatever a store raises, as an OSError with a reason that people can read."""
    try:
        yield
    except MemoryError:
        raise
    except FileNotFoundError as slip:
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)) from slip
    except PermissionError as slip:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES)) from slip
    except ImportError as slip:
        raise MissingPackageError(errno.EIO, shown_name(str(slip))) from slip
    except Exception as slip:
        reason = (slip.strerror if isinstance(slip, OSError) else None) or str(slip).split("\n")[0]
        raise OSError(errno.EIO, shown_name(_SECRETS.sub("", reason)) or type(slip).__name__) from slip
