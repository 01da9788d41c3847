"""What happened in a store, said in a sentence, and what follows from it for the visit."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest

from tests.rollup.book_reads import opened
from tests.rollup.invented import BRAND, CODE, ITEMS, POSITIONS, Told, facts_of
from tests.small_program import WORDS
from workbook_tools.returns.judge import FileResult
from workbook_tools.rollup.happened import ITEMS as OF_ITEMS
from workbook_tools.rollup.happened import LABELS, Happening, happenings
from workbook_tools.rollup.notes import FlagKey, Kept, Note
from workbook_tools.rollup.patterns import Pattern
from workbook_tools.rollup.todo import KitFault, five_things, say_things
from workbook_tools.rollup.work import Work
from workbook_tools.rollup.workbook import Told as ToldBook
from workbook_tools.rollup.workbook import rollup_workbook

NO = "no label"


def sentences(told: Told) -> list[str]:
    """What happened in one store."""
    facts = facts_of([told])
    return [one.say(WORDS, facts.program) for one in happenings(facts)]


def test_two_labels_swapped_are_said_in_a_sentence() -> None:
    """Pellwood and Rusholt labels stand on one another's trays."""
    swapped = Told(wrong={"A-1-1": BRAND["A-1-3"], "A-1-3": BRAND["A-1-1"]})
    assert sentences(swapped) == ["Labels at A-1-1 and A-1-3 are swapped."]


def test_a_wrong_tray_that_nothing_explains_is_said_as_it_is() -> None:
    """One wrong label, and one missing elsewhere in another store."""
    assert sentences(Told(wrong={"A-1-1": "Selwick"})) == ["A-1-1 has the label Selwick; Pellwood is due."]
    assert sentences(Told(wrong={"A-1-1": NO})) == ["A-1-1 has no label; Pellwood is due."]


def test_a_face_without_labels_is_one_thing_that_happened() -> None:
    """Not six wrong trays."""
    bare = Told(wrong={one.key: NO for one in POSITIONS if one.face == "B"})
    assert sentences(bare) == ["Face B has no labels (6 trays)."]


def test_stores_in_which_all_is_right_have_no_sentence() -> None:
    """Only stores with wrong labels or items are explained."""
    assert list(happenings(facts_of([Told(), Told(None), Told(asked=["A-1-1"])]))) == []


SHELF = {"face": "A", "shelf": "1"}
OTHER = {"other_face": "B", "other_shelf": "2"}
COUNTS = {"places": "3", "of": "4"}
SHIFT = {**SHELF, "direction": "left", "end_position": "A-1-3", "end_found": "Selwick", "except": ""}
DETAILS = [
    ("swapped", {"first": "A-1-1", "second": "A-1-2", "first_due": "x", "second_due": "y"}),
    *(("shelf_shifted", {**SHIFT, "end": end}) for end in ("empty", "wrapped", "other", "unknown")),
    ("shelves_exchanged", {**SHELF, **OTHER, "except": ""}),
    ("faces_exchanged", {"face": "A", "other_face": "B", "except": ""}),
    ("face_mirrored", {"face": "A", "except": "A-1-2 A-2-2"}),
    ("no_labels", {"scope": "face", "face": "A", "places": "6", "except": ""}),
    ("no_labels", {"scope": "display", "face": "", "places": "12", "except": ""}),
    ("brand_for_brand", {"label": "Selwick", "due": "Pellwood", **COUNTS}),
    ("labels_run_out", {"due": "Pellwood", **COUNTS}),
    ("unexplained", {"due": "Pellwood", "found": "Selwick"}),
    ("unexplained", {"due": "Pellwood", "found": ""}),
]


@pytest.mark.parametrize("about", [LABELS, OF_ITEMS])
@pytest.mark.parametrize(("kind", "detail"), DETAILS)
def test_every_pattern_has_its_sentence(about: str, kind: str, detail: dict[str, str]) -> None:
    """For labels and for items; nothing is left to fill in, and what does not fit the pattern is named."""
    text = Happening("0001", about, Pattern(kind, ("A-1-1",), detail)).say(WORDS, facts_of([]).program)
    assert text[0].isupper()
    assert text.endswith(".")
    assert "{" not in text
    assert ("Not so: A-1-2, A-2-2." in text) == (kind == "face_mirrored")


def test_items_are_called_by_name() -> None:
    """The planogram's name, not the code, stands in a sentence about items."""
    detail = {"due": CODE["A-1-1"], "found": CODE["A-1-2"]}
    text = Happening("0001", OF_ITEMS, Pattern("unexplained", ("A-1-1",), detail)).say(WORDS, facts_of([]).program)
    assert text == f"A-1-1 holds {ITEMS[1].item}; {ITEMS[0].item} is planned."


def test_swapped_labels_need_none_brought() -> None:
    """Both labels are in the store; a missing one has to come."""
    swapped = {"A-1-1": BRAND["A-1-2"], "A-1-2": BRAND["A-1-1"]}
    facts = facts_of([Told(wrong=swapped), Told(wrong={**swapped, "B-1-1": NO})])
    first, second = Work(facts, Kept()).go_back()
    assert first.labels == {}
    assert second.labels == {BRAND["B-1-1"]: 1}


def test_settled_flags_are_nobodys_work() -> None:
    """One of two flags settled: the other alone is left; both settled: the store is not on the list."""
    facts = facts_of([Told(wrong={"A-1-1": NO, "A-1-2": NO})])
    first, second = (FlagKey("0001", tray, "label_missing") for tray in ("A-1-1", "A-1-2"))
    notes = {key: Note(key, "", settled="yes") for key in (first, second)}
    (left,) = Work(facts, Kept({first: notes[first]})).go_back()
    assert left.trays == {"A-1-2"}
    assert Work(facts, Kept(notes)).go_back() == []
    assert Work(facts, Kept(notes)).skipped == 2


def test_minutes_grow_with_the_trays_and_never_beyond_a_whole_visit() -> None:
    """Planned are 60 minutes for 12 trays: 10 to get there and 5 a tray, half a visit where the display is built in
    part, all of it where it is not.
    """
    wrong = [{one.key: NO for one in POSITIONS[:count]} for count in (1, 4, 12)]
    told = [*(Told(wrong=trays) for trays in wrong), Told(built="partly"), Told(built="no")]
    work = Work(facts_of(told), Kept())
    assert [work.minutes(one) for one in work.go_back()] == [15, 30, 60, 30, 60]


def test_at_most_five_things_the_fault_of_the_kit_first() -> None:
    """Then whatever opens the most stores; nothing is listed for which nothing is to be done."""
    told = [*(Told(wrong={"A-1-1": NO}) for _ in range(4)), *(Told(None) for _ in range(6)), Told(asked=["A-1-1"])]
    work = Work(facts_of(told), Kept())
    todos = five_things(work, [KitFault("A-1-1", 4, 5)])
    assert [(one.key, one.stores) for one in todos] == [
        ("kit_position", 4),
        ("not_back", 6),
        ("go_back", 4),
        ("send", 4),
        ("ask", 1),
    ]
    assert five_things(Work(facts_of([Told()]), Kept()), []) == []


def test_only_what_there_is_is_sent_and_asked_for() -> None:
    """No "0 parts", no "0 items"; both where there are both."""
    told = [Told(wrong={"A-1-1": NO}), Told(asked=["A-1-1", "A-1-2"])]
    said = [one.say(WORDS) for one in five_things(Work(facts_of(told), Kept()), [])]
    assert "Send 1 label for 1 store." in said
    assert "Ask 1 store for what it owes: 2 shelf tags to print." in said
    assert say_things(WORDS, {"label": 2, "part": 1}) == "2 labels and 1 part"


def test_returns_of_no_store_are_among_the_things_to_do() -> None:
    """No store waits for them, so nothing else would tell; each with its sender, who alone can say."""
    told = [*(Told(wrong={"A-1-1": NO}) for _ in range(9)), *(Told(None) for _ in range(9)), Told(asked=["A-1-1"])]
    lost = [result_of("shared.xlsx", "ann@example.com"), result_of("b.xlsx"), result_of("c.xlsx", store="0001")]
    facts = dataclasses.replace(facts_of(told), results=tuple(lost))
    first, *_ = five_things(Work(facts, Kept()), [])
    assert (first.key, first.place, first.stores) == ("storeless", "to_correct", 2)
    assert first.say(WORDS) == (
        "Ask the senders of 2 returns without a store where they belong: shared.xlsx (ann@example.com), b.xlsx."
    )


def result_of(file: str, sender: str = "", store: str = "") -> FileResult:
    """A return that waits for its sender."""
    return FileResult(number=1, file=file, sha256="", received="", sender=sender, store=store, outcome="to correct")


def test_after_the_window_whom_to_call_comes_first() -> None:
    """What is not back is overdue then."""

    work = Work(facts_of([*(Told(wrong={"A-1-1": NO}) for _ in range(4)), Told(None)], dt.date(2026, 3, 30)), Kept())
    assert five_things(work, [])[0].key == "not_back_closed"


@pytest.mark.parametrize(
    ("coordinates", "said"),
    [
        ([], "2 stores: about 0:30 hours at the displays. The way there is not in it."),
        (
            [(40.0, -90.0), (40.1, -90.0)],
            "2 stores: about 0:30 hours at the displays and 0:17 on the road between them"
            " (estimated; without the way from home and back).",
        ),
    ],
)
def test_the_way_is_told_or_said_not_to_be_in_it(
    coordinates: list[tuple[float, float]], said: str, tmp_path: Path
) -> None:
    """11.12 km as the crow flies are 14.5 km by road, 17 minutes at 50 km/h; without coordinates nobody can tell."""
    facts = facts_of([Told(wrong={"A-1-1": NO}), Told(wrong={"A-1-1": NO})])
    placed = zip(facts.program.stores, coordinates or [(None, None)] * 2, strict=True)
    stores = tuple(dataclasses.replace(one, latitude=north, longitude=east) for one, (north, east) in placed)
    facts = dataclasses.replace(facts, program=dataclasses.replace(facts.program, stores=stores))
    (tmp_path / "rollup.xlsx").write_bytes(rollup_workbook(facts, ToldBook(), WORDS))
    assert opened(tmp_path / "rollup.xlsx")["Go back"]["A2"].value == said


def test_before_the_window_nobody_is_called() -> None:
    """That nothing is back is as it should be then; from the first day on it is told."""
    told = [Told(None) for _ in range(3)]
    assert five_things(Work(facts_of(told, dt.date(2026, 3, 1)), Kept()), []) == []
    assert [one.key for one in five_things(Work(facts_of(told, dt.date(2026, 3, 2)), Kept()), [])] == ["not_back"]
