"""A zip that says it is a workbook: its parts by name, how they are related, and which of them will be read."""

from __future__ import annotations

import re
import zlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from workbook_tools.contract.relation_targets import without_dots
from workbook_tools.contract.remembered import by_names, remembering
from workbook_tools.contract.tags import Relation, UnclosedTagError, relations, tags, texts
from workbook_tools.contract.zip_directory import Directory, Member, UnfitZipError, directory
from workbook_tools.contract.zips import inflate

MAX_PARTS = 2_000
MAX_PART = 64 << 20
"""Bytes one part may have when inflated."""
_MAX_RELATIONS = 1 << 20
_FOLLOWED = re.compile(r"((?:.*/)?)_rels/(?:workbook\.xml)?\.rels")
"""The parts whose relations the reader follows, and the folder from which their targets count."""
_READ_KINDS = frozenset(("worksheet", "sharedStrings", "styles"))
_READ_BASES = ("[content_types].xml", ".rels", "workbook.xml", "workbook.xml.rels", "sharedstrings.xml", "styles.xml")
"""Parts the reader may open wherever they lie and whatever is related to them, by the last word of their names."""

_SHORT = 1 << 13
"""Bytes up to which what a .rels part says is remembered."""


def folded(name: str) -> str:
    """A part's name as the reader compares it: lower case, forward slashes."""
    return name.replace("\\", "/").lower()


@by_names
def _all_folded(names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(map(folded, names))


@by_names
def _numbered(names: tuple[str, ...]) -> Mapping[str, int]:
    found = {name: number for number, name in enumerate(names)}
    if len(found) < len(names):
        raise UnfitZipError("doubled_part", next(name for name in names if names.count(name) > 1))
    return found


@remembering(_SHORT, 64)
def _relations_of(xml: bytes) -> tuple[Relation, ...]:
    return tuple(one._replace(type=one.type.rpartition("/")[2]) for one in relations(xml))


@remembering(_SHORT, 1024)
def _sheet_and_id(inside: bytes) -> tuple[str, str]:
    """What a sheet's tag in the workbook part says: its name, and by which relation its part is found."""
    said = texts(inside)
    return said.get("name", ""), said.get("id", "")


_without_dots = remembering(_SHORT, 64)(without_dots)


@dataclass
class Package:
    """The parts of a workbook, looked up by folded name. Everything here may raise UnfitZipError."""

    data: bytes
    _inflated: dict[str, bytes] = field(default_factory=dict)
    _rewritten: dict[str, Member] = field(default_factory=dict)

    @cached_property
    def members(self) -> Directory:
        """All members but those that only name folders. Raises cut_short, too_many_parts."""
        return directory(self.data, MAX_PARTS)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The members' folded names, in their order."""
        return _all_folded(self.members.names)

    @cached_property
    def numbers(self) -> Mapping[str, int]:
        """The members' numbers from 0 by folded name, in their order. Raises doubled_part."""
        return _numbered(self.names)

    def member(self, name: str) -> Member:
        """The member with a folded name. Raises missing_part, doubled_part."""
        number = self.numbers.get(name)
        if number is None:
            raise UnfitZipError("missing_part", name)
        return self.members[number]

    @cached_property
    def workbook_folder(self) -> str:
        """The folded folder in which the workbook part lies ("xl/"), as the package's own relations say."""
        targets = [one.target for one in self._relations("_rels/.rels") if one.type == "officeDocument"]
        if not targets:
            raise UnfitZipError("missing_part", "xl/workbook.xml")
        above = folded(targets[-1].rpartition("/")[0]).strip("/")
        return f"{above}/" if above else ""

    @cached_property
    def targets(self) -> list[Relation]:
        """What the workbook is related to: by the last word of the relation's type, to the folded name of a part."""
        found = []
        for one in self._relations(f"{self.workbook_folder}_rels/workbook.xml.rels"):
            name = folded(one.target)
            place = name.lstrip("/") if name.startswith("/") else self.workbook_folder + name
            found.append(one._replace(target=place))
        return found

    @cached_property
    def sheets(self) -> list[tuple[str, str]]:
        """The sheets the workbook lists: the name, and the folded name of the part ("" when it leads nowhere)."""
        name = f"{self.workbook_folder}workbook.xml"
        parts = {one.id: one.target for one in self.targets}
        try:
            said = [_sheet_and_id(tag.inside) for tag in tags(self.read(name), b"sheet")]
        except UnclosedTagError as slip:
            raise UnfitZipError("damaged_part", name) from slip
        return [(sheet, parts.get(number, "")) for sheet, number in said]

    def _relations(self, name: str) -> Sequence[Relation]:
        """What a .rels part relates to, types by their last word."""
        xml = self.read(name, _MAX_RELATIONS)
        try:
            return _relations_of(xml)
        except UnclosedTagError as slip:
            raise UnfitZipError("damaged_part", name) from slip

    @cached_property
    def needed(self) -> list[str]:
        """The folded names of the related parts the reader opens by name."""
        return [one.target for one in self.targets if one.type in _READ_KINDS]

    def read(self, name: str, most: int = MAX_PART) -> bytes:
        """A part, inflated and checked, dots in the targets of its relations resolved.

        Raises missing_part and all of zips.inflate.
        """
        member = self.member(name)
        if name not in self._inflated or member.size > most:
            self._inflated[name] = self._plain(name, member, inflate(self.data, member, most))
        return self._inflated[name]

    def as_read(self, name: str) -> Member:
        """A part's member, with the checksum of what `read` gave for it."""
        return self._rewritten.get(name) or self.member(name)

    def _plain(self, name: str, member: Member, data: bytes) -> bytes:
        if not (followed := _FOLLOWED.fullmatch(name)):
            return data
        try:
            plain = _without_dots(data, followed[1])
        except UnclosedTagError:
            return data
        if plain != data:
            self._rewritten[name] = member._replace(size=len(plain), checksum=zlib.crc32(plain))
        return plain

    def to_read(self, sheets: Collection[str] | None = None) -> Iterator[str]:
        """The parts the reader opens or might open, by folded name, with every related sheet, or only those of the
        related sheets that are named in `sheets`.
        """
        bases = frozenset((*_READ_BASES, *(name.rpartition("/")[2] for name in self.needed)))
        left_out = {part for _, part in self.sheets if part not in sheets} if sheets is not None else ()
        for name in self.numbers:
            if name.rpartition("/")[2] in bases and name not in left_out:
                yield name
