"""The small program of the hand-worked example, to be issued, filled in, merged and sent out again."""

from __future__ import annotations

import copy
import datetime as dt
import shutil
from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path

import openpyxl

from tests.small_program import ALL_AS_PLANNED, CONTENT, GOOD_VISIT, WORDS, answers_of
from workbook_tools.contract.sheets import read_blocks
from workbook_tools.demo.fill import fill
from workbook_tools.field_book.issue import Issued, Order, issue
from workbook_tools.field_book.revisit import issue_revisits
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.register import IssuedBook, read_register
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.returns.intake import Intake, take_in
from workbook_tools.rollup.merge import Facts, merge
from workbook_tools.rollup.notes import Kept
from workbook_tools.rollup.revisits import Plan, plan_revisits

AS_OF = dt.date(2026, 3, 6)
NOW = dt.datetime(2026, 3, 5, tzinfo=dt.UTC)
SECOND = {"visit_date": dt.date(2026, 3, 6), "time_in": dt.time(9), "time_out": dt.time(9, 40)}
"""What every later visit answers, whatever is open."""


class Small:
    """One folder with the small program in it, its field books issued."""

    def __init__(self, root: Path, **content: object) -> None:
        self.folder = ProgramFolder(root)
        root.mkdir(parents=True, exist_ok=True)
        self.folder.setup.write_bytes(setup_workbook(WORDS, {**CONTENT, **content}))
        self.folder.returns.mkdir()
        self.tokens = (f"{number:032x}" for number in range(1, 1000))
        self.issued = issue(self.folder, self.order(), WORDS)

    def copied(self, root: Path) -> Small:
        """The same in another folder."""
        shutil.copytree(self.folder.root, root)
        copied = copy.copy(self)
        copied.folder = ProgramFolder(root)
        copied.tokens = (f"{number:032x}" for number in range(1000, 2000))
        return copied

    def order(self) -> Order:
        """An order whose tokens can be foretold."""
        return Order(now=NOW, make_token=lambda: next(self.tokens))

    def book(self, store: str, visit: int = 1) -> IssuedBook:
        """The register's last row for a store's visit."""
        rows = read_register(self.folder.register, WORDS).books
        return next(book for book in reversed(rows) if (book.store, book.visit) == (store, visit))

    def path(self, store: str, visit: int = 1) -> Path:
        """Where the book of a store's visit lies."""
        return self.folder.root / self.book(store, visit).file

    def send(
        self,
        name: str,
        book: Path,
        visit: dict[str, object] = GOOD_VISIT,
        positions: dict[str, dict[str, object]] = ALL_AS_PLANNED,
        parts: Sequence[tuple[str, str, object]] = (),
    ) -> Path:
        """Fill in a book and put it into returns/."""
        target = self.folder.returns / name
        target.write_bytes(fill(book.read_bytes(), answers_of(visit, positions, parts), dt.datetime.now(dt.UTC)))
        return target

    def take_in(self) -> Intake:
        """All returns, taken in."""
        return take_in(self.folder, [self.folder.returns], WORDS)

    def facts(self) -> Facts:
        """What the roll-up would say."""
        return merge(self.take_in(), AS_OF)

    def plan(self, *stores: str, kept: Kept | None = None) -> Plan:
        """The visits that are needed."""
        return plan_revisits(self.facts(), kept or Kept(), stores)

    def revisit(self, *stores: str) -> Issued:
        """Issue the books of the visits that are needed."""
        return issue_revisits(self.folder, self.plan(*stores).revisits, self.order(), WORDS)

    def flags(self, store: str) -> set[tuple[str, str]]:
        """The open flags of a store: (position, kind)."""
        rows = self.facts().flags.filter(store=store).iter_rows(named=True)
        return {(row["position"], row["kind"]) for row in rows}

    def state(self, store: str) -> str:
        """The state of a store."""
        return self.facts().status.filter(store=store)["state"].item()

    def outcomes(self) -> dict[str, str]:
        """The outcome of every file, by its name."""
        return {Path(one.file).name: one.outcome for one in self.take_in().results}


def keys(book: bytes, block: str) -> list[str]:
    """The rows of a block of a book, in order."""
    found = [raw for raw in read_blocks(book, [block]) if raw.key == block]
    return [str(cells[0]) for raw in found for _, cells in raw.rows if cells[0]]


def texts(book: bytes, sheet: str) -> Iterator[str]:
    """Every text on a sheet, row by row."""
    for row in openpyxl.load_workbook(BytesIO(book))[sheet].iter_rows():
        yield from (str(cell.value) for cell in row if cell.value is not None and cell.data_type != "f")


def open_questions(book: bytes) -> list[str]:
    """The questions of the visit whose answer cell can be typed in."""
    workbook = openpyxl.load_workbook(BytesIO(book))
    (raw,) = read_blocks(book, ["visit"])
    column = raw.columns["answer"] + 1
    cells = {str(cells[0]): workbook[raw.sheet].cell(number + 1, column) for number, cells in raw.rows if cells[0]}
    return [key for key, cell in cells.items() if not cell.protection.locked]
