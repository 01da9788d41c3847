"""XML seen as bytes: tags and their attributes, found as a lenient reader finds them, without building anything.

Linear in the length of the XML whatever it holds: no pattern here tries twice at one place, and the first tag that
never closes ends the search.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

_PROLOG = re.compile(rb"(?:\xef\xbb\xbf)?\s*+(?:<\?xml\b([^>]*+)>)?(?>\s++|<!--.*?-->|<\?.*?\?>)*+<(!?)", re.DOTALL)
_ENCODING = re.compile(rb"encoding\s*=\s*[\"']\s*([^\"'\s]*)")
_ATTRIBUTE = re.compile(rb"(?<![^\s\"'/])([^\s=\"'/]++)\s*+=\s*+(?:\"([^\"]*+)\"|'([^']*+)')")
_UTF8_NAMES = frozenset((b"utf-8", b"utf8", b"us-ascii", b"ascii"))


class UnclosedTagError(Exception):
    """A tag that never ends: no XML."""


class Tag(NamedTuple):
    """One tag: its name without prefix, what stands in it after the name, and where it ends (0-based offset)."""

    name: bytes
    inside: bytes
    closing: bool
    end: int

    @property
    def is_empty(self) -> bool:
        """True for an element written as one tag."""
        return self.inside.endswith(b"/")


class Relation(NamedTuple):
    """A part that another part refers to: by which id, as what, and its target as written."""

    id: str
    type: str
    target: str


@lru_cache
def _pattern(names: bytes) -> re.Pattern[bytes]:
    inside = rb"(?:[^<>\"']++|\"[^\"]*+\"|'[^']*+')*+"
    return re.compile(rb"<(/?)(?:[^\s<>/:]++:)?+(" + names + rb")(?=[\s/>])(?:(" + inside + rb")>)?")


def tags(xml: bytes, *names: bytes) -> Iterator[Tag]:
    """Every tag with one of these names, whatever its prefix, in order. Raises UnclosedTagError."""
    for found in _pattern(b"|".join(names)).finditer(xml):
        if found[3] is None:
            raise UnclosedTagError
        yield Tag(found[2], found[3], bool(found[1]), found.end())


def attributes(inside: bytes) -> list[tuple[bytes, bytes]]:
    """(name with its prefix, value as written) of every attribute inside a tag; a name may occur twice."""
    return [(name, double or single) for name, double, single in _ATTRIBUTE.findall(inside)]


def relations(xml: bytes) -> Iterator[Relation]:
    """Every relation to a part of the package that a .rels part lists. Raises UnclosedTagError."""
    for tag in tags(xml, b"Relationship"):
        said = texts(tag.inside)
        if said and said.get("TargetMode") != "External":
            yield Relation(said.get("Id", ""), said.get("Type", ""), said.get("Target", ""))


def texts(inside: bytes) -> dict[str, str]:
    """What the attributes inside a tag say, by their names without prefix; of two of one name, the last."""
    return {
        name.rpartition(b":")[2].decode("utf-8", "replace"): html.unescape(value.decode("utf-8", "replace"))
        for name, value in attributes(inside)
    }


def encoding_slip(xml: bytes) -> str:
    """not_utf8, document_type, or "" for a part that is plain UTF-8 without a document type."""
    if b"\0" in xml or xml.startswith((b"\xff\xfe", b"\xfe\xff")) or not _is_utf8(xml):
        return "not_utf8"
    opening = _PROLOG.match(xml)
    if opening is None:
        return ""
    said = _ENCODING.search(opening[1] or b"")
    if said and said[1].lower() not in _UTF8_NAMES:
        return "not_utf8"
    return "document_type" if opening[2] else ""


def _is_utf8(xml: bytes) -> bool:
    if xml.isascii():
        return True
    try:
        xml.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True
