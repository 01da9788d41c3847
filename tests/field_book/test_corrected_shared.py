"""A shared book that came back without its store: its correction takes its place, and no other return's."""

from __future__ import annotations

import datetime as dt
import re
from email import message_from_bytes, policy
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.field_book.small import Small
from tests.small_program import ALL_AS_PLANNED, GOOD_VISIT, WORDS, fill_in
from workbook_tools.cli import main
from workbook_tools.contract.findings import Phrase
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import sha256
from workbook_tools.returns.corrected import give_way
from workbook_tools.returns.intake import count_outcomes
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.read import ReadReturn

LATER = {**GOOD_VISIT, "time_in": dt.time(11), "time_out": dt.time(12)}


@pytest.fixture(scope="module")
def issued(tmp_path_factory: pytest.TempPathFactory) -> Small:
    """The small program and its shared book, issued."""
    small = Small(tmp_path_factory.mktemp("shared"))
    issue(small.folder, Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC), shared=True), WORDS)
    return small


@pytest.fixture
def small(issued: Small, tmp_path: Path) -> Small:
    """The same in a folder of its own, with two shared books in returns/ in which no store was picked."""
    small = issued.copied(tmp_path / "program")
    small.send("first.xlsx", small.path(""))
    small.send("second.xlsx", small.path(""), LATER, ALL_AS_PLANNED)
    return small


def correct(small: Small) -> str:
    """Run the command; gives what it says."""
    result = CliRunner().invoke(main, ["correct", str(small.folder.root)])
    assert result.exit_code == 0, result.output
    return result.output


def sent_back(small: Small, name: str) -> Path:
    """The correction that was made of a file in returns/."""
    mark = sha256((small.folder.returns / name).read_bytes())[:8]
    return small.folder.corrections / f"SMALL shared {mark} to put right.xlsx"


def test_the_correction_takes_the_place_of_the_very_return_it_was_made_of(small: Small) -> None:
    """The first is superseded, by the usual sentence; the second, of the same token, waits on. Every file counts."""
    assert small.outcomes() == {"first.xlsx": "to correct", "second.xlsx": "to correct"}
    correct(small)
    fill_in(sent_back(small, "first.xlsx"), small.folder.returns / "picked.xlsx", {"store": "002"}, {})
    intake = small.take_in()
    outcomes = {Path(one.file).name: one.outcome for one in intake.results}
    assert outcomes == {"first.xlsx": "superseded", "second.xlsx": "to correct", "picked.xlsx": "merged"}
    assert sum(count_outcomes(intake.results).values()) == len(intake.results) == 3
    (first,) = [one for one in intake.results if one.outcome == "superseded"]
    assert first.reason == Phrase("rules.later_return.problem", {"later": "returns/picked.xlsx"})
    assert [one.file for one in intake.findings if one.severity == "must mend"] == ["returns/second.xlsx"]


def test_the_subject_of_its_mail_names_no_file(small: Small) -> None:
    """Where no store is known, the sender reads only which program the return is of."""
    correct(small)
    draft = sent_back(small, "first.xlsx").with_suffix(".eml")
    subject = message_from_bytes(draft.read_bytes(), policy=policy.default)["Subject"]
    assert subject == "Small stand: please correct your return"


def test_what_was_corrected_is_not_sent_back_again(small: Small) -> None:
    """Its book and draft are taken away; that of the other return is written again."""
    assert "2 returns" in correct(small)
    assert sent_back(small, "first.xlsx").exists()
    fill_in(sent_back(small, "first.xlsx"), small.folder.returns / "picked.xlsx", {"store": "002"}, {})
    said = correct(small)
    assert "1 book was taken away" in said
    assert "1 return to be sent back" in said
    assert list(small.folder.corrections.glob("*.xlsx")) == [sent_back(small, "second.xlsx")]
    assert re.findall("taken away|to be sent back", correct(small)) == ["to be sent back"]


def test_a_correction_still_without_a_store_is_what_waits(small: Small) -> None:
    """Each gives way to the next, until one names a store; a blank correction takes nobody's place."""
    (small.folder.returns / "second.xlsx").unlink()
    correct(small)
    book, returns = sent_back(small, "first.xlsx"), small.folder.returns
    nothing = {one: dict.fromkeys(told) for one, told in ALL_AS_PLANNED.items()}
    fill_in(book, returns / "blank.xlsx", dict.fromkeys(GOOD_VISIT), nothing)
    assert small.outcomes() == {"first.xlsx": "to correct", "blank.xlsx": "to correct"}
    (returns / "blank.xlsx").unlink()
    fill_in(book, returns / "again.xlsx", {"note": "done"}, {})
    assert small.outcomes() == {"first.xlsx": "superseded", "again.xlsx": "to correct"}
    correct(small)
    fill_in(sent_back(small, "again.xlsx"), returns / "picked.xlsx", {"store": "002"}, {})
    assert small.outcomes() == {"first.xlsx": "superseded", "again.xlsx": "superseded", "picked.xlsx": "merged"}
    assert small.state("002") == "done"


def test_a_correction_for_a_store_that_nobody_knows_is_what_waits(small: Small) -> None:
    """It can be put right by its sender in turn."""
    correct(small)
    fill_in(sent_back(small, "first.xlsx"), small.folder.returns / "odd.xlsx", {"store": "no such store"}, {})
    assert small.outcomes() == {"first.xlsx": "superseded", "second.xlsx": "to correct", "odd.xlsx": "to correct"}


def test_a_correction_for_another_store_is_told_with_the_return_it_was_made_of(small: Small) -> None:
    """Nobody took back what was said of the first store, so it waits on; the office is told both files."""
    small.send("second.xlsx", small.path(""), {**LATER, "store": "001", "time_in": "after lunch"}, ALL_AS_PLANNED)
    (small.folder.returns / "first.xlsx").unlink()
    correct(small)
    (book,) = small.folder.corrections.glob("*.xlsx")
    fill_in(book, small.folder.returns / "back.xlsx", {"store": "002", "time_in": dt.time(11)}, {})
    intake = small.take_in()
    assert {one.file: (one.store, one.outcome) for one in intake.results} == {
        "returns/second.xlsx": ("001", "to correct"),
        "returns/back.xlsx": ("002", "merged"),
    }
    told = [one for one in intake.findings if one.rule == "other_store_picked"]
    assert {one.file: one.problem(WORDS) for one in told} == dict.fromkeys(
        ("returns/second.xlsx", "returns/back.xlsx"),
        "“returns/back.xlsx” is the correction of “returns/second.xlsx”, which was for store 001; in the correction "
        "store 002 is picked.",
    )


@pytest.mark.parametrize(
    ("token", "outcome", "expected"),
    [("a", "to correct", "superseded"), ("a", "set aside", "to correct"), ("b", "", "to correct")],
)
def test_only_a_return_of_the_same_book_that_has_a_place_takes_one(token: str, outcome: str, expected: str) -> None:
    """What is set aside, or was made of another book, says nothing about the return it names."""
    reads = [
        ReadReturn("1", identity={"token": "a"}, told=5),
        ReadReturn("2", identity={"token": token, "correction": 1, "corrects": "1"}, told=5),
    ]
    results = [FileResult(number, f"{number}.xlsx", read.sha256, "") for number, read in enumerate(reads)]
    results[0].outcome, results[1].outcome = "to correct", outcome
    give_way(results, reads)
    assert [one.outcome for one in results] == [expected, outcome]
