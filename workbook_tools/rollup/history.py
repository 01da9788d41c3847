"""What each merge counted, a row a day: rollup/history.csv, from which the curve and what changed are drawn."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.contract.csv_text import csv_bytes
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError

TABLE, DAY = "history", "as_of"


@dataclass(frozen=True)
class HistoryRow:
    """The counts of one merge, by column of history.csv; a count that its merge did not know is missing."""

    as_of: dt.date
    counts: dict[str, int]

    def change(self, earlier: HistoryRow, column: str) -> int | None:
        """How much a count has grown since an earlier row; None when one of the two lacks it."""
        if column not in self.counts or column not in earlier.counts:
            return None
        return self.counts[column] - earlier.counts[column]


def history_columns() -> tuple[str, ...]:
    """The columns of history.csv after the day."""
    return tuple(column for column in default_contract().tables[TABLE] if column != DAY)


def read_history(path: Path, words: Words) -> tuple[HistoryRow, ...]:
    """Read history.csv; no rows when there is no such file. Raises FolderError when it is damaged."""
    try:
        text = path.read_text(encoding="utf-8-sig")
        return tuple(_row(row) for row in csv.DictReader(io.StringIO(text, newline="")))
    except FileNotFoundError:
        return ()
    except (KeyError, TypeError, ValueError, OSError, csv.Error) as slip:
        raise FolderError(words("messages.history_damaged", path=path, reason=slip)) from None


def _row(row: dict[str, str]) -> HistoryRow:
    counts = {column: int(row[column]) for column in history_columns() if row.get(column)}
    return HistoryRow(dt.date.fromisoformat(row[DAY]), counts)


def with_today(history: Iterable[HistoryRow], today: HistoryRow) -> tuple[HistoryRow, ...]:
    """The history with today's row in its place; a row of the same day is replaced."""
    rows = {row.as_of: row for row in (*history, today)}
    return tuple(rows[day] for day in sorted(rows))


def before(history: Sequence[HistoryRow], day: dt.date) -> HistoryRow | None:
    """The last row before a day."""
    return max((row for row in history if row.as_of < day), key=lambda row: row.as_of, default=None)


def history_bytes(history: Iterable[HistoryRow]) -> bytes:
    """The history as history.csv."""
    return csv_bytes((DAY, *history_columns()), ({DAY: row.as_of, **row.counts} for row in history))
