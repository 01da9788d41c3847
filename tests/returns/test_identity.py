"""Who a return is, said by its inside alone; and what becomes of one whose inside was changed."""

from __future__ import annotations

import copy
import datetime as dt
import re
from pathlib import Path

import pytest

from tests.returns.scene import Scene, changed, part_of, result_of, rules, with_cell
from tests.small_program import CONTENT, WORDS, differs
from workbook_tools.contract.sheets import read_blocks
from workbook_tools.returns.intake import count_outcomes
from workbook_tools.rollup.merge import merge

INLINE = 't="inlineStr"><is><t>{}</t></is>'


@pytest.fixture(scope="module")
def issued(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    """The small program, issued once."""
    return Scene(tmp_path_factory.mktemp("identity"))


@pytest.fixture
def scene(issued: Scene) -> Scene:
    """The small program with nothing in returns/."""
    issued.clear()
    return issued


def without_block(data: bytes) -> bytes:
    """A book whose identity cells are cleared, the sheet itself left."""
    (block,) = read_blocks(data, ["book"])
    sheet = part_of(data, block.sheet)
    return changed(
        data, lambda name, part: re.sub(rb"<row .*</row>", b"", part, flags=re.DOTALL) if name == sheet else part
    )


def without_name(data: bytes) -> bytes:
    """A book whose workbook-level names are lost."""
    return changed(data, lambda name, part: re.sub(rb"<definedNames>.*</definedNames>", b"", part, flags=re.DOTALL))


def without_title(data: bytes) -> bytes:
    """A book whose core title is lost."""
    return changed(data, lambda name, part: re.sub(rb"<dc:title>[^<]*</dc:title>", b"", part))


def test_the_token_alone_in_any_of_its_three_places_says_which_book_it_is(scene: Scene) -> None:
    """Cells, workbook-level name, core title: two may be lost. Without all three it is no return."""
    book = scene.filled("002")
    result = scene.only(without_name(without_title(book)))
    assert (result.outcome, result.store, rules(result.findings)) == ("merged", "002", [])
    for damaged in (without_block(book), without_block(without_title(book)), without_block(without_name(book))):
        result = scene.only(damaged)
        assert (result.outcome, result.store, rules(result.findings)) == ("merged", "002", ["identity_spare"])
    result = scene.only(without_block(without_title(without_name(book))))
    assert (result.outcome, result.findings[0].rule) == ("set aside", "not_a_return")


def test_a_spare_token_that_was_never_issued_is_not_believed(scene: Scene) -> None:
    """A book of another folder whose identity cells are lost."""
    token = next(iter(scene.take_in().register.by_token))
    book = changed(scene.filled("001"), lambda name, part: part.replace(token.encode(), b"0" * 32))
    result = scene.only(without_block(book))
    assert (result.outcome, result.findings[0].rule) == ("set aside", "token_unknown")


@pytest.mark.parametrize("block", ["book", "visit"])
def test_a_book_made_out_for_another_store_is_set_aside(scene: Scene, block: str) -> None:
    """Its token is that of store 001, its cells say 002: nobody can know whose answers these are."""
    field = "value" if block == "book" else "answer"
    result = scene.only(with_cell(scene.filled("001"), block, "store", field, INLINE.format("002")))
    assert (result.outcome, rules(result.findings)) == ("set aside", ["identity_differs"])
    assert "002" in result.findings[0].problem(WORDS)


def test_two_people_who_report_one_visit_are_worth_a_look(scene: Scene) -> None:
    """The later return stands, and says who reported before; the same person in other letters does not count."""
    scene.put(
        first=scene.filled("001", {"merchandiser": "Lee"}),
        second=scene.filled("001", {"merchandiser": "Kim", "time_out": dt.time(11)}),
        third=scene.filled("002", {"merchandiser": "kim "}),
        fourth=scene.filled("002", {"merchandiser": "Kim", "time_out": dt.time(11)}),
    )
    intake = scene.take_in()
    assert result_of(intake, "first").outcome == "superseded"
    found = [one for one in result_of(intake, "second").findings if one.rule == "two_people_one_visit"]
    assert [(one.value, one.fields["other"], one.fields["first"]) for one in found] == [
        ("Kim", "Lee", "returns/first.xlsx")
    ]
    assert result_of(intake, "second").outcome == "merged"
    assert "two_people_one_visit" not in rules(result_of(intake, "fourth").findings)


def test_a_blank_return_is_no_report_by_another_person(scene: Scene) -> None:
    """A book sent back as it was issued carries the name it was issued to."""
    scene.put(blank=scene.books["001"], told=scene.filled("001", {"merchandiser": "Lee"}))
    intake = scene.take_in()
    assert result_of(intake, "blank").outcome == "superseded"
    assert "two_people_one_visit" not in rules(result_of(intake, "told").findings)


def test_a_return_of_an_earlier_revision_is_read_against_it(tmp_path: Path) -> None:
    """The planogram changed after the first books went out: what was right then is right in the first book."""
    scene = Scene(tmp_path)
    first = scene.filled("001")
    content = copy.deepcopy(CONTENT)
    content["positions"][0]["item"] = "Wax"
    content["positions"][1]["units"] = 2
    scene.issue(content)
    short = {"A-1-2": differs(label="Pellwood", tag="on tray", product="short", units=3)}
    scene.put(first=first, second=scene.filled("003", positions=short))
    intake = scene.take_in()
    old, new = (result_of(intake, name) for name in ("first", "second"))
    assert (old.outcome, old.revision, rules(old.findings)) == ("merged", 1, ["earlier_revision"])
    assert (new.outcome, new.revision) == ("to correct", 2)
    assert rules(new.findings) == ["short_not_short", "units_above_plan"]
    facts = merge(intake, intake.program.settings.due)
    planned = {(row["store"], row["position"]): row["item"] for row in facts.positions.whole.iter_rows(named=True)}
    assert (planned["001", "A-1-1"], planned["003", "A-1-1"]) == ("Lids", "Wax")


@pytest.mark.parametrize(("field", "text"), [("item_code", "000104"), ("brand", "Quarnby")])
def test_a_locked_cell_that_says_what_was_asked_must_be_as_issued(scene: Scene, field: str, text: str) -> None:
    """Item code and brand change what the answers beside them mean."""
    result = scene.only(with_cell(scene.filled(), "positions", "A-1-1", field, INLINE.format(text)))
    assert (result.outcome, rules(result.findings)) == ("to correct", ["locked_changed"])
    assert (result.findings[0].value, result.findings[0].column) == (text, field)


@pytest.mark.parametrize(
    ("block", "row", "field", "inside", "value"),
    [
        ("positions", "A-1-1", "item", INLINE.format("Something else"), "Something else"),
        ("parts", "P1", "name", INLINE.format("Roof"), "Roof"),
        ("parts", "P2", "quantity", "><v>9</v>", "9"),
        ("parts", "P2", "name", ">", ""),
    ],
)
def test_a_locked_text_beside_the_answers_is_only_noted(
    scene: Scene, block: str, row: str, field: str, inside: str, value: str
) -> None:
    """The answers are read by their keys, so their meaning stands."""
    result = scene.only(with_cell(scene.filled(), block, row, field, inside))
    assert (result.outcome, rules(result.findings)) == ("merged", ["locked_text_changed"])
    assert (result.findings[0].value, result.findings[0].severity) == (value, "note")


def test_no_untouched_book_has_a_changed_locked_cell(scene: Scene) -> None:
    """Names that go on with codes or in a second line are as they were issued."""
    for number, store in enumerate(scene.books):
        scene.put(**{store: scene.filled(store, {"visit_date": dt.date(2026, 3, 3 + number)})})
    intake = scene.take_in()
    assert [rules(one.findings) for one in intake.results] == [[]] * len(scene.books)
    assert count_outcomes(intake.results)["merged"] == len(scene.books)
