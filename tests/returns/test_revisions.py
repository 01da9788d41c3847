"""A program as it was issued stays readable: a rule that is stricter today never stops its returns."""

from __future__ import annotations

import datetime as dt
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest

from tests.returns.scene import Scene
from tests.small_program import CONTENT, WORDS
from workbook_tools.errors import FolderError
from workbook_tools.program.load import check_setup, issued_program
from workbook_tools.program.register import read_register
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.program.since import since
from workbook_tools.rollup.merge import merge

Rows = list[dict[str, object]]


def with_first(block: str, **values: object) -> dict[str, Rows]:
    """The small program with other values in the first row of a block."""
    first, *others = CONTENT[block]
    return {**CONTENT, block: [{**first, **values}, *others]}


# what a rule of today finds in a program issued before there was one: the rule, the program
STRICTER: dict[str, tuple[str, dict[str, Rows]]] = {
    "days in the wrong order": ("dates_out_of_order", with_first("program", due=dt.date(2026, 3, 1))),
    "a GTIN that is none": ("gtin_check_digit", with_first("items", gtin="9520000000012")),
    "a picture that is gone": ("picture_missing", with_first("items", picture="gone.png")),
    "a picture elsewhere": ("picture_name", with_first("items", picture="../program.xlsx")),
    "a step twice": ("duplicate", {**CONTENT, "steps": [{"step": 1, "do": "Unfold."}] * 2}),
    "a person who is not listed": ("refers_nowhere", with_first("stores", merchandiser="Mo")),
    "a number out of range": ("out_of_range", with_first("parts", quantity=-1)),
    "a cell that cannot be read": ("not_a_number", with_first("shelves", width="wide")),
}


def reissued(root: Path, content: dict[str, Rows]) -> Scene:
    """The small program issued, and its revision as kept replaced by another state of it."""
    scene = Scene(root)
    scene.folder.revision(1).setup.write_bytes(setup_workbook(WORDS, content))
    return scene


@pytest.mark.parametrize("name", STRICTER)
def test_what_a_rule_of_today_finds_in_an_issued_program_stops_no_merge(name: str, tmp_path: Path) -> None:
    """The rule does find it; the return is merged all the same, and a comparison with the revision works."""
    rule, content = STRICTER[name]
    scene = reissued(tmp_path, content)
    kept = scene.folder.revision(1)
    found = check_setup(kept.setup.read_bytes(), kept).findings
    assert (rule, "must mend") in {(one.rule, one.severity) for one in found}
    scene.put(one=scene.filled())
    intake = scene.take_in()
    assert [one.outcome for one in intake.results] == ["merged"]
    merge(intake, dt.date(2026, 3, 8))
    program = issued_program(kept)
    assert program
    assert since(scene.folder, program, read_register(scene.folder.register, WORDS), 1, WORDS).changes == ()


@pytest.mark.parametrize("how", ["gone", "empty", "cut short", "another workbook", "an item not listed"])
def test_an_issued_program_that_cannot_be_built_is_said_to_be_lost(how: str, tmp_path: Path) -> None:
    """One sentence that names the revision and its folder, as nothing can be held against it."""
    scene = Scene(tmp_path)
    setup = scene.folder.revision(1).setup
    made = {
        "empty": b"",
        "cut short": setup.read_bytes()[:5000],
        "another workbook": scene.books["001"],
        "an item not listed": setup_workbook(WORDS, with_first("positions", item="Nowhere")),
    }
    setup.unlink() if how == "gone" else setup.write_bytes(made[how])
    scene.put(one=scene.filled())
    with pytest.raises(FolderError, match=r"revision 1 cannot be read from .*Put that folder back from a copy\."):
        scene.take_in()


def test_a_program_issued_before_a_block_was_added_has_no_rows_in_it(tmp_path: Path) -> None:
    """Steps are not in the revision's workbook at all: the return is read against what there is."""
    scene = Scene(tmp_path)
    setup = scene.folder.revision(1).setup
    setup.write_bytes(_without_steps(setup.read_bytes()))
    scene.put(one=scene.filled())
    intake = scene.take_in()
    assert [one.outcome for one in intake.results] == ["merged"]
    assert intake.program.steps == ()


def _without_steps(setup: bytes) -> bytes:
    book = openpyxl.load_workbook(BytesIO(setup))
    del book["Steps"]
    saved = BytesIO()
    book.save(saved)
    return saved.getvalue()
