"""Cells that the reader gives as empty and that are not: error cells, and formulas that nothing has calculated.

Also says by which of the two date systems a workbook counts its days. Everything is found in the XML as bytes, in time
linear in its length; what cannot be found is left as the reader gave it.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Sequence
from functools import cached_property, lru_cache

from workbook_tools.contract.names import row_and_column
from workbook_tools.contract.package import Package
from workbook_tools.contract.values import Unread
from workbook_tools.contract.zip_directory import UnfitZipError

_NAME = rb"(?:[\w.-]{1,30}:)?"
_DATES = re.compile(rb"<" + _NAME + rb"workbookPr\s(?:[^<>]*\s)?date1904\s*=\s*[\"'](?:1|true|on)[\"']")
_PLACE = re.compile(rb"(?<!\S)r=[\"']([^\"']{1,20})[\"']")
_PREFIX = re.compile(rb"<([\w.-]{1,30}:)?worksheet[\s>]")
_ROOT_WITHIN = 4_096
"""Bytes of a sheet in which its first element is looked for."""
_ERROR_TYPE = re.compile(rb"t=[\"']e[\"']")
_TEXT_RESULT = re.compile(rb"\st=[\"']str[\"']")
_TRUTHS: dict[str, Unread | bool] = {"true()": True, "true": True, "false()": False, "false": False}
"""Formulas that some programs write for a truth value; they need no calculating."""


class Unreads:
    """The cells of one workbook that hold something the reader does not give, sheet by sheet."""

    def __init__(self, package: Package) -> None:
        self._package = package

    @cached_property
    def counts_from_1904(self) -> bool:
        """True for a workbook whose day 0 is 1 January 1904."""
        try:
            folder = self._package.workbook_folder
        except UnfitZipError:
            return False
        return bool(_DATES.search(self._part(f"{folder}workbook.xml")))

    def of_sheet(self, name: str) -> Iterator[tuple[int, int, Unread | bool]]:
        """(0-based row, 0-based column, what stands there) of each such cell that says where it lies."""
        xml = self.xml_of(name)
        root = _PREFIX.search(xml, 0, _ROOT_WITHIN)
        prefix = root[1] or b"" if root else b""
        error, error_text, formula_alone, *ends = _patterns(prefix)
        opening = b"<%bc" % prefix
        if _ERROR_TYPE.search(xml):
            for found in error.finditer(xml):
                text = error_text.match(xml, found.end())
                yield from _placed(found[1], Unread("error_cell", _plain(text[2]) if text else ""))
        for found in _formulas_alone(xml, opening, formula_alone, ends):
            if not _TEXT_RESULT.search(b" " + found[1]):
                formula = _plain(found[2] or b"")
                truth = _TRUTHS.get(formula.casefold())
                yield from _placed(
                    found[1], Unread("formula_without_result", f"={formula}") if truth is None else truth
                )

    def xml_of(self, name: str) -> bytes:
        """The XML of a sheet; b"" when it cannot be found."""
        return self._part(self._parts.get(name, ""))

    @cached_property
    def _parts(self) -> dict[str, str]:
        """A sheet's name → the folded name of its part."""
        try:
            return dict(self._package.sheets)
        except UnfitZipError:
            return {}

    def _part(self, name: str) -> bytes:
        try:
            return self._package.read(name)
        except UnfitZipError:
            return b""


@lru_cache(maxsize=16)
def _patterns(prefix: bytes) -> tuple[re.Pattern[bytes], ...]:
    """In a sheet whose elements carry a prefix: an error cell's opening tag, what stands in it up to its error, a cell
    with a formula and no result, and the two ends of such a cell, by which it is found much faster: they begin with a
    text that is rare.
    """
    p = re.escape(prefix)
    formula = rb"<%bf(?:\s[^<>]*)?(?:/>|>([^<]*)</%bf\s*>)\s*" % (p, p)
    result = rb"<%bv\s*>([^<]{1,40})<" % p
    nothing = rb"(?:<%bv\s*(?:/>|>\s*</%bv\s*>)\s*)?" % (p, p)
    return (
        re.compile(rb"<%bc\s((?:[^<>]*\s)?t=(?:\"e\"|'e')[^<>]*)>" % p),
        re.compile(rb"\s*(?:%b)?%b" % (formula, result)),
        re.compile(rb"<%bc\s([^<>]*)>\s*%b%b</%bc\s*>" % (p, formula, nothing, p)),
        re.compile(rb"</%bf\s*>\s*%b</%bc\s*>" % (p, nothing, p)),
        re.compile(rb"<%bf(?:\s[^<>]*)?/>\s*%b</%bc\s*>" % (p, nothing, p)),
    )


def _formulas_alone(
    xml: bytes, opening: bytes, whole: re.Pattern[bytes], ends: Sequence[re.Pattern[bytes]]
) -> Iterator[re.Match[bytes]]:
    """The cells with a formula and no result: found by how they end, then looked at from where they open."""
    for end in ends:
        looked_at = 0
        for found in end.finditer(xml):
            start = xml.rfind(opening, looked_at, found.start())
            looked_at = found.end()
            if start >= 0 and (cell := whole.match(xml, start)):
                yield cell


def _placed(inside: bytes, found: Unread | bool) -> Iterator[tuple[int, int, Unread | bool]]:
    said = _PLACE.search(inside)
    place = row_and_column(said[1].decode("ascii", "replace")) if said else None
    if place:
        yield (*place, found)


def _plain(xml: bytes) -> str:
    return html.unescape(xml.decode("utf-8", "replace")).strip()
