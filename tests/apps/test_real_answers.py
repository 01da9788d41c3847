"""Field books filled in and saved by a real spreadsheet program say what the same answers say written directly."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import polars as pl
import pytest

from tests.apps.office import Edit, Office
from tests.small_program import (
    ALL_AS_PLANNED,
    CONTENT,
    GOOD_VISIT,
    SECOND_STORE,
    SECOND_VISIT,
    THIRD_STORE,
    THIRD_VISIT,
    WORDS,
    fill_in,
)
from tests.test_hand_worked import table
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.names import a1
from workbook_tools.contract.sheets import read_blocks
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.returns.intake import take_in
from workbook_tools.rollup.write import write_rollup

RETURNS = {
    "001": (GOOD_VISIT, ALL_AS_PLANNED, []),
    "002": (SECOND_VISIT, SECOND_STORE, [("P2", "missing", 1)]),
    "003": (THIRD_VISIT, THIRD_STORE, []),
}


def program_folder(root: Path) -> tuple[ProgramFolder, dict[str, Path]]:
    """The small program with its books issued, the same tokens every time."""
    folder = ProgramFolder(root)
    folder.setup.write_bytes(setup_workbook(WORDS, CONTENT))
    folder.returns.mkdir()
    tokens = iter(f"{number:032x}" for number in range(1, 10))
    order = Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC), make_token=lambda: next(tokens))
    issued = issue(folder, order, WORDS)
    return folder, {book.store: folder.root / book.file for book in issued.books}


def typed(value: object) -> str:
    """An answer as a person types it."""
    if isinstance(value, dt.time):
        return f"{value:%H:%M}"
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def edits(book: Path, visit: dict, positions: dict, parts: list) -> list[Edit]:
    """Where each answer is typed, found by the contract's keys."""
    blocks = {block.key: block for block in read_blocks(book.read_bytes(), ("visit", "positions", "parts"))}
    answers = [("visit", key, "answer", value) for key, value in visit.items()]
    answers += [("positions", key, name, value) for key, told in positions.items() for name, value in told.items()]
    answers += [("parts", key, name, value) for key, name, value in parts]
    rows = {(block.key, cells[0]): number for block in blocks.values() for number, cells in block.rows}
    return [
        Edit(blocks[block].sheet, a1(rows[block, key], blocks[block].columns[name]), typed(value))
        for block, key, name, value in answers
    ]


def merged(folder: ProgramFolder) -> dict[str, object]:
    """What the merge of a folder says, file contents aside."""
    write_rollup(folder, take_in(folder, [folder.returns], WORDS), dt.date(2026, 3, 9))
    files = [line.split(",")[0::4] for line in table(folder, "files").splitlines()]
    positions = pl.read_parquet(folder.rollup / "positions.parquet")
    return {**{name: table(folder, name) for name in ("flags", "status", "findings")}, "files": files, "all": positions}


@pytest.fixture(scope="module")
def direct(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    """The merge of answers written directly."""
    folder, books = program_folder(tmp_path_factory.mktemp("direct"))
    for store, (visit, positions, parts) in RETURNS.items():
        fill_in(books[store], folder.returns / f"{store}.xlsx", visit, positions, parts)
    return merged(folder)


def assert_same(found: dict[str, object], expected: dict[str, object]) -> None:
    """Two merges say the same."""
    assert found.pop("all").equals(expected["all"])
    assert found == {key: value for key, value in expected.items() if key != "all"}


def test_answers_typed_in_libreoffice_merge_like_answers_written_directly(
    office: Office, direct: dict[str, object], tmp_path: Path
) -> None:
    """Every answer typed through the program's own commands, the book saved by it."""
    folder, books = program_folder(tmp_path)
    jobs = [
        (books[store], folder.returns / f"{store}.xlsx", edits(books[store], *answers))
        for store, answers in RETURNS.items()
    ]
    reports = office.edit_many(jobs)
    assert [report.refused for report in reports] == [(), (), ()]
    assert_same(merged(folder), direct)


def test_a_filled_book_saved_again_by_libreoffice_merges_the_same(
    office: Office, direct: dict[str, object], tmp_path: Path
) -> None:
    """Opening and saving changes formats and formulas, not what the answers say."""
    folder, books = program_folder(tmp_path)
    for store, (visit, positions, parts) in RETURNS.items():
        fill_in(books[store], tmp_path / f"{store}.xlsx", visit, positions, parts)
        office.resave(tmp_path / f"{store}.xlsx", folder.returns / f"{store}.xlsx")
    assert_same(merged(folder), direct)


def test_a_filled_book_saved_again_by_gnumeric_merges_the_same(
    gnumeric, direct: dict[str, object], tmp_path: Path
) -> None:
    """Gnumeric makes hidden sheets visible and changes cell flags; the keys still find the answers."""
    folder, books = program_folder(tmp_path)
    for store, (visit, positions, parts) in RETURNS.items():
        fill_in(books[store], tmp_path / f"{store}.xlsx", visit, positions, parts)
        gnumeric.resave(tmp_path / f"{store}.xlsx", folder.returns / f"{store}.xlsx", "xlsx", False)
    assert_same(merged(folder), direct)


def test_libreoffice_refuses_to_change_a_locked_cell(office: Office, tmp_path: Path) -> None:
    """Every cell of the Return sheet that the contract does not open: position, item, brand, state, part and store."""
    _, books = program_folder(tmp_path)
    block = next(b for b in read_blocks(books["001"].read_bytes(), ("positions",)) if b.key == "positions")
    row = block.rows[1][0]
    visible = [f.key for f in default_contract().field_book.block("positions").fields if not f.open and f.width]
    tries = [Edit(block.sheet, a1(row, block.columns[key]), "changed") for key in visible]
    report = office.edit(books["001"], tmp_path / "tried.xlsx", tries)
    assert [result.reason for result in report.results] == ["locked"] * len(visible)


def test_answers_for_a_shared_book_are_told_apart_by_the_store_picked(office: Office, tmp_path: Path) -> None:
    """One file for everyone: two stores fill it in, each picks its own number."""
    folder = ProgramFolder(tmp_path)
    folder.setup.write_bytes(setup_workbook(WORDS, CONTENT))
    folder.returns.mkdir()
    issued = issue(folder, Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC), shared=True), WORDS)
    book = folder.root / issued.books[0].file
    jobs = [
        (book, folder.returns / f"{store}.xlsx", edits(book, {"store": store, **GOOD_VISIT}, ALL_AS_PLANNED, []))
        for store in ("001", "003")
    ]
    assert [report.refused for report in office.edit_many(jobs)] == [(), ()]
    shutil.copyfile(book, folder.returns / "no store picked.xlsx")
    merged(folder)
    rows = [line.split(",") for line in table(folder, "status").splitlines()[1:]]
    assert {row[0]: row[4] for row in rows} == {"001": "done", "002": "not back", "003": "done"}
    files = [line.split(",") for line in table(folder, "files").splitlines()[1:]]
    assert {row[0]: row[4] for row in files}["returns/no store picked.xlsx"] == "to correct"
