"""Another visit: a book that asks for what is open and nothing else, whose return closes the flags."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openxml_audit import FileFormat, OpenXmlValidator

from tests.field_book.programs import made_program
from tests.field_book.recalculated import Sheets, stored_results_of
from tests.field_book.small import NOW, SECOND, Small, keys, open_questions, texts
from tests.small_program import (
    ALL_AS_PLANNED,
    CONTENT,
    GOOD_VISIT,
    SECOND_STORE,
    SECOND_VISIT,
    THIRD_STORE,
    THIRD_VISIT,
    WORDS,
    differs,
)
from workbook_tools.cli import main
from workbook_tools.contract.load import default_contract
from workbook_tools.field_book.build import build, stamp_values
from workbook_tools.field_book.issue import Issued, Order, issue
from workbook_tools.field_book.particulars import Particulars
from workbook_tools.program.asked import Asked, Told, flag
from workbook_tools.rollup.notes import FlagKey, Kept, Note
from workbook_tools.rollup.revisits import Plan

# Store 002 by hand: of its eight trays only A-1-2 is right.
ASKED_002 = ["A-1-1", "A-2-1", "A-2-2", "B-1-1", "B-1-2", "B-2-1", "B-2-2"]
ALL_RIGHT = {key: {"as_planned": "yes"} for key in ASKED_002}
PUT_RIGHT = {**SECOND, "built": "yes", "place": "End of aisle", "photo": "yes", "tags_asked": "no"}
VALID_THIRD = {**THIRD_VISIT, "time_in": dt.time(9), "time_out": dt.time(10)}


@pytest.fixture(scope="module")
def first_night(tmp_path_factory: pytest.TempPathFactory) -> Small:
    """The hand-worked returns: 001 is done, 002 has everything open, 003 has to be corrected."""
    made = Small(tmp_path_factory.mktemp("small"))
    made.send("1 first.xlsx", made.path("001"))
    made.send("2 second.xlsx", made.path("002"), SECOND_VISIT, SECOND_STORE, [("P2", "missing", 1)])
    made.send("3 third.xlsx", made.path("003"), THIRD_VISIT, THIRD_STORE)
    return made


@pytest.fixture
def small(first_night: Small, tmp_path: Path) -> Small:
    """The same in a folder of its own."""
    return first_night.copied(tmp_path / "program")


def stores(plan: Plan) -> list[str]:
    """The stores a plan sends somebody to."""
    return [one.store for one in plan.revisits]


def test_stores_with_open_flags_get_a_book_and_no_others(small: Small) -> None:
    """One is done, one has flags; the one whose return is to be corrected waits for that, and is named."""
    plan = small.plan()
    assert stores(plan) == ["002"]
    assert plan.to_correct == ("003",)


def test_a_store_that_waits_for_a_tag_is_visited_too(small: Small) -> None:
    """Only a visit can tell that the tag is on the tray now."""
    small.send("3 third.xlsx", small.path("003"), VALID_THIRD, THIRD_STORE)
    assert small.state("003") == "waiting"
    plan = small.plan()
    assert stores(plan) == ["002", "003"]
    assert plan.revisits[1].asked.keys("positions") == ("A-1-1",)


def test_its_cover_tells_neither_the_time_of_a_whole_visit_nor_a_photo_that_was_taken(tmp_path: Path) -> None:
    """Both stand on the cover of the book that has the display built."""
    small = Small(tmp_path, program=[{**CONTENT["program"][0], "visit_minutes": 75}])
    small.send("3 third.xlsx", small.path("003"), VALID_THIRD, THIRD_STORE)
    small.revisit()
    covers = [set(texts(small.path("003", visit).read_bytes(), "Cover")) for visit in (1, 2)]
    whole = {"about 75 minutes", WORDS("cover.photos_one"), f"☐  {WORDS('cover.before_photo')}"}
    assert [cover & whole for cover in covers] == [whole, set()]


def test_the_book_asks_for_what_is_open_and_nothing_else(small: Small) -> None:
    """Trays, parts and questions of the visit; what is settled cannot be typed in and shows what was said before."""
    small.revisit()
    book = small.path("002", 2).read_bytes()
    assert keys(book, "positions") == ASKED_002
    assert keys(book, "parts") == ["P2"]
    always = ["merchandiser", "visit_date", "time_in", "time_out", "spoke_to", "tags_asked", "note"]
    assert set(open_questions(book)) == {*always, "place", "built", "why_not", "photo"}
    assert "– as before: found" in list(texts(book, "Return"))
    faces = list(texts(book, "Face A")) + list(texts(book, "Face B"))
    assert faces.count("– as before") == 1
    assert all(any(text.startswith(item) for text in faces) for item in ("Lids", "Rings", "Wax", "Salt", "Jars"))


def test_the_book_says_what_was_reported_before_and_what_to_bring(small: Small) -> None:
    """Above each tray: the answers given, and what to do. On the cover: one Pellwood label (the Quarnby and Rusholt
    labels that are due stand on other trays of the store) and one part P2.
    """
    small.revisit()
    book = small.path("002", 2).read_bytes()
    told = [text for text in texts(book, "Return") if text.startswith("Before:")]
    assert told == [
        "Before: label Quarnby · tag on tray · product set   Put on the label Pellwood.",
        "Before: label Rusholt · tag on tray · product other item · item 000104   Set the item that is planned.",
        "Before: label no label · tag asked store · product short · 2 units   Put on the label Rusholt. "
        "See that the shelf tag 000104 is on the tray. Set the item in full.",
        "Before: nothing was reported   Report this tray.",
        "Before: label Quarnby · tag on tray · product none · code on the tag 000101   "
        "See that the shelf tag 000105 is on the tray, and no other. Set the item in full.",
        "Before: label Rusholt · tag no tag · product other item · item 000107   Put on the label Quarnby. "
        "Get the shelf tag 000107 from the store. Set the item that is planned.",
        "Before: label Rusholt · tag store cannot print   Get the shelf tag 000104 from the store. Report this tray.",
    ]
    cover = list(texts(book, "Cover"))
    bring = cover[cover.index("Bring to this store") + 1 :][:4]
    assert bring == ["Pellwood", "1 label", "P2", "1 × Shelf"]
    assert any(text.startswith("Visit 2: only what is still open") for text in cover)
    assert "The carton and the display" not in cover
    assert "Shelf\nBefore: 1 missing. Type 0 if it is there and whole now." in list(texts(book, "Return"))


def test_the_register_knows_the_book(small: Small) -> None:
    """As visit 2, with a token of its own and a file name that says so; what it asks stands beside the register."""
    small.revisit()
    first, second = small.book("002"), small.book("002", 2)
    assert second.file == "issued/SMALL 002 visit 2.xlsx"
    assert (second.merchandiser, second.revision) == ("Kim", 1)
    assert second.token != first.token
    rows = (small.folder.issued / "asked.csv").read_text(encoding="utf-8-sig")
    assert f"{second.token},positions,A-1-1,flag.label_mismatch,Pellwood" in rows
    assert first.token not in rows


def test_a_book_of_another_visit_opens_everywhere(small: Small, tmp_path: Path) -> None:
    """A validator finds nothing, and every live cell stores what it computes."""
    small.revisit()
    path = small.path("002", 2)
    assert OpenXmlValidator(FileFormat.OFFICE_2007).validate(str(path)).errors == []
    sheets = Sheets(path.read_bytes(), tmp_path)
    sheets.evaluate()
    stored = {place: "" if value is None else value for place, value in stored_results_of(path.read_bytes()).items()}
    assert {place: (value, sheets.at(*place)) for place, value in stored.items() if value != sheets.at(*place)} == {}


def test_the_second_visit_closes_every_flag(small: Small) -> None:
    """All put right: the store is done, with eight trays right, though the second book held only seven."""
    small.revisit()
    small.send("2 again.xlsx", small.path("002", 2), PUT_RIGHT, ALL_RIGHT, [("P2", "missing", 0)])
    facts = small.facts()
    assert facts.flags.filter(store="002").height == 0
    (row,) = facts.status.filter(store="002").iter_rows(named=True)
    assert (row["state"], row["right"], row["visit_date"]) == ("done", 8, dt.date(2026, 3, 6))
    assert small.outcomes()["2 again.xlsx"] == "merged"
    assert stores(small.plan()) == []


def test_what_is_left_blank_stays_as_it_was_reported(small: Small) -> None:
    """A tray, a part and a question that the second visit does not answer keep their flags; nothing becomes right."""
    small.revisit()
    some = {key: {"as_planned": "yes"} for key in ASKED_002 if key not in ("A-1-1", "B-1-1")}
    visit = {**SECOND, "built": "yes", "place": "End of aisle", "tags_asked": "no"}
    small.send("2 again.xlsx", small.path("002", 2), visit, some)
    assert small.flags("002") == {
        ("A-1-1", "label_mismatch"),
        ("B-1-1", "not_reported"),
        ("P2", "part_missing"),
        ("", "photo_missing"),
    }
    (flag,) = small.facts().flags.filter(store="002", position="A-1-1").iter_rows(named=True)
    assert (flag["visit"], flag["since"]) == (1, dt.date(2026, 3, 3))


def test_what_is_still_wrong_is_asked_a_third_time(small: Small) -> None:
    """As visit 3, with what the second visit reported."""
    small.revisit()
    wrong = {**ALL_RIGHT, "A-1-1": differs(label="Rusholt", tag="on tray", product="set")}
    small.send("2 again.xlsx", small.path("002", 2), PUT_RIGHT, wrong, [("P2", "missing", 0)])
    small.revisit()
    book = small.path("002", 3)
    assert book.name == "SMALL 002 visit 3.xlsx"
    assert keys(book.read_bytes(), "positions") == ["A-1-1"]
    told = [text for text in texts(book.read_bytes(), "Return") if text.startswith("Before:")]
    assert told == ["Before: label Rusholt · tag on tray · product set   Put on the label Pellwood."]
    small.send("2 third.xlsx", book, SECOND, {"A-1-1": {"as_planned": "yes"}})
    assert small.state("002") == "done"


def test_rows_are_held_against_what_the_book_asked(small: Small) -> None:
    """A row that was asked and is gone is lost; a row that was not asked is strange, and not used."""
    small.revisit()
    path = small.send("2 again.xlsx", small.path("002", 2), PUT_RIGHT, ALL_RIGHT, [("P2", "missing", 0)])
    workbook = openpyxl.load_workbook(path)
    sheet = workbook["Return"]
    by_key = {row[0].value: row for row in sheet.iter_rows() if row[0].value}
    by_key["A-1-1"][0].value = "A-1-2"
    by_key["A-2-1"][0].value = None
    workbook.save(path)
    found = [(one.rule, one.value) for one in small.take_in().findings if one.file.endswith("again.xlsx")]
    assert found == [("row_lost", "A-1-1"), ("row_lost", "A-2-1"), ("row_strange", "A-1-2")]
    assert small.state("002") == "to correct"
    rows = small.facts().positions.whole.filter(store="002", visit=1)
    assert set(rows["position"]) == {"A-1-1", "A-1-2", "A-2-1"}


def test_a_book_that_is_still_out_is_not_another_visit(small: Small) -> None:
    """Asked for again the next night, the same book lies there; if something else is open by then, it is a new one."""
    first = small.revisit()
    before = small.path("002", 2).read_bytes()
    again = small.revisit()
    assert (first.new, again.new) == (1, 0)
    assert small.path("002", 2).read_bytes() == before
    better = {**SECOND_STORE, "A-1-1": {"as_planned": "yes"}}
    later = {**SECOND_VISIT, "time_out": dt.time(11)}
    small.send("2 sent later.xlsx", small.path("002"), later, better, [("P2", "missing", 1)])
    old = small.book("002", 2)
    assert small.revisit().new == 1
    new = small.book("002", 2)
    assert (new.visit, new.file) == (2, old.file)
    assert new.token != old.token
    assert keys(small.path("002", 2).read_bytes(), "positions") == ASKED_002[1:]


def test_the_book_that_was_replaced_is_still_a_return(small: Small, tmp_path: Path) -> None:
    """Whoever had it already sends it back, and it is held against what it asked."""
    small.revisit()
    kept = tmp_path / "kept.xlsx"
    kept.write_bytes(small.path("002", 2).read_bytes())
    better = {**SECOND_STORE, "A-1-1": {"as_planned": "yes"}}
    later = {**SECOND_VISIT, "time_out": dt.time(11)}
    small.send("2 sent later.xlsx", small.path("002"), later, better, [("P2", "missing", 1)])
    small.revisit()
    small.send("2 again.xlsx", kept, PUT_RIGHT, ALL_RIGHT, [("P2", "missing", 0)])
    assert small.outcomes()["2 again.xlsx"] == "merged"
    assert small.state("002") == "done"


def test_flags_that_the_office_settled_are_not_asked_about(small: Small) -> None:
    """A tray with another open flag is; a store with nothing else is left alone."""
    gone = (("A-1-1", "label_mismatch"), ("A-2-2", "label_missing"), ("P2", "part_missing"), ("", "photo_missing"))
    notes = {key: Note(key, "", settled="yes") for key in (FlagKey("002", *one) for one in gone)}
    (one,) = small.plan(kept=Kept(notes)).revisits
    assert one.asked.keys("positions") == tuple(ASKED_002[1:])
    assert one.asked.keys("parts") == ()
    assert "photo" not in one.asked.keys("visit")
    every = {FlagKey("002", *key): Note(FlagKey("002", *key), "", settled="yes") for key in small.flags("002")}
    assert stores(small.plan(kept=Kept(every))) == []


def test_a_display_that_was_not_built_is_asked_about_in_full(small: Small) -> None:
    """All trays, parts and questions, with the carton and the steps; nothing to be read above the trays."""
    not_built = {"visit_date": dt.date(2026, 3, 4), "built": "no", "why_not": "No carton", "carton": "not found"}
    small.send("3 third.xlsx", small.path("003"), {**not_built, "photo": "no"}, {})
    assert small.flags("003") == {("", "not_built")}
    small.revisit("003")
    book = small.path("003", 2).read_bytes()
    assert keys(book, "positions") == list(ALL_AS_PLANNED)
    assert keys(book, "parts") == ["P1", "P2"]
    assert len(open_questions(book)) == len(keys(book, "visit")) - 1
    assert {"The carton and the display", "Steps, in order"} <= set(texts(book, "Cover"))
    assert not any(text.startswith("Before:") for text in texts(book, "Return"))
    small.send("3 again.xlsx", small.path("003", 2), {**GOOD_VISIT, **SECOND}, ALL_AS_PLANNED)
    assert small.state("003") == "done"


def test_a_photo_alone_is_a_visit_without_trays(small: Small) -> None:
    """No tray is asked, and the return of such a book is whole."""
    small.send("3 third.xlsx", small.path("003"), {**GOOD_VISIT, "photo": "no"}, ALL_AS_PLANNED)
    small.revisit("003")
    path = small.path("003", 2)
    book = path.read_bytes()
    assert (keys(book, "positions"), keys(book, "parts")) == ([], [])
    assert OpenXmlValidator(FileFormat.OFFICE_2007).validate(str(path)).errors == []
    small.send("3 again.xlsx", path, {**SECOND, "photo": "yes"}, {})
    assert small.outcomes()["3 again.xlsx"] == "merged"
    assert small.state("003") == "done"


def test_settled_questions_stay_settled(small: Small) -> None:
    """The second visit is not asked about the photo, and none is missed; nor about the building, which is required."""
    small.send("3 third.xlsx", small.path("003"), VALID_THIRD, THIRD_STORE)
    small.revisit("003")
    assert {"photo", "built", "place"}.isdisjoint(open_questions(small.path("003", 2).read_bytes()))
    small.send("3 again.xlsx", small.path("003", 2), {**SECOND, "tags_asked": "no"}, {"A-1-1": {"as_planned": "yes"}})
    assert small.outcomes()["3 again.xlsx"] == "merged"
    assert small.state("003") == "done"


def test_a_store_whose_return_is_to_be_corrected_can_be_named(small: Small) -> None:
    """Then all that is not known to be right is asked: here the tray with the flag and one that cannot be read."""
    broken = {**THIRD_STORE, "B-1-1": differs(label="Pelwood?", tag="on tray", product="set")}
    small.send("3 third.xlsx", small.path("003"), THIRD_VISIT, broken)
    assert stores(small.plan()) == ["002"]
    plan = small.plan("003")
    assert (stores(plan), plan.to_correct) == (["003"], ())
    assert plan.revisits[0].asked.keys("positions") == ("A-1-1", "B-1-1")
    small.revisit("003")
    told = {key: {"as_planned": "yes"} for key in ("A-1-1", "B-1-1")}
    small.send("3 again.xlsx", small.path("003", 2), {**SECOND, "tags_asked": "no"}, told)
    assert small.outcomes()["3 third.xlsx"] == "to correct"
    assert small.state("003") == "done"


def test_a_store_is_not_done_while_an_earlier_return_hides_a_tray(small: Small) -> None:
    """The first visit is sent anew with a label that cannot be read; the second visit did not ask for that tray."""
    small.send("3 third.xlsx", small.path("003"), VALID_THIRD, THIRD_STORE)
    small.revisit("003")
    small.send("3 again.xlsx", small.path("003", 2), {**SECOND, "tags_asked": "no"}, {"A-1-1": {"as_planned": "yes"}})
    assert small.state("003") == "done"
    broken = {**THIRD_STORE, "B-1-1": differs(label="Pelwood?", tag="on tray", product="set")}
    small.send("3 sent anew.xlsx", small.path("003"), {**VALID_THIRD, "time_out": dt.time(11)}, broken)
    assert small.state("003") == "to correct"


def test_a_store_that_used_the_shared_book_gets_one_of_its_own(tmp_path: Path) -> None:
    """Its first visit came back in the book for all stores; the next is visit 2."""
    small = Small(tmp_path / "program")
    shared = issue(small.folder, Order(now=NOW, shared=True), WORDS).books[0]
    told = {**THIRD_STORE, "B-1-1": differs(label="no label", tag="on tray", product="set")}
    small.send("3.xlsx", small.folder.root / shared.file, {**VALID_THIRD, "store": "003", "merchandiser": "Lee"}, told)
    small.revisit()
    book = small.book("003", 2)
    assert (book.file, book.merchandiser) == ("issued/SMALL 003 visit 2.xlsx", "Lee")
    assert keys(small.path("003", 2).read_bytes(), "positions") == ["A-1-1", "B-1-1"]


def some(block: str, every: Sequence[str]) -> st.SearchStrategy[list[Told]]:
    """Rows that ask for some of a block, in order."""
    chosen = st.sets(st.sampled_from(every))
    return chosen.map(lambda keys: [Told(block, key) for key in every if key in keys])


PROGRAM = made_program()
WALK, PART_KEYS = [one.key for one in PROGRAM.walk], [one.part for one in PROGRAM.parts]
QUESTIONS = [one.key for one in default_contract().field_book.block("visit").fields if one.key != "visit_date"]
DATE = Told("visit", "visit_date")
"""Every visit has a day."""


@given(some("positions", WALK), some("parts", PART_KEYS), some("visit", QUESTIONS))
@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_book_asks_for_whatever_it_is_told_to(
    tmp_path: Path, trays: list[Told], parts: list[Told], questions: list[Told]
) -> None:
    """Any trays, parts and questions: they alone can be answered, and every live cell stores what it computes."""
    questions = [DATE, *questions]
    rows = [*(one for told in trays for one in (told, flag(*told[:2], "label_missing", "Brand 1"))), *parts, *questions]
    particulars = Particulars(visit=2, asked=Asked(tuple(rows)))
    values = stamp_values(PROGRAM.stores[0], PROGRAM, token="0" * 32, revision=1, visit=2)
    book = build(PROGRAM, "en", {}, particulars=particulars).render(values)
    assert keys(book, "positions") == [one.key for one in trays]
    assert keys(book, "parts") == [one.key for one in parts]
    assert set(open_questions(book)) == {one.key for one in questions if one.key != "store"}
    sheets = Sheets(book, tmp_path)
    sheets.evaluate()
    stored = {place: "" if value is None else value for place, value in stored_results_of(book).items()}
    assert {place: (value, sheets.at(*place)) for place, value in stored.items() if value != sheets.at(*place)} == {}


def test_the_command(small: Small) -> None:
    """It takes the returns in, writes the books and the mail drafts, and says what it left out."""
    run = CliRunner().invoke
    result = run(main, ["revisit", str(small.folder.root), "--mail"])
    assert result.exit_code == 0, result.output
    assert "1 field book for another visit is in" in result.stdout
    assert "Left out until their returns are corrected: 003." in result.stdout
    assert [path.name for path in small.folder.mail.iterdir()] == ["SMALL Kim visit again.eml"]
    again = run(main, ["revisit", str(small.folder.root)])
    assert "1 of them is still out from before and unchanged." in again.stdout
    small.path("002", 2).write_bytes(b"changed by hand")
    changed = run(main, ["revisit", str(small.folder.root)])
    assert "002 visit 2.xlsx was changed since it was issued; it was kept as" in changed.stderr
    assert "was kept as" not in changed.stdout
    unknown = run(main, ["revisit", str(small.folder.root), "--store", "999"])
    assert unknown.exit_code == 2
    assert "There is no store 999" in unknown.stderr
    done = run(main, ["revisit", str(small.folder.root), "--store", "001"])
    assert WORDS("messages.revisits_none") in done.stdout


def test_a_draft_to_somebody_who_need_not_go_back_is_taken_away(small: Small) -> None:
    """Once all is right; but not when only some store was asked about. Other people's drafts and letters stay."""
    letter = small.folder.mail / "SMALL Kim visit again.eml"
    others = [small.folder.mail / name for name in ("SMALL Kim.eml", "SMALL Kim visit again, mine.eml")]
    revisit = ["revisit", str(small.folder.root), "--mail"]
    CliRunner().invoke(main, revisit)
    for path in others:
        path.write_bytes(b"")
    letter.rename(letter.with_name("SMALL Kim visit again 1-2.eml"))
    letter.with_name("SMALL Kim visit again 2-2.eml").write_bytes(b"")
    small.send("4 put right.xlsx", small.path("002", 2), PUT_RIGHT, ALL_RIGHT, [("P2", "missing", 0)])
    small.send("5 third.xlsx", small.path("003"), VALID_THIRD, ALL_AS_PLANNED)
    some = CliRunner().invoke(main, [*revisit, "--store", "001"])
    assert "taken away" not in some.stdout
    assert len(list(small.folder.mail.iterdir())) == 4
    done = CliRunner().invoke(main, revisit)
    assert "2 earlier drafts were taken away" in done.stdout
    assert sorted(small.folder.mail.iterdir()) == sorted(others)


def test_stores_that_wait_for_a_correction_are_named_as_far_as_anybody_reads(small: Small) -> None:
    """Twelve of them, and how many more there are."""
    waiting = tuple(f"{number:03}" for number in range(1, 21))
    *_, line = Plan((), waiting).lines(Issued(small.issued.program, 1, (), 0, ()), small.folder, WORDS)
    assert "010, 011, 012 … (+8)." in line
