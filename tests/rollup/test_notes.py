"""Office notes: nothing the office writes beside a flag is ever lost, and a settled flag stays settled."""

from __future__ import annotations

import dataclasses
import datetime as dt
import random
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.comments import Comment

from tests.apps.office import Office
from tests.rollup.conftest import AS_OF
from tests.rollup.sheet_edits import NotesSheet, load
from tests.small_program import ALL_AS_PLANNED, GOOD_VISIT, WORDS, fill_in, issued_folder
from workbook_tools.cli import main
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder
from workbook_tools.returns.intake import Intake
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.notes import FlagKey, Kept, Note, PastNote, carry_over, facts_of, join_notes, join_two
from workbook_tools.rollup.notes_read import is_rollup, kept_notes
from workbook_tools.rollup.workbook import Told, rollup_workbook
from workbook_tools.rollup.write import MOST_TRIES, write_rollup

WRONG_LABEL = FlagKey("002", "A-1-1", "label_mismatch")
NO_LABEL = FlagKey("002", "A-2-2", "label_missing")
PHOTO = FlagKey("002", "", "photo_missing")


def next_merge(path: Path, facts: Facts, as_of: dt.date = AS_OF) -> Kept:
    """Carry the notes of the roll-up at `path` over into the next one, written in its place."""
    kept = carry_over(kept_notes(path, facts.identity, WORDS), facts.flags, as_of)
    path.write_bytes(rollup_workbook(facts, Told(kept), WORDS))
    return kept


def without(facts: Facts, *gone: FlagKey) -> Facts:
    """The same facts with some flags put right."""
    keys = pl.struct("store", "position", "kind")
    put_right = [key._asdict() for key in gone]
    return dataclasses.replace(facts, flags=facts.flags.filter(~keys.is_in(put_right)))


@pytest.fixture
def rollup(tmp_path: Path, facts: Facts) -> Path:
    """A roll-up nobody has written into yet."""
    path = tmp_path / "rollup.xlsx"
    next_merge(path, facts)
    return path


def test_what_is_written_beside_a_flag_stands_there_after_the_next_merge(rollup: Path, facts: Facts) -> None:
    """Owner, note and settled come back as they were typed, a text that looks like a formula too."""
    book = NotesSheet(rollup)
    book.write(WRONG_LABEL, owner="Mary", note="=2+2 is on its way\nsecond line", settled="yes")
    book.write(PHOTO, owner="007")
    book.save()
    next_merge(rollup, facts)
    after = NotesSheet(rollup)
    assert after.read(WRONG_LABEL) == ("Mary", "=2+2 is on its way\nsecond line", "yes")
    assert after.read(PHOTO) == ("007", "", "")


def test_every_open_flag_has_its_row_and_only_those(rollup: Path, facts: Facts) -> None:
    """The sheet has a row for each row of flags.csv."""
    rows = [FlagKey(*row) for row in facts.flags.select("store", "position", "kind").iter_rows()]
    assert sorted(NotesSheet(rollup).rows) == sorted(rows)
    assert len(rows) == 18


@pytest.mark.parametrize("keys_too", [True, False], ids=["with the hidden keys", "inside the table only"])
def test_sorting_rows_and_moving_columns_does_no_harm(rollup: Path, facts: Facts, keys_too: bool) -> None:
    """Every note still stands beside its flag, however rows and columns were moved about."""
    for seed in range(5):
        book = NotesSheet(rollup)
        for key in book.rows:
            book.write(key, note="/".join(key), owner=key.store, settled="no")
        rng = random.Random(seed)
        book.shuffle_rows(rng)
        book.shuffle_columns(rng, keys_too)
        book.save()
        kept = next_merge(rollup, facts)
        assert {key: note.note for key, note in kept.notes.items()} == {key: "/".join(key) for key in kept.notes}
        assert {note.owner for note in kept.notes.values()} == {"002", "003"}
        assert len(kept.notes) == 18
        assert kept.past == ()


def test_a_roll_up_saved_by_libreoffice_keeps_its_notes(rollup: Path, facts: Facts, office: Office) -> None:
    """Opened and saved by another spreadsheet program, notes, hidden keys and the program's identity are still read."""
    book = NotesSheet(rollup)
    for key in book.rows:
        book.write(key, note="/".join(key), settled="yes")
    book.save()
    office.resave(rollup, rollup.with_name("saved.xlsx"))
    assert is_rollup(rollup.with_name("saved.xlsx"))
    kept = kept_notes(rollup.with_name("saved.xlsx"), facts.identity, WORDS)
    assert {key: (note.note, note.settled) for key, note in kept.notes.items()} == {
        key: ("/".join(key), "yes") for key in book.rows
    }
    carried = carry_over(kept, facts.flags, AS_OF)
    assert all(note.is_settled for note in carried.notes.values())


def test_the_note_of_a_flag_that_is_gone_moves_to_the_past_notes(rollup: Path, facts: Facts) -> None:
    """It stays there through later merges, with the day on which its flag was found gone."""
    book = NotesSheet(rollup)
    book.write(WRONG_LABEL, owner="Mary", note="label sent", settled="yes")
    book.write(PHOTO, note="asked for it")
    book.save()
    fewer = without(facts, WRONG_LABEL)
    gone_on = dt.date(2026, 3, 6)
    next_merge(rollup, fewer, gone_on)
    for later in range(7, 9):
        kept = next_merge(rollup, fewer, dt.date(2026, 3, later))
    assert [(one.note.key, one.note.owner, one.note.note, one.moved) for one in kept.past] == [
        (WRONG_LABEL, "Mary", "label sent", "2026-03-06")
    ]
    assert kept.notes[PHOTO].note == "asked for it"


def test_a_settled_flag_is_open_again_only_when_its_facts_change(rollup: Path, facts: Facts) -> None:
    """While the same is due and found it stays settled; another wrong label makes it open, and the note stays."""
    book = NotesSheet(rollup)
    book.write(WRONG_LABEL, note="stays so", settled="yes")
    book.save()
    assert next_merge(rollup, facts).notes[WRONG_LABEL].is_settled
    assert next_merge(rollup, facts).notes[WRONG_LABEL].is_settled
    here = (pl.col("kind") == "label_mismatch") & (pl.col("position") == "A-1-1")
    found = pl.when(here).then(pl.lit("Rusholt")).otherwise("found").alias("found")
    changed = dataclasses.replace(facts, flags=facts.flags.with_columns(found))
    after = next_merge(rollup, changed).notes[WRONG_LABEL]
    assert (after.note, after.settled) == ("stays so", "")


def test_thirty_merges_lose_no_note(rollup: Path, facts: Facts) -> None:
    """Flags come and go, notes are written and changed between merges, rows sorted: every text is still there."""
    rng = random.Random(20260301)
    every = [FlagKey(*row) for row in facts.flags.select("store", "position", "kind").iter_rows()]
    last: dict[FlagKey, str] = {}
    finished: list[str] = []
    for day in range(30):
        book = NotesSheet(rollup)
        for key in rng.sample(sorted(book.rows), 4):
            last[key] = f"day {day}: {'/'.join(key)}"
            book.write(key, note=last[key])
        if day % 3 == 0:
            book.shuffle_rows(rng)
        if day % 5 == 0:
            book.shuffle_columns(rng, keys_too=day % 2 == 0)
        book.save()
        put_right = rng.sample(every, 6)
        kept = next_merge(rollup, without(facts, *put_right), AS_OF + dt.timedelta(days=day))
        finished += [last.pop(key) for key in put_right if key in last]
        assert {key: note.note for key, note in kept.notes.items()} == last
        assert set(finished) <= {one.note.note for one in kept.past}
    assert set(finished) <= set(NotesSheet(rollup, "past_notes").texts())
    assert len(finished) > 20


def test_notes_on_rows_nobody_knows_are_kept(rollup: Path, facts: Facts) -> None:
    """A row typed under the table, and one whose store is no longer in the program, end up among the past notes."""
    book = NotesSheet(rollup)
    row, columns = book.sheet.max_row + 1, book.columns
    book.sheet.cell(row, columns["seen_store"]).value = "002"
    book.sheet.cell(row, columns["note"]).value = "the manager is new"
    book.sheet.cell(row + 1, columns["note"]).value = "no store at all"
    book.write(PHOTO, note="of a store that closed")
    book.sheet.cell(book.rows[PHOTO], columns["store"]).value = "999"
    book.save()
    next_merge(rollup, facts)
    kept = next_merge(rollup, facts)
    assert {(one.note.key.store, one.note.note) for one in kept.past} == {
        ("002", "the manager is new"),
        ("", "no store at all"),
        ("999", "of a store that closed"),
    }
    assert {one.moved for one in kept.past} == {AS_OF.isoformat()}


def test_a_column_people_added_goes_into_the_note(rollup: Path, facts: Facts) -> None:
    """What stands in a column of the office's own is not lost: it is added to the note, with the column's heading."""
    book = NotesSheet(rollup)
    column = book.sheet.max_column + 1
    book.sheet.cell(book.key_row + 1, column).value = "Ticket"
    book.sheet.cell(book.rows[PHOTO], column).value = 4711
    book.write(PHOTO, note="asked")
    book.save()
    assert next_merge(rollup, facts).notes[PHOTO].note == "asked; Ticket: 4711"
    assert next_merge(rollup, facts).notes[PHOTO].note == "asked; Ticket: 4711"


@pytest.mark.parametrize("lost", ["store", "position", "kind", "facts", "owner", "note", "settled"])
def test_a_deleted_column_stops_the_merge_with_a_sentence(rollup: Path, facts: Facts, lost: str) -> None:
    """Without it notes would be lost, so nothing is overwritten and the sentence names sheet and column."""
    book = NotesSheet(rollup)
    book.write(PHOTO, note="asked")
    book.sheet.delete_cols(book.columns[lost])
    book.save()
    before = rollup.read_bytes()
    with pytest.raises(FolderError, match=rf"sheet Open flags, has lost its column “{lost}”.*nothing was changed"):
        next_merge(rollup, facts)
    assert rollup.read_bytes() == before


def test_a_deleted_sheet_of_notes_stops_the_merge(rollup: Path, facts: Facts) -> None:
    """The sheet with the flags, or the one with past notes, cannot be done without."""
    for sheet, block in (("Open flags", "#notes"), ("Past notes", "#past_notes"), ("book", "#rollup")):
        workbook = load(rollup)
        del workbook[sheet]
        damaged = rollup.with_name("damaged.xlsx")
        workbook.save(damaged)
        with pytest.raises(FolderError, match=f"has lost its {block} sheet"):
            kept_notes(damaged, facts.identity, WORDS)


def test_a_roll_up_that_is_open_elsewhere_is_not_overwritten(folder: ProgramFolder, intake: Intake) -> None:
    """A lock file beside it stops the merge before anything is written."""
    path = write_rollup(folder, intake, AS_OF).path
    before = {one: one.read_bytes() for one in path.parent.iterdir()}
    lock = path.with_name(".~lock.rollup.xlsx#")
    lock.write_text("Mary", encoding="utf-8")
    with pytest.raises(FolderError, match=r"open in another program.*nothing was changed"):
        write_rollup(folder, intake, dt.date(2026, 3, 6))
    assert {one: one.read_bytes() for one in path.parent.iterdir() if one != lock} == before


def test_the_roll_up_of_another_program_is_not_overwritten(folder: ProgramFolder, intake: Intake) -> None:
    """Its notes are of other stores: the merge says so and leaves everything as it is."""
    path = write_rollup(folder, intake, AS_OF).path
    other = dataclasses.replace(intake, register=type(intake.register)([_other_book(intake)]))
    before = {one: one.read_bytes() for one in path.parent.iterdir()}
    with pytest.raises(FolderError, match=r"roll-up of another program.*nothing was changed"):
        write_rollup(folder, other, AS_OF)
    assert {one: one.read_bytes() for one in path.parent.iterdir()} == before


def _other_book(intake: Intake) -> object:
    return dataclasses.replace(intake.register.books[0], token="0" * 32)


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 cut short", b"not a workbook"])
def test_a_roll_up_that_cannot_be_read_is_not_overwritten(
    folder: ProgramFolder, intake: Intake, content: bytes
) -> None:
    """A damaged roll-up may still hold notes that somebody can rescue."""
    path = write_rollup(folder, intake, AS_OF).path
    path.write_bytes(content)
    with pytest.raises(FolderError, match=r"cannot be read.*nothing was changed"):
        write_rollup(folder, intake, AS_OF)
    assert path.read_bytes() == content


@pytest.mark.parametrize("name", ["rollup.xlsx", "client.xlsx"])
def test_what_is_read_only_or_open_elsewhere_is_not_overwritten(
    folder: ProgramFolder, intake: Intake, name: str
) -> None:
    """The merge says which file, and changes nothing."""
    write_rollup(folder, intake, AS_OF)
    path = folder.rollup / name
    before = {one: one.read_bytes() for one in folder.rollup.iterdir() if one.is_file()}
    path.chmod(0o444)
    with pytest.raises(FolderError, match=rf"{name} is read-only.*nothing was changed"):
        write_rollup(folder, intake, AS_OF)
    path.chmod(0o644)
    lock = path.with_name(f"~${name}")
    lock.touch()
    with pytest.raises(FolderError, match=rf"{name} is open in another program.*nothing was changed"):
        write_rollup(folder, intake, AS_OF)
    lock.unlink()
    assert {one: one.read_bytes() for one in folder.rollup.iterdir() if one.is_file()} == before


def test_a_merge_that_could_not_be_written_reads_nothing(tmp_path: Path) -> None:
    """Whoever left the roll-up open is told at once, and not after all returns were read."""
    folder, books = issued_folder(tmp_path)
    fill_in(books["001"], folder.returns / "1.xlsx", GOOD_VISIT, ALL_AS_PLANNED)
    folder.rollup.mkdir(exist_ok=True)
    (folder.rollup / "~$rollup.xlsx").touch()
    result = CliRunner().invoke(main, ["merge", str(tmp_path)])
    assert result.exit_code == 2
    assert "rollup.xlsx is open in another program" in result.output
    assert [one.name for one in folder.rollup.iterdir()] == ["~$rollup.xlsx"]


def test_a_roll_up_saved_in_another_format_beside_it_stops_the_merge(folder: ProgramFolder, intake: Intake) -> None:
    """Nobody can tell in which of the two the office writes."""
    path = write_rollup(folder, intake, AS_OF).path
    before = path.read_bytes()
    path.with_suffix(".ods").write_bytes(b"whatever")
    with pytest.raises(FolderError, match=r"rollup.ods lies beside rollup.xlsx.*nothing was changed"):
        write_rollup(folder, intake, AS_OF)
    assert path.read_bytes() == before


def test_a_roll_up_saved_in_another_format_under_its_name_keeps_its_notes(
    folder: ProgramFolder, intake: Intake, office: Office, tmp_path: Path
) -> None:
    """The notes are read, and the file is kept aside as it was."""
    path = write_rollup(folder, intake, AS_OF).path
    book = NotesSheet(path)
    book.write(PHOTO, owner="Ann", note="on its way")
    book.save()
    saved = office.resave(path, tmp_path / "rollup.ods", "ods").read_bytes()
    path.write_bytes(saved)
    written = write_rollup(folder, intake, AS_OF)
    assert NotesSheet(path).read(PHOTO)[:2] == ("Ann", "on its way")
    assert written.aside is not None
    assert written.aside.read_bytes() == saved


@pytest.mark.parametrize("often", [1, MOST_TRIES])
def test_a_note_saved_while_the_next_roll_up_is_written_is_never_lost(
    folder: ProgramFolder, intake: Intake, monkeypatch: pytest.MonkeyPatch, often: int
) -> None:
    """Saved once, it is carried over; saved each time they were read, the merge stops, and all is as saved."""
    path = write_rollup(folder, intake, AS_OF).path
    left = [f"call {number}" for number in range(often)]

    def while_it_is_written(*about: object) -> bytes:
        made = rollup_workbook(*about)  # type: ignore[arg-type]
        if left:
            book = NotesSheet(path)
            book.write(PHOTO, note=left.pop())
            book.save()
        return made

    monkeypatch.setattr("workbook_tools.rollup.write.rollup_workbook", while_it_is_written)
    if often < MOST_TRIES:
        write_rollup(folder, intake, AS_OF)
    else:
        with pytest.raises(FolderError, match="saved again and again"):
            write_rollup(folder, intake, AS_OF)
    assert NotesSheet(path).read(PHOTO)[1] == "call 0"


def test_sheets_and_comments_of_the_offices_own_are_kept_aside(folder: ProgramFolder, intake: Intake) -> None:
    """A merge cannot carry them over: the roll-up as it was is kept, and the merge says where; each time by itself."""
    path = write_rollup(folder, intake, AS_OF).path
    assert write_rollup(folder, intake, AS_OF).aside is None

    def with_a_sheet(book: NotesSheet) -> None:
        book.workbook.create_sheet("Phone list")

    def with_a_comment(book: NotesSheet) -> None:
        book.sheet.cell(book.key_row + 2, 3).comment = Comment("look again", "Ann")

    kept = []
    for change in (with_a_sheet, with_a_comment):
        book = NotesSheet(path)
        change(book)
        book.save()
        before = path.read_bytes()
        written = write_rollup(folder, intake, AS_OF)
        assert written.aside is not None
        assert written.aside.read_bytes() == before
        assert any(str(written.aside) in line for line in written.lines(WORDS))
        kept.append(written.aside)
    assert len(set(kept)) == 2
    assert write_rollup(folder, intake, AS_OF).aside is None


def test_notes_in_a_copy_of_the_sheet_are_joined(folder: ProgramFolder, intake: Intake) -> None:
    """Somebody copied the sheet of flags within the workbook and wrote in the copy."""
    path = write_rollup(folder, intake, AS_OF).path
    book = NotesSheet(path)
    copy = book.workbook.copy_worksheet(book.sheet)
    copy.title = f"{book.sheet.title} (2)"
    copy.cell(book.rows[PHOTO], book.columns["note"]).value = "in the copy"
    book.write(PHOTO, owner="Ann")
    book.save()
    write_rollup(folder, intake, AS_OF)
    assert NotesSheet(path).read(PHOTO)[:2] == ("Ann", "in the copy")


def test_a_second_roll_up_in_its_folder_is_told_of_and_left_alone(folder: ProgramFolder, intake: Intake) -> None:
    """As a shared drive makes it when two people save: its notes are taken in only when it is named."""
    path = write_rollup(folder, intake, AS_OF).path
    other = path.with_name("rollup (Ann).xlsx")
    other.write_bytes(path.read_bytes())
    before = other.read_bytes()
    written = write_rollup(folder, intake, AS_OF)
    assert written.unread == (other,)
    assert any("rollup (Ann).xlsx is another copy" in line for line in written.lines(WORDS))
    assert other.read_bytes() == before
    assert write_rollup(folder, intake, AS_OF, [other]).unread == ()


def test_another_persons_copy_is_joined(folder: ProgramFolder, intake: Intake, tmp_path: Path) -> None:
    """Notes that only one copy has are taken; where both differ, both texts stand; joining again adds nothing."""
    path = write_rollup(folder, intake, AS_OF).path
    copy = tmp_path / "from Lee.xlsx"
    copy.write_bytes(path.read_bytes())
    assert is_rollup(copy)
    for book, owner, extra in ((path, "Mary", NO_LABEL), (copy, "Lee", PHOTO)):
        notes = NotesSheet(book)
        notes.write(WRONG_LABEL, owner=owner, note="same words")
        notes.write(extra, note=f"only {owner}")
        notes.save()
    for _ in range(3):
        write_rollup(folder, intake, AS_OF, [copy])
    after = NotesSheet(path)
    assert after.read(WRONG_LABEL) == ("Mary / Lee", "same words", "")
    assert (after.read(NO_LABEL)[1], after.read(PHOTO)[1]) == ("only Mary", "only Lee")


def test_a_field_book_is_no_roll_up(tmp_path: Path, facts: Facts) -> None:
    """Only a workbook with a roll-up's own block is taken for one."""
    empty = tmp_path / "empty.xlsx"
    openpyxl.Workbook().save(empty)
    assert not is_rollup(empty)
    assert not is_rollup(tmp_path / "none.xlsx")
    assert not is_rollup(tmp_path)
    empty.write_bytes(b"PK\x03\x04 cut short")
    assert not is_rollup(empty)


def test_a_typed_yes_counts_whatever_its_case(rollup: Path, facts: Facts) -> None:
    """ "Yes", "YES" and x are a yes; another word stays as it was typed and settles nothing."""
    book = NotesSheet(rollup)
    book.write(WRONG_LABEL, settled="Yes")
    book.write(NO_LABEL, settled="x")
    book.write(PHOTO, settled="nearly")
    book.save()
    notes = next_merge(rollup, facts).notes
    assert (notes[WRONG_LABEL].is_settled, notes[NO_LABEL].is_settled) == (True, True)
    assert (notes[PHOTO].is_settled, notes[PHOTO].settled) == (False, "nearly")


TEXTS = st.text(alphabet="ab /", max_size=5).map(str.strip)
NOTES = st.builds(
    Note, st.just(PHOTO), st.just(facts_of("one", "no")), TEXTS, TEXTS, st.sampled_from(("", "yes", "no"))
)


@given(NOTES, NOTES)
def test_joining_keeps_every_text_and_settles_by_itself(one: Note, other: Note) -> None:
    """Both texts are in the joined note, and joining either again changes nothing."""
    joined = join_two(one, other)
    for name in ("owner", "note", "settled"):
        assert getattr(one, name) in getattr(joined, name)
        assert getattr(other, name) in getattr(joined, name)
    assert join_two(joined, joined) == join_two(joined, one) == join_two(joined, other) == joined
    assert joined.is_settled == ({one.settled, other.settled} <= {"yes", ""} and "yes" in (one.settled, other.settled))


def test_a_copy_that_is_joined_again_and_again_adds_nothing() -> None:
    """A copy of three, made when two were joined already, lies beside the roll-up night after night."""
    ours, copy = (Note(PHOTO, "", note=text) for text in ("call Kim / call Lee / write", "call Kim / call Lee"))
    assert join_two(ours, copy).note == join_two(copy, ours).note == "call Kim / call Lee / write"


def test_past_notes_of_two_copies_are_joined_once() -> None:
    """A past note that both copies have stands once."""
    shared, own = (PastNote(Note(PHOTO, "", note=text), "2026-03-06") for text in ("shared", "own"))
    assert join_notes(Kept({}, (shared,)), Kept({}, (shared, own))).past == (shared, own)
