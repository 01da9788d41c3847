"""A look at a file before anything parses it: what cannot be a field book, or could harm a reader, is refused here.

Only the zip directory and the XML parts that will be read are looked at; pictures count by their declared size.
Measured limits of the reader's native code stand behind the rules: a far cell, a huge shared-string count or a bomb
ends its process.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO

MOST_FILE_BYTES = 32 * 1024**2
MOST_PARTS = 2_000
MOST_INFLATED_BYTES = 64 * 1024**2
MOST_SHARED_STRINGS = 2_000_000
MOST_ROWS, MOST_COLUMNS = 5_000, 256
"""The grid of a field book, with room: no sheet we write comes near it."""
MOST_CELLS = 500_000

REFUSALS = (
    "empty_file",
    "too_large",
    "not_a_workbook",
    "legacy_xls",
    "encrypted",
    "open_document",
    "numbers_file",
    "text_file",
    "web_page",
    "cut_short",
    "damaged_part",
    "too_many_parts",
    "doubled_part",
    "unsafe_name",
    "missing_part",
    "not_utf8",
    "document_type",
    "shared_strings_count",
    "far_cell",
    "macros",
    "external_links",
)
"""Every rule `guard` can refuse a file by; the words stand in the words files under [rules.<name>]."""

_ZIP, _EMPTY_ZIP, _OLE = b"PK\x03\x04", b"PK\x05\x06", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED_PACKAGE = "EncryptedPackage".encode("utf-16-le")
_WEB_PAGE = re.compile(rb"\s*(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html|head|body|table)\b", re.IGNORECASE | re.DOTALL)
_READ_PARTS = re.compile(
    r"\[content_types\]\.xml|_rels/\.rels|docprops/core\.xml|xl/(?:workbook|styles|sharedstrings)\d*\.xml"
    r"|xl/_rels/.*\.rels|xl/worksheets/[^/]*\.xml"
)
_DECLARED_ENCODING = re.compile(rb"""<\?xml[^>]*?encoding\s*=\s*["']([^"']*)["']""")
_STRING_COUNT = re.compile(rb"""\b(?:uniqueCount|count)\s*=\s*["'](\d+)["']""")
_SHORTEST_STRING = 4
"""No shared string is written in fewer bytes: `<t/>`, with nothing around it."""
_FAR_ROW = re.compile(rb"""\sr\s*=\s*["'][A-Za-z]*(?:[1-9]\d{4,}|[5-9]\d{3}|0\d*)["']""")
_FAR_COLUMN = re.compile(rb"""\sr\s*=\s*["'](?:[A-Za-z]{3,}|[J-Zj-z][A-Za-z]|[Ii][W-Zw-z])\d""")
_CELL = re.compile(rb"<(?:\w+:)?c[\s/>]")
_ROW = re.compile(rb"<(?:\w+:)?row[\s/>]")


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a file is not read: a rule of the catalogue, and the part or number that its words mention."""

    rule: str
    detail: str = ""


def guard(data: bytes) -> Refusal | None:
    """Look at a file's bytes; None when it may be parsed. Never raises for what the bytes hold."""
    if not data:
        return Refusal("empty_file")
    if len(data) > MOST_FILE_BYTES:
        return Refusal("too_large", _megabytes(len(data)))
    if not data.startswith(_ZIP):
        return _not_a_zip(data)
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            return _look_inside(archive)
    except zipfile.BadZipFile as slip:
        return Refusal("cut_short", str(slip)) if "Bad CRC" not in str(slip) else Refusal("damaged_part", str(slip))
    except (zlib.error, EOFError, OSError, NotImplementedError, RuntimeError, ValueError, UnicodeError) as slip:
        return Refusal("damaged_part", str(slip))


def _not_a_zip(data: bytes) -> Refusal:
    head = data[:4096]
    if data.startswith(_OLE):
        return Refusal("encrypted" if _ENCRYPTED_PACKAGE in data else "legacy_xls")
    if data.startswith(_EMPTY_ZIP):
        return Refusal("not_a_workbook")
    if _WEB_PAGE.match(head.lstrip(b"\xef\xbb\xbf")):
        return Refusal("web_page")
    if b"\0" not in head and not any(byte < 9 for byte in head):
        return Refusal("text_file")
    return Refusal("not_a_workbook")


def _look_inside(archive: zipfile.ZipFile) -> Refusal | None:
    members = archive.infolist()
    if len(members) > MOST_PARTS:
        return Refusal("too_many_parts", str(len(members)))
    names = [member.filename.replace("\\", "/").casefold() for member in members]
    return next(filter(None, _checks(archive, members, names)), None)


def _checks(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo], names: list[str]) -> Iterator[Refusal | None]:
    """The checks in the order of their cost; the first refusal counts."""
    yield _kind(archive, names)
    yield _names(members, names)
    yield _sizes(members)
    for member, name in zip(members, names, strict=True):
        if _READ_PARTS.fullmatch(name):
            yield _part(name, archive.read(member))


def _kind(archive: zipfile.ZipFile, names: list[str]) -> Refusal | None:
    """What sort of document the container is."""
    if "mimetype" in names:
        kind = archive.read(archive.infolist()[names.index("mimetype")].filename)[:100]
        return Refusal("open_document" if b"opendocument" in kind else "not_a_workbook")
    if any(name.endswith(".iwa") or name == "index.zip" for name in names):
        return Refusal("numbers_file")
    if "[content_types].xml" not in names:
        return (
            Refusal("missing_part", "[Content_Types].xml") if "xl/workbook.xml" in names else Refusal("not_a_workbook")
        )
    if not any(name.startswith("xl/") for name in names):
        return Refusal("not_a_workbook")
    return Refusal("macros") if any(name.endswith("vbaproject.bin") for name in names) else None


def _names(members: list[zipfile.ZipInfo], names: list[str]) -> Refusal | None:
    if any(name.startswith("xl/externallinks/") for name in names):
        return Refusal("external_links")
    for member, name in zip(members, names, strict=True):
        if name.startswith("/") or ":" in name or ".." in name.split("/") or "\0" in member.orig_filename:
            return Refusal("unsafe_name", member.filename)
    if len(set(names)) < len(names):
        return Refusal("doubled_part", next(name for name in names if names.count(name) > 1))
    if not any(re.fullmatch(r"xl/workbook\d*\.xml", name) for name in names):
        return Refusal("missing_part", "xl/workbook.xml")
    if not any(name.startswith("xl/worksheets/") for name in names):
        return Refusal("missing_part", "xl/worksheets")
    return None


def _sizes(members: list[zipfile.ZipInfo]) -> Refusal | None:
    """Declared sizes, ways of packing, and parts that lie over one another."""
    if (total := sum(member.file_size for member in members)) > MOST_INFLATED_BYTES:
        return Refusal("too_large", _megabytes(total))
    end = 0
    for member in sorted(members, key=lambda one: one.header_offset):
        if member.flag_bits & 0x1:
            return Refusal("encrypted")
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) or member.header_offset < end:
            return Refusal("damaged_part", member.filename)
        end = member.header_offset + member.compress_size
    return None


def _part(name: str, text: bytes) -> Refusal | None:
    """One XML part as inflated; its checksum was right."""
    declared = _DECLARED_ENCODING.match(text.removeprefix(b"\xef\xbb\xbf"))
    odd = declared and declared[1].lower() not in (b"utf-8", b"utf8", b"us-ascii", b"ascii")
    if odd or text.startswith((b"\xfe\xff", b"\xff\xfe")) or b"\0" in text[:64]:
        return Refusal("not_utf8", name)
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
        return Refusal("document_type", name)
    if name.startswith("xl/sharedstrings"):
        return _shared_strings(text)
    return _sheet(name, text) if name.startswith("xl/worksheets/") else None


def _shared_strings(text: bytes) -> Refusal | None:
    for count in map(int, _STRING_COUNT.findall(text[:4096])):
        if count > MOST_SHARED_STRINGS or count > max(len(text) // _SHORTEST_STRING, 1) * 1_000:
            return Refusal("shared_strings_count", str(count))
    return None


def _sheet(name: str, text: bytes) -> Refusal | None:
    if far := _FAR_ROW.search(text) or _FAR_COLUMN.search(text):
        return Refusal("far_cell", f"{name}:{far[0].decode('ascii', 'replace').strip()}")
    if len(text) > MOST_CELLS and (sum(1 for _ in _CELL.finditer(text)) > MOST_CELLS or _rows(text) > MOST_ROWS):
        return Refusal("far_cell", name)
    return None


def _rows(text: bytes) -> int:
    return sum(1 for _ in _ROW.finditer(text))


def _megabytes(size: int) -> str:
    return f"{size / 1024**2:.0f} MB"
