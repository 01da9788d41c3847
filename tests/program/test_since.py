"""What changed since books were issued, and who must get a new one: those whose book no longer says what is so."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from tests.field_book.programs import SETTINGS
from tests.program.setups import IN_ORDER, Content, changed, checked, setup_file, with_values
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import words_for
from workbook_tools.errors import FolderError
from workbook_tools.field_book.build import build_template, stamp_values
from workbook_tools.field_book.issue import Order, issue
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.check import Wanted, check_program
from workbook_tools.program.load import MODELS
from workbook_tools.program.model import Item, Program, Step
from workbook_tools.program.since import NOT_IN_BOOKS, Since, compare

ENGLISH = words_for("en")
NOW = dt.datetime(2027, 2, 1, 9, tzinfo=dt.UTC)


def program(folder: Path, content: Content = IN_ORDER) -> Program:
    """The program of a setup in order."""
    made = checked(folder, content).program
    assert made is not None
    return made


def changed_to(folder: Path, content: Content) -> Since:
    """What is said when the setup in order becomes another one."""
    before = program(folder)
    return compare(before, program(folder, content), 1)


def said(found: Since) -> list[str]:
    """The changes as sentences."""
    return [change.say(ENGLISH) for change in found.changes]


def test_nothing_changed_is_said(tmp_path: Path) -> None:
    """The same setup has no changes, whatever else was saved in the workbook."""
    found = changed_to(tmp_path, IN_ORDER)
    assert list(found.lines(ENGLISH)) == ["Nothing changed since revision 1."]
    assert found.stores == ()


CASES: list[tuple[str, Content, str, tuple[str, ...]]] = [
    ("a setting", with_values("program", 1, phone="555 0199"),
     "Program: Phone was “blank”, is “555 0199”.", ("00417", "00418")),
    ("a setting no book shows", with_values("program", 1, country="US"),
     "Program: Country was “blank”, is “US”.", ()),
    ("an item", with_values("items", 1, gtin="9520000000035"),
     "Items, Lids: GTIN was “9520000000011”, is “9520000000035”.", ("00417", "00418")),
    ("a case pack", with_values("items", 1, case_pack=12),
     "Items, Lids: Units in a case was “blank”, is “12”.", ()),
    ("a position", with_values("positions", 2, item="Lids"),
     "Positions, A-1-2: Item was “Wax”, is “Lids”.", ("00417", "00418")),
    ("a position more",
     changed(positions=[*IN_ORDER["positions"], {"face": "A", "shelf": 2, "place": 2, "item": "Wax"}]),
     "Positions: A-2-2 is new.", ("00417", "00418")),
    ("a position less", changed(positions=IN_ORDER["positions"][:2]), "Positions: A-2-1 is gone.", ("00417", "00418")),
    ("a store's name", with_values("stores", 2, name="Mill Road"),
     "Stores, 00418: Name was “Mill Lane”, is “Mill Road”.", ("00418",)),
    ("a store's place on the map", with_values("stores", 1, latitude=36.2),
     "Stores, 00417: Latitude was “36.1”, is “36.2”.", ()),
    ("another merchandiser", with_values("stores", 1, merchandiser="Lee"),
     "Stores, 00417: Merchandiser was “Kim”, is “Lee”.", ("00417",)),
    ("a merchandiser's name", with_values("merchandisers", 2, name="Lee Example"),
     "Merchandisers, Lee: Full name was “blank”, is “Lee Example”.", ("00418",)),
    ("a merchandiser's hours", with_values("merchandisers", 2, hours=30),
     "Merchandisers, Lee: Hours was “20”, is “30”.", ()),
    ("a store more", changed(stores=[*IN_ORDER["stores"], {"store": "00419", "name": "Quay", "merchandiser": "Lee"}]),
     "Stores: 00419 is new.", ("00419",)),
    ("a store less", changed(stores=IN_ORDER["stores"][:1]), "Stores: 00418 is gone.", ()),
]  # fmt: skip


@pytest.mark.parametrize(
    ("content", "sentence", "stores"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_a_change_is_said_and_names_who_needs_a_new_book(
    tmp_path: Path, content: Content, sentence: str, stores: tuple[str, ...]
) -> None:
    """One change, one sentence; all stores, some or none need a new book."""
    found = changed_to(tmp_path, content)
    assert said(found) == [sentence]
    assert found.stores == stores
    assert found.is_everyone == (set(stores) == {"00417", "00418"})


def test_a_store_that_is_gone_has_a_void_book(tmp_path: Path) -> None:
    """It is named apart from those who need a new one."""
    found = changed_to(tmp_path, changed(stores=IN_ORDER["stores"][:1]))
    assert found.gone == ("00418",)
    assert list(found.lines(ENGLISH))[-1] == ("1 store is no longer in the list, so its book is void: 00418.")


def test_pictures_drawn_anew_are_told_in_the_order_of_the_rows() -> None:
    """Row by row, whatever they are called: items before steps, the same in every run."""
    items = tuple(Item(item=f"I{number}", item_code="", brand="", picture=f"{9 - number}.png") for number in range(9))
    steps = (Step(step=1, do="Unfold.", picture="0.png"),)
    made = Program(settings=SETTINGS, items=items, steps=steps, pictures={f"{n}.png": "before" for n in range(10)})
    redrawn = dataclasses.replace(made, pictures=dict.fromkeys(made.pictures, "after"))
    assert [one.row for one in compare(made, redrawn, 1).changes] == [*(one.item for one in items), "1"]


def test_a_picture_drawn_anew_is_a_change(tmp_path: Path) -> None:
    """The same name, other bytes: every book shows it."""
    before = program(tmp_path)
    after = dataclasses.replace(before, pictures={**before.pictures, "lids.png": "0" * 64})
    found = compare(before, after, 1)
    assert said(found) == ["Items, Lids: Picture “lids.png” is not the same file as before."]
    assert found.is_everyone


def _other(value: object, name: str) -> Any:
    """Another value that a field can hold."""
    if isinstance(value, dt.date):
        return value + dt.timedelta(days=1)
    if isinstance(value, int | float):
        return value + 1
    if isinstance(value, tuple):
        return (*value, "Lids")
    numbers = ("width", "depth", "height", "weight", "load", "latitude", "longitude", "minutes", "hours")
    if value is None:
        return 2.5 if name in numbers or name.startswith("carton") else 7
    return {"units": "cm, kg", "photos": "one a face", "language": "es"}.get(name, f"{value}X")


_SOMETIMES = {
    ("shelves", "height"),
    ("items", "height"),
    ("items", "picture"),
    ("steps", "picture"),
    ("items", "substitutes"),
}
"""Fields that a book shows only where there is a picture, or a substitute that stands nowhere else."""
_REFERENCES = {("items", "brand"), ("positions", "item")}
_IDENTITY = {block.key: block.identity for block in default_contract().setup.blocks}
_FIELDS = [
    (block, field.name)
    for block, kind in [("program", type("", (), {})), *MODELS.items()]
    for field in (dataclasses.fields(kind) if dataclasses.is_dataclass(kind) else ())
    if field.name not in _IDENTITY[block] and (block, field.name) not in {*_SOMETIMES, *_REFERENCES}
]


def _book(made: Program) -> tuple[bytes, dict[str, str]]:
    """What a store's book holds: the template and its stamped texts."""
    language = made.language_of(made.stores[0])
    return build_template(made, language, {}), stamp_values(made.stores[0], made, token="t", revision=1, visit=1)


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> tuple[Program, tuple[bytes, dict[str, str]]]:
    """A program in which every size is told, with the book of its first store."""
    items = [{**row, "width": 4, "depth": 4, "height": 4} for row in IN_ORDER["items"]]
    positions = [{**row, "facings": 2, "deep": 2, "high": 2, "units": 8} for row in IN_ORDER["positions"]]
    shelves = [{"face": "A", "shelf": n, "width": 24, "depth": 16, "height": 12} for n in (1, 2)]
    content = changed(items=items, positions=positions, shelves=shelves)
    made = program(tmp_path_factory.mktemp("full"), content)
    return made, _book(made)


@pytest.mark.parametrize(("block", "field"), _FIELDS)
def test_books_show_what_is_said_to_be_in_them(
    full: tuple[Program, tuple[bytes, dict[str, str]]], block: str, field: str
) -> None:
    """A field changes a book exactly when it is not among those that no book shows."""
    before, book = full
    rows = list(getattr(before, block))
    rows[0] = dataclasses.replace(rows[0], **{field: _other(getattr(rows[0], field), field)})
    after = dataclasses.replace(before, **{block: tuple(rows)})
    is_shown = field not in NOT_IN_BOOKS.get(block, ())
    assert (_book(after) != book) == is_shown


def test_the_country_is_the_only_setting_no_book_shows(full: tuple[Program, tuple[bytes, dict[str, str]]]) -> None:
    """Every other setting changes a book."""
    before, book = full
    for field in dataclasses.fields(before.settings):
        value = _other(getattr(before.settings, field.name), field.name)
        after = dataclasses.replace(before, settings=dataclasses.replace(before.settings, **{field.name: value}))
        is_shown = field.name not in NOT_IN_BOOKS["program"] and not field.name.startswith("carton_")
        if field.name.startswith("carton_") or field.name == "language":
            continue
        assert (_book(after) != book) == is_shown, field.name


# -- with a folder


def _issued(folder: Path) -> ProgramFolder:
    made = setup_file(folder)
    issue(made, Order(now=NOW), ENGLISH)
    return made


def test_check_compares_with_a_revision_as_it_was_issued(tmp_path: Path) -> None:
    """After books went out and the setup was changed, the change and the store are said."""
    made = _issued(tmp_path)
    setup_file(tmp_path, with_values("stores", 2, name="Mill Road"))
    seen = check_program(made, Wanted(today=NOW.date(), since=1), ENGLISH)
    lines = list(seen.lines(ENGLISH))
    assert "Since revision 1, 1 thing changed:" in lines
    assert "1 store must get a new book: 00418." in lines
    assert seen.as_json(ENGLISH)["since"]["new_books"] == ["00418"]  # type: ignore[index]


def test_a_revision_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    """Before anything was issued, and beyond the newest revision."""
    made = setup_file(tmp_path)
    with pytest.raises(FolderError, match="No book was issued"):
        check_program(made, Wanted(today=NOW.date(), since=1), ENGLISH)
    made = _issued(tmp_path)
    with pytest.raises(FolderError, match="There is no revision 7"):
        check_program(made, Wanted(today=NOW.date(), since=7), ENGLISH)
    made.revision(1).setup.write_bytes(b"")
    with pytest.raises(FolderError, match="revision 1 cannot be read"):
        check_program(made, Wanted(today=NOW.date(), since=1), ENGLISH)


def test_a_setup_to_be_mended_is_not_compared(tmp_path: Path) -> None:
    """A line says so; the findings come first."""
    made = _issued(tmp_path)
    setup_file(tmp_path, with_values("stores", 2, merchandiser="Nobody"))
    seen = check_program(made, Wanted(today=NOW.date(), since=1), ENGLISH)
    assert seen.since is None
    assert any("not looked for" in line for line in seen.lines(ENGLISH))
