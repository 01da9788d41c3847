"""Gives every live formula of a field book its true result, for books that are written with answers in them.

Viewers and some programs never compute: what is stored beside a formula is what people see.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple, TypeAlias
from xml.sax.saxutils import escape

from workbook_tools.contract.names import row_and_column
from workbook_tools.errors import BuildError
from workbook_tools.field_book.formulas import Failed, Value, as_text, evaluate
from workbook_tools.field_book.parts import packed, sheet_parts, unpacked

_CELL = re.compile(r'<c r="([A-Z]+[0-9]+)"(?: s="([0-9]+)")?(?: t="(\w+)")?(?:/>|>(.*?)</c>)', re.DOTALL)
_FORMULA, _VALUE = re.compile(r"<f>(.*?)</f>", re.DOTALL), re.compile(r"<v>(.*?)</v>", re.DOTALL)
_STRING, _TEXT = re.compile(r"<si>(.*?)</si>", re.DOTALL), re.compile(r"<t(?: [^>]*)?>(.*?)</t>", re.DOTALL)
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")

Place: TypeAlias = tuple[str, int, int]
"""Sheet name, 0-based row and column."""


class Formula(NamedTuple):
    """A cell with a formula, written without its first `=`."""

    text: str


def recalculated(book: bytes) -> bytes:
    """The same book with the result of every formula computed from what stands in it.

    Raises BuildError when a formula holds anything but what field books use.
    """
    parts = unpacked(book)
    texts = [_plain("".join(_TEXT.findall(one))) for one in _STRING.findall(_xml(parts, "xl/sharedStrings.xml"))]
    sheets = {name: _xml(parts, part) for name, part in sheet_parts(parts).items()}
    results = _Results({place: content for name, xml in sheets.items() for place, content in _cells(name, xml, texts)})
    for name, part in sheet_parts(parts).items():
        parts[part] = _CELL.sub(partial(_with_result, name, results), sheets[name]).encode()
    return packed(parts)


def _xml(parts: Mapping[str, bytes], name: str) -> str:
    return parts.get(name, b"").decode()


@dataclass
class _Results:
    """Computes cells when they are looked at; each once."""

    cells: Mapping[Place, Value | Formula]
    known: dict[Place, Value] = field(default_factory=dict)

    def of(self, place: Place) -> Value:
        """What stands in a cell."""
        content = self.cells.get(place)
        if not isinstance(content, Formula):
            return content
        if place not in self.known:
            own = place[0]
            self.known[place] = evaluate(content.text, lambda sheet, row, column: self.of((sheet or own, row, column)))
        return self.known[place]


def _cells(sheet: str, xml: str, texts: list[str]) -> Iterator[tuple[Place, Value | Formula]]:
    for address, _, kind, inside in _CELL.findall(xml):
        place = row_and_column(address)
        if place and inside:
            yield (sheet, *place), _content(kind, inside, texts)


def _content(kind: str, inside: str, texts: list[str]) -> Value | Formula:
    if formula := _FORMULA.search(inside):
        return Formula(html.unescape(formula[1]))
    if kind == "inlineStr":
        return _plain("".join(_TEXT.findall(inside)))
    value = _VALUE.search(inside)
    if value is None:
        return None
    if kind == "s":
        return texts[int(value[1])]
    return value[1] == "1" if kind == "b" else float(value[1])


def _plain(text: str) -> str:
    """A text of a workbook as people read it (ECMA-376 part 1, ST_Xstring: `_x0041_` stands for one character)."""
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), html.unescape(text))


def _with_result(sheet: str, results: _Results, match: re.Match[str]) -> str:
    address, style, _, inside = match.groups()
    place, formula = row_and_column(address), _FORMULA.search(inside or "")
    if place is None or formula is None:
        return match[0]
    value = results.of((sheet, *place))
    if isinstance(value, Failed):
        raise BuildError(f"{sheet}!{address} has no result")
    kind = ' t="b"' if isinstance(value, bool) else ' t="str"' if isinstance(value, str) else ""
    shown = str(int(value)) if isinstance(value, bool) else as_text(value) if value is not None else "0"
    look = f' s="{style}"' if style else ""
    return f'<c r="{address}"{look}{kind}>{formula[0]}<v>{escape(shown)}</v></c>'
