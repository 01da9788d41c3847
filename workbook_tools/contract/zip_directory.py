"""The directory of a zip, looked at with suspicion and kept by columns: of two hundred members few are looked at alone.

The standard library's zipfile takes seven times as long over the 180 members of a field book, and up to Python 3.11.7
opens members that overlap (CVE-2024-0450). It is asked only for the rare directory in zip64 form.
"""

from __future__ import annotations

import struct
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from io import BytesIO
from operator import attrgetter
from typing import Any, NamedTuple

from workbook_tools.contract.remembered import by_names

END = b"PK\x05\x06"
END_RECORD = struct.Struct("<4s4H2LH")
_END64 = struct.Struct("<4s28x2Q8x")
"""The end record of zip64 form: its mark, how many entries there are, the bytes they take. It stands before a locator,
which stands before the plain end record.
"""
_END64_MARK, _LOCATOR_SIZE = b"PK\x06\x06", 20
_FIELDS = "4s4x2H4x3L3H8xL"
"""An entry without its name, extra fields and comment."""
_ENTRY = struct.Struct(f"<{_FIELDS}")
_MARK = b"PK\x01\x02"
_COLUMNS = 12
"""An entry's values: those of _FIELDS, the name and the extra fields."""
_MOST_REMEMBERED = 500
"""Entries of a directory whose layout is remembered: one of two thousand would take a megabyte."""
_LONGEST_COMMENT = 0xFFFF
_FULL_LONG, _FULL_SHORT = 0xFFFFFFFF, 0xFFFF
_MOST_BYTES_A_NAME = 4096
UTF8_FLAG, _LOCKED_FLAG = 0x800, 0x1
_UNICODE_PATH = 0x7075


class UnfitZipError(Exception):
    """A zip that must not be read further: `rule` is a key of guard.REFUSALS, `detail` its field."""

    def __init__(self, rule: str, detail: object = "") -> None:
        super().__init__(rule)
        self.rule = rule
        self.detail = str(detail)


class Member(NamedTuple):
    """One member as the directory tells it. `start` is the 0-based offset of its local header; sizes in bytes."""

    name: str
    start: int
    packed: int
    size: int
    method: int
    checksum: int
    locked: bool = False
    second_name: bool = False
    """True when an extra field holds another name, which some readers believe and others do not."""


@dataclass(frozen=True, slots=True)
class Directory:
    """The members of a zip in directory order, by the fields of Member; looked through, it gives each as a Member."""

    names: tuple[str, ...]
    starts: tuple[int, ...]
    packed: tuple[int, ...]
    sizes: tuple[int, ...]
    methods: tuple[int, ...]
    checksums: tuple[int, ...]
    locked: tuple[bool, ...]
    second_names: tuple[bool, ...]

    def __len__(self) -> int:
        return len(self.names)

    def __getitem__(self, number: int) -> Member:
        return Member(*(column[number] for column in _columns_of(self)))

    def __iter__(self) -> Iterator[Member]:
        return map(self.__getitem__, range(len(self)))

    def some(self, numbers: Sequence[int]) -> Directory:
        """The members with these numbers, counted from 0."""
        return Directory(*(tuple(column[number] for number in numbers) for column in _columns_of(self)))


_columns_of = attrgetter(*(one.name for one in fields(Directory)))


def directory(buffer: bytes, most: int) -> Directory:
    """The members of a zip but for entries that only name folders, if there are at most `most` entries.

    Raises UnfitZipError: cut_short (no directory, or not where it says), too_many_parts.
    """
    end = buffer.rfind(END, max(0, len(buffer) - _LONGEST_COMMENT - END_RECORD.size))
    if end < 0 or end + END_RECORD.size > len(buffer):
        raise UnfitZipError("cut_short")
    _, _, _, _, count, size, start, comment = END_RECORD.unpack_from(buffer, end)
    rest = len(buffer) - end - END_RECORD.size - comment
    if rest < 0 or (rest and buffer.find(END) != end):
        raise UnfitZipError("cut_short")
    is_zip64 = count == _FULL_SHORT or _FULL_LONG in (size, start)
    members = None
    if not is_zip64:
        _refuse_too_many(count, size, most)
        if start + size != end:
            raise UnfitZipError("cut_short")
        members = _entries(buffer, start, end, count)
    if members is None:
        _refuse_too_many(*_told64(buffer, end, (count, size)), most)
        members = _zip64(buffer, most)
    return _without_folders(members)


def _refuse_too_many(count: int, size: int, most: int) -> None:
    """Raises UnfitZipError too_many_parts for more entries than `most`, or more bytes than so many can take."""
    if count > most or size > most * (_ENTRY.size + _MOST_BYTES_A_NAME):
        raise UnfitZipError("too_many_parts", count)


def _told64(buffer: bytes, end: int, plain: tuple[int, int]) -> tuple[int, int]:
    """How many entries there are and their bytes, as the standard library will take it: from the end record of zip64
    form where there is one, whatever the plain one says.
    """
    at = end - _LOCATOR_SIZE - _END64.size
    if at >= 0 and buffer.startswith(_END64_MARK, at):
        _, count, size = _END64.unpack_from(buffer, at)
        return count, size
    count, size = plain
    return count, 0 if size == _FULL_LONG else size


class _Layout:
    """How long the names, extra fields and comments of a directory's entries are, in bytes. All workbooks of one form
    that were saved by one program have the same, and with it the whole directory is taken apart at once.
    """

    def __init__(self, lengths: Sequence[tuple[int, int, int]]) -> None:
        self._lengths = tuple(zip(*lengths, strict=True)) or ((), (), ())
        self._marks = (_MARK,) * len(lengths)
        entries = (f"{_FIELDS}{name}s{extra}s{comment}x" for name, extra, comment in lengths)
        self._entries = struct.Struct(f"<{''.join(entries)}")

    def columns(self, buffer: bytes, start: int) -> list[tuple[Any, ...]]:
        """The entries by column: mark, flags, method, checksum, packed and inflated size, the three lengths, start,
        name, extra fields.
        """
        values = self._entries.unpack_from(buffer, start)
        return [values[number::_COLUMNS] for number in range(_COLUMNS)]

    def fits(self, columns: Sequence[tuple[Any, ...]]) -> bool:
        """Whether these are the columns of a directory with this layout."""
        return columns[0] == self._marks and tuple(columns[6:9]) == self._lengths


@lru_cache(maxsize=16)
def _last_seen(_count: int, _size: int) -> list[_Layout]:
    """The layout that a directory of so many entries and bytes had the last time, if there was one."""
    return []


def _entries(buffer: bytes, start: int, end: int, count: int) -> Directory | None:
    """The directory's entries, or None when one keeps its sizes in zip64 form."""
    seen = _last_seen(count, end - start)
    columns = seen[0].columns(buffer, start) if seen else []
    if not seen or not seen[0].fits(columns):
        lengths = _lengths(buffer, start, end, count)
        if lengths is None:
            return None
        layout = _Layout(lengths)
        columns = layout.columns(buffer, start)
        if count <= _MOST_REMEMBERED:
            seen[:] = [layout]
    _, flags, methods, checksums, packed, sizes, _, _, _, starts, names, extras = columns
    if _FULL_LONG in packed or _FULL_LONG in sizes or _FULL_LONG in starts:
        return None
    texts, locked = _names_and_locks(names, flags)
    seconds = tuple(map(_has_second_name, extras)) if any(extras) else (False,) * count
    return Directory(texts, starts, packed, sizes, methods, checksums, locked, seconds)


def _lengths(buffer: bytes, position: int, end: int, count: int) -> list[tuple[int, int, int]] | None:
    """The lengths that make a layout, or None when an entry keeps its sizes in zip64 form."""
    found: list[tuple[int, int, int]] = []
    unpack, last = _ENTRY.unpack_from, end - _ENTRY.size
    while position < end:
        if position > last or len(found) >= count:
            raise UnfitZipError("cut_short")
        mark, _, _, _, packed, size, in_name, in_extra, in_comment, start = unpack(buffer, position)
        position += _ENTRY.size + in_name + in_extra + in_comment
        if mark != _MARK or position > end:
            raise UnfitZipError("cut_short")
        if _FULL_LONG in (packed, size, start):
            return None
        found.append((in_name, in_extra, in_comment))
    if len(found) != count:
        raise UnfitZipError("cut_short")
    return found


@by_names
def _names_and_locks(names: tuple[bytes, ...], flags: tuple[int, ...]) -> tuple[tuple[str, ...], tuple[bool, ...]]:
    """The entries' names as texts, and which of them are locked."""
    return tuple(map(_name, names, flags)), tuple(flag & _LOCKED_FLAG != 0 for flag in flags)


def _without_folders(members: Directory) -> Directory:
    if not (folders := _folders(members.names)):
        return members
    return members.some([number for number, size in enumerate(members.sizes) if size or number not in folders])


@by_names
def _folders(names: tuple[str, ...]) -> frozenset[int]:
    """Which of the names, counted from 0, are those of folders."""
    return frozenset(number for number, name in enumerate(names) if name.endswith(("/", "\\")))


def _zip64(buffer: bytes, most: int) -> Directory:
    try:
        with zipfile.ZipFile(BytesIO(buffer)) as archive:
            infos = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, struct.error) as slip:
        raise UnfitZipError("cut_short") from slip
    if len(infos) > most:
        raise UnfitZipError("too_many_parts", len(infos))
    return Directory(
        tuple(info.orig_filename for info in infos),
        tuple(info.header_offset for info in infos),
        tuple(info.compress_size for info in infos),
        tuple(info.file_size for info in infos),
        tuple(info.compress_type for info in infos),
        tuple(info.CRC for info in infos),
        tuple(bool(info.flag_bits & _LOCKED_FLAG) for info in infos),
        tuple(_has_second_name(info.extra) for info in infos),
    )


def _name(raw: bytes, flags: int) -> str:
    return raw.decode("utf-8", "replace") if flags & UTF8_FLAG else raw.decode("cp437")


def _has_second_name(extra: bytes) -> bool:
    position = 0
    while position + 4 <= len(extra):
        kind, length = struct.unpack_from("<2H", extra, position)
        if kind == _UNICODE_PATH:
            return True
        position += 4 + length
    return False
