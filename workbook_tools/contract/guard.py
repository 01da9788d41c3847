"""A look at a returned file before anything parses it: what must not reach the reader is refused, with the reason.

Cheap looks come first. The parts that will be read are inflated within bounds and checked against their checksums;
pictures and drawings are only weighed by the directory, because inflating them costs ten times the rest.
The bounds are those of a field book with much to spare; every file that makes the reader abort, hang or fill the
memory breaks at least one of them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from workbook_tools.contract.contents import HEAD, content_of, shown_path
from workbook_tools.contract.package import MAX_PART, Package
from workbook_tools.contract.remembered import by_names, remembering
from workbook_tools.contract.sheet_grid import FIELD_BOOK, Grid, false_promise, far_reference
from workbook_tools.contract.tags import UnclosedTagError, encoding_slip
from workbook_tools.contract.zip_directory import UnfitZipError
from workbook_tools.contract.zips import SHORT, check_places, inflate, unpacked_zip

MAX_FILE = 32 << 20
"""Bytes a returned workbook may have; a field book with pictures has half a megabyte."""
MAX_READ = 64 << 20
"""Bytes all parts that will be read may have together when inflated."""
MAX_INFLATED = 256 << 20
"""Bytes all parts may have together by the directory, pictures among them."""
MAX_SHEETS = 200

REFUSALS = (
    "empty_file",
    "cut_short",
    "not_a_workbook",
    "legacy_xls",
    "binary_workbook",
    "xml_workbook",
    "encrypted",
    "open_document",
    "numbers_file",
    "text_file",
    "web_page",
    "outlook_message",
    "tnef",
    "mail_encrypted",
    "too_large",
    "too_many_parts",
    "unsafe_name",
    "doubled_part",
    "packed_otherwise",
    "damaged_part",
    "missing_part",
    "macros",
    "external_links",
    "not_utf8",
    "document_type",
    "shared_strings_count",
    "far_cell",
    "too_many_cells",
    "too_many_merges",
    "unreadable",
    "leads_outside",
    "address_too_many",
    "archive_too_deep",
    "archive_too_many",
    "archive_too_large",
    "archive_empty",
    "archive_other",
    "mail_unreadable",
    "nothing_attached",
    "workbook_unreadable",
    "reader_too_slow",
    "reader_too_much",
    "reader_died",
)
"""Every reason for which a file can be refused, by `guard`, by `collect` or by the workers that read."""

_ZIP_START, _ZIP_END = b"PK\x03\x04", b"PK\x05\x06"
_OLE_KINDS = (
    ("EncryptedPackage", "encrypted", ""),
    ("__properties_version1.0", "outlook_message", ""),
    ("WordDocument", "not_a_workbook", "word"),
    ("PowerPoint Document", "not_a_workbook", "presentation"),
    ("Workbook", "legacy_xls", ""),
    ("Book", "legacy_xls", ""),
)
"""Streams by which the programs that write OLE files are told apart, from their published formats."""
_OTHER_PACKAGES = (("word/document.xml", "word"), ("ppt/presentation.xml", "presentation"))
_BY_CONTENT = {
    "empty": ("empty_file", ""),
    "zeros": ("cut_short", ""),
    "old_workbook": ("legacy_xls", ""),
    "xml_workbook": ("xml_workbook", ""),
    "open_document": ("open_document", ""),
    "web_page": ("web_page", ""),
    "text": ("text_file", ""),
    "tnef": ("tnef", ""),
    "mail_store": ("outlook_message", ""),
    "mail_locked": ("mail_encrypted", ""),
    "archive": ("archive_other", ""),
    "emlx": ("not_a_workbook", "mail"),
    "mbox": ("not_a_workbook", "mail"),
    "unknown": ("not_a_workbook", ""),
    "system": ("not_a_workbook", ""),
}
_PLAIN_NAME = re.compile(r"(?!/|[a-z]:)(?!(?:.*/)?\.\.?(?:/|$))[^\x00-\x1f\x7f]+", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a file is not read on: `rule` is one of REFUSALS, `detail` a name or number for the rule's sentence."""

    rule: str
    detail: str = ""


_NOT_A_PACKAGE = Refusal("not_a_workbook", "zip")
_OPEN_DOCUMENT = Refusal("open_document")


def guard(data: bytes) -> Refusal | None:
    """Why these bytes must not be given to the reader, or None when they may.

    Never raises for what the bytes hold. Passing says that the file is a bounded, whole .xlsx package; it may
    still be no return, and a reader may still fail on it.
    """
    package = opened(data)
    found = package if isinstance(package, Refusal) else vetted(package)
    return found if isinstance(found, Refusal) else None


def opened(data: bytes, *, may_be_live: bool = False) -> Package | Refusal:
    """A file as the parts it is made of, or why it must not be read; what stands in the parts is for `vetted`.

    Macros and links to other workbooks are let through where the file `may_be_live`: the reader passes them over.
    """
    if len(data) > MAX_FILE:
        return Refusal("too_large", megabytes(len(data)))
    content = content_of(data[:HEAD])
    if content != "zip":
        return _without_package(data, content)
    package = Package(data)
    try:
        rules = (rule for rule in _RULES if rule is not _live_content or not may_be_live)
        return next(filter(None, (rule(package) for rule in rules)), package)
    except UnfitZipError as slip:
        return Refusal(slip.rule, shown_path(slip.detail))


def vetted(package: Package, sheets: Collection[str] | None = None, grid: Grid = FIELD_BOOK) -> bytes | Refusal:
    """The parts the reader opens, each looked into, as a zip of their own; or why they must not be read.

    A reader that is given this zip sees nothing that was not looked into. With `sheets`, folded names of parts, all
    other sheets are left out.
    """
    try:
        return _contents(package, list(package.to_read(sheets)), grid)
    except UnfitZipError as slip:
        return Refusal(slip.rule, shown_path(slip.detail))


def megabytes(size: int) -> str:
    """A size in bytes as whole megabytes, rounded up: "33 MB"."""
    return f"{-(-size // (1 << 20))} MB"


def _without_package(data: bytes, content: str) -> Refusal:
    if content == "ole":
        return _ole(data)
    if (data and _ZIP_START.startswith(data)) or (content == "unknown" and _ZIP_END in data[-(1 << 16) :]):
        return Refusal("cut_short")
    return refusal_of(content)


def refusal_of(content: str) -> Refusal:
    """Why a file of some kind (a word of contents.content_of) that is no zip or OLE file cannot be a return."""
    return Refusal(*_BY_CONTENT.get(content, ("not_a_workbook", content)))


def _ole(data: bytes) -> Refusal:
    """OLE directories hold their streams' names in UTF-16; they stand in the clear, even in a file cut short."""
    for stream, rule, detail in _OLE_KINDS:
        if stream.encode("utf-16-le") in data:
            return Refusal(rule, detail)
    return Refusal("not_a_workbook")


def _kind(package: Package) -> Refusal | None:
    found = _kind_by_names(package.names)
    return _open_document(package) if found == _OPEN_DOCUMENT else found


@by_names
def _kind_by_names(names: tuple[str, ...]) -> Refusal | None:
    """Refuse zips that are something other than an .xlsx workbook."""
    known = frozenset(names)
    if any(name.endswith(".iwa") for name in known) or {"index.zip", "metadata/properties.plist"} <= known:
        return Refusal("numbers_file")
    if "content.xml" in known or ("mimetype" in known and "[content_types].xml" not in known):
        return _OPEN_DOCUMENT
    for part, program in _OTHER_PACKAGES:
        if part in known:
            return Refusal("not_a_workbook", program)
    if "xl/workbook.bin" in known:
        return Refusal("binary_workbook")
    is_workbook = any(name.startswith("xl/") for name in known)
    if "[content_types].xml" not in known:
        is_unpacked = any(name.endswith("/[content_types].xml") for name in known)
        return Refusal("missing_part", "[Content_Types].xml") if is_workbook or is_unpacked else _NOT_A_PACKAGE
    return None if is_workbook or "workbook.xml" in known else _NOT_A_PACKAGE


def _open_document(package: Package) -> Refusal:
    mimetype = next((one for one in package.members if one.name == "mimetype"), None)
    said = inflate(package.data, mimetype, 1000) if mimetype and mimetype.size < 1000 else b"spreadsheet"
    return _OPEN_DOCUMENT if b"spreadsheet" in said else Refusal("not_a_workbook", "document")


def _names(package: Package) -> Refusal | None:
    names, seconds = package.members.names, package.members.second_names
    found = (_unsafe_name(names), seconds.index(True) if True in seconds else None)
    unsafe = min((number for number in found if number is not None), default=None)
    return None if unsafe is None else Refusal("unsafe_name", shown_path(names[unsafe]))


@by_names
def _unsafe_name(names: tuple[str, ...]) -> int | None:
    """The first name as it stands, counted from 0, that is no plain path; None when all are."""
    return next((n for n, name in enumerate(names) if not _PLAIN_NAME.fullmatch(name.replace("\\", "/"))), None)


def _sizes(package: Package) -> Refusal | None:
    sizes = package.members.sizes
    for number in package.numbers.values():
        if sizes[number] > MAX_PART:
            return Refusal("too_large", shown_path(package.members.names[number]))
    if (total := sum(sizes)) > MAX_INFLATED:
        return Refusal("too_large", megabytes(total))
    check_places(package.data, package.members)
    return None


def _live_content(package: Package) -> Refusal | None:
    if live := _live_part(package.names):
        rule, number = live
        return Refusal(rule, shown_path(package.members.names[number]))
    if b"vbaproject" in package.read("[content_types].xml").lower():
        return Refusal("macros", "[Content_Types].xml")
    for one in package.targets:
        if one.type.startswith("externalLink"):
            return Refusal("external_links", shown_path(one.target))
    return None


@by_names
def _live_part(names: tuple[str, ...]) -> tuple[str, int] | None:
    """The first part that holds macros or links, as the rule it breaks and its number from 0; None when none does."""
    for number, name in enumerate(names):
        if "vbaproject" in name or name.startswith(("xl/macrosheets/", "xl/dialogsheets/")):
            return "macros", number
        if name.startswith("xl/externallinks/"):
            return "external_links", number
    return None


def _parts(package: Package) -> Refusal | None:
    """Refuse packages that lack what the reader needs, or reach out of themselves."""
    folder = package.workbook_folder
    for name in (f"{folder}workbook.xml", f"{folder}_rels/workbook.xml.rels", *package.needed):
        if name not in package.numbers:
            return Refusal("missing_part", shown_path(name))
    sheets = len(package.sheets)
    return Refusal("too_many_parts", str(sheets)) if sheets > MAX_SHEETS else None


def _contents(package: Package, names: Sequence[str], grid: Grid) -> bytes | Refusal:
    """Refuse parts that would mislead or swamp the reader."""
    members = [package.member(name) for name in names]
    if (total := sum(member.size for member in members)) > MAX_READ:
        return Refusal("too_large", megabytes(total))
    for name, member in zip(names, members, strict=True):
        try:
            found = _content(package.read(name), name, grid)
        except UnclosedTagError:
            found = ("damaged_part", "")
        if found:
            return Refusal(found[0], found[1] or shown_path(member.name))
    return unpacked_zip((package.as_read(name), package.read(name)) for name in names)


@remembering(SHORT, 64)
def _content(xml: bytes, name: str, grid: Grid) -> tuple[str, str] | None:
    """The rule a part breaks and what there is to say about it ("" for the part's name)."""
    if rule := encoding_slip(xml):
        return rule, ""
    if name.endswith("sharedstrings.xml") and (promised := false_promise(xml)):
        return "shared_strings_count", str(promised)
    return far_reference(xml, grid) if b"sheetData" in xml else None


_Rule = Callable[[Package], Refusal | None]
_RULES: tuple[_Rule, ...] = (_kind, _names, _sizes, _parts, _live_content)
