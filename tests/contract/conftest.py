"""A copy of the contract's files that a test may change."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from workbook_tools.contract.load import templates_folder


@dataclass(frozen=True)
class Templates:
    """A folder like templates_src."""

    folder: Path

    def edit(self, file: str, old: str, new: str) -> None:
        """Replace a piece of text that stands exactly once in one of the files."""
        path = self.folder / file
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        path.write_text(text.replace(old, new), encoding="utf-8")

    def write(self, file: str, text: str) -> None:
        """Put another text in the place of a file."""
        (self.folder / file).write_text(text, encoding="utf-8")


@pytest.fixture
def templates(tmp_path: Path) -> Templates:
    """A copy of the contract that ships."""
    return Templates(Path(shutil.copytree(templates_folder(), tmp_path / "templates_src")))
