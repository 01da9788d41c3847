"""Members of a zip, each where its directory says and apart from the others, inflated no further than told.

The standard library's zipfile inflates what a directory promises only through a slow reader.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable

from workbook_tools.contract.remembered import remembering
from workbook_tools.contract.zip_directory import END, END_RECORD, UTF8_FLAG, Directory, Member, UnfitZipError

_LOCAL = struct.Struct("<4s22x2H")
_LOCAL_SIZE = _LOCAL.size
_MADE_HEADER = struct.Struct("<5H3L2H")
"""What both headers of a member share: version, flags, method, time, date, checksum, two sizes, name and extra."""
_MADE_ENTRY_REST = struct.pack("<3HL", 0, 0, 0, 0)
_FIRST_DAY = 33
"""1 January 1980, the first day a zip can name."""
MOST_LOCAL = _LOCAL_SIZE + 2 * 0xFFFF
"""Bytes that may stand before a member's packed bytes: its local header, with a name and extra fields."""
_STORED, _DEFLATED = 0, 8
SHORT_PACKED, SHORT = 1 << 12, 1 << 15
"""Bytes of a member, packed and inflated, up to which what is in it is remembered: styles and relations are much the
same in all workbooks of one form.
"""


def check_places(buffer: bytes, members: Directory) -> None:
    """Raises UnfitZipError damaged_part when a member is not where the directory says, or lies over another one."""
    starts, packed, reached = members.starts, members.packed, 0
    for number in sorted(range(len(starts)), key=starts.__getitem__):
        first = _first_byte(buffer, starts[number], packed[number])
        if first is None or starts[number] < reached:
            raise UnfitZipError("damaged_part", members.names[number])
        reached = first + packed[number]


def _first_byte(buffer: bytes, start: int, packed: int) -> int | None:
    """Where the packed bytes begin behind a local header, both 0-based; None where there is no such header, or fewer
    bytes behind it.
    """
    if start + _LOCAL_SIZE > len(buffer):
        return None
    mark, name_length, extra_length = _LOCAL.unpack_from(buffer, start)
    first = start + _LOCAL_SIZE + name_length + extra_length
    return first if mark == b"PK\x03\x04" and first + packed <= len(buffer) else None


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
    first = _first_byte(buffer, member.start, member.packed)
    if first is None:
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
        header = _MADE_HEADER.pack(20, UTF8_FLAG, _STORED, 0, _FIRST_DAY, member.checksum, size, size, len(name), 0)
        chunks += (b"PK\x03\x04", header, name, data)
        entries += (b"PK\x01\x02\x14\x00", header, _MADE_ENTRY_REST, start.to_bytes(4, "little"), name)
        start += _LOCAL_SIZE + len(name) + size
    count, length = len(entries) // 5, sum(map(len, entries))
    return b"".join((*chunks, *entries, END_RECORD.pack(END, 0, 0, count, count, length, start, 0)))
