"""A program small enough to follow on paper: every flag, state and total below was written out by hand."""

from __future__ import annotations

import csv
import datetime as dt
import io
import shutil

import openpyxl
import pytest

from tests.small_program import (
    ALL_AS_PLANNED,
    GOOD_VISIT,
    SECOND_STORE,
    SECOND_VISIT,
    THIRD_STORE,
    THIRD_VISIT,
    WORDS,
    fill_in,
    issued_folder,
)
from workbook_tools.folder import ProgramFolder
from workbook_tools.returns.intake import take_in
from workbook_tools.rollup.totals import totals
from workbook_tools.rollup.write import write_rollup

pytestmark = pytest.mark.processes

EXPECTED_FLAGS = """\
store,visit,position,kind,due,found,item_code,brand,who,since,note
002,1,A-1-1,label_mismatch,Pellwood,Quarnby,000101,Pellwood,merchandiser,2026-03-03,
002,1,A-2-1,item_other,000103,000104,000103,Quarnby,merchandiser,2026-03-03,
002,1,A-2-2,label_missing,Rusholt,no label,000104,Rusholt,office,2026-03-03,
002,1,A-2-2,tag_asked,000104,asked store,000104,Rusholt,store,2026-03-03,
002,1,A-2-2,item_short,6,2,000104,Rusholt,store,2026-03-03,
002,1,B-1-1,not_reported,,,000101,Pellwood,merchandiser,2026-03-03,
002,1,B-1-2,tag_mismatch,000105,000101,000105,Quarnby,store,2026-03-03,
002,1,B-1-2,item_missing,4,none,000105,Quarnby,store,2026-03-03,
002,1,B-2-1,label_mismatch,Quarnby,Rusholt,000107,Quarnby,merchandiser,2026-03-03,
002,1,B-2-1,tag_missing,000107,no tag,000107,Quarnby,merchandiser,2026-03-03,
002,1,B-2-1,item_other,000106,000107,000106,Rusholt,merchandiser,2026-03-03,substitute
002,1,B-2-2,tag_missing,000104,store cannot print,000104,Rusholt,merchandiser,2026-03-03,
002,1,B-2-2,not_reported,,,000104,Rusholt,merchandiser,2026-03-03,product
002,1,,photo_missing,one,no,,,merchandiser,2026-03-03,
002,1,,not_built,yes,partly,,,merchandiser,2026-03-03,No header
002,1,,place_changed,End of aisle,elsewhere,,,merchandiser,2026-03-03,
002,1,P2,part_missing,4,3,,,office,2026-03-03,missing 1
003,1,A-1-1,tag_asked,000101,asked store,000101,Pellwood,store,2026-03-03,
"""

# Store 002: of eight trays only A-1-2 is right. Store 003: all but A-1-1.
EXPECTED_STATUS = """\
store,name,district,merchandiser,state,overdue,visit_date,positions,right,open_flags,file
001,Hill Street,North,Kim,done,no,2026-03-03,8,8,0,returns/1 first.xlsx
002,Mill Lane,North,Kim,go back,yes,2026-03-03,8,1,17,returns/2 second.xlsx
003,Quay,South,Lee,to correct,yes,2026-03-03,8,7,1,returns/3 third.xlsx
"""

EXPECTED_OUTCOMES = {
    "returns/1 first.xlsx": "merged",
    "returns/1 sent again.xlsx": "duplicate",
    "returns/1 untouched.xlsx": "superseded",
    "returns/2 second.xlsx": "merged",
    "returns/3 third.xlsx": "to correct",
    "returns/notes.xlsx": "set aside",
}


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory):
    """The whole job on the small program."""
    folder, books = issued_folder(tmp_path_factory.mktemp("small"))
    fill_in(books["001"], folder.returns / "1 first.xlsx", GOOD_VISIT, ALL_AS_PLANNED)
    fill_in(books["001"], folder.returns / "1 sent again.xlsx", GOOD_VISIT, ALL_AS_PLANNED)
    shutil.copyfile(books["001"], folder.returns / "1 untouched.xlsx")
    fill_in(books["002"], folder.returns / "2 second.xlsx", SECOND_VISIT, SECOND_STORE, [("P2", "missing", 1)])
    fill_in(books["003"], folder.returns / "3 third.xlsx", THIRD_VISIT, THIRD_STORE)
    openpyxl.Workbook().save(folder.returns / "notes.xlsx")
    return folder, write_rollup(folder, take_in(folder, [folder.returns], WORDS), dt.date(2026, 3, 9))


def table(folder: ProgramFolder, name: str) -> str:
    """One of the plain tables as text, without the byte-order mark."""
    text = (folder.rollup / f"{name}.csv").read_bytes().decode("utf-8-sig")
    return text.replace("\r\n", "\n")


def test_every_flag_is_found_and_no_other(written) -> None:
    """flags.csv is, to the letter, what was worked out by hand."""
    assert table(written[0], "flags") == EXPECTED_FLAGS


def test_every_store_has_the_state_worked_out_by_hand(written) -> None:
    """status.csv likewise; the window closed the day before."""
    assert table(written[0], "status") == EXPECTED_STATUS


def test_every_file_has_one_outcome(written) -> None:
    """Six files in, six outcomes."""
    rows = csv.DictReader(io.StringIO(table(written[0], "files")))
    assert {row["file"]: row["outcome"] for row in rows} == EXPECTED_OUTCOMES


def test_what_must_be_put_right_is_told_at_its_cell(written) -> None:
    """One return goes back for its times, at the cell of the time out; one file is not a field book."""
    rows = list(csv.DictReader(io.StringIO(table(written[0], "findings"))))
    must = [(row["file"], row["sheet"], row["column"], row["value"]) for row in rows if row["severity"] == "must mend"]
    assert must == [("returns/3 third.xlsx", "Return", "time_out", "09:00"), ("returns/notes.xlsx", "", "", "")]


def test_one_person_in_two_stores_at_once_is_worth_a_look(written) -> None:
    """Kim is said to be in 001 and 002 from 9:00 to 10:15 on one day: said once, and nobody is sent back for it."""
    rows = list(csv.DictReader(io.StringIO(table(written[0], "findings"))))
    looks = [(row["store"], row["rule"], row["column"], row["value"]) for row in rows if row["severity"] == "look at"]
    assert looks == [("002", "two_stores_at_once", "time_in", "09:00")]


def test_the_totals_add_up(written) -> None:
    """One store of three is done; 16 of 24 trays are right (8 + 1 + 7); 18 flags are open (0 + 17 + 1)."""
    figures = totals(written[1].facts)
    assert figures.five == {
        "stores": 3,
        "done": 1,
        "positions": 24,
        "right": 16,
        "mismatches": 2,
        "tags": 4,
        "open": 18,
    }
    assert figures.states == {"not back": 0, "to correct": 1, "go back": 1, "waiting": 0, "done": 1}
    assert figures.overdue == 2
