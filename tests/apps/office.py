"""Drives LibreOffice as a person would: opens books, types into cells, saves, prints and reads back.

    with find_office() as office:
        report = office.edit(book, returned, [Edit("Return", "C7", "yes")])

LibreOffice starts at the first call, which takes about two seconds, and stays until `close`. Every `Office` has a
private profile and pipe, so that several run side by side. Each call ends within its time limit, whatever happens.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any, Literal, Self

from tests.apps.locate import find_soffice, find_uno_python
from tests.apps.office_process import OfficeCrashError, OfficeError, OfficeProcess

JOB_LIMIT = 60.0  # seconds for one book
CELL = re.compile(r"[A-Z]{1,3}[1-9][0-9]{0,6}")


@dataclass(frozen=True)
class ErrorCell:
    """A cell that shows an error, such as `#N/A`."""

    shown: str


Value = str | float | bool | date | datetime | time | ErrorCell | None  # None: the cell is empty
Format = Literal["xlsx", "ods", "xls"]
READERS: dict[str, Callable[[str], Value]] = {
    "date": date.fromisoformat,
    "time": time.fromisoformat,
    "datetime": datetime.fromisoformat,
    "error": ErrorCell,
}


@dataclass(frozen=True)
class Edit:
    """Text typed into one cell: the sheet's name, the cell's address (`B7`), the text; an empty text clears it."""

    sheet: str
    cell: str
    text: str


@dataclass(frozen=True)
class EditResult:
    """What became of one edit: the cell's value before and just after it, and why it was refused.

    `reason` is "" (taken), `locked`, `hidden` (its sheet, row or column) or `merged` (the address lies under the
    top left cell of a merged range).
    """

    edit: Edit
    before: Value
    after: Value
    reason: str

    @property
    def refused(self) -> bool:
        """Whether the program did not let the text in."""
        return bool(self.reason)


@dataclass(frozen=True)
class EditReport:
    """What became of the edits of one book, in their order."""

    source: Path
    target: Path
    results: tuple[EditResult, ...]

    @property
    def refused(self) -> tuple[EditResult, ...]:
        """The edits that were not let in."""
        return tuple(result for result in self.results if result.refused)


Job = tuple[Path, Path, Sequence[Edit]]  # source, target, what is typed


def find_office(locale: str = "en-US", limit: float = JOB_LIMIT) -> Office | None:
    """LibreOffice and a Python that can drive it, not started yet; None if either is missing.

    `locale` decides how typed dates and decimals are understood; `limit` is the seconds allowed for each book.
    """
    soffice = find_soffice()
    python = find_uno_python(soffice) if soffice else None
    return Office(soffice, python, locale, limit) if soffice and python else None


class Office:
    """One LibreOffice, started when first needed; a context manager that ends it."""

    def __init__(self, soffice: Path, python: Path, locale: str = "en-US", limit: float = JOB_LIMIT) -> None:
        self.soffice = soffice
        self.python = python
        self.locale = locale
        self.limit = limit
        self._process: OfficeProcess | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def pid(self) -> int | None:
        """The process id of the LibreOffice that runs now, or None."""
        return self._process.process.pid if self._process and self._process.alive else None

    def edit(self, source: Path, target: Path, edits: Sequence[Edit], recalculate: bool = True) -> EditReport:
        """Type the edits into `source`, in their order, and save the outcome to `target` as .xlsx.

        Goes through the program's own commands, so protection holds. Lists of choices do not: the program asks about
        a value outside the list only in a window that people see. With `recalculate` every formula is computed anew,
        before and after; without it a stored result stays until something that it depends on is typed.
        Raises OfficeError: no such book or sheet, not a spreadsheet, cannot be saved there, over the time limit.
        """
        return self.edit_many([(source, target, edits)], recalculate)[0]

    def edit_many(self, jobs: Sequence[Job], recalculate: bool = True) -> list[EditReport]:
        """`edit` for many books in one go; the reports in the order of the jobs."""
        answers = self._run([_edit_command(job, "xlsx", recalculate) for job in jobs])
        return [
            EditReport(source, target, tuple(map(_result, edits, results)))
            for (source, target, edits), results in zip(jobs, answers, strict=True)
        ]

    def resave(self, source: Path, target: Path, file_format: Format = "xlsx", recalculate: bool = False) -> Path:
        """Open and save, as by someone who only looks: stored results stay as they are, unless `recalculate`."""
        self._run([_edit_command((source, target, ()), file_format, recalculate)])
        return target

    def pdf(self, source: Path, target: Path, sheet: str | None = None, screen: tuple[int, int] | None = None) -> Path:
        """Print, recalculated, to PDF: the visible sheets, or only the one named, which may be a hidden one.

        Pages are as the page set-up has them; with `screen` (width, height, in pixels of 1/96 inch) each page is a
        screenful at 100 % instead, the first one being what is seen when the sheet is opened.
        """
        self._run([{"do": "pdf", "sheet": sheet, "screen": screen, **_places(source, target, "pdf")}])
        return target

    def values(self, source: Path, sheet: str) -> list[list[Value]]:
        """The values of a sheet, recalculated, row by row from A1 to the last cell in use. Numbers are floats."""
        [rows] = self._run([{"do": "values", "sheet": sheet, **_places(source)}])
        return [[_value(cell) for cell in row] for row in rows]

    def close(self) -> None:
        """End LibreOffice; the next call would start it anew."""
        if self._process is not None:
            self._process.close()
            self._process = None

    def _run(self, commands: list[dict[str, Any]]) -> list[Any]:
        if not commands:
            return []
        try:
            answer = self._answer(commands)
        except OfficeCrashError:
            answer = self._answer(commands)  # every command goes from files to files, so it can be given again
        if "error" in answer:
            raise OfficeError(f"{commands[answer['command']]['book']}: {answer['error']}")
        results: list[Any] = answer["results"]
        return results

    def _answer(self, commands: list[dict[str, Any]]) -> dict[str, Any]:
        if self._process is None or not self._process.alive:
            self.close()
            self._process = OfficeProcess(self.soffice, self.python, self.locale)
        return self._process.ask(commands, self.limit * len(commands))


def _edit_command(job: Job, file_format: Format, recalculate: bool) -> dict[str, Any]:
    source, target, edits = job
    for edit in edits:
        if not CELL.fullmatch(edit.cell):
            raise OfficeError(f"{source}: {edit.cell!r} is not the address of one cell, such as B7")
    typed = [vars(edit) for edit in edits]
    return {"do": "edit", "recalculate": recalculate, "edits": typed, **_places(source, target, file_format)}


def _places(source: Path, target: Path | None = None, file_format: str = "") -> dict[str, str]:
    if not source.is_file():
        raise OfficeError(f"{source}: no such file")
    places = {"book": str(source), "source": source.resolve().as_uri()}
    return places if target is None else {**places, "target": target.resolve().as_uri(), "format": file_format}


def _result(edit: Edit, answer: dict[str, Any]) -> EditResult:
    return EditResult(edit, _value(answer["before"]), _value(answer["after"]), answer["refused"])


def _value(cell: Any) -> Value:
    if not isinstance(cell, dict):
        value: Value = cell
        return value
    [(kind, text)] = cell.items()
    return READERS[kind](text)
