"""A new program from the last one: its stores, merchandisers, parts and steps are taken over, the planogram is not."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import dataclass

from workbook_tools.contract.tables import Row, Table
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder, is_plain_name
from workbook_tools.program.load import Setup, read_setup
from workbook_tools.program.setup_book import Content, setup_workbook
from workbook_tools.program.view import text

TAKEN = ("parts", "steps", "stores", "merchandisers")
"""Blocks that are taken over whole."""
NEW_EACH_TIME = frozenset(("name", "code", "display", "starts", "due", "place", "other_places", "visit_minutes"))
"""Settings that belong to one program only, beside those of its carton; the others stay."""


@dataclass(frozen=True)
class TakenOver:
    """The setup workbook of a new program and how many rows came with it by block; pictures of the steps to copy."""

    book: bytes
    counts: Mapping[str, int]
    pictures: tuple[str, ...]

    def copy_pictures(self, old: ProgramFolder, new: ProgramFolder, words: Words) -> None:
        """Copy the pictures of the steps. Raises FolderError when one cannot be copied."""
        for name in self.pictures:
            try:
                shutil.copyfile(old.images / name, new.images / name)
            except OSError as slip:
                path = new.images / name
                raise FolderError(words("messages.cannot_write", path=path, reason=slip.strerror or slip)) from None


def take_over(old: ProgramFolder, words: Words) -> TakenOver:
    """Read the last program's setup. Raises FolderError when it cannot be read."""
    setup = read_setup(old, words)
    if not setup.tables:
        raise FolderError("; ".join(finding.problem(words) for finding in setup.findings))
    rows = {
        key: [_values(setup.tables[key], row) for row in setup.tables[key].rows] for key in TAKEN if key in setup.tables
    }
    content: Content = {"program": [_settings(setup)], **rows}
    named = dict.fromkeys(text(row, "picture") for row in setup.tables["steps"].rows) if "steps" in rows else {}
    pictures = tuple(name for name in named if name and is_plain_name(name) and (old.images / name).is_file())
    return TakenOver(setup_workbook(words, content), {key: len(rows.get(key, ())) for key in TAKEN}, pictures)


def _settings(setup: Setup) -> dict[str, object]:
    kept: dict[str, object] = {}
    for row in setup.tables["program"].rows if "program" in setup.tables else ():
        if row.key not in NEW_EACH_TIME and not row.key.startswith("carton_"):
            kept |= row.values
    return kept


def _values(table: Table, row: Row) -> dict[str, object]:
    """The values of a row; a cell that cannot be read is taken as it is, to be found again."""
    broken = {key: table.raw.cell(row.number, row.cells, key).value for key in row.broken}
    return {**row.values, **{key: str(value) for key, value in broken.items()}}
