"""Zip files looked into with suspicion: their directory, and single members inflated no further than told.

The standard library's zipfile takes five times as long over the 150 members of a field book, inflates what a
directory promises only through a slow reader, and up to Python 3.11.7 opens members that overlap (CVE-2024-0450).
It is asked only for the rare directory in zip64 form.
"""

from __future__ import annotations

import struct
import zipfile
import zlib
from collections.abc import Iterable
from functools import partial
from io import BytesIO
from operator import attrgetter
from typing import NamedTuple

from workbook_tools.contract.remembered import remembering

_END = b"PK\x05\x06"
_END_RECORD = struct.Struct("<4s4H2LH")
_END64 = struct.Struct("<4s28x2Q8x")
"""The end record of zip64 form: its mark, how many entries there are, the bytes they take. It stands before a locator,
which stands before the plain end record.
"""
_END64_MARK, _LOCATOR_SIZE = b"PK\x06\x06", 20
_ENTRY = struct.Struct("<4s4x2H4x3L3H8xL")
_LOCAL = struct.Struct("<4s22x2H")
_LOCAL_SIZE = _LOCAL.size
_MADE_HEADER = struct.Struct("<5H3L2H")
"""What both headers of a member share: version, flags, method, time, date, checksum, two sizes, name and extra."""
_MADE_ENTRY_REST = struct.pack("<3HL", 0, 0, 0, 0)
_FIRST_DAY = 33
"""1 January 1980, the first day a zip can name."""
MOST_LOCAL = _LOCAL_SIZE + 2 * 0xFFFF
"""Bytes that may stand before a member's packed bytes: its local header, with a name and extra fields."""
_LONGEST_COMMENT = 0xFFFF
_FULL_LONG, _FULL_SHORT = 0xFFFFFFFF, 0xFFFF
_MOST_BYTES_A_NAME = 4096
_UTF8_FLAG, _LOCKED_FLAG = 0x800, 0x1
_UNICODE_PATH = 0x7075
_STORED, _DEFLATED = 0, 8
SHORT_PACKED, SHORT = 1 << 12, 1 << 15
"""Bytes of a member, packed and inflated, up to which what is in it is remembered: styles and relations are much the
same in all workbooks of one form.
"""


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

    @property
    def is_folder(self) -> bool:
        """True for an entry that only names a folder."""
        return self.name.endswith(("/", "\\")) and not self.size


_START = attrgetter("start")
_member = partial(tuple.__new__, Member)
"""Nearly twice as fast as calling the class, which shows where a file has two hundred members."""


def directory(buffer: bytes, most: int) -> list[Member]:
    """The members of a zip, in directory order, if there are at most `most`.

    Raises UnfitZipError: cut_short (no directory, or not where it says), too_many_parts.
    """
    end = buffer.rfind(_END, max(0, len(buffer) - _LONGEST_COMMENT - _END_RECORD.size))
    if end < 0 or end + _END_RECORD.size > len(buffer):
        raise UnfitZipError("cut_short")
    _, _, _, _, count, size, start, comment = _END_RECORD.unpack_from(buffer, end)
    rest = len(buffer) - end - _END_RECORD.size - comment
    if rest < 0 or (rest and buffer.find(_END) != end):
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
    return members


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


def _entries(buffer: bytes, position: int, end: int, count: int) -> list[Member] | None:
    """The directory's entries, or None when one keeps its sizes in zip64 form."""
    members: list[Member] = []
    unpack, last = _ENTRY.unpack_from, end - _ENTRY.size
    while position < end:
        if position > last or len(members) >= count:
            raise UnfitZipError("cut_short")
        signature, flags, method, checksum, packed, size, in_name, in_extra, in_comment, start = unpack(
            buffer, position
        )
        first = position + _ENTRY.size
        after = first + in_name
        position = after + in_extra + in_comment
        if signature != b"PK\x01\x02" or position > end:
            raise UnfitZipError("cut_short")
        if _FULL_LONG in (packed, size, start):
            return None
        raw = buffer[first:after]
        name = raw.decode("ascii") if raw.isascii() else _name(raw, flags)
        second = in_extra > 0 and _has_second_name(buffer[after : after + in_extra])
        members.append(_member((name, start, packed, size, method, checksum, flags & _LOCKED_FLAG != 0, second)))
    if len(members) != count:
        raise UnfitZipError("cut_short")
    return members


def _zip64(buffer: bytes, most: int) -> list[Member]:
    try:
        with zipfile.ZipFile(BytesIO(buffer)) as archive:
            infos = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, struct.error) as slip:
        raise UnfitZipError("cut_short") from slip
    if len(infos) > most:
        raise UnfitZipError("too_many_parts", len(infos))
    return [
        Member(
            info.orig_filename,
            info.header_offset,
            info.compress_size,
            info.file_size,
            info.compress_type,
            info.CRC,
            bool(info.flag_bits & _LOCKED_FLAG),
            _has_second_name(info.extra),
        )
        for info in infos
    ]


def _name(raw: bytes, flags: int) -> str:
    return raw.decode("utf-8", "replace") if flags & _UTF8_FLAG else raw.decode("cp437")


def _has_second_name(extra: bytes) -> bool:
    position = 0
    while position + 4 <= len(extra):
        kind, length = struct.unpack_from("<2H", extra, position)
        if kind == _UNICODE_PATH:
            return True
        position += 4 + length
    return False


def check_places(buffer: bytes, members: list[Member]) -> None:
    """Raises UnfitZipError damaged_part when a member is not where the directory says, or lies over another one."""
    reached = 0
    for member in sorted(members, key=_START):
        if member.start < reached:
            raise UnfitZipError("damaged_part", member.name)
        reached = _first_byte(buffer, member) + member.packed
        if reached > len(buffer):
            raise UnfitZipError("damaged_part", member.name)


def _first_byte(buffer: bytes, member: Member) -> int:
    start = member.start
    if start + _LOCAL_SIZE > len(buffer):
        raise UnfitZipError("damaged_part", member.name)
    signature, name_length, extra_length = _LOCAL.unpack_from(buffer, start)
    if signature != b"PK\x03\x04":
        raise UnfitZipError("damaged_part", member.name)
    return start + _LOCAL_SIZE + name_length + extra_length  # type: ignore[no-any-return]


def inflate(buffer: bytes, member: Member, most: int) -> bytes:
    """A member's bytes, whole, of the declared size and checksum.

    Raises UnfitZipError: too_large (more than `most` bytes declared), encrypted, packed_otherwise, damaged_part.
    """
    if member.size > most:
        raise UnfitZipError("too_large", member.name)
    packed = _packed(buffer, member, member.packed)
    unpack = _short_and_checksum if member.size < SHORT else _and_checksum
    try:
        data, checksum = unpack(packed, member.method, member.size + 1)
    except zlib.error as slip:
        raise UnfitZipError("damaged_part", member.name) from slip
    if len(data) != member.size or checksum != member.checksum:
        raise UnfitZipError("damaged_part", member.name)
    return data


def inflate_head(buffer: bytes, member: Member, most: int) -> bytes:
    """A member's first bytes, at most `most`, unchecked. Raises UnfitZipError as `inflate` does."""
    packed = _packed(buffer, member, 2 * most + 4096)
    try:
        return _unpacked(packed, member.method, most)
    except zlib.error as slip:
        raise UnfitZipError("damaged_part", member.name) from slip


def _packed(buffer: bytes, member: Member, most: int) -> bytes:
    """At most `most` bytes of a member's packed form."""
    if member.locked:
        raise UnfitZipError("encrypted", member.name)
    if member.method not in {_STORED, _DEFLATED}:
        raise UnfitZipError("packed_otherwise", member.name)
    first = _first_byte(buffer, member)
    if first + member.packed > len(buffer):
        raise UnfitZipError("damaged_part", member.name)
    return buffer[first : first + min(member.packed, most)]


def _unpacked(packed: bytes, method: int, most: int) -> bytes:
    """At most `most` bytes of what is packed. Raises zlib.error."""
    return packed[:most] if method == _STORED else zlib.decompressobj(-zlib.MAX_WBITS).decompress(packed, most)


def _and_checksum(packed: bytes, method: int, most: int) -> tuple[bytes, int]:
    data = _unpacked(packed, method, most)
    return data, zlib.crc32(data)


_short_and_checksum = remembering(SHORT_PACKED, 64)(_and_checksum)


def unpacked_zip(parts: Iterable[tuple[Member, bytes]]) -> bytes:
    """A zip of these members, each with its inflated bytes, which are stored as they are."""
    chunks: list[bytes] = []
    entries: list[bytes] = []
    start = 0
    for member, data in parts:
        name = member.name.encode()
        size = len(data)
        header = _MADE_HEADER.pack(20, _UTF8_FLAG, _STORED, 0, _FIRST_DAY, member.checksum, size, size, len(name), 0)
        chunks += (b"PK\x03\x04", header, name, data)
        entries += (b"PK\x01\x02\x14\x00", header, _MADE_ENTRY_REST, start.to_bytes(4, "little"), name)
        start += _LOCAL_SIZE + len(name) + size
    count, length = len(entries) // 5, sum(map(len, entries))
    return b"".join((*chunks, *entries, _END_RECORD.pack(_END, 0, 0, count, count, length, start, 0)))
