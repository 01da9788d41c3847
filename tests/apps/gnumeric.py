"""Drives Gnumeric through `ssconvert`, its own converter: opens a book and saves it again."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tests.apps.locate import find_tool

EXPORTERS = {"xlsx": "Gnumeric_Excel:xlsx2", "ods": "Gnumeric_OpenCalc:odf", "xls": "Gnumeric_Excel:excel_biff8"}


class GnumericError(Exception):
    """Gnumeric did not open or save a book; the message names it and gives Gnumeric's own words."""


@dataclass(frozen=True)
class Gnumeric:
    """Gnumeric's converter; each call is a process of its own, ended after `limit` seconds."""

    ssconvert: Path
    limit: float = 60.0

    def resave(
        self,
        source: Path,
        target: Path,
        file_format: Literal["xlsx", "ods", "xls"] = "xlsx",
        recalculate: bool = False,
    ) -> Path:
        """Open and save; stored results stay as they are, unless `recalculate`. Raises GnumericError."""
        switches = ["--recalc"] if recalculate else []
        export = f"--export-type={EXPORTERS[file_format]}"
        call: list[str | Path] = [self.ssconvert, *switches, export, source, target]
        try:
            done = subprocess.run(call, capture_output=True, timeout=self.limit, check=False)
        except subprocess.TimeoutExpired:
            raise GnumericError(f"{source}: took longer than {self.limit:g} s") from None
        if done.returncode or not target.exists():
            raise GnumericError(f"{source}: {done.stderr.decode(errors='replace').strip()}")
        return target


def find_gnumeric() -> Gnumeric | None:
    """Gnumeric, or None if it is not installed."""
    ssconvert = find_tool("ssconvert")
    return Gnumeric(ssconvert) if ssconvert else None
