"""A setup workbook's bytes → its blocks; what would hang the reader or fill the memory is refused before it is read."""

from __future__ import annotations

from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.contract.guard import Refusal, opened, vetted
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.package import Package
from workbook_tools.contract.sheet_grid import SETUP
from workbook_tools.contract.sheets import RawBlock, UnreadableWorkbookError, read_blocks

_TOO_LARGE = frozenset(
    ("far_cell", "too_many_cells", "too_many_merges", "too_large", "too_many_parts", "shared_strings_count")
)
UNREADABLE = frozenset(("setup_too_large", "setup_refused", "workbook_unreadable"))
"""The rules of which a setup breaks one when nothing in it could be read."""


def setup_blocks(data: bytes, file: str) -> tuple[Package, list[RawBlock]] | Finding:
    """A setup as the parts it is made of, and its blocks; or why it cannot be read."""
    package = opened(data, may_be_live=True)
    if isinstance(package, Refusal):
        return _refused(package, file)
    parts = vetted(package, grid=SETUP)
    if isinstance(parts, Refusal):
        return _refused(parts, file)
    wanted = [block.key for block in default_contract().setup.blocks]
    try:
        return package, read_blocks(parts, wanted, package=package)
    except UnreadableWorkbookError as slip:
        return _finding("workbook_unreadable", file, reason=str(slip))


def _refused(refusal: Refusal, file: str) -> Finding:
    if refusal.rule in _TOO_LARGE:
        return _finding("setup_too_large", file, detail=refusal.detail)
    reason = Phrase(f"rules.{refusal.rule}.problem", {"detail": refusal.detail})
    return _finding("setup_refused", file, reason=reason)


def _finding(rule: str, file: str, **fields: object) -> Finding:
    return Finding(rule=rule, severity=default_contract().rules[rule], file=file, fields=fields)
