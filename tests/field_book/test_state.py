"""The live state of a position agrees with the flags that the program raises for the same answers."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import ironcalc
import polars as pl
import pytest

from tests.field_book.programs import SETTINGS
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.names import a1
from workbook_tools.contract.words import words_for
from workbook_tools.contract.writing import ListSheet
from workbook_tools.field_book.layout import ReturnLayout, plan_return
from workbook_tools.field_book.state import STEPS, StateFormulas
from workbook_tools.program.model import Item, Label, Position, Program
from workbook_tools.returns.answers import KEY, RETURN, Answers
from workbook_tools.rollup.flags import flag_returns

WORDS = words_for("en")
SHEET, LISTS, WORKINGS = "Return", "lists", "workings"
PLANNED_UNITS = 6
ITEMS = (
    Item(item="Lids", item_code="000101", brand="Pellwood"),
    Item(item="Rings", item_code="000102", brand="Pellwood"),
    Item(item="Wax", item_code="000103", brand="Quarnby"),
)
CHOICES = {
    "as_planned": ("", "yes", "no"),
    "label": ("", "Pellwood", "Quarnby", "no label"),
    "tag": ("", "on tray", "asked store", "store cannot print", "no tag"),
    "product": ("", "set", "short", "none", "other item"),
}
CODES = {
    "tag_code": ("", "000101", "000103"),
    "other_item": ("", "000101", "000102", "000103", "999999"),
}
UNITS = ("", PLANNED_UNITS - 1, PLANNED_UNITS, PLANNED_UNITS + 1)
KIND_OF = {
    "label_mismatch": "label",
    "label_missing": "label",
    "tag_missing": "tag",
    "tag_asked": "tag",
    "tag_mismatch": "tag",
    "item_missing": "item",
    "item_short": "item",
    "item_other": "item",
}

Told = dict[str, object]


def all_told() -> Iterator[Told]:
    """Every combination of choices, each with every pair of codes, with units, and with all three."""
    for chosen in itertools.product(*CHOICES.values()):
        told: Told = dict(zip(CHOICES, chosen, strict=True))
        for tag_code, other_item in itertools.product(*CODES.values()):
            yield {**told, "tag_code": tag_code, "other_item": other_item, "units": ""}
        for units in UNITS[1:]:
            yield {**told, "tag_code": "", "other_item": "", "units": units}
        for other_item in ("000102", "000103"):
            yield {**told, "tag_code": "000103", "other_item": other_item, "units": PLANNED_UNITS - 1}


CASES = list(all_told())


def program_of(count: int) -> Program:
    """As many positions as there are cases, Lids planned at each."""
    positions = [Position(face="A", shelf=n // 500 + 1, place=n % 500 + 1, item="Lids", units=6) for n in range(count)]
    labels = (Label(brand="Pellwood"), Label(brand="Quarnby"))
    return Program(settings=SETTINGS, positions=tuple(positions), items=ITEMS, labels=labels)


PROGRAM = program_of(len(CASES))


def states(cases: list[Told], built: str = "yes") -> list[str]:
    """What the state formulas show for these answers, evaluated in one book."""
    program = program_of(len(cases))
    layout = plan_return(program, default_contract(), SHEET)
    codes = f"='{LISTS}'!$A$1:$A${len(ITEMS)}"
    lists = ListSheet(None, {"item_codes": codes, "item_brands": codes.replace("$A", "$B")})
    formulas = StateFormulas(layout, WORDS, lists, WORKINGS)
    model = ironcalc.create("book", "en", "UTC", "en")
    model.rename_sheet(0, SHEET)
    model.add_sheet(LISTS)
    model.add_sheet(WORKINGS)
    for row, item in enumerate(ITEMS, start=1):
        model.update_cell_with_text(1, row, 1, item.item_code)
        model.update_cell_with_text(1, row, 2, item.brand)
    model.update_cell_with_text(0, layout.visit_rows["built"] + 1, layout.visit.value_index + 1, built)
    columns = layout.positions.columns
    for number, (position, told) in enumerate(zip(program.walk, cases, strict=True)):
        row = layout.position_rows[position.key] + 1
        planned = {"item_code": ITEMS[0].item_code, "brand": ITEMS[0].brand}
        for field, value in (planned | told).items():
            if isinstance(value, int):
                model.update_cell_with_number(0, row, columns[field] + 1, value)
            elif value:
                model.update_cell_with_text(0, row, columns[field] + 1, value)
        steps = formulas.steps(position, ITEMS[0], number)
        for column, key in enumerate(STEPS, start=1):
            model.update_cell_with_formula(2, number + 1, column, f"={steps[key].formula}")
        model.update_cell_with_formula(0, row, columns["state"] + 1, formulas.shown(number))
    model.evaluate()
    return [shown(model, layout, position) for position in program.walk]


def shown(model: ironcalc.Model, layout: ReturnLayout, position: Position) -> str:
    """The text in a position's state cell."""
    place = a1(layout.position_rows[position.key], layout.positions.columns["state"])
    return str(model.get_cell_value_by_ref(f"{SHEET}!{place}"))


def flags(cases: list[Told]) -> tuple[list[set[str]], list[bool]]:
    """The program's flags of each case, and whether it counts as right."""
    program = program_of(len(cases))
    tables = Answers([]).tables
    positions = [
        {KEY: position.key, **{name: value for name, value in told.items() if value != ""}}
        for position, told in zip(program.walk, cases, strict=True)
    ]
    tables["positions"] = filled(tables["positions"], "positions", positions)
    tables["visit"] = filled(tables["visit"], "visit", [{"built": "yes"}])
    raised, judged = flag_returns(tables, program)
    kinds: dict[str, set[str]] = {position.key: set() for position in program.walk}
    for key, kind in raised.filter(pl.col("position") != "").select("position", "kind").iter_rows():
        kinds[key].add(kind)
    right = dict(judged.select(KEY, "right").iter_rows())
    return [kinds[position.key] for position in program.walk], [right[position.key] for position in program.walk]


def filled(empty: pl.DataFrame, block: str, rows: list[Told]) -> pl.DataFrame:
    """Rows of one return in a table's own shape; what is not given is blank, and nothing is marked."""
    fields = default_contract().field_book.block(block).by_key
    marks = {name: "" for name, kind in empty.schema.items() if kind == pl.String and name not in fields}
    made = [{RETURN: 1, **marks, **row} for row in rows]
    return pl.DataFrame([{name: row.get(name) for name in empty.columns} for row in made], schema=empty.schema)


@pytest.fixture(scope="module")
def judged() -> list[tuple[Told, str, set[str], bool]]:
    """Every case with the state shown, the flags raised, and whether the program counts it as right."""
    return list(zip(CASES, states(CASES), *flags(CASES), strict=True))


def test_all_combinations_of_choices_are_tried() -> None:
    """300 combinations of choices, each with codes and units."""
    assert len({tuple(case[field] for field in CHOICES) for case in CASES}) == 3 * 4 * 5 * 5
    assert len(CASES) == 300 * (3 * 5 + 3 + 2)


def test_right_is_shown_exactly_where_the_program_counts_right(judged) -> None:
    """The mark of "right" stands for no flag, and no flag for the mark."""
    for told, state, kinds, right in judged:
        assert state.startswith("✓") == right == (not kinds), (told, state, kinds)


def test_to_do_is_shown_exactly_where_nothing_is_filled_in(judged) -> None:
    """A position is to do until something is answered; one told in part says what is missing."""
    for told, state, kinds, _ in judged:
        assert (state == WORDS("state.todo")) == (not any(map(str, told.values()))), told
        if state.startswith("○"):
            assert kinds == {"not_reported"}, (told, state)


def test_what_is_wrong_is_named(judged) -> None:
    """Where the state says "look again", it names label, tag or item exactly as the flags do."""
    again, clash = WORDS("state.again"), WORDS("state.clash")
    for told, state, kinds, _ in judged:
        named = {KIND_OF[kind] for kind in kinds if kind in KIND_OF}
        if not state.startswith((again, clash)):
            assert not named or state.startswith(WORDS("state.which")), (told, state, kinds)
            continue
        reasons = state.removeprefix(again).removeprefix(clash).partition("–")[0].split()
        assert set(reasons) == named, (told, state, kinds)
        assert state.startswith(clash) == (told["as_planned"] == "yes")


def test_what_is_not_told_is_named(judged) -> None:
    """Where the state says "still to tell", it names what is blank."""
    for told, state, _, _ in judged:
        if state.startswith(WORDS("state.told_in_part")):
            blank = {
                name for name, field in (("label", "label"), ("tag", "tag"), ("item", "product")) if not told[field]
            }
            assert set(state.removeprefix(WORDS("state.told_in_part")).partition("–")[0].split()) == blank, told


def test_another_item_without_its_code_asks_for_it(judged) -> None:
    """The state asks which item stands there."""
    for told, state, _, _ in judged:
        if told["product"] == "other item" and not told["other_item"] and told["as_planned"] != "yes":
            assert state.startswith(WORDS("state.which")), told


def test_slips_that_are_no_flag_are_asked_about(judged) -> None:
    """A code nobody asked for, a code on a tag that is not there, and units that do not fit."""
    for told, state, _, _ in judged:
        other, units = told["other_item"], told["units"]
        strange = bool(other) and (told["product"] != "other item" or other in ("000101", "999999"))
        tagless = bool(told["tag_code"]) and told["tag"] in ("asked store", "store cannot print", "no tag")
        odd = units != "" and (units > PLANNED_UNITS or (told["product"] == "short" and units >= PLANNED_UNITS))
        asked = {"check_other": strange, "check_tag_code": tagless, "check_units": odd}
        assert {key: WORDS(f"state.{key}") in state for key in asked} == asked, (told, state)


def test_a_display_that_is_not_built_asks_for_nothing() -> None:
    """Blank positions of a display that is not built are not asked for; told ones are judged all the same."""
    blank: Told = dict.fromkeys((*CHOICES, *CODES, "units"), "")
    assert states([blank, {**blank, "as_planned": "yes"}], built="no") == [
        WORDS("state.not_asked"),
        WORDS("state.right"),
    ]


def test_spaces_around_a_code_do_no_harm() -> None:
    """Tablets add a space after a word; the code is the same."""
    told: Told = {**dict.fromkeys((*CHOICES, *CODES, "units"), ""), "as_planned": "yes", "tag_code": "000101 "}
    assert states([told]) == [WORDS("state.right")]


def test_a_sign_that_stands_for_others_is_no_code() -> None:
    """Somebody who does not know the code types * or ?: it is asked about like any code that is none of the program."""
    asked = dict.fromkeys((*CHOICES, *CODES, "units"), "") | {"as_planned": "no", "tag": "on tray"}
    typed = [{**asked, "product": "other item", "other_item": code} for code in ("*", "??????", "0001?1", "999999")]
    assert len(set(states(typed))) == 1
