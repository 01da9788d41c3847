"""A zip that says it is a workbook: its parts by name, how they are related, and which of them will be read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from workbook_tools.returns.tags import UnclosedTagError, relations, tags
from workbook_tools.returns.zips import Member, UnfitZipError, directory, inflate

MAX_PARTS = 2_000
MAX_PART = 64 << 20
"""Bytes one part may have when inflated."""
_MAX_RELATIONS = 1 << 20
_READ_KINDS = frozenset(("worksheet", "sharedStrings", "styles"))
_READ_BASES = ("sharedstrings.xml", "styles.xml", "workbook.xml", "workbook.xml.rels")
_NOT_READ = re.compile(r"xl/(?:media|drawings|theme|charts|printersettings|embeddings|pivot\w*|diagrams|ctrlprops)/")


def folded(name: str) -> str:
    """A part's name as the reader compares it: lower case, forward slashes."""
    return name.replace("\\", "/").lower()


@dataclass
class Package:
    """The parts of a workbook, looked up by folded name. Everything here may raise UnfitZipError."""

    data: bytes

    @cached_property
    def members(self) -> list[Member]:
        """All members but those that only name folders. Raises cut_short, too_many_parts."""
        return [one for one in directory(self.data, MAX_PARTS) if one.size or not one.is_folder]

    @cached_property
    def names(self) -> list[str]:
        """The members' folded names, in their order."""
        return [folded(member.name) for member in self.members]

    @cached_property
    def by_name(self) -> dict[str, Member]:
        """The members by folded name. Raises doubled_part."""
        found = dict(zip(self.names, self.members, strict=True))
        if len(found) < len(self.members):
            raise UnfitZipError("doubled_part", next(name for name in self.names if self.names.count(name) > 1))
        return found

    @cached_property
    def workbook_folder(self) -> str:
        """The folded folder in which the workbook part lies ("xl/"), as the package's own relations say."""
        targets = [target for kind, target in self._relations("_rels/.rels") if kind == "officeDocument"]
        if not targets:
            raise UnfitZipError("missing_part", "xl/workbook.xml")
        above = folded(targets[-1].rpartition("/")[0]).strip("/")
        return f"{above}/" if above else ""

    @cached_property
    def targets(self) -> list[tuple[str, str]]:
        """What the workbook is related to: (last word of the relation's type, folded name of the part)."""
        found = []
        for kind, target in self._relations(f"{self.workbook_folder}_rels/workbook.xml.rels"):
            name = folded(target)
            found.append((kind, name.lstrip("/") if name.startswith("/") else self.workbook_folder + name))
        return found

    @cached_property
    def sheet_count(self) -> int:
        """How many sheets the workbook lists."""
        name = f"{self.workbook_folder}workbook.xml"
        try:
            return sum(1 for _ in tags(self.read(name), b"sheet"))
        except UnclosedTagError as slip:
            raise UnfitZipError("damaged_part", name) from slip

    def _relations(self, name: str) -> list[tuple[str, str]]:
        """(last word of the type, target as written) of what a .rels part relates to."""
        try:
            return [(kind.rpartition("/")[2], target) for kind, target in relations(self.read(name, _MAX_RELATIONS))]
        except UnclosedTagError as slip:
            raise UnfitZipError("damaged_part", name) from slip

    @cached_property
    def needed(self) -> list[str]:
        """The folded names of the related parts the reader opens by name."""
        return [name for kind, name in self.targets if kind in _READ_KINDS]

    def read(self, name: str, most: int = MAX_PART) -> bytes:
        """A part, inflated and checked. Raises missing_part and all of zips.inflate."""
        member = self.by_name.get(name)
        if member is None:
            raise UnfitZipError("missing_part", name)
        return inflate(self.data, member, most)

    def to_read(self) -> Iterator[Member]:
        """The members the reader opens or might open: all XML but drawings and the like, and every related sheet."""
        bases = frozenset((*_READ_BASES, *(name.rpartition("/")[2] for name in self.needed)))
        for name, member in self.by_name.items():
            is_plain_xml = name.endswith((".xml", ".rels")) and not _NOT_READ.match(name)
            if is_plain_xml or name.rpartition("/")[2] in bases:
                yield member
