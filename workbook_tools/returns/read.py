"""One file's bytes → what it says: its identity and its blocks as clean values; runs in a worker process."""

from __future__ import annotations

import hashlib
import re
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.guard import Refusal, opened, vetted
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.names import sheet_name
from workbook_tools.contract.package import Package
from workbook_tools.contract.remembered import by_names
from workbook_tools.contract.sheets import RawBlock, UnreadableWorkbookError, read_blocks
from workbook_tools.contract.tables import BlockReader, RowMemory, Table
from workbook_tools.contract.values import Value
from workbook_tools.contract.words import languages, words_for
from workbook_tools.contract.zip_directory import UnfitZipError
from workbook_tools.returns.copies import copied_answers
from workbook_tools.returns.spare_identity import spare_identity

FORM = "field_book"
ANSWER_BLOCKS = ("visit", "positions", "parts")
_REMARKS = ("xl/comments", "xl/threadedcomments/")
"""Parts in which spreadsheet programs keep what people remark on cells; field books go out without any."""
_SAVED = re.compile(rb"<dcterms:modified[^>]*>([^<]{10,40})<")


@dataclass(frozen=True, slots=True)
class BlockRead:
    """One block of a return, by columns: `keys[i]` is the row whose 0-based sheet row is `rows[i]`.

    `values[field][i]` is None where the cell is blank or broken; a fixed block has its fields as keys and one
    column of values, its value column.
    """

    sheet: str
    columns: dict[str, int]
    keys: tuple[str, ...]
    rows: tuple[int, ...]
    values: dict[str, tuple[Value | None, ...]]
    broken: frozenset[tuple[str, str]] = frozenset()
    """(row key, field) of cells that hold something that cannot be read."""


@dataclass(frozen=True, slots=True)
class ReadReturn:
    """What one file says, or why it was refused.

    `answers` is a digest of every answer, what cannot be read included (equal answers, equal digest), `told` how many
    cells were filled in.
    """

    sha256: str
    refusal: Refusal | None = None
    identity: dict[str, Value] = field(default_factory=dict)
    saved: str = ""
    blocks: dict[str, BlockRead] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    answers: str = ""
    told: int = 0

    @property
    def language(self) -> str:
        """The language the book was issued in."""
        return str(self.identity.get("language", ""))

    @property
    def correction(self) -> int:
        """How many returns of its visit were sent back before it: 0 in a book as it was issued."""
        number = self.identity.get("correction")
        return number if isinstance(number, int) else 0

    @property
    def corrects(self) -> str:
        """The SHA-256 of the return that was sent back as this book, "" in a book as it was issued."""
        return str(self.identity.get("corrects", ""))


def read_return(data: bytes, sha256: str) -> ReadReturn:
    """Guard and read one file. Whatever it holds, this returns: a refusal is part of the result.

    The result depends on the bytes alone; its findings do not name the file.
    """
    package = opened(data)
    if isinstance(package, Refusal):
        return ReadReturn(sha256, package)
    try:
        blocks = _blocks(package)
    except UnreadableWorkbookError as slip:
        return ReadReturn(sha256, Refusal("workbook_unreadable", str(slip)))
    if isinstance(blocks, Refusal):
        return ReadReturn(sha256, blocks)
    return _read(sha256, package, {block.key: block for block in reversed(blocks)})


def _blocks(package: Package) -> list[RawBlock] | Refusal:
    """The blocks of a return, from the sheets under whose names it went out when they hold all of them."""
    wanted = ("book", *ANSWER_BLOCKS)
    names = _likely_sheets()
    likely = {part for name, part in package.sheets if name in names}
    small = vetted(package, likely) if likely else None
    if isinstance(small, bytes):
        with suppress(UnreadableWorkbookError):
            found = read_blocks(small, wanted, names, only_likely=True, package=package)
            if {block.key for block in found}.issuperset(wanted):
                return found
    whole = vetted(package)
    return whole if isinstance(whole, Refusal) else read_blocks(whole, wanted, names, package=package)


def _read(sha256: str, package: Package, raw: dict[str, RawBlock]) -> ReadReturn:
    contract = default_contract()
    identity: dict[str, Value] = {}
    if "book" in raw:
        table = BlockReader(contract, FORM, "").read(contract.field_book.block("book"), raw["book"])
        for row in table.rows:
            identity |= row.values
    findings: list[Finding] = []
    if "token" not in identity and (spare := spare_identity(package, [block.sheet for block in raw.values()])):
        identity |= spare
        rule = "identity_spare"
        findings.append(Finding(rule=rule, severity=contract.rules[rule], value=str(spare["token"])))
    reader = BlockReader(contract, FORM, "", str(identity.get("language", "en")), _memory())
    blocks: dict[str, BlockRead] = {}
    for key in ANSWER_BLOCKS:
        if key in raw:
            table = reader.read(contract.field_book.block(key), raw[key])
            blocks[key] = _by_columns(table)
            findings += table.findings
    findings += copied_answers(package, reader, {key: raw[key] for key in blocks})
    if _has_remarks(package.names):
        findings.append(Finding(rule="remarks_there", severity=contract.rules["remarks_there"]))
    answers, told = _answers(blocks)
    unread = sorted((one.column, one.value) for one in findings if one.severity == "must mend")
    text = repr((answers, [sorted(read.broken) for read in blocks.values()], unread))
    same = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    return ReadReturn(sha256, None, identity, _saved(package), blocks, tuple(findings), same, told)


@by_names
def _has_remarks(names: tuple[str, ...]) -> bool:
    return any(name.startswith(_REMARKS) for name in names)


def _by_columns(table: Table) -> BlockRead:
    block, rows = table.block, table.rows
    fields = [block.value_column] if block.rows == "fixed" else [f.key for f in block.fields if f.source != "formula"]
    if block.rows == "fixed":
        values = {name: tuple([row.values.get(row.key) for row in rows]) for name in fields}
    else:
        told = [row.values for row in rows]
        values = {name: tuple([one.get(name) for one in told]) for name in fields}
    broken = frozenset((row.key, name) for row in rows for name in row.broken)
    keys = tuple(row.key for row in rows)
    return BlockRead(table.raw.sheet, dict(table.raw.columns), keys, tuple(row.number for row in rows), values, broken)


def _answers(blocks: dict[str, BlockRead]) -> tuple[list[str], int]:
    """Every row in which something is answered, written down and sorted within its block, and how many cells people
    filled in, those that cannot be read included and those that were stamped not.
    """
    answers: list[str] = []
    told = 0
    for key, read in sorted(blocks.items()):
        block = default_contract().field_book.block(key)
        fixed = block.rows == "fixed"
        columns = [
            read.values[name] for name in ([block.value_column] if fixed else [f.key for f in block.open_fields])
        ]
        rows = [row for row in zip(read.keys, *columns, strict=True) if row.count(None) < len(columns)]
        answers += (key, *sorted(map(repr, rows)))
        told += len(read.broken) + sum(
            len(columns) - row.count(None)
            for row in rows
            if not (fixed and block.by_key[str(row[0])].source == "stamp")
        )
    return answers, told


def _saved(package: Package) -> str:
    """When the file says it was last saved (ISO 8601 text), or ""."""
    try:
        found = _SAVED.search(package.read("docprops/core.xml"))
    except UnfitZipError:
        return ""
    return found[1].decode("ascii", "replace") if found else ""


@lru_cache(maxsize=1)
def _memory() -> RowMemory:
    """One for all files that this process reads."""
    return RowMemory()


@lru_cache(maxsize=1)
def _likely_sheets() -> frozenset[str]:
    """The names under which the sheets that come back were issued, in any language."""
    forms = default_contract().field_book.sheets
    names = [words_for(code)(f"{FORM}.sheets.{form.key}") for code in languages() for form in forms]
    return frozenset(map(sheet_name, names))
