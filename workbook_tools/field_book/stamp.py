"""Stamping: a field book built once, and one store's texts → that store's field book, without building it again.

The template is an .xlsx whose XML parts hold placeholders: `{{store.name}}`, and `{{footer:store.name}}` inside
`<headerFooter>`, where `&` starts a code and is doubled. Parts without placeholders are copied as they lie in the
template. In the others every stretch between placeholders is deflated once, each ending on a whole byte with nothing
later referring back to it (zlib's full flush), so that a store's texts can be set between them as stored, that is
uncompressed, blocks (RFC 1951, section 3.2.4). Per store nothing is deflated; bytes are joined and check sums counted.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from workbook_tools.contract.writing import legal_text
from workbook_tools.errors import BuildError

_PLACEHOLDER = re.compile(rb"\{\{(footer:)?([a-z_.]+)\}\}")
_HEADER_FOOTER = re.compile(rb"<headerFooter\b.*?</headerFooter>", re.DOTALL)
_OPEN_SIZE_CODE = re.compile(rb"&amp;\d+\Z")
_XML_PARTS = (".xml", ".rels", ".vml")
"""Only these are searched: in a picture the same bytes could stand by chance."""

_LIKE_AN_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_XML_ESCAPES = str.maketrans(
    {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "\n": "&#10;", "\t": "&#9;"}  # &#10;: also for attributes
)

# ZIP records as APPNOTE.TXT 4.3.7, 4.3.12 and 4.3.16 lay them out; the fields both headers share are `_SHARED`:
# version needed 2.0, flags, method, time, date, CRC-32, packed size, size, name length, no extra field.
_SHARED = struct.Struct("<5H3I2H")
_CENTRAL_REST = struct.pack("<3HI", 0, 0, 0, 0)
_OFFSET = struct.Struct("<I")
_END = struct.Struct("<4s4H2IH")
_LOCAL_HEADER_SIZE = 30
_TIME, _DATE = 0, 1 << 5 | 1
"""Midnight, 1 January 1980: the first moment a ZIP file can hold."""
_UTF_8_NAME, _ENCRYPTED = 0x800, 0x1
_MOST_PARTS, _MOST_BYTES = 0xFFFE, 0xFFFFFFFE
"""Beyond these a ZIP file needs the zip64 extension, which some readers of workbooks lack."""

_STORED_BLOCK = struct.Struct("<BHH")
_LONGEST_STORED_BLOCK = 0xFFFF
_LAST_BLOCK = b"\x03\x00"
"""An empty last block of deflate, in the fixed code."""


class Stamp:
    """One template, ready to be stamped any number of times. Holds bytes only, so it can be sent to a worker.

    The parts that are the same in every book come first: `shared` are the bytes that every book starts with.
    `template` is a whole .xlsx. A text of the program that happens to look like a placeholder is taken for one; a
    stamped value is not. Raises BuildError if it is no ZIP file, holds what a plain ZIP file cannot, or has a
    placeholder of the plain form inside a header or footer, of the footer form outside one, or right after a font
    size (`&8{{footer:store.number}}`: a number stamped there would be read as part of the size).
    """

    def __init__(self, template: bytes) -> None:
        self._slots: dict[tuple[str, bool], int] = {}
        try:
            with zipfile.ZipFile(io.BytesIO(template)) as archive:
                parts = [self._prepared(archive, info, template) for info in archive.infolist()]
        except (zipfile.BadZipFile, zlib.error) as slip:
            raise BuildError(f"the template is not an .xlsx file: {slip}") from None
        if len(parts) > _MOST_PARTS:
            raise BuildError(f"the template has {len(parts)} parts; a book can hold {_MOST_PARTS}")
        self._stamped = [part for part in parts if isinstance(part, _Stamped)]
        self._count = len(parts)
        self._directory: list[bytes] = []
        self.shared = self._laid_out((part for part in parts if isinstance(part, _Member)), 0, self._directory)

    @property
    def placeholders(self) -> frozenset[str]:
        """The keys of all placeholders, whatever their form ("store.name")."""
        return frozenset(key for key, _ in self._slots)

    def render(self, values: Mapping[str, str]) -> bytes:
        """The book with every placeholder replaced: a whole .xlsx, the same bytes for the same values.

        `values` has a plain text for every placeholder; keys that the template does not use are passed over. The text
        that can be read back is `text_as_stamped(value)`. That a cell stays within 32,767 characters, a header or
        footer within 255, and that a text inside a formula holds no quotation marks, is for the caller to see to.
        Raises BuildError when a value is missing or the book would need zip64.
        """
        texts = self._texts(values)
        directory = list(self._directory)
        stamped = self._laid_out((part.stamped(texts) for part in self._stamped), len(self.shared), directory)
        size, start = sum(map(len, directory)), len(self.shared) + len(stamped)
        _within_zip(start + size)
        end = _END.pack(b"PK\5\6", 0, 0, self._count, self._count, size, start, 0)
        return b"".join((self.shared, stamped, *directory, end))

    def _laid_out(self, members: Iterable[_Member], offset: int, directory: list[bytes]) -> bytes:
        """Members one after another from an offset in the file; their entries are added to the directory."""
        chunks = []
        for member in members:
            chunks.append(member.local)
            directory += (member.central, _OFFSET.pack(_within_zip(offset)), member.name)
            offset += len(member.local)
        return b"".join(chunks)

    def _texts(self, values: Mapping[str, str]) -> list[bytes]:
        missing = sorted(self.placeholders.difference(values))
        if missing:
            raise BuildError(f"no value is given for {', '.join(missing)}")
        return [_escaped(values[key], footer) for key, footer in self._slots]

    def _prepared(self, archive: zipfile.ZipFile, info: zipfile.ZipInfo, template: bytes) -> _Member | _Stamped:
        if info.flag_bits & _ENCRYPTED or info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise BuildError(f"{info.filename} is encrypted or packed by a method other than deflate")
        if info.filename.endswith(_XML_PARTS):
            text = archive.read(info)
            if _PLACEHOLDER.search(text):
                _check_forms(info.filename, text)
                return _Stamped(info.filename, self._pieces(text))
        name_length, extra_length = struct.unpack_from("<2H", template, info.header_offset + 26)
        start = info.header_offset + _LOCAL_HEADER_SIZE + name_length + extra_length
        packed = template[start : start + info.compress_size]
        return _member(info.filename, packed, info.CRC, info.file_size, info.compress_type)

    def _pieces(self, text: bytes) -> Iterator[bytes | int]:
        """A part in order: literal bytes, and for each placeholder the index of its text in `_texts`."""
        literal, *rest = _PLACEHOLDER.split(text)
        yield literal
        for form, key, following in zip(rest[::3], rest[1::3], rest[2::3], strict=True):
            yield self._slots.setdefault((key.decode("ascii"), form is not None), len(self._slots))
            yield following


def text_as_stamped(value: str) -> str:
    """The text that a stamped value reads back as.

    Characters XML 1.0 cannot hold are dropped, line ends become \\n, and white space at either end goes: readers
    disagree about it wherever the template's own text did not begin or end with a space.
    """
    return legal_text(value).replace("\r\n", "\n").replace("\r", "\n").strip()


class _Member(NamedTuple):
    """A part as it lies in the ZIP file; the offset of `local` stands between `central` and `name` in the directory."""

    local: bytes
    central: bytes
    name: bytes


class _Span(NamedTuple):
    """A run of short literals and text indexes, stored for each store, and the literal after it, deflated once."""

    stored: tuple[bytes | int, ...]
    literal: bytes
    deflated: bytes


class _Stamped:
    """A part with placeholders."""

    def __init__(self, filename: str, pieces: Iterator[bytes | int]) -> None:
        self._filename = filename
        self._start = _Span((), b"", b"")
        self._spans: list[_Span] = []
        run: list[bytes | int] = []
        for piece in pieces:
            deflated = _deflated(piece) if isinstance(piece, bytes) else b""
            if not isinstance(piece, bytes) or len(deflated) + _STORED_BLOCK.size >= len(piece):
                run.append(piece)
                continue
            span = _Span(tuple(run), piece, deflated)
            if run or self._spans:
                self._spans.append(span)
            else:
                self._start = span
            run = []
        self._spans.append(_Span(tuple(run), b"", b""))
        self._start_crc = zlib.crc32(self._start.literal)

    def stamped(self, texts: list[bytes]) -> _Member:
        """The part with these texts in place."""
        packed = [self._start.deflated]
        crc, size = self._start_crc, len(self._start.literal)
        for stored, literal, deflated in self._spans:
            text = b"".join([texts[piece] if isinstance(piece, int) else piece for piece in stored])
            crc = zlib.crc32(literal, zlib.crc32(text, crc))
            size += len(text) + len(literal)
            packed += (*_stored_blocks(text), deflated)
        packed.append(_LAST_BLOCK)
        return _member(self._filename, b"".join(packed), crc, size, zipfile.ZIP_DEFLATED)


def _escaped(value: str, footer: bool) -> bytes:
    """A value as XML writes it, in text and in attributes.

    `_x0041_` in a text of a workbook stands for one character (ECMA-376 part 1, ST_Xstring); where a value holds
    such a thing as it is, its first underscore is written as `_x005F_`.
    """
    text = text_as_stamped(value)
    if footer:
        text = text.replace("&", "&&")
    return _LIKE_AN_ESCAPE.sub("_x005F_", text).translate(_XML_ESCAPES).encode()


def _check_forms(filename: str, text: bytes) -> None:
    areas = [found.span() for found in _HEADER_FOOTER.finditer(text)]
    for found in _PLACEHOLDER.finditer(text):
        inside = any(first < found.start() < last for first, last in areas)
        shown = f"{filename}: {found[0].decode('ascii')}"
        if inside and found[1] is None:
            raise BuildError(f"{shown} stands in a header or footer; write it as {{{{footer:…}}}}")
        if not inside and found[1]:
            raise BuildError(f"{shown} stands outside headers and footers; write it without footer:")
        if inside and _OPEN_SIZE_CODE.search(text, 0, found.start()):
            raise BuildError(f"{shown} follows a font size; put a space between")


def _deflated(literal: bytes) -> bytes:
    packer = zlib.compressobj(zlib.Z_BEST_COMPRESSION, zlib.DEFLATED, -zlib.MAX_WBITS)
    return packer.compress(literal) + packer.flush(zlib.Z_FULL_FLUSH)


def _stored_blocks(text: bytes) -> Iterator[bytes]:
    for start in range(0, len(text), _LONGEST_STORED_BLOCK):
        block = text[start : start + _LONGEST_STORED_BLOCK]
        yield _STORED_BLOCK.pack(0, len(block), len(block) ^ 0xFFFF)
        yield block


def _member(filename: str, packed: bytes, crc: int, size: int, method: int) -> _Member:
    name = filename.encode()
    flags = 0 if filename.isascii() else _UTF_8_NAME
    _within_zip(max(len(packed), size))
    shared = _SHARED.pack(20, flags, method, _TIME, _DATE, crc, len(packed), size, len(name), 0)
    return _Member(b"PK\3\4" + shared + name + packed, b"PK\1\2\x14\0" + shared + _CENTRAL_REST, name)


def _within_zip(number: int) -> int:
    if number > _MOST_BYTES:
        raise BuildError(f"the book would be larger than {_MOST_BYTES} bytes")
    return number
