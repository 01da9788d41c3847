"""The roll-up as the office opens it: every number on the first sheet leads to its rows in the plain tables."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import io
import random
import re
import zipfile
from collections import Counter
from pathlib import Path

import polars as pl
import pytest
from openpyxl import Workbook
from openxml_audit import FileFormat, OpenXmlValidator

from tests.rollup.book_reads import above, beside, led_to, opened, seen_texts, texts
from tests.rollup.conftest import AS_OF, facts, folder, intake, office
from tests.rollup.invented import Told, facts_of
from tests.rollup.sheet_edits import NotesSheet
from tests.small_program import WORDS
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words, languages, words_for
from workbook_tools.folder import ProgramFolder
from workbook_tools.returns.intake import Intake
from workbook_tools.returns.pieces import Pieces
from workbook_tools.rollup.client import client_workbook
from workbook_tools.rollup.history import HistoryRow
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.notes import FlagKey, Kept, Note, PastNote
from workbook_tools.rollup.notes_read import kept_notes
from workbook_tools.rollup.totals import totals
from workbook_tools.rollup.workbook import Told as ToldBeside
from workbook_tools.rollup.workbook import rollup_workbook
from workbook_tools.rollup.write import write_rollup

__all__ = ["facts", "folder", "intake", "office"]


def rows_of(folder: ProgramFolder, table: str) -> list[dict[str, str]]:
    """A plain table's rows."""
    text = (folder.rollup / f"{table}.csv").read_bytes().decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture
def written(folder: ProgramFolder, intake: Intake) -> tuple[ProgramFolder, Workbook]:
    """The small program merged once."""
    return folder, opened(write_rollup(folder, intake, AS_OF).path)


def test_every_state_counts_the_stores_it_leads_to(written: tuple[ProgramFolder, Workbook]) -> None:
    """The number on a state's card, the rows its link selects, and status.csv agree, store by store."""
    folder, book = written
    status = rows_of(folder, "status")
    for state in default_contract().states:
        card = above(book["Today"], WORDS(f"states.{state}"))
        stores = {row["store"] for row in status if row["state"] == state}
        assert card.value == len(stores)
        if stores:
            assert {row[0] for row in led_to(book, card)} == stores
    assert above(book["Today"], "stores").value == len(status) == 3


def test_every_kind_of_flag_counts_the_rows_it_leads_to(written: tuple[ProgramFolder, Workbook]) -> None:
    """The count of a kind, the rows its link selects, and flags.csv agree."""
    folder, book = written
    counted = Counter(row["kind"] for row in rows_of(folder, "flags"))
    for kind in default_contract().flag_owners:
        said = WORDS(f"flags.{kind}")
        cell = beside(book["Today"], said)
        assert cell.value == counted[kind]
        if counted[kind]:
            rows = led_to(book, cell)
            assert len(rows) == counted[kind]
            assert all(said in row for row in rows)
    assert sum(counted.values()) == beside(book["Today"], "Open flags").value == 18


def test_every_outcome_counts_the_files_it_leads_to(written: tuple[ProgramFolder, Workbook]) -> None:
    """The count of an outcome, the rows its link selects, and files.csv agree."""
    folder, book = written
    counted = Counter(row["outcome"] for row in rows_of(folder, "files"))
    for outcome in default_contract().outcomes:
        cell = beside(book["Today"], WORDS(f"outcomes.{outcome}"), right_of=7)
        assert cell.value == counted[outcome]
        if counted[outcome]:
            assert len(led_to(book, cell)) == counted[outcome]


def test_how_far_it_is_can_be_added_up_from_the_rows_it_leads_to(written: tuple[ProgramFolder, Workbook]) -> None:
    """Displays that stand, stores done, trays right: the column a number leads to adds up to it."""
    folder, book = written
    status, today = rows_of(folder, "status"), book["Today"]
    right = beside(today, "Trays that stand right")
    assert right.value == sum(row[0] for row in led_to(book, right)) == sum(int(row["right"]) for row in status) == 16
    built = beside(today, "Displays that stand")
    assert built.value == sum(row[0] == "yes" for row in led_to(book, built)) == 3
    done = beside(today, "Stores done, nothing open")
    assert done.value == len(led_to(book, done)) == sum(row["state"] == "done" for row in status) == 1
    assert beside(today, "Days of the window gone").value == (AS_OF - dt.date(2026, 3, 2)).days == 3


def test_the_first_sheet_draws_native_charts_and_others_are_native_tables(
    written: tuple[ProgramFolder, Workbook],
) -> None:
    """Two charts on the first sheet; lists are tables with filters under frozen headings."""
    _, book = written
    assert len(book["Today"]._charts) == 2
    for name in ("Go back", "Office", "To correct", "Not back", "Open flags", "Stores", "Shelf tags", "Files"):
        tables = list(book[name].tables.values())
        assert tables, name
        assert all(table.autoFilter is not None for table in tables), name
        assert book[name].freeze_panes is not None, name


def test_what_to_bring_leaves_out_what_is_in_the_store_already(written: tuple[ProgramFolder, Workbook]) -> None:
    """Store 002 lacks Pellwood, Rusholt and Quarnby labels, and has Quarnby and Rusholt ones on wrong trays: one label
    Pellwood has to come, and one shelf of the four.
    """
    _, book = written
    said = texts(book["Go back"])
    assert "1 × label Pellwood\n1 × part P2 Shelf" in said
    office_says = texts(book["Office"])
    assert "1 label and 1 part for 1 store." in office_says
    assert not any("Rusholt" in text or "Quarnby" in text for text in office_says)


def test_each_store_has_its_block_of_what_to_ask(written: tuple[ProgramFolder, Workbook]) -> None:
    """Store 002: two tags to print, 4 of 6 Salt and 4 Twine to find; store 003: one tag. A page for each store."""
    _, book = written
    sheet = book["Ask the store"]
    blocks: dict[str, list[tuple[object, ...]]] = {}
    store = ""
    for row in sheet.iter_rows(min_row=5, values_only=True):
        if str(row[0] or "").startswith("00"):
            store = str(row[0]).split(" · ")[0]
        elif row[0] == "☐":
            blocks.setdefault(store, []).append(row[1:])
    assert blocks == {
        "002": [
            ("Print the shelf tag", "000104", "Salt", 1, "A-2-2"),
            ("Print the shelf tag", "000105", "Twine", 1, "B-1-2"),
            ("Find and set goods", "000104", "Salt", 4, "A-2-2"),
            ("Find and set goods", "000105", "Twine", 4, "B-1-2"),
        ],
        "003": [("Print the shelf tag", "000101", "Lids", 1, "A-1-1")],
    }
    assert len(sheet.row_breaks.brk) == 1


def test_returns_that_wait_name_their_sender_and_the_cell(written: tuple[ProgramFolder, Workbook]) -> None:
    """Store 003 left before it came: the row says whom to ask, which file, and which cell."""
    _, book = written
    folder = written[0]
    (finding,) = (row for row in rows_of(folder, "findings") if row["severity"] == "must mend")
    rows = [row for row in book["To correct"].iter_rows(min_row=5, values_only=True) if row[0]]
    assert [(row[0], row[3], row[5], row[7]) for row in rows] == [("Lee", "003", finding["file"], finding["cell"])]


def test_a_settled_flag_asks_nobody_for_anything(facts: Facts) -> None:
    """What the office has settled is left out of the sheets by who acts, and still counted as open."""
    keys = [FlagKey(*key) for key in facts.flags.select("store", "position", "kind").iter_rows()]
    settled = {key: Note(key, "", settled="yes") for key in keys}
    book = opened_bytes(rollup_workbook(facts, ToldBeside(Kept(settled)), WORDS))
    assert WORDS("rollup.none.go_back") in texts(book["Go back"])
    assert WORDS("rollup.none.office") in texts(book["Office"])
    assert beside(book["Today"], "Open flags").value == 18


def opened_bytes(data: bytes) -> Workbook:
    """A workbook from its bytes."""
    return opened(io.BytesIO(data))  # type: ignore[arg-type]


def test_the_same_day_twice_changes_nothing(folder: ProgramFolder, intake: Intake) -> None:
    """A second merge of the same day gives every file byte for byte, whenever it is run."""
    write_rollup(folder, intake, AS_OF)
    before = {path.name: path.read_bytes() for path in folder.rollup.iterdir() if path.suffix != ".parquet"}
    write_rollup(folder, intake, AS_OF)
    assert {path.name: path.read_bytes() for path in folder.rollup.iterdir() if path.name in before} == before
    assert {"rollup.xlsx", "client.xlsx", "history.csv", "flags.csv"} <= set(before)


def test_the_first_sheet_says_what_changed_since_the_merge_before(folder: ProgramFolder, intake: Intake) -> None:
    """With fewer returns the day before, the numbers of today stand beside how much they have grown."""
    first = dataclasses.replace(
        intake,
        results=tuple(one for one in intake.results if one.store != "001"),
        tables={key: Pieces([table.whole.filter(pl.col("store") != "001")]) for key, table in intake.tables.items()},
    )
    write_rollup(folder, first, dt.date(2026, 3, 4))
    book = opened(write_rollup(folder, intake, AS_OF).path)
    today = book["Today"]
    assert "since 2026-03-04" in texts(today)
    changes = {}
    for label in ("Displays that stand", "Stores done, nothing open", "Trays that stand right", "Open flags"):
        row = today[beside(today, label).row]
        changes[label] = next(cell.value for cell in row[::-1] if cell.value is not None)
    assert changes == {
        "Displays that stand": 1,
        "Stores done, nothing open": 1,
        "Trays that stand right": 8,
        "Open flags": 0,
    }
    assert [row["as_of"] for row in rows_of(folder, "history")] == ["2026-03-04", "2026-03-05"]


def test_nothing_a_person_wrote_becomes_a_formula(facts: Facts) -> None:
    """No cell of the roll-up or of the client's copy holds a formula, whatever notes begin with."""
    note = Note(FlagKey("002", "A-1-1", "label_mismatch"), "", "=cmd()", "+1+1", "@x")
    told = ToldBeside(Kept({note.key: note}, (PastNote(note, "2026-03-04"),)))
    for data in (rollup_workbook(facts, told, WORDS), client_workbook(facts, WORDS)):
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            sheets = [name for name in book.namelist() if name.startswith("xl/worksheets/sheet")]
            assert sheets
            assert not [name for name in sheets if b"<f>" in book.read(name) or b"<f " in book.read(name)]


def test_the_clients_copy_names_nobody(folder: ProgramFolder, intake: Intake) -> None:
    """No store, no person, no remark, no file stands in client.xlsx; what the client needs does."""
    write_rollup(folder, intake, AS_OF)
    with zipfile.ZipFile(folder.rollup / "client.xlsx") as book:
        everything = " ".join(book.read(name).decode("utf-8", "replace") for name in book.namelist())
    for private in ("Kim", "Lee", "Mill Lane", "Hill Street", "Quay", "No header", "returns/", "002"):
        assert not re.search(rf"\b{re.escape(private)}\b", re.sub(r"\b\d{6}\b", "", everything)), private
    report = texts(opened(folder.rollup / "client.xlsx")["Report"])
    assert "All 3 stores are back: 1 display stands right (33%). This is a count, not an estimate." in report
    assert {"By district", "By week", "North", "South"} <= set(report)


@pytest.mark.parametrize("book", ["rollup", "client"])
def test_no_spreadsheet_program_offers_to_repair_it(folder: ProgramFolder, intake: Intake, book: str) -> None:
    """openxml-audit, which knows what makes the common spreadsheet program offer a repair, finds nothing."""
    write_rollup(folder, intake, AS_OF)
    result = OpenXmlValidator(FileFormat.OFFICE_2019).validate(str(folder.rollup / f"{book}.xlsx"))
    assert [error.description for error in result.errors] == []


DATA = re.compile(r"[\d\s.,:·→←☐○–%()A-C\-/+×▲#]*")
"""What needs no language: numbers, codes, marks."""


def test_every_word_comes_from_the_words_file() -> None:
    """In a made-up language, every text is in that language or is the program's own data."""
    marked = Words("xx", {key: f"¿{text}" for key, text in WORDS.table.items()})
    visited = dt.date(2026, 3, 3)
    stories = [Told(visited, {"A-1-1": "Quarnby"}, ["B-1-1"]), Told(None), Told(visited, built="no"), Told(visited)]
    facts = facts_of(stories)
    history = (HistoryRow(facts.as_of, totals(facts).history),)
    program = facts.program
    known = {"Invented", "North", "Kim", "Kim Full", *facts.status["file"]}
    known |= {label.brand for label in program.labels} | {one.item for one in program.items}
    known |= {store.name for store in program.stores} | {f"{store.store} · {store.name}" for store in program.stores}
    for data in (rollup_workbook(facts, ToldBeside(history=history), marked), client_workbook(facts, marked)):
        for sheet in opened_bytes(data).worksheets:
            assert sheet.title.startswith("¿")
            strange = {text for text in seen_texts(sheet) if "¿" not in text and not DATA.fullmatch(text)}
            assert strange - known == set(), sheet.title


@pytest.mark.parametrize("language", languages())
def test_notes_outlive_a_change_of_the_programs_language(facts: Facts, language: str, tmp_path: Path) -> None:
    """Written in one language, filled in there, read by the next merge in English: yes is yes."""
    spoken = words_for(language)
    path = tmp_path / "rollup.xlsx"
    path.write_bytes(rollup_workbook(facts, ToldBeside(), spoken))
    key = FlagKey("002", "A-1-1", "label_mismatch")
    notes = NotesSheet(path)
    notes.write(key, owner="Mary", note="¿sí?", settled=spoken.choice("yes_no", "yes"))
    notes.shuffle_columns(random.Random(1), keys_too=False)
    notes.save()
    note = kept_notes(path, facts.identity, WORDS).notes[key]
    assert (note.owner, note.note, note.is_settled) == ("Mary", "¿sí?", True)
    assert opened_bytes(client_workbook(facts, spoken)).sheetnames[0] == spoken("rollup.sheets.client")


def test_a_program_of_which_nothing_is_back_says_so_kindly() -> None:
    """No numbers out of nothing: empty lists say that there is nothing, the outlook that it is too early."""
    facts = facts_of([Told(None) for _ in range(12)])
    book = opened_bytes(rollup_workbook(facts, ToldBeside(), WORDS))
    for name in ("Go back", "Ask the store", "Office", "To correct", "Label mismatches", "Past notes"):
        assert "Nothing here." in texts(book[name]), name
    today = texts(book["Today"])
    assert any(text.startswith("Too early to tell") for text in today)
    assert any(text.startswith("Call for 12 stores that are not back") for text in today)
    numbers = texts(book["Numbers"])
    assert "None of the 12 stores is back yet." in numbers
