"""The small program of the hand-worked example, and how its books are filled in through the contract's keys alone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path

import openpyxl

from workbook_tools.contract.words import words_for
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.setup_book import setup_workbook

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


def issued_folder(root: Path) -> tuple[ProgramFolder, dict[str, Path]]:
    """A program folder with the books of all stores issued: the folder, and each store's book."""
    folder = ProgramFolder(root)
    folder.setup.write_bytes(setup_workbook(WORDS, CONTENT))
    folder.returns.mkdir()
    issued = issue(folder, Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC)), WORDS)
    return folder, {book.store: folder.root / book.file for book in issued.books}


def answers_of(
    visit: Mapping[str, object],
    positions: Mapping[str, Mapping[str, object]],
    parts: Sequence[tuple[str, str, object]] = (),
) -> dict[tuple[str, str, str], object]:
    """Answers by block, row key and field, as demo.fill takes them."""
    answers: dict[tuple[str, str, str], object] = {("visit", key, key): value for key, value in visit.items()}
    answers |= {("positions", key, name): value for key, told in positions.items() for name, value in told.items()}
    return answers | {("parts", key, name): value for key, name, value in parts}


def fill_in(
    book: Path,
    target: Path,
    visit: Mapping[str, object],
    positions: Mapping[str, Mapping[str, object]],
    parts: Sequence[tuple[str, str, object]] = (),
) -> None:
    """Type answers into the open cells of an issued book, found by the contract's keys alone.

    Does it without any of the program's own code, and takes its time.
    """
    workbook = openpyxl.load_workbook(book)
    told = answers_of(visit, positions, parts).items()
    answers = {(block, key, "answer" if block == "visit" else name): value for (block, key, name), value in told}
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
