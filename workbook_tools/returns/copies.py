"""Answers that stand twice in one book: somebody copied the sheet, and filled in both or the other one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.guard import Refusal, vetted
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.package import Package
from workbook_tools.contract.sheets import RawBlock, UnreadableWorkbookError, read_blocks
from workbook_tools.contract.tables import BlockReader
from workbook_tools.contract.values import Value

_RULE = "sheet_twice"


def copied_answers(package: Package, reader: BlockReader, raw: Mapping[str, RawBlock]) -> Iterator[Finding]:
    """A finding for each block whose answers stand on another sheet too, and are others there.

    `raw` are the blocks as they are read. Copies are told by their names, to which every spreadsheet program adds
    something: “Return (2)”, “Copy of Return”. A copy without answers is no more than a copy.
    """
    named = {block.sheet for block in raw.values()}
    copies = {name: part for name, part in package.sheets if name not in named and any(one in name for one in named)}
    if not copies:
        return
    parts = vetted(package, set(copies.values()))
    if isinstance(parts, Refusal):
        return
    found: list[RawBlock] = []
    with suppress(UnreadableWorkbookError):
        found = read_blocks(parts, raw, copies, only_likely=True)
    for block in found:
        answers = _answers(reader, block)
        if answers and answers != _answers(reader, raw[block.key]):
            severity = reader.contract.rules[_RULE]
            about = {"first": raw[block.key].sheet, "second": block.sheet}
            yield Finding(rule=_RULE, severity=severity, file=reader.file, sheet=block.sheet, fields=about)


def _answers(reader: BlockReader, raw: RawBlock) -> dict[tuple[str, str], Value]:
    """What people told in a block, by row and field; what cannot be read is a question mark."""
    block = default_contract().field_book.block(raw.key)
    asked = {field.key for field in block.answered_fields if field.source != "stamp"}
    rows = reader.read(block, raw).rows
    told = {(row.key, key): value for row in rows for key, value in row.values.items() if key in asked}
    return told | {(row.key, key): "?" for row in rows for key in row.broken if key in asked}
