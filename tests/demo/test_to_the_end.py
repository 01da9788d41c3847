"""The demo to the end: what was sent back is corrected, what was open is put right, and every store is done."""

from __future__ import annotations

import csv
import io
from collections import Counter
from pathlib import Path

import pytest

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import words_for
from workbook_tools.demo.run import run_demo
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.register import read_register

WORDS = words_for("en")


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """The demo's folder when everything is done, and what was said on the way."""
    root = tmp_path_factory.mktemp("demo")
    return root, list(run_demo(root, 1, WORDS, to_the_end=True))


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    """One of the plain tables."""
    return list(csv.DictReader(io.StringIO((folder / f"{name}.csv").read_text(encoding="utf-8-sig"), newline="")))


def test_it_says_the_figures_of_both_rounds(done: tuple[Path, list[str]]) -> None:
    """Four lines as ever, then what was sent back, what was issued again, and the figures after that."""
    lines = done[1]
    assert len(lines) == 9
    assert lines[2].startswith("25 of 60 stores done")
    assert lines[7].startswith("60 of 60 stores done · 2160 of 2160 trays right")
    assert lines[7].endswith("0 open flags")


def test_every_store_is_done(done: tuple[Path, list[str]]) -> None:
    """All trays of all stores are right, no flag is open, nothing has to be corrected."""
    rollup = done[0] / "rollup"
    status = rows(rollup, "status")
    assert {row["state"] for row in status} == {"done"}
    assert {(row["positions"], row["right"], row["overdue"]) for row in status} == {("36", "36", "no")}
    assert rows(rollup, "flags") == []
    assert {row["outcome"] for row in rows(rollup, "files")} == {"merged", "superseded", "duplicate", "set aside"}


def test_the_first_roll_up_is_still_there(done: tuple[Path, list[str]]) -> None:
    """With everything that the trade knows in it, next to the second."""
    first = done[0] / "rollup" / "first"
    assert (first / "rollup.xlsx").is_file()
    assert {row["state"] for row in rows(first, "status")} == set(default_contract().states)
    assert {row["kind"] for row in rows(first, "flags")} == set(default_contract().flag_owners)


def test_each_store_took_the_way_its_state_asked_for(done: tuple[Path, list[str]]) -> None:
    """Stores to go back to and waiting ones had a second visit; those to correct sent a corrected return; those that
    were not back reported. Nobody else did anything.
    """
    before = {row["store"]: row["state"] for row in rows(done[0] / "rollup" / "first", "status")}
    files = Counter(
        (row["store"], row["visit"]) for row in rows(done[0] / "rollup", "files") if row["outcome"] == "merged"
    )
    visits = {store: sorted(visit for one, visit in files if one == store) for store in before}
    corrected = {path.name.split()[0] for path in (done[0] / "returns").glob("* corrected.xlsx")}
    for store, state in before.items():
        if state in ("go back", "waiting"):
            assert visits[store] == ["1", "2"]
        elif state in ("not back", "done"):
            assert visits[store] == ["1"]
        else:
            assert store in corrected
    assert [path.name.split()[1] for path in sorted((done[0] / "issued" / "corrections").glob("*.xlsx"))] == sorted(
        store for store, state in before.items() if state == "to correct"
    )


def test_what_was_issued_again_stands_in_the_register(done: tuple[Path, list[str]]) -> None:
    """A second visit a store at the most, each with what it asks for."""
    register = read_register(ProgramFolder(done[0]).register, WORDS)
    again = [book for book in register.books if book.visit > 1]
    assert {book.visit for book in again} == {2}
    assert len({book.store for book in again}) == len(again) > 20
    assert {book.token for book in again} == set(register.asked)
