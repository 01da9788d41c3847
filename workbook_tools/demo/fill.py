"""Filling in a field book as a merchandiser would: answers into open cells only, everything else left as it was."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from xml.sax.saxutils import escape

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.names import a1
from workbook_tools.contract.serials import serial_day
from workbook_tools.contract.sheets import RawBlock, read_blocks
from workbook_tools.contract.words import words_for
from workbook_tools.errors import BuildError
from workbook_tools.field_book.parts import packed, sheet_parts, unpacked

Answers = Mapping[tuple[str, str, str], object]
"""(block, row key, field key) → answer; for the visit, row key and field key are both the question's key."""

_CELL = re.compile(rb'<c r="([A-Z]+\d+)"(?: s="(\d+)")?(?: t="\w+")?(?:/>|>(?:(?!</c>).)*</c>)', re.DOTALL)
_CACHED = re.compile(rb"(<f>[^<]*</f>)<v>[^<]*</v>")
_FORMATS = re.compile(rb"<cellXfs[^>]*>(.*?)</cellXfs>", re.DOTALL)
_FORMAT = re.compile(rb"<xf [^>]*?(?:/>|>.*?</xf>)", re.DOTALL)
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*")


def fill(book: bytes, answers: Answers, saved: dt.datetime) -> bytes:
    """A field book with answers typed into it, saved at a moment; the same input gives the same bytes.

    Dates and times are typed as a spreadsheet program stores them; None clears a cell. Raises BuildError when an
    answer's cell is not there or is locked.
    """
    blocks = {block.key: block for block in read_blocks(book, ("visit", "positions", "parts"))}
    parts = unpacked(book)
    named = sheet_parts(parts)
    typed: dict[str, dict[bytes, object]] = {}
    for (block, row, field), value in answers.items():
        raw = blocks[block]
        typed.setdefault(raw.sheet, {})[_address(raw, row, field)] = value
    unlocked = _unlocked_formats(parts["xl/styles.xml"])
    for sheet, cells in typed.items():
        part = named[sheet]
        parts[part] = _type_in(parts[part], cells, unlocked)
    sheets = {name: data for name, data in parts.items() if name.startswith("xl/worksheets/sheet")}
    parts |= {name: _CACHED.sub(rb"\1", data) for name, data in sheets.items()}
    moment = saved.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    parts["docProps/core.xml"] = _MODIFIED.sub(rb"\g<1>" + moment, parts["docProps/core.xml"])
    return packed(parts)


def in_words(answers: Answers, language: str) -> dict[tuple[str, str, str], object]:
    """Answers with their choices as the drop-downs of a book in a language offer them; all else as it is.

    A choice is given by its key, or as it is where it comes from the program (a brand, a place).
    """
    form, words = default_contract().field_book, words_for(language)
    said = {}
    for (block, row, name), value in answers.items():
        choices = form.block(block).by_key[name].choices
        said[block, row, name] = words.choice(choices, str(value)) if choices and value is not None else value
    return said


def _address(raw: RawBlock, row: str, field: str) -> bytes:
    column = default_contract().field_book.block(raw.key).value_column or field
    for number, cells in raw.rows:
        if cells[0] == row and column in raw.columns:
            return a1(number, raw.columns[column]).encode()
    raise BuildError(f"{raw.key}: no cell for {row} {field}")


def _unlocked_formats(styles: bytes) -> frozenset[bytes]:
    """The numbers of the cell formats that are not locked."""
    found = _FORMATS.search(styles)
    formats = _FORMAT.findall(found[1]) if found else []
    return frozenset(str(number).encode() for number, one in enumerate(formats) if b'locked="0"' in one)


def _type_in(sheet: bytes, cells: Mapping[bytes, object], unlocked: frozenset[bytes]) -> bytes:
    left = dict(cells)

    def typed(match: re.Match[bytes]) -> bytes:
        if match[1] not in left:
            return match[0]
        if match[2] not in unlocked:
            raise BuildError(f"{match[1].decode()} is locked")
        return _cell_xml(match[1], match[2], left.pop(match[1]))

    filled = _CELL.sub(typed, sheet)
    if left:
        raise BuildError(f"no open cell at {', '.join(address.decode() for address in left)}")
    return filled


def _cell_xml(address: bytes, style: bytes, value: object) -> bytes:
    head = b'<c r="' + address + b'" s="' + style + b'"'
    if value is None:
        return head + b"/>"
    if isinstance(value, dt.date):
        value = serial_day(value)
    elif isinstance(value, dt.time):
        value = (value.hour * 60 + value.minute) / (24 * 60)
    if isinstance(value, int | float):
        return head + b"><v>" + repr(value).encode() + b"</v></c>"
    text = escape(str(value)).encode()
    return head + b' t="inlineStr"><is><t xml:space="preserve">' + text + b"</t></is></c>"
