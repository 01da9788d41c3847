"""Books that were opened and saved by a program that drops things merge like the books as they were filled in."""

from __future__ import annotations

import datetime as dt
import warnings
from io import BytesIO
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from tests.returns.scene import Scene
from tests.small_program import (
    ALL_AS_PLANNED,
    GOOD_VISIT,
    SECOND_STORE,
    SECOND_VISIT,
    THIRD_STORE,
    THIRD_VISIT,
    fill_in,
)
from workbook_tools.rollup.write import write_rollup

RETURNS = {
    "001": (GOOD_VISIT, ALL_AS_PLANNED),
    "002": (SECOND_VISIT, SECOND_STORE),
    "003": (THIRD_VISIT, THIRD_STORE),
}
TABLES = ("status", "flags", "findings")


def saved_again(data: bytes, times: int = 1) -> bytes:
    """Opened and saved: stored results, protected ranges, text boxes and the like are gone (openpyxl 3.1, READ)."""
    for _ in range(times):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(BytesIO(data))
        written = BytesIO()
        book.save(written)
        data = written.getvalue()
    return data


def merged(scene: Scene) -> dict[str, object]:
    """What the tables say, the files' own digests aside."""
    taken = scene.take_in()
    write_rollup(scene.folder, taken, dt.date(2026, 3, 9))
    said: dict[str, object] = {
        name: (scene.folder.rollup / f"{name}.csv").read_text(encoding="utf-8-sig") for name in TABLES
    }
    outcomes = [(one.file, one.outcome) for one in taken.results]
    positions = pl.read_parquet(scene.folder.rollup / "positions.parquet").drop("saved", strict=False)
    return {**said, "outcomes": outcomes, "positions": positions.to_dicts()}


@pytest.fixture
def scene(tmp_path: Path) -> Scene:
    """The small program, issued."""
    return Scene(tmp_path)


@pytest.fixture
def direct(scene: Scene) -> dict[str, object]:
    """The merge of the three returns as they were filled in."""
    scene.put(**{f"r{store}": scene.filled(store, *RETURNS[store]) for store in RETURNS})
    found = merged(scene)
    assert [outcome for _, outcome in found["outcomes"]] == ["merged", "merged", "to correct"]  # type: ignore[attr-defined]
    return found


@pytest.mark.parametrize("times", [1, 3])
def test_books_saved_by_a_program_that_drops_things(times: int, scene: Scene, direct: dict[str, object]) -> None:
    """Once and several times, after they were filled in: same outcomes, states, flags, findings and positions."""
    scene.clear()
    scene.put(**{f"r{store}": saved_again(scene.filled(store, *RETURNS[store]), times) for store in RETURNS})
    assert merged(scene) == direct


def test_books_saved_before_they_are_filled_in(scene: Scene, direct: dict[str, object], tmp_path: Path) -> None:
    """A tablet's program saves the blank book; the answers typed after that count the same."""
    scene.clear()
    for store, (visit, positions) in RETURNS.items():
        blank = tmp_path / "blank.xlsx"
        blank.write_bytes(saved_again(scene.books[store]))
        fill_in(blank, scene.folder.returns / f"r{store}.xlsx", visit, {**ALL_AS_PLANNED, **positions})
    assert merged(scene) == direct


def test_a_book_saved_again_is_a_duplicate_of_itself(scene: Scene) -> None:
    """Other bytes, the same answers."""
    book = scene.filled("001")
    scene.put(one=book, two=saved_again(book))
    assert sorted(one.outcome for one in scene.take_in().results) == ["duplicate", "merged"]


def test_what_is_lost_on_the_way_is_found_elsewhere(scene: Scene) -> None:
    """Without its hidden sheets a book is known by the token that the program left in the workbook's names."""
    book = openpyxl.load_workbook(BytesIO(scene.filled("001")))
    for page in list(book):
        if page.sheet_state != "visible":
            book.remove(page)
    written = BytesIO()
    book.save(written)
    result = scene.only(written.getvalue())
    assert (result.outcome, [one.rule for one in result.findings]) == ("merged", ["identity_spare"])
