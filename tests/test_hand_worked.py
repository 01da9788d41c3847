"""A program small enough to follow on paper: every flag, state and total below was written out by hand."""

from __future__ import annotations

import csv
import datetime as dt
import io
import shutil
from pathlib import Path

import openpyxl
import pytest

from workbook_tools.contract.words import words_for
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.returns.intake import take_in
from workbook_tools.rollup.totals import totals
from workbook_tools.rollup.write import write_rollup

WORDS = words_for("en")

PROGRAM = {
    "name": "Small stand",
    "code": "SMALL",
    "units": "in, lb",
    "starts": dt.date(2026, 3, 2),
    "due": dt.date(2026, 3, 8),
    "contact": "The office",
    "place": "End of aisle",
    "other_places": "Front",
    "photos": "one",
}

# item, item code, brand; item 7 stands nowhere but may take the place of item 6.
ITEMS = [
    ("Lids", "000101", "Pellwood"),
    ("Rings", "000102", "Pellwood"),
    ("Wax", "000103", "Quarnby"),
    ("Salt", "000104", "Rusholt"),
    ("Twine", "000105", "Quarnby"),
    ("Jars", "000106", "Rusholt"),
    ("Jugs", "000107", "Quarnby"),
]
# Two faces x two shelves x two places; the label due follows from the item's brand.
POSITIONS = [
    ("A", 1, 1, "Lids", 4),  # Pellwood
    ("A", 1, 2, "Rings", 4),  # Pellwood
    ("A", 2, 1, "Wax", 6),  # Quarnby
    ("A", 2, 2, "Salt", 6),  # Rusholt
    ("B", 1, 1, "Lids", 4),  # Pellwood
    ("B", 1, 2, "Twine", 4),  # Quarnby
    ("B", 2, 1, "Jars", 6),  # Rusholt
    ("B", 2, 2, "Salt", 6),  # Rusholt
]
# Three trays are due a Rusholt label and two are packed: a missing one is the office's to send.
LABELS = [("Pellwood", 3), ("Quarnby", 2), ("Rusholt", 2)]
STORES = [("001", "Hill Street", "North", "Kim"), ("002", "Mill Lane", "North", "Kim"), ("003", "Quay", "South", "Lee")]

CONTENT = {
    "program": [PROGRAM],
    "shelves": [{"face": face, "shelf": shelf, "width": 24} for face in "AB" for shelf in (1, 2)],
    "positions": [dict(zip(("face", "shelf", "place", "item", "units"), row, strict=True)) for row in POSITIONS],
    "items": [
        {"item": item, "item_code": code, "brand": brand, "substitutes": "Jugs" if item == "Jars" else ""}
        for item, code, brand in ITEMS
    ],
    "labels": [{"brand": brand, "packed": packed} for brand, packed in LABELS],
    "parts": [{"part": "P1", "name": "Base", "quantity": 1}, {"part": "P2", "name": "Shelf", "quantity": 4}],
    "steps": [{"step": 1, "do": "Unfold the base."}],
    "stores": [
        {"store": store, "name": name, "district": district, "merchandiser": person}
        for store, name, district, person in STORES
    ],
    "merchandisers": [{"merchandiser": "Kim"}, {"merchandiser": "Lee"}],
}

GOOD_VISIT = {
    "visit_date": dt.date(2026, 3, 3),
    "time_in": dt.time(9, 0),
    "time_out": dt.time(10, 15),
    "place": "End of aisle",
    "carton": "found",
    "built": "yes",
    "tags_asked": "no",
    "photo": "yes",
}
ALL_AS_PLANNED = {f"{face}-{shelf}-{place}": {"as_planned": "yes"} for face, shelf, place, *_ in POSITIONS}


def differs(**details: object) -> dict[str, object]:
    """A position that is not as planned, told in detail."""
    return {"as_planned": "no", **details}


# Store 002, tray by tray.
SECOND_STORE = {
    # Lids stand there with a Quarnby label: Pellwood is due.
    "A-1-1": differs(label="Quarnby", tag="on tray", product="set"),
    "A-1-2": {"as_planned": "yes"},
    # Salt stands where Wax is planned, under Salt's own Rusholt label: the label is right, the item is another.
    "A-2-1": differs(label="Rusholt", tag="on tray", product="other item", other_item="000104"),
    # No label (Rusholt is due, and the kit was short of it), the tag asked for, 2 of 6 units.
    "A-2-2": differs(label="no label", tag="asked store", product="short", units=2),
    # B-1-1 is left blank.
    # The tag shows the code of Lids where Twine is due, and nothing stands there.
    "B-1-2": differs(label="Quarnby", tag="on tray", tag_code="000101", product="none"),
    # Jugs, an allowed substitute, stand where Jars are planned, under the label of Jars: Quarnby is due.
    "B-2-1": differs(label="Rusholt", tag="no tag", product="other item", other_item="000107"),
    # The store cannot print the tag; what stands there is not told.
    "B-2-2": differs(label="Rusholt", tag="store cannot print"),
}
SECOND_VISIT = {
    **GOOD_VISIT,
    "built": "partly",
    "why_not": "No header",
    "place": "elsewhere",
    "photo": "no",
    "tags_asked": "yes",
}

# Store 003 asked for one tag and left before it came: the times have to be put right.
THIRD_STORE = {**ALL_AS_PLANNED, "A-1-1": differs(label="Pellwood", tag="asked store", product="set")}
THIRD_VISIT = {**GOOD_VISIT, "time_in": dt.time(10, 0), "time_out": dt.time(9, 0), "tags_asked": "yes"}

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


def fill_in(
    book: Path, target: Path, visit: dict[str, object], positions: dict[str, dict[str, object]], parts=()
) -> None:
    """Type answers into the open cells of an issued book, found by the contract's keys alone."""
    workbook = openpyxl.load_workbook(book)
    answers = {("visit", key, "answer"): value for key, value in visit.items()}
    answers |= {("positions", key, name): value for key, told in positions.items() for name, value in told.items()}
    answers |= {("parts", key, name): value for key, name, value in parts}
    for sheet in workbook.worksheets:
        block, columns = "", {}
        for row in sheet.iter_rows():
            key = str(row[0].value or "")
            if key.startswith("#"):
                block = key[1:]
                columns = {cell.value: cell.column for cell in row[1:] if cell.value}
                continue
            for name, column in columns.items():
                if (block, key, name) in answers:
                    cell = sheet.cell(row[0].row, column)
                    assert not cell.protection.locked, (key, name)
                    cell.value = answers.pop((block, key, name))
    assert not answers
    workbook.save(target)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory):
    """The whole job on the small program."""
    folder = ProgramFolder(tmp_path_factory.mktemp("small"))
    folder.setup.write_bytes(setup_workbook(WORDS, CONTENT))
    folder.returns.mkdir()
    issued = issue(folder, Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC)), WORDS)
    books = {book.store: folder.root / book.file for book in issued.books}
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
