"""Plain tables that are only ever added to: rows are appended whole or not at all, and damage is never read past."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, BinaryIO

from workbook_tools.contract.csv_text import BYTE_ORDER_MARK, csv_lines, text_meant
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError


def read_rows(
    path: Path, columns: Sequence[str], words: Words, *, is_good: Callable[[Mapping[str, str]], bool] = lambda row: True
) -> list[dict[str, str]]:
    """The rows of a table by column, in order; none when there is no such file.

    Raises FolderError when the heading is not `columns`, a row has a cell too many or too few, or is not good.
    """
    if not path.exists():
        return []
    try:
        reader = csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline=""), strict=True)
        rows = list(reader)
    except (ValueError, OSError, csv.Error) as slip:
        raise FolderError(words("messages.register_damaged", path=path, reason=slip)) from None
    is_headed = tuple(reader.fieldnames or ()) == tuple(columns)
    bad = (number for number, row in enumerate(rows, start=2) if not (_is_whole(row) and is_good(row)))
    if damaged := next(bad, None) if is_headed else 1:
        reason = words("messages.register_row", row=damaged)
        raise FolderError(words("messages.register_damaged", path=path, reason=reason))
    return [{column: text_meant(cell) for column, cell in row.items()} for row in rows]


def _is_whole(row: Mapping[Any, Any]) -> bool:
    return None not in row and None not in row.values()


def append_rows(path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]], words: Words) -> None:
    """Add rows at the end, whole or not at all, making the file when there is none. Raises FolderError."""
    lines = csv_lines(rows)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a+b") as file:
            before = file.seek(0, os.SEEK_END)
            try:
                file.write(_opening(file, before, columns).encode() + lines.encode())
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                file.truncate(before)
                raise
    except OSError as slip:
        raise FolderError(words("messages.cannot_write", path=path, reason=slip.strerror or slip)) from None


def _opening(file: BinaryIO, size: int, columns: Sequence[str]) -> str:
    """What has to stand before new rows: the heading in an empty file, the end of a last line that lacks it."""
    if size == 0:
        return f"{BYTE_ORDER_MARK}{','.join(columns)}\r\n"
    file.seek(-1, os.SEEK_END)
    return "" if file.read(1) in b"\r\n" else "\r\n"
