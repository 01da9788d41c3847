"""The demo: the whole job on the invented program, everything the trade knows in it, the same every time."""

from __future__ import annotations

import csv
import hashlib
import io
from pathlib import Path

import polars as pl
import pytest

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import words_for
from workbook_tools.demo.fill import fill
from workbook_tools.demo.run import _ISSUED, run_demo
from workbook_tools.errors import BuildError, FolderError

WORDS = words_for("en")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's folder, once everything is done."""
    root = tmp_path_factory.mktemp("demo")
    assert len(list(run_demo(root, 1, WORDS))) == 4
    return root


def rows(root: Path, name: str) -> list[dict[str, str]]:
    """One of the plain tables."""
    text = (root / "rollup" / f"{name}.csv").read_text(encoding="utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def digests(root: Path) -> dict[str, str]:
    """Every file under a folder by its content."""
    files = sorted(path for path in root.rglob("*") if path.is_file())
    return {path.relative_to(root).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_every_flag_kind_occurs(demo: Path) -> None:
    """Nothing that the roll-up can say is missing from the demo."""
    assert {row["kind"] for row in rows(demo, "flags")} == set(default_contract().flag_owners)


def test_every_outcome_occurs_and_fifty_stores_are_back(demo: Path) -> None:
    """Files that came back have every outcome; ten of sixty stores have not reported."""
    assert {row["outcome"] for row in rows(demo, "files")} == set(default_contract().outcomes)
    assert [row["state"] for row in rows(demo, "status")].count("not back") == 10
    assert len(rows(demo, "status")) == 60


def test_every_state_occurs(demo: Path) -> None:
    """Every state a store can be in is there to be seen."""
    assert {row["state"] for row in rows(demo, "status")} == set(default_contract().states)


@pytest.mark.parametrize("field", ["as_planned", "label", "tag", "product"])
def test_every_choice_of_a_position_occurs(field: str, demo: Path) -> None:
    """Each answer a drop-down offers was given somewhere; of the brands' labels, most."""
    positions = pl.read_parquet(demo / "rollup" / "positions.parquet")
    contract = default_contract()
    choices = contract.choices[contract.field_book.block("positions").by_key[field].choices]
    assert set(choices.keys) <= set(positions[field])


def test_the_same_seed_gives_the_same_bytes(demo: Path, tmp_path: Path) -> None:
    """Setup, books, returns and roll-up are equal file by file."""
    list(run_demo(tmp_path, 1, WORDS))
    assert digests(tmp_path) == digests(demo)


def test_running_it_again_in_its_own_folder_changes_nothing(demo: Path) -> None:
    """A second run finds its own program and writes the same again."""
    before = digests(demo)
    list(run_demo(demo, 1, WORDS))
    assert digests(demo) == before


def test_it_does_not_touch_another_program(tmp_path: Path) -> None:
    """A folder that holds something else is left alone."""
    (tmp_path / "program.xlsx").write_bytes(b"something else")
    with pytest.raises(FolderError):
        list(run_demo(tmp_path, 1, WORDS))
    assert digests(tmp_path) == {"program.xlsx": hashlib.sha256(b"something else").hexdigest()}


def test_simulated_merchandisers_cannot_type_into_locked_cells(demo: Path) -> None:
    """The brand that is due is locked; trying to change it is refused."""
    book = next((demo / "issued").glob("*.xlsx")).read_bytes()
    with pytest.raises(BuildError, match="locked"):
        fill(book, {("positions", "A-1-1", "brand"): "Other"}, _ISSUED)
