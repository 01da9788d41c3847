"""Workbooks put together by hand, so that each can be wrong in one way: zips, parts, and bombs of them."""

import struct
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

Parts = dict[str, bytes]

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
SHEET, STRINGS, STYLES = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml"
WORKBOOK, WORKBOOK_RELATIONS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"
TYPES = "[Content_Types].xml"
MB = 1 << 20


@dataclass(frozen=True)
class Entry:
    """One member as it is written: what the directory says of it may differ from what it holds."""

    name: bytes
    packed: bytes
    size: int
    checksum: int
    method: int = 8
    flags: int = 0
    extra: bytes = b""
    start: int | None = None


def entry(name: str, data: bytes, level: int = 6) -> Entry:
    """A member packed as it should be."""
    packer = zlib.compressobj(level, zlib.DEFLATED, -15)
    return Entry(name.encode(), packer.compress(data) + packer.flush(), len(data), zlib.crc32(data))


def pack(entries: Iterable[Entry], count: int | None = None, comment: bytes = b"") -> bytes:
    """A zip of members exactly as given; a member with a `start` is not written, only listed there."""
    body, listed = bytearray(), bytearray()
    number = 0
    for one in entries:
        number += 1
        start = len(body) if one.start is None else one.start
        sizes = struct.pack("<3L", one.checksum, len(one.packed), one.size)
        common = struct.pack("<4H", one.flags, one.method, 0, 0x21) + sizes
        lengths = struct.pack("<2H", len(one.name), len(one.extra))
        if one.start is None:
            body += b"PK\x03\x04\x14\x00" + common + lengths + one.name + one.extra + one.packed
        listed += b"PK\x01\x02\x14\x00\x14\x00" + common + lengths + bytes(10) + struct.pack("<L", start)
        listed += one.name + one.extra
    counts = (number if count is None else count) & 0xFFFF
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, counts, counts, len(listed), len(body), len(comment))
    return bytes(body + listed) + end + comment


def repeated(before: bytes, block: bytes, times: int, after: bytes) -> Entry:
    """A member without a name that holds one block over and over, packed without holding it in memory."""
    packer = zlib.compressobj(1, zlib.DEFLATED, -15)
    many = 4096
    packed = bytearray(packer.compress(before))
    checksum = zlib.crc32(before)
    for batch in [block * many] * (times // many) + [block * (times % many)]:
        packed += packer.compress(batch)
        checksum = zlib.crc32(batch, checksum)
    packed += packer.compress(after) + packer.flush()
    size = len(before) + len(block) * times + len(after)
    return Entry(b"", bytes(packed), size, zlib.crc32(after, checksum))


def cell(address: str, value: str = "7") -> str:
    """A number in a cell."""
    return f'<c r="{address}"><v>{value}</v></c>'


def sheet(rows: str, before: str = "", after: str = "", namespace: str = MAIN) -> bytes:
    """A sheet's XML around its rows."""
    opening = f'{HEAD}<worksheet xmlns="{namespace}">{before}<sheetData>'
    return f"{opening}{rows}</sheetData>{after}</worksheet>".encode()


def strings(items: str = "<si><t>label</t></si>", counts: str = 'count="1" uniqueCount="1"') -> bytes:
    """A part of shared strings."""
    return f'{HEAD}<sst xmlns="{MAIN}" {counts}>{items}</sst>'.encode()


def workbook(sheets: str = f'<sheet xmlns:r="{RELATIONS}" name="Return" sheetId="1" r:id="rId1"/>') -> bytes:
    """The workbook part."""
    return f'{HEAD}<workbook xmlns="{MAIN}"><sheets>{sheets}</sheets></workbook>'.encode()


def relations(targets: Iterable[tuple[str, str]]) -> bytes:
    """A part of relations: (last word of the type, target), numbered rId1, rId2, …"""
    listed = "".join(
        f'<Relationship Id="rId{number}" Type="{RELATIONS}/{kind}" Target="{target}"/>'
        for number, (kind, target) in enumerate(targets, 1)
    )
    return f'{HEAD}<Relationships xmlns="{PACKAGE}/relationships">{listed}</Relationships>'.encode()


LINKED = (("worksheet", "worksheets/sheet1.xml"), ("sharedStrings", "sharedStrings.xml"), ("styles", "styles.xml"))


def good_parts() -> Parts:
    """The parts of a small sound workbook: "label" in A1, 7 in B1."""
    types = (
        f'{HEAD}<Types xmlns="{PACKAGE}/content-types"><Default Extension="xml" ContentType="application/xml"/></Types>'
    )
    return {
        TYPES: types.encode(),
        "_rels/.rels": relations([("officeDocument", "xl/workbook.xml")]),
        WORKBOOK: workbook(),
        WORKBOOK_RELATIONS: relations(LINKED),
        STRINGS: strings(),
        STYLES: f'{HEAD}<styleSheet xmlns="{MAIN}"/>'.encode(),
        SHEET: sheet('<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1"><v>7</v></c></row>'),
        "xl/media/image1.png": b"\x89PNG\r\n\x1a\n" + bytes(200),
        "docProps/core.xml": f'{HEAD}<coreProperties xmlns="{PACKAGE}/metadata/core-properties"/>'.encode(),
    }


def made(parts: Parts | None = None) -> bytes:
    """The sound workbook with some parts put in the place of others (by path in `parts`)."""
    return pack(entry(name, data) for name, data in (good_parts() | (parts or {})).items())


def with_sheet(rows: str, before: str = "", after: str = "") -> bytes:
    """The sound workbook with another sheet in it."""
    return made({SHEET: sheet(rows, before, after)})


def without(name: str) -> bytes:
    """The sound workbook without one of its parts."""
    return pack(entry(key, data) for key, data in good_parts().items() if key != name)


def with_entry(name: str, change: Callable[[Entry], Entry]) -> bytes:
    """The sound workbook with one member written otherwise."""
    entries = [entry(key, data) for key, data in good_parts().items()]
    return pack(change(one) if one.name == name.encode() else one for one in entries)


def with_more(*more: Entry) -> bytes:
    """The sound workbook with further members."""
    return pack([*(entry(key, data) for key, data in good_parts().items()), *more])


def with_bomb(name: str, before: bytes, block: bytes, size: int, after: bytes) -> bytes:
    """The sound workbook with a part that inflates to about `size` bytes."""
    bomb = repeated(before, block, size // len(block), after)
    return with_entry(name, lambda one: replace(bomb, name=one.name))


def with_many(name: str, size: int, count: int) -> bytes:
    """The sound workbook with further members that inflate to `size` bytes each."""
    bomb = repeated(b"", b" " * 1024, size // 1024, b"")
    return with_more(*(replace(bomb, name=(name % n).encode()) for n in range(count)))


def halves(data: bytes) -> tuple[bytes, bytes]:
    """A part cut where a bomb goes in: before `</sheetData>` or `</sst>`."""
    at = max(data.find(b"</sheetData>"), data.find(b"</sst>"))
    return data[:at], data[at:]


def sheet_bomb(block: bytes, size: int) -> bytes:
    """A sheet blown up with one block."""
    before, after = halves(sheet(""))
    return with_bomb(SHEET, before, block, size, after)


def strings_bomb(block: bytes, size: int) -> bytes:
    """Shared strings blown up with one block."""
    before, after = halves(strings(""))
    return with_bomb(STRINGS, before, block, size, after)
