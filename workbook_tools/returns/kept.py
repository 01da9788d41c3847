"""What was read from files that were read before, kept by content beside the roll-up; safe to delete at any time.

One gzip file of JSON lines: no object of this program is stored, so nothing that lies on a shared drive is ever run.
It opens with a digest of everything that decides how a file is read, and ends with a digest of itself; what does not
agree is passed over as if it were not there.
"""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import json
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import fields
from functools import partial
from importlib.metadata import version
from io import BufferedWriter, BytesIO
from pathlib import Path
from typing import Any

from workbook_tools import __version__
from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.contract.guard import Refusal
from workbook_tools.contract.load import templates_folder
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError
from workbook_tools.folder import write_bytes_whole
from workbook_tools.returns.read import BlockRead, ReadReturn

_PACKAGE = Path(__file__).resolve().parents[1]
_READER = "python-calamine"
_DAMAGED = (OSError, EOFError, zlib.error, ValueError, TypeError, LookupError, AttributeError, RecursionError)
"""Whatever a file of any content can make the decoder raise."""
MOST_BYTES = 1 << 30
"""Bytes the lines may have when inflated; results of a million returns."""
_BUFFER = 1 << 16
"""Bytes that are packed at a time."""
_PASSING = frozenset(("", "unreadable", "reader_died", "reader_too_much", "reader_too_slow"))
"""Refusals that say something of the machine at that moment, not of the file."""


def rules_digest() -> str:
    """A digest of all that decides how a file is read: this program, the contract and its words, the reader."""
    digest = hashlib.sha256(f"{__version__} {version(_READER)}".encode())
    templates = templates_folder()
    code = (path for part in ("contract", "returns") for path in (_PACKAGE / part).glob("*.py"))
    for path in (*sorted(templates.rglob("*.toml")), *sorted(code)):
        digest.update(path.name.encode() + b"\0" + hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def load_kept(path: Path, rules: str) -> dict[str, ReadReturn]:
    """What an earlier merge kept, by sha256 of a file's bytes; nothing when other rules held then or it is damaged."""
    try:
        with gzip.open(path, "rb") as packed:
            text = packed.read(MOST_BYTES + 1)
        body, _, end = text.rpartition(b"\n")
        rules_said, *lines = body.split(b"\n")
        if len(text) > MOST_BYTES or rules_said.decode() != rules or end.decode() != _digest(body):
            return {}
        return {read.sha256: read for read in _Decoder().reads(map(json.loads, lines))}
    except _DAMAGED:
        return {}


class Pack:
    """Results packed as they come, one a file content, to be kept for the next merge."""

    def __init__(self, rules: str) -> None:
        self._packed = BytesIO()
        zipped = gzip.GzipFile(fileobj=self._packed, mode="wb", compresslevel=1, mtime=0)
        self._file = BufferedWriter(zipped, _BUFFER)
        self._digest = hashlib.sha256()
        self._encoder = _Encoder()
        self._contents: set[str] = set()
        self._write(rules)

    def add(self, read: ReadReturn) -> None:
        """Pack a result, if it is to be kept."""
        if read.sha256 and read.sha256 not in self._contents and not _is_passing(read):
            self._contents.add(read.sha256)
            for line in self._encoder.lines(read):
                self._write(f"\n{line}")

    def save(self, path: Path, words: Words) -> None:
        """Close the pack and write it. That it cannot be written is no reason to stop a merge."""
        self._file.write(f"\n{self._digest.hexdigest()}".encode())
        self._file.close()
        with suppress(FolderError):
            write_bytes_whole(path, self._packed.getvalue(), words)

    def _write(self, text: str) -> None:
        data = text.encode()
        self._digest.update(data)
        self._file.write(data)


def _is_passing(read: ReadReturn) -> bool:
    return read.refusal is not None and read.refusal.rule in _PASSING


def _digest(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()


_NAMES = {kind: tuple(one.name for one in fields(kind)) for kind in (ReadReturn, BlockRead, Refusal, Finding, Phrase)}
_PLAIN = frozenset((str, int, float, bool, type(None)))


class _Encoder:
    """Results → lines. Every list in a line is [kind, what is in it]; `same` numbers a column that many share."""

    def __init__(self) -> None:
        self._by_text: dict[str, int] = {}
        self._by_id: dict[int, int] = {}
        self._new: list[str] = []

    def lines(self, read: ReadReturn) -> Iterator[str]:
        """The line for a result, after the lines for the columns it is the first to hold.

        A result that holds something of no known kind has none, and so is read again the next time.
        """
        try:
            line = json.dumps(self._plain(read))
        except TypeError:
            return
        yield from self._new
        self._new.clear()
        yield line

    def _plain(self, value: object) -> object:
        if type(value) in _PLAIN:
            return value
        if type(value) is dict and _PLAIN.issuperset(map(type, value.values())):
            return ["object", value]
        return [type(value).__name__, self._inside(value)]

    def _inside(self, value: Any) -> object:
        kind = type(value)
        if kind in (dt.date, dt.time):
            return value.isoformat()
        if kind in (tuple, frozenset):
            return [self._plain(one) for one in (sorted(value) if kind is frozenset else value)]
        if kind is dict:
            return [[key, self._plain(one)] for key, one in value.items()]
        if kind not in _NAMES:
            raise TypeError(kind.__name__)
        plain = self._shared if kind is BlockRead else self._plain
        return [plain(getattr(value, name)) for name in _NAMES[kind]]

    def _shared(self, value: object) -> object:
        """A part of a block: a column or layout by its number, and what holds columns by theirs."""
        if type(value) is dict and type(next(iter(value.values()), None)) is tuple:
            return ["columns", {key: self._number(one) for key, one in value.items()}]
        return ["same", self._number(value)] if type(value) in (dict, tuple) else self._plain(value)

    def _number(self, value: object) -> int:
        """Found by identity first: results that were read together hold the very same columns, all alive till now."""
        if id(value) not in self._by_id:
            text = json.dumps(self._plain(value))
            if text not in self._by_text:
                self._by_text[text] = len(self._by_text)
                self._new.append(text)
            self._by_id[id(value)] = self._by_text[text]
        return self._by_id[id(value)]


class _Decoder:
    """Lines → results."""

    def __init__(self) -> None:
        self._columns: list[Any] = []
        self._made_of: dict[str, Callable[[Any], Any]] = {
            "object": dict,
            "dict": lambda pairs: {key: self._value(one) for key, one in pairs},
            "tuple": lambda values: tuple(map(self._value, values)),
            "frozenset": lambda values: frozenset(map(self._value, values)),
            "date": dt.date.fromisoformat,
            "time": dt.time.fromisoformat,
            "same": self._columns.__getitem__,
            "columns": lambda numbers: {key: self._columns[number] for key, number in numbers.items()},
            **{kind.__name__: partial(self._stored, kind) for kind in _NAMES},
        }

    def reads(self, lines: Iterable[Any]) -> Iterator[ReadReturn]:
        """Every result, in order. Raises any of _DAMAGED."""
        for line in lines:
            value = self._value(line)
            if isinstance(value, ReadReturn):
                yield value
            else:
                self._columns.append(value)

    def _value(self, plain: Any) -> Any:
        return self._made_of[plain[0]](plain[1]) if type(plain) is list else plain

    def _stored(self, kind: type[Any], values: list[Any]) -> Any:
        return kind(**dict(zip(_NAMES[kind], map(self._value, values), strict=True)))
