"""Roll-ups too long for a sheet: it shows the first rows and says so, its links stay right, and no note is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

from tests.rollup.book_reads import above, beside, led_to, opened, texts
from tests.rollup.conftest import AS_OF
from tests.rollup.sheet_edits import NotesSheet
from tests.rollup.test_notes import next_merge, without
from tests.small_program import WORDS
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import languages, words_for
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder
from workbook_tools.returns.intake import Intake
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.notes import FlagKey
from workbook_tools.rollup.sheets import flags as flags_sheet
from workbook_tools.rollup.sheets import tables
from workbook_tools.rollup.sheets.page import ABOUT_ROW, HEADING_ROW
from workbook_tools.rollup.write import write_rollup

FIRST_SHOWN = 4
"""Rows a table shows in these tests."""
ONLY = "stand here"
"""Part of every sentence that says that not all rows are shown."""
SUMS = ("Numbers", "Day by day")
"""Sheets of sums, which are short and are drawn by charts."""


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tables show four rows."""
    monkeypatch.setattr(tables, "MOST_SHOWN", FIRST_SHOWN)


def last_flags(facts: Facts) -> list[FlagKey]:
    """The keys of all flags as the sheet sorts them: by kind, then as they stand in flags.csv."""
    kinds = list(default_contract().flag_owners)
    keys = [FlagKey(*row) for row in facts.flags.select("store", "position", "kind").iter_rows()]
    return sorted(keys, key=lambda key: kinds.index(key.kind))


def about(book: Workbook, sheet: str) -> str:
    """The sentences at the top of a sheet."""
    return next(str(cell.value) for cell in book[sheet][ABOUT_ROW + 1] if cell.value)


def cut(key: str, shown: int, total: int, file: str) -> str:
    """The sentence that says so."""
    return WORDS(f"rollup.cut.{key}", shown=shown, total=total, file=file)


def table_rows(book: Workbook) -> dict[str, list[int]]:
    """How many rows the native tables of each sheet have; a table without any keeps a blank one."""
    return {
        sheet.title: [len(sheet[area][1:]) for area in sorted(area for _, area in sheet.tables.items())]
        for sheet in book
        if sheet.tables and sheet.title not in SUMS
    }


def test_every_sheet_shows_its_first_rows_and_says_where_all_of_them_are(
    folder: ProgramFolder, intake: Intake, facts: Facts, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With one row a table, every sheet that had more has one, and says so; the plain tables are whole."""
    full = table_rows(opened(write_rollup(folder, intake, AS_OF).path))
    plain = {path.name: path.read_bytes() for path in folder.rollup.glob("*.csv")}
    monkeypatch.setattr(tables, "MOST_SHOWN", 1)
    book = opened(write_rollup(folder, intake, AS_OF).path)
    assert table_rows(book) == {name: [1] * len(counts) for name, counts in full.items()}
    cuts = {name: counts[-1] for name, counts in full.items() if max(counts) > 1}
    assert {name for name in full if ONLY in about(book, name)} == cuts.keys()
    flags, found = facts.flags.height, len(facts.findings)
    assert about(book, "Open flags").endswith(cut("notes", 1, flags, "flags.csv"))
    assert about(book, "Shelf tags").endswith(cut("rows", 1, cuts["Shelf tags"], "flags.csv"))
    assert about(book, "Findings").endswith(cut("rows", 1, found, "findings.csv"))
    assert about(book, "What happened").endswith(cut("facts", 1, cuts["What happened"], "flags.csv"))
    assert {path.name: path.read_bytes() for path in folder.rollup.glob("*.csv")} == plain


def test_a_sheet_that_shows_all_its_rows_says_nothing_of_it(folder: ProgramFolder, intake: Intake) -> None:
    """As nearly every roll-up there is."""
    book = opened(write_rollup(folder, intake, AS_OF).path)
    assert [sheet.title for sheet in book if any(ONLY in text for text in texts(sheet))] == []


@pytest.mark.usefixtures("short")
def test_numbers_lead_to_the_rows_that_are_there(folder: ProgramFolder, intake: Intake, facts: Facts) -> None:
    """The count of a kind counts all its flags; its link selects those of them that stand on the sheet, or the sheet's
    head where none does.
    """
    book = opened(write_rollup(folder, intake, AS_OF).path)
    shown = [key.kind for key in last_flags(facts)[:FIRST_SHOWN]]
    for kind in default_contract().flag_owners:
        cell = beside(book["Today"], WORDS(f"flags.{kind}"))
        assert cell.value == facts.flags.filter(facts.flags["kind"] == kind).height
        if kind in shown:
            rows = led_to(book, cell)
            assert [WORDS(f"flags.{kind}") in row for row in rows] == [True] * shown.count(kind)
        elif cell.value:
            assert cell.hyperlink.location == "'Open flags'!A1"


def test_states_lead_to_the_stores_that_are_there(
    folder: ProgramFolder, intake: Intake, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With two of three stores shown, by state, each number leads to its store or to the head of the sheet."""
    monkeypatch.setattr(tables, "MOST_SHOWN", 2)
    book = opened(write_rollup(folder, intake, AS_OF).path)
    assert about(book, "Stores").endswith(cut("rows", 2, 3, "status.csv"))
    led = {}
    for state in ("to correct", "go back", "done"):
        card = above(book["Today"], WORDS(f"states.{state}"))
        assert card.value == 1
        led[state] = [row[0] for row in led_to(book, card)] if "A1" not in card.hyperlink.location else []
    assert led == {"to correct": ["003"], "go back": ["002"], "done": []}


def test_stores_are_asked_in_whole_blocks(
    folder: ProgramFolder, intake: Intake, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A store's block stands there from its name to its last line, or not at all."""
    monkeypatch.setattr(tables, "MOST_SHOWN", HEADING_ROW + 1 + 8)
    book = opened(write_rollup(folder, intake, AS_OF).path)
    assert about(book, "Ask the store").endswith(cut("stores", 1, 2, "flags.csv"))
    names = [str(row[0]) for row in book["Ask the store"].iter_rows(min_row=HEADING_ROW + 2, values_only=True)]
    assert [name[:3] for name in names if name.startswith("00")] == ["002"]
    assert names.count("☐") == 4


# -- notes


def test_a_note_on_a_row_beyond_the_limit_is_shown_and_kept(
    tmp_path: Path, facts: Facts, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written while all rows stood there, it stands there through every later merge; once its flag is gone it is a
    past note.
    """
    path = tmp_path / "rollup.xlsx"
    next_merge(path, facts)
    *_, noted, last = last_flags(facts)
    book = NotesSheet(path)
    book.write(noted, note="label sent", owner="Mary", settled="yes")
    book.save()
    monkeypatch.setattr(tables, "MOST_SHOWN", FIRST_SHOWN)
    for _ in range(3):
        kept = next_merge(path, facts)
        assert NotesSheet(path).read(noted) == ("Mary", "label sent", "yes")
        assert list(NotesSheet(path).rows) == [*last_flags(facts)[: FIRST_SHOWN - 1], noted]
        assert list(kept.notes) == [noted]
    assert last not in NotesSheet(path).rows
    gone = next_merge(path, without(facts, noted))
    assert [(one.note.key, one.note.note) for one in gone.past] == [(noted, "label sent")]
    assert next_merge(path, without(facts, noted)).past == gone.past


def test_more_notes_than_rows_are_all_shown(tmp_path: Path, facts: Facts, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit is for rows that can be left out; a note cannot. Past notes are never cut short either."""
    path = tmp_path / "rollup.xlsx"
    next_merge(path, facts)
    book = NotesSheet(path)
    for key in book.rows:
        book.write(key, note="/".join(key))
    book.save()
    monkeypatch.setattr(tables, "MOST_SHOWN", FIRST_SHOWN)
    assert len(next_merge(path, facts).notes) == len(NotesSheet(path).rows) == facts.flags.height
    gone = next_merge(path, without(facts, *last_flags(facts)[1:]))
    assert len(gone.past) == len(next_merge(path, facts).past) == facts.flags.height - 1


def test_more_notes_than_a_sheet_holds_stop_the_merge(
    folder: ProgramFolder, intake: Intake, facts: Facts, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sentence says so before anything is written: the notes still stand in the roll-up that is there."""
    path = write_rollup(folder, intake, AS_OF).path
    book = NotesSheet(path)
    first, second, *_ = last_flags(facts)
    book.write(first, note="one")
    book.write(second, note="two")
    book.save()
    before = path.read_bytes()
    monkeypatch.setattr(flags_sheet, "MOST_NOTES", 1)
    with pytest.raises(FolderError, match="2 notes for the sheet Open flags, which holds 1"):
        write_rollup(folder, intake, AS_OF)
    assert path.read_bytes() == before


@pytest.mark.parametrize("language", languages())
def test_every_language_says_how_many_of_how_many_and_where(language: str) -> None:
    """Each of the sentences names both numbers and the file."""
    words = words_for(language)
    for key in ("rows", "facts", "stores", "notes"):
        said = words(f"rollup.cut.{key}", shown=4, total=18, file="flags.csv")
        assert all(part in said for part in ("4", "18", "flags.csv"))
