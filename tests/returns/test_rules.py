"""Every rule about a return, on real files: many returns of one program, read and judged in one go."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest

from tests.small_program import ALL_AS_PLANNED, CONTENT, GOOD_VISIT, WORDS, differs
from workbook_tools.contract.load import default_contract
from workbook_tools.demo.fill import fill
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.returns.intake import Intake, count_outcomes, take_in
from workbook_tools.returns.judge import FileResult

SAVED = dt.datetime(2026, 3, 3, 12)


@dataclass(frozen=True)
class Case:
    """One return: what differs from a good one, and the rules it breaks: (rule, field) or (rule, position, field)."""

    name: str
    rules: tuple[tuple[str, ...], ...]
    visit: Mapping[str, object] = field(default_factory=dict)
    positions: Mapping[str, Mapping[str, object]] = field(default_factory=dict)
    parts: Mapping[tuple[str, str], object] = field(default_factory=dict)
    outcome: str = "merged"


ASKED = differs(label="Pellwood", tag="asked store", product="set")
CASES = (
    Case("all is well", ()),
    # -- the visit
    Case("out before in", (("out_before_in", "time_out"),), {"time_out": dt.time(8, 30)}, outcome="to correct"),
    Case("before the window", (("before_window", "visit_date"),), {"visit_date": dt.date(2026, 3, 1)}),
    Case("after the window", (("after_window", "visit_date"),), {"visit_date": dt.date(2026, 3, 9)}),
    Case("no date", (("required", "visit_date"),), {"visit_date": None}, outcome="to correct"),
    Case("built not said", (("required", "built"),), {"built": None}, outcome="to correct"),
    Case("not built, no reason", (("why_not_missing", "why_not"),), {"built": "no"}, outcome="to correct"),
    Case("not built, with a reason", (), {"built": "no", "why_not": "no carton"}),
    Case("partly built", (), {"built": "partly"}),
    Case("another place", (), {"place": "Front"}),
    Case("a stand-in's name", (), {"merchandiser": "Somebody Else"}),
    Case("no such place", (("not_a_choice", "place"),), {"place": "Roof"}, outcome="to correct"),
    Case("not a date", (("not_a_date", "visit_date"),), {"visit_date": "soon"}, outcome="to correct"),
    Case("a date two ways", (("date_two_ways", "visit_date"),), {"visit_date": "3/4/2026"}, outcome="to correct"),
    Case("a date as text", (("text_as_date", "visit_date"),), {"visit_date": "2026-03-03"}),
    Case("a date with a month's name", (("text_as_date", "visit_date"),), {"visit_date": "3 Mar 2026"}),
    Case(
        "times as text",
        (("text_as_time", "time_in"), ("text_as_time", "time_out")),
        {"time_in": "9.40", "time_out": "1055"},
    ),
    Case("not a time", (("not_a_time", "time_in"),), {"time_in": "early"}, outcome="to correct"),
    # -- the positions
    Case(
        "choice in capitals",
        (("choice_recognised", "A-1-1", "as_planned"), ("spaces_removed", "A-1-1", "as_planned")),
        positions={"A-1-1": {"as_planned": " YES "}},
    ),
    Case(
        "brand in small letters",
        (("choice_recognised", "A-1-1", "label"),),
        positions={"A-1-1": {**ASKED, "tag": "on tray", "label": "pellwood"}},
    ),
    Case(
        "no such brand",
        (("not_a_choice", "A-1-1", "label"),),
        positions={"A-1-1": {**ASKED, "tag": "on tray", "label": "Nobody"}},
        outcome="to correct",
    ),
    Case(
        "yes, but a wrong label",
        (("right_contradicts", "A-1-1", "label"),),
        positions={"A-1-1": {"as_planned": "yes", "label": "Quarnby"}},
        outcome="to correct",
    ),
    Case(
        "yes, but no tag",
        (("right_contradicts", "A-1-1", "tag"),),
        positions={"A-1-1": {"as_planned": "yes", "tag": "no tag"}},
        outcome="to correct",
    ),
    Case(
        "yes, but short",
        (("right_contradicts", "A-1-1", "product"),),
        positions={"A-1-1": {"as_planned": "yes", "product": "short"}},
        outcome="to correct",
    ),
    Case(
        "yes, and told alike",
        (),
        positions={"A-1-1": {"as_planned": "yes", "label": "Pellwood", "tag": "on tray", "product": "set"}},
    ),
    Case(
        "other item, no code",
        (("other_item_missing", "A-1-1", "other_item"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="other item")},
        outcome="to correct",
    ),
    Case(
        "other item, unknown code",
        (("other_item_unknown", "A-1-1", "other_item"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="other item", other_item="999999")},
        outcome="to correct",
    ),
    Case(
        "other item is the planned one",
        (("other_item_planned", "A-1-1", "other_item"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="other item", other_item="000101")},
        outcome="to correct",
    ),
    Case(
        "code of another item, not said",
        (("other_item_unasked", "A-1-1", "other_item"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="set", other_item="000102")},
        outcome="to correct",
    ),
    Case(
        "code without its zeros",
        (("number_as_text", "A-1-1", "other_item"), ("zeros_restored", "A-1-1", "other_item")),
        positions={"A-1-1": differs(label="Quarnby", tag="on tray", product="other item", other_item=103)},
    ),
    Case(
        "tag code without a tag",
        (("tag_code_unasked", "A-1-1", "tag_code"),),
        positions={"A-1-1": differs(label="Pellwood", tag="no tag", tag_code="000102", product="set")},
    ),
    Case(
        "more units than planned",
        (("units_above_plan", "A-1-1", "units"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="set", units=5)},
    ),
    Case(
        "short of nothing",
        (("short_not_short", "A-1-1", "units"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="short", units=4)},
        outcome="to correct",
    ),
    Case(
        "half a unit",
        (("not_whole", "A-1-1", "units"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="short", units=2.5)},
        outcome="to correct",
    ),
    Case(
        "fewer than none",
        (("out_of_range", "A-1-1", "units"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="short", units=-1)},
        outcome="to correct",
    ),
    Case(
        "units as text",
        (("text_as_number", "A-1-1", "units"),),
        positions={"A-1-1": differs(label="Pellwood", tag="on tray", product="short", units="2")},
    ),
    Case(
        "tags asked for, and not",
        (("tags_not_asked", "tags_asked"),),
        {"tags_asked": "no"},
        {"A-1-1": ASKED},
        outcome="to correct",
    ),
    Case("tags asked for", (), {"tags_asked": "yes"}, {"A-1-1": ASKED}),
    Case(
        "a long note",
        (("too_long", "A-1-1", "note"),),
        positions={"A-1-1": {"as_planned": "yes", "note": "x" * 1001}},
        outcome="to correct",
    ),
    Case("a note like a formula", (), positions={"A-1-1": {"as_planned": "yes", "note": "=1+1"}}),
    # -- the parts
    Case(
        "more missing than there are",
        (("missing_above_count", "P1", "missing"),),
        parts={("P1", "missing"): 2},
        outcome="to correct",
    ),
    Case(
        "missing and damaged",
        (("missing_above_count", "P2", "missing"),),
        parts={("P2", "missing"): 3, ("P2", "damaged"): 2},
        outcome="to correct",
    ),
    Case("a part missing", (), parts={("P2", "missing"): 1}),
)


def answers(case: Case) -> dict[tuple[str, str, str], object]:
    """A good return's answers with the case's differences; None stands for a blank."""
    told = {("visit", key, key): value for key, value in {**GOOD_VISIT, **case.visit}.items()}
    positions = {} if case.visit.get("built") == "no" else {**ALL_AS_PLANNED, **case.positions}
    told |= {("positions", key, name): value for key, one in positions.items() for name, value in one.items()}
    told |= {("parts", key, name): value for (key, name), value in case.parts.items()}
    return {place: value for place, value in told.items() if value is not None}


@pytest.fixture(scope="module")
def intake(tmp_path_factory: pytest.TempPathFactory) -> Intake:
    """One program with a store for every case, each with its return."""
    folder = ProgramFolder(tmp_path_factory.mktemp("rules"))
    stores = [
        {"store": f"{number:03d}", "name": case.name, "merchandiser": f"Person {number}"}
        for number, case in enumerate(CASES, start=1)
    ]
    people = [{"merchandiser": f"Person {number}"} for number in range(1, len(CASES) + 1)]
    folder.setup.write_bytes(setup_workbook(WORDS, {**CONTENT, "stores": stores, "merchandisers": people}))
    folder.returns.mkdir()
    issued = issue(folder, Order(now=dt.datetime(2026, 3, 1, tzinfo=dt.UTC)), WORDS)
    for case, book in zip(CASES, issued.books, strict=True):
        data = (folder.root / book.file).read_bytes()
        (folder.returns / f"{case.name}.xlsx").write_bytes(fill(data, answers(case), SAVED))
    return take_in(folder, [folder.returns], WORDS)


def result_of(intake: Intake, case: Case) -> FileResult:
    """The file of a case."""
    return next(result for result in intake.results if result.file == f"returns/{case.name}.xlsx")


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_return_breaks_just_the_rules_it_breaks(case: Case, intake: Intake) -> None:
    """Each finding has its rule and field, and stands at a cell of the Return sheet."""
    result = result_of(intake, case)
    found = [(one.rule, one.column) for one in result.findings]
    assert sorted(found) == sorted((rule[0], rule[-1]) for rule in case.rules)
    assert all(one.sheet == "Return" and one.cell for one in result.findings)
    assert result.outcome == case.outcome


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_what_a_finding_says_is_a_sentence(case: Case, intake: Intake) -> None:
    """Problem and todo can be put into words, with nothing left to fill in."""
    for finding in result_of(intake, case).findings:
        for text in (finding.problem(WORDS), finding.todo(WORDS)):
            assert text.endswith((".", "?")) or finding.rule == "pattern"
            assert "{" not in text


def test_every_file_has_one_outcome(intake: Intake) -> None:
    """Files in = the sum of the outcomes."""
    assert sum(count_outcomes(intake.results).values()) == len(CASES)


def test_every_rule_about_answers_is_met_here_or_elsewhere() -> None:
    """The rules of the catalogue's last section, one by one."""
    met = {rule[0] for case in CASES for rule in case.rules}
    elsewhere = {"after_received", "after_saved", "code_shortened", "code_two_ways"}
    across = {"two_stores_at_once", "two_people_one_visit", "other_store_picked"}
    rules = list(default_contract().rules)
    last_section = set(rules[rules.index("out_before_in") :])
    assert last_section - met <= across | elsewhere
