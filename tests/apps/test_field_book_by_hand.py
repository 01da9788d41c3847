"""Every answer of a visit typed into LibreOffice as a merchandiser would; the book says at once what it makes of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.apps.field_books import WORDS, demo_book, demo_program
from tests.apps.office import Edit, Office
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.names import a1
from workbook_tools.field_book.layout import ReturnLayout, plan_return

RETURN, COVER = "Return", "Cover"
VISIT = {
    "visit_date": "2026-11-05",
    "time_in": "9:40",
    "time_out": "11:05",
    "spoke_to": "The manager",
    "place": "End of the baking aisle",
    "carton": "found",
    "built": "yes",
    "tags_asked": "yes",
    "photo": "yes",
}
DETAILS = {"as_planned": "no", "label": "Marrowkettle", "tag": "asked store", "product": "short", "units": "3"}


@pytest.fixture(scope="module")
def layout() -> ReturnLayout:
    """Where everything stands on the Return sheet."""
    return plan_return(demo_program()[0], default_contract(), RETURN)


def typed(layout: ReturnLayout, visit: dict[str, str], positions: dict[str, dict[str, str]]) -> list[Edit]:
    """What is typed where."""
    column = layout.visit.value_index
    edits = [Edit(RETURN, a1(layout.visit_rows[key], column), text) for key, text in visit.items()]
    for key, answers in positions.items():
        row = layout.position_rows[key]
        edits += [Edit(RETURN, a1(row, layout.positions.columns[field]), text) for field, text in answers.items()]
    return edits


def filled(office: Office, folder: Path, edits: list[Edit]) -> Path:
    """The book with everything typed in; nothing is refused."""
    book, target = folder / "book.xlsx", folder / "filled.xlsx"
    book.write_bytes(demo_book())
    assert office.edit(book, target, edits).refused == ()
    return target


def test_a_whole_visit_is_typed_in(office: Office, tmp_path: Path, layout: ReturnLayout) -> None:
    """Every open cell takes its answer; in the end the cover says that the book can be sent."""
    positions = {position.key: {"as_planned": "yes"} for position in demo_program()[0].walk}
    positions["A-1-2"] = DETAILS
    target = filled(office, tmp_path, typed(layout, VISIT, positions))
    sheet, cover = office.values(target, RETURN), office.values(target, COVER)
    state = layout.positions.columns["state"]
    states = {key: sheet[row][state] for key, row in layout.position_rows.items()}
    assert states.pop("A-1-2") == "! look again: tag item"
    assert set(states.values()) == {WORDS("state.right")}
    checks = {key: sheet[row][layout.check_column] or "" for key, row in layout.visit_rows.items()}
    done = WORDS("return.answered")
    assert checks == {key: "" if key in ("why_not", "note") else done for key in layout.visit_rows}
    shown = [value for row in cover for value in row if value is not None]
    assert WORDS("cover.ready_again") in shown


def test_the_face_follows_at_once(office: Office, tmp_path: Path, layout: ReturnLayout) -> None:
    """A tray shows what its row says, and the head counts."""
    target = filled(office, tmp_path, typed(layout, {}, {"A-1-1": {"as_planned": "yes"}, "A-1-2": DETAILS}))
    shown = [value for row in office.values(target, "Face A") for value in row if value is not None]
    assert "10 to do · 1 look again · 1 right" in shown
    assert shown.count(WORDS("state.right")) == 1
    assert shown.count("! look again: tag item") == 1


@pytest.mark.parametrize("time", ["9:40", "940", "9.40", "9:40 am"])
def test_a_time_is_taken_however_it_is_typed(office: Office, tmp_path: Path, layout: ReturnLayout, time: str) -> None:
    """The question counts as answered."""
    target = filled(office, tmp_path, typed(layout, {"time_in": time}, {}))
    row = office.values(target, RETURN)[layout.visit_rows["time_in"]]
    assert row[layout.visit.value_index] is not None
    assert row[layout.check_column] == WORDS("return.answered")


def test_what_is_planned_cannot_be_overtyped(office: Office, tmp_path: Path, layout: ReturnLayout) -> None:
    """Item, brand, state, questions, checks and the drawing are locked."""
    row, visit = layout.position_rows["B-2-1"], layout.visit_rows["built"]
    columns = layout.positions.columns
    cells = [a1(row, columns[name]) for name in ("item", "brand", "state", "position")]
    cells += [a1(visit, 1), a1(visit, layout.check_column)]
    edits = [Edit(RETURN, cell, "x") for cell in cells] + [Edit("Face A", "B3", "x"), Edit(COVER, "B1", "x")]
    book = tmp_path / "book.xlsx"
    book.write_bytes(demo_book())
    report = office.edit(book, tmp_path / "tried.xlsx", edits)
    assert [result.reason for result in report.results] == ["locked"] * len(edits)
