"""A new program from the last one: stores, people, parts and steps come along, the planogram starts empty."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import openpyxl
import pytest

from tests.program.setups import IN_ORDER, put, setup_file, with_values
from workbook_tools.contract.words import words_for
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import check_setup
from workbook_tools.program.take_over import TAKEN, take_over

ENGLISH = words_for("en")


def test_four_blocks_are_taken_over_whole(tmp_path: Path) -> None:
    """Every value of them reads back the same; the other sheets have headings and no row."""
    old = setup_file(tmp_path)
    before = check_setup(old.setup.read_bytes(), old)
    taken = take_over(old, ENGLISH)
    after = check_setup(taken.book, old)
    for block in TAKEN:
        assert [row.values for row in after.tables[block].rows] == [row.values for row in before.tables[block].rows]
        assert taken.counts[block] == len(IN_ORDER[block])
    assert [len(after.tables[block].rows) for block in ("shelves", "positions", "items", "labels")] == [0, 0, 0, 0]


def test_settings_of_one_program_stay_behind(tmp_path: Path) -> None:
    """Name, code, window, place and carton are to be told anew; units, contact and the like stay."""
    old = setup_file(
        tmp_path, with_values("program", 1, client="Varn", carton_weight=30, visit_minutes=60, display="Tower")
    )
    settings = {}
    for row in check_setup(take_over(old, ENGLISH).book, old).tables["program"].rows:
        settings |= row.values
    assert settings == {"client": "Varn", "units": "in, lb", "contact": "Robin", "photos": "one", "language": "en"}


def test_pictures_of_steps_come_along(tmp_path: Path) -> None:
    """Those of items do not, nor a name that leads elsewhere or to nothing."""
    (tmp_path / "old").mkdir()
    steps = [{"step": 1, "do": "a", "picture": "step.png"}, {"step": 2, "do": "b", "picture": "../lids.png"}]
    old = setup_file(tmp_path / "old", {**IN_ORDER, "steps": [*steps, {"step": 3, "do": "c", "picture": "gone.png"}]})
    new = ProgramFolder(tmp_path / "new")
    new.images.mkdir(parents=True)
    taken = take_over(old, ENGLISH)
    assert taken.pictures == ("step.png",)
    taken.copy_pictures(old, new, ENGLISH)
    assert (new.images / "step.png").read_bytes() == (old.images / "step.png").read_bytes()
    assert [path.name for path in new.images.iterdir()] == ["step.png"]


def test_what_could_not_be_read_is_taken_over_as_it_stands(tmp_path: Path) -> None:
    """A cell that `check` complains of is not lost on the way: it is complained of again."""
    old = setup_file(tmp_path, IN_ORDER, [put("merchandisers", 1, "hours", "twenty")])
    found = check_setup(take_over(old, ENGLISH).book, old)
    assert ("not_a_number", "Merchandisers", "F5") in [(one.rule, one.sheet, one.cell) for one in found.findings]


def test_an_old_setup_that_cannot_be_read_is_a_sentence(tmp_path: Path) -> None:
    """No workbook, no new program."""
    (tmp_path / "program.xlsx").write_bytes(b"no workbook")
    with pytest.raises(FolderError, match="cannot be read"):
        take_over(ProgramFolder(tmp_path), ENGLISH)


def test_the_new_setup_opens(tmp_path: Path) -> None:
    """It has all sheets, and the planogram's first row is blank."""
    book = openpyxl.load_workbook(BytesIO(take_over(setup_file(tmp_path), ENGLISH).book))
    assert book["Positions"]["B5"].value is None
    assert book["Stores"]["B5"].value == "00417"
