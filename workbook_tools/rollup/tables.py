"""The plain tables beside the roll-up: CSV that a double click opens right, and positions as Parquet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

import polars as pl

from workbook_tools.contract.csv_text import csv_bytes
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.folder import write_bytes_whole, write_whole
from workbook_tools.rollup.merge import TOLD, Facts

ROWS_A_GROUP = 100_000
"""Rows of positions that a reader of the Parquet file can take at a time."""


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
        facts.positions.write_parquet(beside, pl.exclude(TOLD), ROWS_A_GROUP)
