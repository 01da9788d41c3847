"""The plain tables beside the roll-up: CSV that a double click opens right, and positions as Parquet."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.folder import write_bytes_whole, write_whole
from workbook_tools.rollup.merge import Facts

BYTE_ORDER_MARK = "\ufeff"
_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""First characters that make a spreadsheet program take a text for a formula (OWASP, CSV injection)."""


def write_tables(folder: Path, facts: Facts, words: Words) -> None:
    """Write status.csv, flags.csv, findings.csv, files.csv and positions.parquet, each whole or not at all.

    Raises FolderError when one cannot be written.
    """
    columns = default_contract().tables
    rows: dict[str, Iterable[Mapping[str, object]]] = {
        "status": facts.status.iter_rows(named=True),
        "flags": facts.flags.iter_rows(named=True),
        "findings": (finding.row(words) for finding in facts.findings),
        "files": (result.row(words) for result in facts.results),
    }
    for name, table in rows.items():
        write_bytes_whole(folder / f"{name}.csv", csv_bytes(columns[name], table), words)
    with write_whole(folder / "positions.parquet", words) as beside:
        facts.positions.write_parquet(beside)


def csv_bytes(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> bytes:
    """Rows as CSV: UTF-8 with a byte-order mark, RFC 4180 quoting and line ends.

    A text that a spreadsheet program would take for a formula gets an apostrophe in front; numbers stay numbers.
    """
    text = io.StringIO(newline="")
    text.write(BYTE_ORDER_MARK)
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_plain(row.get(column)) for column in columns] for row in rows)
    return text.getvalue().encode("utf-8", "replace")


def _plain(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, str):
        return f"'{value}" if value.startswith(_STARTS_A_FORMULA) else value
    return value
