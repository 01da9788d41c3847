"""Sent back: a return that must be corrected goes to its sender with all answers in it and what to put right marked."""

from __future__ import annotations

import datetime as dt
import email
import re
from email import policy
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner
from openpyxl import Workbook
from openpyxl.cell import Cell
from openxml_audit import FileFormat, OpenXmlValidator

from tests.field_book.recalculated import Sheets, stored_results_of
from tests.field_book.small import AS_OF, SECOND, Small, keys, open_questions, texts
from tests.small_program import (
    ALL_AS_PLANNED,
    GOOD_VISIT,
    SECOND_STORE,
    SECOND_VISIT,
    THIRD_STORE,
    THIRD_VISIT,
    WORDS,
    differs,
    fill_in,
)
from workbook_tools.cli import main
from workbook_tools.contract.lettering import width
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.sheets import RawBlock, read_blocks
from workbook_tools.contract.words import languages, words_for
from workbook_tools.field_book.corrections import Sender
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.field_book.letters import Drafts
from workbook_tools.field_book.put_right import COLUMNS, LINK_POINTS, SIDES
from workbook_tools.folder import sha256
from workbook_tools.returns.as_given import as_given
from workbook_tools.returns.intake import take_in
from workbook_tools.rollup.merge import merge
from workbook_tools.rollup.send_back import corrections

PEOPLE = [
    {"merchandiser": "Kim", "email": "kim@example.com"},
    {"merchandiser": "Lee", "email": "lee@example.com", "language": "es"},
]
AGAIN = default_look().colour("again").lstrip("#")
GOOD_TIMES = {"time_in": dt.time(9), "time_out": dt.time(10)}


@pytest.fixture(scope="module")
def issued(tmp_path_factory: pytest.TempPathFactory) -> Small:
    """The small program, issued; Lee, who has store 003, reads Spanish."""
    return Small(tmp_path_factory.mktemp("small"), merchandisers=PEOPLE)


@pytest.fixture
def small(issued: Small, tmp_path: Path) -> Small:
    """The same in a folder of its own."""
    return issued.copied(tmp_path / "program")


def send_back(small: Small) -> Drafts:
    """Write every correction."""
    intake = small.take_in()
    made = corrections(small.folder, intake, [small.folder.returns])
    return Sender(small.folder, intake.programs, WORDS).send_back(made)


def corrected(small: Small, name: str) -> Path:
    """A book under corrections/."""
    return small.folder.corrections / f"{name}.xlsx"


@lru_cache(maxsize=4)
def loaded(data: bytes) -> Workbook:
    """A workbook to look at; the same bytes are opened once."""
    return openpyxl.load_workbook(BytesIO(data))


@lru_cache(maxsize=16)
def block_of(data: bytes, block: str) -> RawBlock:
    """One block of a workbook as it stands."""
    (raw,) = read_blocks(data, [block])
    return raw


def answer(path: Path, block: str, row: str, column: str) -> Cell:
    """The cell of an answer."""
    data = path.read_bytes()
    raw = block_of(data, block)
    number = next(number for number, cells in raw.rows if cells[0] == row)
    return loaded(data)[raw.sheet].cell(number + 1, raw.columns[column] + 1)


def is_marked(cell: Cell) -> bool:
    """True when the cell is filled with the colour of what to look at again; it can be typed in then."""
    marked = cell.fill.fgColor.rgb[2:] == AGAIN
    assert not (marked and cell.protection.locked)
    return marked


def listed(path: Path, sheet: str = "To put right") -> list[list[object]]:
    """The lines of the sheet of things to put right, without their numbers."""
    rows = openpyxl.load_workbook(path)[sheet].iter_rows(min_row=4, min_col=3, max_col=6, values_only=True)
    return [list(row) for row in rows]


BROKEN = {
    **SECOND_STORE,
    "A-1-1": differs(label="Pelwood?", tag="on tray", product="set", note="@SUM(A1) -5"),
    "A-1-2": {"as_planned": "yes", "label": "Quarnby"},
    "B-1-1": differs(
        label="Pellwood", tag="on tray", tag_code=dt.datetime(2026, 10, 7), product="short", units="about 3"
    ),
}
BROKEN_VISIT = {
    **SECOND_VISIT,
    "visit_date": "32/13/26",
    "time_in": "after lunch",
    "time_out": 10.15,
    "note": "line 1\nline 2",
}


@pytest.fixture
def broken(small: Small) -> Path:
    """A return of store 002 with much to put right, sent back."""
    target = small.folder.returns / "2 second.xlsx"
    fill_in(small.path("002"), target, BROKEN_VISIT, BROKEN, [("P2", "missing", 9)])  # with its date as a date
    send_back(small)
    return corrected(small, "SMALL 002 to put right")


def test_every_answer_is_in_it_as_it_was_typed(small: Small, broken: Path) -> None:
    """Right ones and wrong ones: texts that are no dates, numbers or choices, a date where a code belongs, and 10.15
    for a time, of which the format of its cell makes a day in January 1900.
    """
    data = (small.folder.returns / "2 second.xlsx").read_bytes()
    before, after = as_given(data, sha256(data)), as_given(broken.read_bytes(), "")
    assert after.values == before.values
    assert before.values["positions", "A-1-1", "label"] == "Pelwood?"
    assert before.values["positions", "A-1-1", "note"] == "@SUM(A1) -5"
    assert before.values["positions", "B-1-1", "units"] == "about 3"
    assert before.values["visit", "visit_date", "visit_date"] == "32/13/26"
    assert answer(broken, "positions", "A-1-1", "note").data_type == "s"


def test_choices_that_were_understood_are_those_of_the_book(small: Small) -> None:
    """Typed in another language, without an accent, or in other letters: its live cells, which know the words of its
    lists alone, do not ask for them again. What is no choice stays as it was typed.
    """
    trays = {**ALL_AS_PLANNED, "A-1-1": differs(label="pellwood", tag="On Tray ", product="sett")}
    small.send("3 third.xlsx", small.path("003"), {**THIRD_VISIT, "built": "si", "photo": "yes"}, trays)
    send_back(small)
    path = corrected(small, "SMALL 003 to put right")
    assert [answer(path, "visit", key, "answer").value for key in ("built", "photo")] == ["sí", "sí"]
    named = ("as_planned", "label", "tag", "product")
    assert [answer(path, "positions", "A-1-1", one).value for one in named] == ["no", "Pellwood", "en bandeja", "sett"]
    assert answer(path, "positions", "A-1-2", "as_planned").value == "sí"
    stored = openpyxl.load_workbook(path, data_only=True)
    cell = answer(path, "positions", "A-1-2", "state")
    assert stored[cell.parent.title][cell.coordinate].value == words_for("es")("state.right")


def test_it_is_the_same_book(small: Small, broken: Path) -> None:
    """Same token, store, visit and revision; the register is as it was; nothing but the answers can be typed in."""
    (raw,) = read_blocks(broken.read_bytes(), ["book"])
    identity = {str(cells[0]): str(raw.cell(row, cells, "value").value) for row, cells in raw.rows}
    row = small.book("002")
    assert (identity["token"], identity["store"], identity["visit"]) == (row.token, "002", "1")
    assert (identity["revision"], identity["correction"]) == ("1", "1")
    assert open_questions(broken.read_bytes()) == open_questions(small.path("002").read_bytes())


def test_untouched_it_has_the_same_to_put_right(small: Small, broken: Path) -> None:
    """Nothing becomes right or wrong by being sent back."""
    alone = take_in(small.folder, [broken], WORDS)
    both = [alone, small.take_in()]
    found = [[(one.rule, one.column, one.value) for one in intake.findings] for intake in both]
    assert found[0] == found[1]
    rules = {rule for rule, _, _ in found[0]}
    assert rules >= {"not_a_choice", "right_contradicts", "not_a_date", "not_a_time", "missing_above_count"}


def test_what_to_put_right_is_marked_and_nothing_else(broken: Path) -> None:
    """The cell that a finding names, and what does not go together with it."""
    marked = [("A-1-1", "label"), ("A-1-2", "label"), ("A-1-2", "as_planned"), ("B-1-1", "units")]
    marked.append(("B-1-1", "tag_code"))
    for key in ("A-1-1", "A-1-2", "A-2-1", "A-2-2", "B-1-1", "B-1-2"):
        for column in ("as_planned", "label", "tag", "product", "units", "tag_code", "other_item", "note"):
            assert is_marked(answer(broken, "positions", key, column)) == ((key, column) in marked), (key, column)
    for question in ("visit_date", "time_in", "time_out", "built", "note"):
        assert is_marked(answer(broken, "visit", question, "answer")) == (question in ("visit_date", "time_in"))
    for part, column in (("P2", "missing"), ("P2", "damaged"), ("P1", "missing")):
        assert is_marked(answer(broken, "parts", part, column)) == (part == "P2")


def test_a_sheet_says_what_is_wrong_and_leads_there(broken: Path) -> None:
    """The first sheet, on top when the book is opened: where, what was given, what is wrong, what to do, a link."""
    workbook = openpyxl.load_workbook(broken)
    sheet = workbook.active
    assert sheet.title == workbook.sheetnames[0] == "To put right"
    lines = listed(broken)
    assert [line[:2] for line in lines] == [
        ["A-1-1 · Label on the tray", "Pelwood?"],
        ["A-1-2 · Label on the tray", "Quarnby"],
        ["B-1-1 · Units", "about 3"],
        ["B-1-1 · Code on the tag", "2026-10-07"],
        ["Date of the visit", "32/13/26"],
        ["Time in", "after lunch"],
        ["P2 · Missing", "9"],
    ]
    assert lines[1][2] == "A-1-2 says “as planned: yes”, but Label on the tray says “Quarnby”."
    assert lines[1][3] == "Say “no” if something differs, or clear Label on the tray."
    cell = answer(broken, "positions", "A-1-1", "label")
    assert sheet["C4"].hyperlink.location.replace("$", "") == f"'Return'!{cell.coordinate}"


@pytest.mark.parametrize("language", languages())
def test_a_link_has_room_on_one_line(language: str) -> None:
    """A program that does not break links shows each one whole, in the smallest of its sizes at least."""
    words, form, room = words_for(language), default_contract().field_book, dict(COLUMNS)["where"] - SIDES
    for block, key in (("positions", "A-10-2 · "), ("parts", "P10 · "), ("visit", "")):
        for field in form.block(block).open_fields:
            text = key + words(f"field_book.{block}.{field.key}.heading")
            assert width(text, LINK_POINTS[-1], bold=True) <= room, text


def test_a_long_link_is_smaller(small: Small) -> None:
    """The largest size at which it has room on its line; what is short keeps the sheet's size."""
    words = words_for("es")
    small.send("3 third.xlsx", small.path("003"), THIRD_VISIT, {"A-1-1": differs(label="Pelwood?")})
    send_back(small)
    sheet = openpyxl.load_workbook(corrected(small, "SMALL 003 to put right"))[words("correct.sheet")]
    sizes = [sheet.cell(row, 3).font.size for row in (4, 5)]
    assert [sheet.cell(row, 3).value for row in (4, 5)] == [
        f"A-1-1 · {words('field_book.positions.label.heading')}",
        words("field_book.visit.time_out.heading"),
    ]
    assert sizes[0] in LINK_POINTS[1:] and sizes[1] == LINK_POINTS[0]


def test_its_live_cells_say_what_its_answers_give(broken: Path, tmp_path: Path) -> None:
    """Viewers that never compute show the true counts and states, and a validator finds nothing."""
    sheets = Sheets(broken.read_bytes(), tmp_path)
    sheets.evaluate()
    stored = {one: "" if value is None else value for one, value in stored_results_of(broken.read_bytes()).items()}
    assert {one: (value, sheets.at(*one)) for one, value in stored.items() if value != sheets.at(*one)} == {}
    assert any(str(value).startswith("! yes, but:") for value in stored.values())
    assert OpenXmlValidator(FileFormat.OFFICE_2007).validate(str(broken)).errors == []


def test_a_mail_takes_it_there(small: Small, broken: Path) -> None:
    """A draft to whoever made the visit, with the book attached."""
    message = email.message_from_bytes(broken.with_suffix(".eml").read_bytes(), policy=policy.default)
    assert (message["X-Unsent"], message["To"].addresses[0].addr_spec) == ("1", "kim@example.com")
    (book,) = message.iter_attachments()
    assert (book.get_filename(), book.get_content()) == ("SMALL 002 to put right.xlsx", broken.read_bytes())
    assert "002  Mill Lane" in message.get_body(("plain",)).get_content()


def test_the_corrected_return_takes_the_place_of_the_one_before(small: Small) -> None:
    """Same visit: the first is superseded, its findings are closed, and the store is done."""
    small.send("3 third.xlsx", small.path("003"), THIRD_VISIT, ALL_AS_PLANNED)
    assert small.state("003") == "to correct"
    send_back(small)
    fill_in(corrected(small, "SMALL 003 to put right"), small.folder.returns / "3 corrected.xlsx", GOOD_TIMES, {})
    assert small.outcomes() == {"3 third.xlsx": "superseded", "3 corrected.xlsx": "merged"}
    assert [one for one in small.take_in().findings if one.store == "003" and one.severity == "must mend"] == []
    assert small.state("003") == "done"


def test_it_does_so_even_where_the_date_was_wrong(small: Small) -> None:
    """A date in the future, corrected to an earlier one: by date alone, the wrong return would stand for good."""
    path = small.send("3 third.xlsx", small.path("003"), {**GOOD_VISIT, "visit_date": dt.date(2099, 3, 4)})
    workbook = openpyxl.load_workbook(path)
    workbook.properties.modified = dt.datetime(2099, 3, 5)
    workbook.save(path)
    fill_in(small.path("003"), small.folder.returns / "3 third.xlsx", {**GOOD_VISIT, "time_in": "?"}, ALL_AS_PLANNED)
    fill_in(path, small.folder.returns / "3 future.xlsx", {"visit_date": dt.date(2099, 3, 4), "time_in": "?"}, {})
    send_back(small)
    right = {"visit_date": dt.date(2026, 3, 3), "time_in": dt.time(9)}
    fill_in(corrected(small, "SMALL 003 to put right"), small.folder.returns / "3 corrected.xlsx", right, {})
    assert small.outcomes()["3 corrected.xlsx"] == "merged"
    assert set(small.outcomes().values()) == {"superseded", "merged"}


def test_a_return_can_be_sent_back_twice(small: Small) -> None:
    """The second correction comes after the first, and is written in its place."""
    small.send("3 third.xlsx", small.path("003"), THIRD_VISIT, ALL_AS_PLANNED)
    send_back(small)
    path = corrected(small, "SMALL 003 to put right")
    fill_in(path, small.folder.returns / "3 still wrong.xlsx", {"time_out": "later"}, {})
    assert small.outcomes() == {"3 third.xlsx": "superseded", "3 still wrong.xlsx": "to correct"}
    send_back(small)
    fill_in(path, small.folder.returns / "3 right.xlsx", GOOD_TIMES, {})
    assert small.outcomes()["3 right.xlsx"] == "merged"
    assert small.state("003") == "done"
    assert len(list(small.folder.corrections.iterdir())) == 2


def test_it_speaks_the_merchandisers_language(small: Small) -> None:
    """Lee's book came in Spanish: so does what is to be put right, and the mail."""
    words = words_for("es")
    small.send("3 third.xlsx", small.path("003"), {**THIRD_VISIT, "built": "sí", "photo": "sí"}, {})
    send_back(small)
    path = corrected(small, "SMALL 003 to put right")
    told = " ".join(texts(path.read_bytes(), words("correct.sheet")))
    for key in ("correct.title", "rules.out_before_in.todo"):
        assert words(key) in told
    assert answer(path, "visit", "built", "answer").value == "sí"
    message = email.message_from_bytes(path.with_suffix(".eml").read_bytes(), policy=policy.default)
    assert message["Subject"] == words("mail.correct.subject", program="Small stand", stores="003")
    assert message["To"].addresses[0].addr_spec == "lee@example.com"


def test_whoever_made_the_visit_gets_it(small: Small) -> None:
    """Kim stood in for Lee and says so in the book."""
    small.send("3 third.xlsx", small.path("003"), {**THIRD_VISIT, "merchandiser": "Kim"}, ALL_AS_PLANNED)
    send_back(small)
    path = corrected(small, "SMALL 003 to put right")
    message = email.message_from_bytes(path.with_suffix(".eml").read_bytes(), policy=policy.default)
    assert message["To"].addresses[0].addr_spec == "kim@example.com"
    assert answer(path, "visit", "merchandiser", "answer").value == "Kim"


def test_a_second_visit_is_sent_back_as_what_it_was(small: Small) -> None:
    """It asks for what it asked for, says what was reported before, and is named after its visit."""
    small.send("3 third.xlsx", small.path("003"), {**THIRD_VISIT, **GOOD_TIMES}, THIRD_STORE)
    small.revisit("003")
    wrong = {**SECOND, "time_out": dt.time(8), "tags_asked": "no"}
    small.send("3 again.xlsx", small.path("003", 2), wrong, {"A-1-1": {"as_planned": "yes"}})
    send_back(small)
    path = corrected(small, "SMALL 003 visit 2 to put right")
    assert keys(path.read_bytes(), "positions") == ["A-1-1"]
    assert any("etiqueta" in text for text in texts(path.read_bytes(), words_for("es")("return.title")))
    fill_in(path, small.folder.returns / "3 corrected.xlsx", {"time_out": dt.time(10)}, {})
    assert small.outcomes()["3 corrected.xlsx"] == "merged"
    assert small.state("003") == "done"


def test_rows_that_were_lost_are_back(small: Small) -> None:
    """The answers that are left are kept; the line leads to the row that was gone."""
    path = small.send("2 second.xlsx", small.path("002"), SECOND_VISIT, SECOND_STORE)
    workbook = openpyxl.load_workbook(path)
    sheet = workbook["Return"]
    number = next(row[0].row for row in sheet.iter_rows() if row[0].value == "B-2-1")
    sheet.cell(number, 1).value = None
    workbook.save(path)
    send_back(small)
    book = corrected(small, "SMALL 002 to put right")
    assert keys(book.read_bytes(), "positions") == list(ALL_AS_PLANNED)
    assert is_marked(answer(book, "positions", "B-2-1", "as_planned"))
    assert answer(book, "positions", "B-2-2", "label").value == "Rusholt"
    (line,) = listed(book)
    assert line == [
        "B-2-1 · As planned?",
        "B-2-1",
        WORDS("rules.row_lost.problem", value="B-2-1"),
        WORDS("correct.todo.row_lost"),
    ]


def test_a_shared_book_without_a_store_goes_back_to_its_sender(tmp_path: Path) -> None:
    """Nobody knows whose it is but the mail it came in; the store is what is to be picked."""
    small = Small(tmp_path / "program", merchandisers=PEOPLE)
    shared = issue(small.folder, Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC), shared=True), WORDS)
    filled = tmp_path / "filled.xlsx"
    fill_in(small.folder.root / shared.books[0].file, filled, GOOD_VISIT, ALL_AS_PLANNED)
    mail = email.message.EmailMessage(policy=policy.SMTP)
    mail["From"], mail["Date"] = "Someone <someone@example.com>", "Tue, 03 Mar 2026 18:00:00 +0000"
    mail.set_content("Here it is.")
    mail.add_attachment(filled.read_bytes(), "application", "octet-stream", filename="book.xlsx")
    (small.folder.returns / "mail.eml").write_bytes(mail.as_bytes())
    drafts = send_back(small)
    (path,) = small.folder.corrections.glob("*.xlsx")
    assert re.fullmatch(r"SMALL shared [0-9a-f]{8} to put right\.xlsx", path.name)
    assert is_marked(answer(path, "visit", "store", "answer"))
    assert drafts.no_address == ()
    message = email.message_from_bytes(drafts.files[0].read_bytes(), policy=policy.default)
    assert message["To"].addresses[0].addr_spec == "someone@example.com"
    fill_in(path, small.folder.returns / "picked.xlsx", {"store": "002"}, {})
    assert merge(small.take_in(), AS_OF).status.filter(store="002")["state"].item() == "done"


def test_the_command(small: Small) -> None:
    """It says how many were written and where, and changes nothing when it is run again."""
    run = CliRunner().invoke
    root = str(small.folder.root)
    small.send("1 first.xlsx", small.path("001"))
    assert WORDS("messages.nothing_to_correct") in run(main, ["correct", root]).stdout
    small.send("3 third.xlsx", small.path("003"), THIRD_VISIT, THIRD_STORE)
    result = run(main, ["correct", root])
    assert result.exit_code == 0, result.output
    assert "1 return to be sent back is in" in result.stdout
    assert "1 mail draft is in" in result.stdout
    written = {path.name: path.read_bytes() for path in small.folder.corrections.iterdir()}
    assert sorted(written) == ["SMALL 003 to put right.eml", "SMALL 003 to put right.xlsx"]
    run(main, ["correct", root])
    assert {path.name: path.read_bytes() for path in small.folder.corrections.iterdir()} == written


def test_what_is_right_by_now_is_taken_away(small: Small) -> None:
    """A corrected return takes its book and draft out of the folder; those of others, and other files, stay."""
    run, root = CliRunner().invoke, str(small.folder.root)
    small.send("2 second.xlsx", small.path("002"), {**GOOD_VISIT, "built": "no"})
    small.send("3 third.xlsx", small.path("003"), THIRD_VISIT, THIRD_STORE)
    run(main, ["correct", root])
    folder = small.folder.corrections
    (folder / "SMALL 003 to put right 1-2.eml").write_bytes(b"part of an earlier, larger draft")
    (folder / "SMALL 003 my notes.xlsx").write_bytes(b"not ours")
    times = {"time_in": dt.time(9), "time_out": dt.time(10)}
    fill_in(folder / "SMALL 003 to put right.xlsx", small.folder.returns / "3 corrected.xlsx", times, {})
    result = run(main, ["correct", root])
    assert result.exit_code == 0, result.output
    assert "1 book was taken away" in result.stdout
    left = ["SMALL 002 to put right.eml", "SMALL 002 to put right.xlsx", "SMALL 003 my notes.xlsx"]
    assert sorted(path.name for path in folder.iterdir()) == left


def test_what_came_in_is_not_changed(small: Small, broken: Path) -> None:
    """Returns stay as they are, byte for byte, and the book as it was issued too."""
    path = small.folder.returns / "2 second.xlsx"
    before = path.read_bytes(), small.path("002").read_bytes()
    send_back(small)
    assert (path.read_bytes(), small.path("002").read_bytes()) == before
    assert openpyxl.load_workbook(BytesIO(before[1])).sheetnames[0] == "Cover"
