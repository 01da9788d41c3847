"""A small program issued into a folder, and its books filled in, changed and taken in: the stage of many tests."""

from __future__ import annotations

import datetime as dt
import re
import zipfile
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path

from tests.small_program import ALL_AS_PLANNED, CONTENT, GOOD_VISIT, WORDS, answers_of
from workbook_tools.contract.findings import Finding
from workbook_tools.contract.names import a1
from workbook_tools.contract.sheets import read_blocks
from workbook_tools.demo.fill import fill
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.returns.intake import Intake, take_in
from workbook_tools.returns.judge import FileResult

ISSUED = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
SAVED = dt.datetime(2026, 3, 3, 12)


class Scene:
    """One program folder with its books issued; what is put into returns/ is taken in anew each time."""

    def __init__(self, root: Path, content: Mapping[str, object] = CONTENT) -> None:
        self.folder = ProgramFolder(root)
        self.folder.returns.mkdir(parents=True)
        self.books: dict[str, bytes] = {}
        self.issue(content)

    def issue(self, content: Mapping[str, object]) -> None:
        """Issue the program as it stands in `content`: a new revision when something changed."""
        self.folder.setup.write_bytes(setup_workbook(WORDS, content))
        issued = issue(self.folder, Order(now=ISSUED), WORDS)
        self.books |= {book.store: (self.folder.root / book.file).read_bytes() for book in issued.books}

    def filled(
        self,
        store: str = "001",
        visit: Mapping[str, object] | None = None,
        positions: Mapping[str, Mapping[str, object]] | None = None,
        saved: dt.datetime = SAVED,
    ) -> bytes:
        """A good return of a store with some answers otherwise; None leaves a cell blank."""
        told = answers_of({**GOOD_VISIT, **(visit or {})}, {**ALL_AS_PLANNED, **(positions or {})})
        return fill(self.books[store], {key: value for key, value in told.items() if value is not None}, saved)

    def clear(self) -> None:
        """Empty returns/."""
        for path in self.folder.returns.iterdir():
            path.unlink()

    def put(self, **files: bytes) -> None:
        """Lay files into returns/, each under its name with .xlsx."""
        for name, data in files.items():
            (self.folder.returns / f"{name}.xlsx").write_bytes(data)

    def take_in(self) -> Intake:
        """Take in what lies in returns/."""
        return take_in(self.folder, [self.folder.returns], WORDS)

    def only(self, data: bytes) -> FileResult:
        """The result of one return that lies there alone."""
        self.clear()
        self.put(one=data)
        (result,) = self.take_in().results
        return result


def result_of(intake: Intake, name: str) -> FileResult:
    """The file of a name given to `put`."""
    return next(one for one in intake.results if one.file == f"returns/{name}.xlsx")


def rules(findings: list[Finding]) -> list[str]:
    """The rules the findings name, sorted."""
    return sorted(one.rule for one in findings)


def parts_of(data: bytes) -> dict[str, bytes]:
    """The parts of a workbook by name."""
    with zipfile.ZipFile(BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: Mapping[str, bytes]) -> bytes:
    """A workbook of these parts."""
    written = BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return written.getvalue()


def changed(data: bytes, change: Callable[[str, bytes], bytes]) -> bytes:
    """A workbook with each part changed by `change` (name, content)."""
    return packed({name: change(name, part) for name, part in parts_of(data).items()})


def with_cell(data: bytes, block: str, row: str, field: str, inside: str) -> bytes:
    """A workbook with the XML of one cell replaced: `inside` is `t="e"><v>#N/A</v>`, up to the cell's end.

    For the visit, give "answer" as the field.
    """
    raw = next(one for one in read_blocks(data, [block]) if one.key == block)
    number = next(number for number, cells in raw.rows if cells[0] == row)
    address = a1(number, raw.columns[field]).encode()
    cell = re.compile(rb'<c r="%b"((?: s="\d+")?)(?: t="\w+")?(?:/>|>(?:(?!</c>).)*</c>)' % address, re.DOTALL)
    sheet = part_of(data, raw.sheet)
    done = []

    def change(name: str, part: bytes) -> bytes:
        if name != sheet:
            return part
        new, count = cell.subn(rb'<c r="%b"\1 %b</c>' % (address, inside.encode()), part)
        done.append(count)
        return new

    made = changed(data, change)
    assert done == [1], (block, row, field, done)
    return made


def part_of(data: bytes, sheet: str) -> str:
    """The name of the part that holds a sheet."""
    parts = parts_of(data)
    wanted = re.escape(sheet.encode())
    (relation,) = re.findall(rb'<sheet name="%b"[^>]*r:id="([^"]*)"' % wanted, parts["xl/workbook.xml"])
    (target,) = re.findall(rb'Id="%b"[^>]*Target="([^"]*)"' % relation, parts["xl/_rels/workbook.xml.rels"])
    return f"xl/{target.decode()}"
