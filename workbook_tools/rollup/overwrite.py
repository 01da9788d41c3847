"""Before a roll-up is written over: whether it may be, and keeping aside what people put into it that is no note."""

from __future__ import annotations

import datetime as dt
import stat
from itertools import count
from pathlib import Path

from workbook_tools.contract.names import sheet_name
from workbook_tools.contract.package import Package
from workbook_tools.contract.words import Words, languages, words_for
from workbook_tools.contract.zip_directory import UnfitZipError
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder, lock_of, write_bytes_whole

KEPT = "kept"
"""The folder beside the roll-up for workbooks that were kept aside."""
OTHER_FORMATS = (".ods", ".fods", ".xls", ".xlsb", ".xlsm", ".numbers")
"""What spreadsheet programs may save a roll-up as, beside it."""
_COMMENTS = "comments"
"""In the names of the parts that hold comments on cells, old and new (`xl/comments1.xml`, `xl/threadedComments/…`)."""


def refuse_to_overwrite(folder: ProgramFolder, words: Words) -> None:
    """Raises FolderError when something that a merge writes over is open elsewhere or read-only, or when the roll-up
    was also saved in another format, so that nobody can tell which one the office writes its notes in.
    """
    path = folder.rollup / "rollup.xlsx"
    for one in (path, folder.rollup / "client.xlsx"):
        if lock := lock_of(one):
            raise FolderError(words("messages.rollup_locked", path=one, lock=lock.name))
        if _is_read_only(one):
            raise FolderError(words("messages.rollup_read_only", path=one))
    for suffix in OTHER_FORMATS:
        if (other := path.with_suffix(suffix)).exists():
            raise FolderError(words("messages.rollup_beside", other=other, name=path.name))


def keep_aside(path: Path, as_of: dt.date, words: Words) -> Path | None:
    """Keep a copy of the roll-up at `path` if a merge would lose sheets or comments that people put into it, or if it
    is in another format under this name; gives where it is kept. Raises FolderError when it cannot be.
    """
    try:
        data = path.read_bytes()
    except OSError:
        return None
    if not _has_more_than_notes(data):
        return None
    folder = path.parent / KEPT
    names = (f"{as_of.isoformat()}{f' {number}' if number > 1 else ''} {path.name}" for number in count(1))
    target = next(folder / name for name in names if not (folder / name).exists())
    write_bytes_whole(target, data, words)
    return target


def _is_read_only(path: Path) -> bool:
    try:
        return not path.stat().st_mode & stat.S_IWUSR
    except OSError:
        return False


def _has_more_than_notes(data: bytes) -> bool:
    package = Package(data)
    try:
        sheets = {name for name, _ in package.sheets}
        return not sheets <= _own_sheets() or any(_COMMENTS in name for name in package.names)
    except UnfitZipError:
        return True


def _own_sheets() -> set[str]:
    """The names of all sheets of a roll-up, in every language."""
    key = "rollup.sheets"
    tables = (words_for(language).table for language in languages())
    return {sheet_name(text) for table in tables for name, text in table.items() if name.rpartition(".")[0] == key}
