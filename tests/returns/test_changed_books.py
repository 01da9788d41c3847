"""Books whose sheets people moved, copied, renamed, sorted or cut: read where it is sure, sent back where it is not."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

import openpyxl
import pytest
from openpyxl.workbook.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.returns.scene import Scene, packed, parts_of, rules
from tests.small_program import ALL_AS_PLANNED, WORDS

Change = Callable[[Workbook], object]
FIRST, LAST = "A-1-1", "B-2-2"


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    """The small program, issued."""
    return Scene(tmp_path_factory.mktemp("changed"))


def changed(data: bytes, *changes: Change) -> bytes:
    """A book changed and saved by another program."""
    book = openpyxl.load_workbook(BytesIO(data))
    for change in changes:
        change(book)
    saved = BytesIO()
    book.save(saved)
    return saved.getvalue()


def sheet(book: Workbook) -> Worksheet:
    """The Return sheet."""
    return book["Return"]


def row_of(page: Worksheet, key: str) -> int:
    """The 1-based row whose column A holds a key."""
    return next(cell.row for (cell,) in page.iter_rows(max_col=1) if cell.value == key)


def column_of(page: Worksheet, field: str) -> int:
    """The 1-based column of a field of the positions."""
    return next(cell.column for cell in page[row_of(page, "#positions")] if cell.value == field)


def tell(page: Worksheet, key: str, value: object) -> None:
    """Answer “as planned” at a position."""
    page.cell(row_of(page, key), column_of(page, "as_planned")).value = value


def copy_row(page: Worksheet, key: str) -> None:
    """A position's row once more, over the last one, told otherwise."""
    first, last = row_of(page, key), row_of(page, LAST)
    for column in range(1, page.max_column + 1):
        page.cell(last, column).value = page.cell(first, column).value
    page.cell(last, column_of(page, "as_planned")).value = "no"


def copied(book: Workbook, told: object, name: str = "Return (2)", place: int = -1) -> None:
    """A copy of the Return sheet whose first position is told otherwise."""
    page = book.copy_worksheet(sheet(book))
    page.title = name
    tell(page, FIRST, told)
    book.move_sheet(page, place - len(book.sheetnames) + 1 if place >= 0 else 0)


def copied_blank(book: Workbook) -> None:
    """A copy in which nothing is filled in."""
    copied(book, None)
    page = book["Return (2)"]
    for key in ALL_AS_PLANNED:
        tell(page, key, None)
    for row in range(row_of(page, "#visit") + 1, row_of(page, "#positions")):
        for cell in page[row][1:]:
            if not cell.protection.locked and cell.__class__.__name__ != "MergedCell":
                cell.value = None


def swap_rows(book: Workbook, from_column: int) -> None:
    """The positions sorted the other way round, from a 1-based column on."""
    page = sheet(book)
    rows = range(row_of(page, FIRST), row_of(page, LAST) + 1)
    values = [[cell.value for cell in page[row]][from_column - 1 :] for row in rows]
    for row, told in zip(rows, reversed(values), strict=True):
        for cell, value in zip(page[row][from_column - 1 :], told, strict=True):
            if cell.__class__.__name__ != "MergedCell":
                cell.value = value


def repeat_under_the_parts(book: Workbook) -> None:
    """The first position's row once more under the last block, as somebody who drags rows about leaves it."""
    page = sheet(book)
    for cell in page[row_of(page, FIRST)]:
        page.cell(page.max_row + (cell.column == 1), cell.column).value = cell.value


def rename(book: Workbook) -> None:
    """Every sheet under another name."""
    for number, page in enumerate(book, 1):
        page.title = f"Hoja{number}"


SURE: dict[str, Change] = {
    "saved by a program that drops things": lambda _: None,
    "sheets renamed": rename,
    "sheets in another order": lambda book: book._sheets.reverse(),
    "the Return sheet hidden": lambda book: setattr(sheet(book), "sheet_state", "hidden"),
    "rows inserted": lambda book: [sheet(book).insert_rows(row_of(sheet(book), FIRST)), sheet(book).insert_rows(3, 2)],
    "columns inserted": lambda book: sheet(book).insert_cols(3, 2),
    "rows sorted with their keys": lambda book: swap_rows(book, 1),
    "the other sheets deleted": lambda book: [
        book.remove(page) for page in list(book) if page.title != "Return" and page.sheet_state == "visible"
    ],
    "the sheet copied and both left alike": lambda book: copied(book, "yes"),
    "a copy left blank": copied_blank,
}


@pytest.mark.parametrize("name", SURE)
def test_what_does_not_change_an_answer_does_no_harm(name: str, scene: Scene) -> None:
    """Merged like the book as it was, without a finding."""
    result = scene.only(changed(scene.filled(), SURE[name]))
    assert (result.outcome, rules(result.findings)) == ("merged", [])


UNSURE: dict[str, tuple[Change, str]] = {
    "a copy that says something else": (lambda book: copied(book, "no"), "sheet_twice"),
    "such a copy before the sheet": (lambda book: copied(book, "no", "Copy of Return", 0), "sheet_twice"),
    "rows sorted without their keys": (lambda book: swap_rows(book, 2), "locked_changed"),
    "a row that stands twice": (lambda book: copy_row(sheet(book), FIRST), "row_twice"),
    "the keys deleted": (lambda book: sheet(book).delete_cols(1), "block_lost"),
    "the Return sheet deleted": (lambda book: book.remove(sheet(book)), "block_lost"),
    "a code changed where it is locked": (
        lambda book: setattr(
            sheet(book).cell(row_of(sheet(book), FIRST), column_of(sheet(book), "item_code")), "value", "9"
        ),
        "locked_changed",
    ),
}


@pytest.mark.parametrize("name", UNSURE)
def test_what_may_change_an_answer_goes_back(name: str, scene: Scene) -> None:
    """To be corrected, and the reason is among what is told."""
    change, rule = UNSURE[name]
    result = scene.only(changed(scene.filled(), change))
    assert result.outcome == "to correct"
    assert rule in rules(result.findings)
    assert "blank_return" not in rules(result.findings)
    for finding in result.findings:
        assert "{" not in finding.problem(WORDS) + finding.todo(WORDS)


def test_a_row_that_is_not_used_is_not_judged(scene: Scene) -> None:
    """It is told that it stands there, and nothing else of it has to be put right."""
    result = scene.only(changed(scene.filled(), repeat_under_the_parts))
    assert (result.outcome, rules(result.findings)) == ("merged", ["row_strange"])


@pytest.mark.parametrize("part", ["xl/comments1.xml", "xl/comments/comment1.xml", "xl/threadedComments/tc1.xml"])
def test_a_remark_on_a_cell_is_not_passed_over_in_silence(part: str, scene: Scene) -> None:
    """Whoever wrote it meant it to be read: the office is told that there is one, and the answers are in."""
    result = scene.only(packed({**parts_of(scene.filled()), part: b"<comments/>"}))
    assert (result.outcome, rules(result.findings)) == ("merged", ["remarks_there"])
    assert result.findings[0].severity == "look at"


@pytest.mark.parametrize(("typed", "meant"), [("yes.", "yes"), ("Yes!", "yes"), ("found,", "found"), ("No ; ", "no")])
def test_a_sign_behind_a_word_does_not_change_it(typed: str, meant: str, scene: Scene) -> None:
    """A keyboard sets a point after two spaces; the notice says how it was read."""
    field = "carton" if meant == "found" else "photo"
    result = scene.only(scene.filled(visit={field: typed}))
    assert result.outcome == "merged"
    assert [one.fields["read"] for one in result.findings if one.rule == "choice_recognised"] == [meant]
