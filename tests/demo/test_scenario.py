"""The invented program of the demo is a setup that an old hand would pass, and cannot be taken for a real one."""

import datetime as dt
import math
import re
from collections import Counter, defaultdict
from fractions import Fraction

import pytest
from stdnum import ean

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import languages
from workbook_tools.demo.scenario import scenario

Rows = list[dict[str, object]]

SETUP = default_contract().setup
NO_BOARDS = {"Support bar", "Locking clip", "Envelope of brand labels"}
OF_FREE_BLOCKS = [block.key for block in SETUP.blocks if block.rows == "free"]


@pytest.fixture(scope="module")
def blocks() -> dict[str, Rows]:
    """The rows of the demo program."""
    return scenario().blocks


@pytest.fixture(scope="module")
def program(blocks: dict[str, Rows]) -> dict[str, object]:
    """Its one row of settings."""
    return blocks["program"][0]


def exact(value: object) -> Fraction:
    """A number as it is written, not as floating point keeps it."""
    return Fraction(str(value))


def by(rows: Rows, key: str) -> dict[object, dict[str, object]]:
    """Rows by the value of a column."""
    return {row[key]: row for row in rows}


def test_has_the_blocks_of_the_setup_and_no_other(blocks: dict[str, Rows]) -> None:
    """Every setup block of the contract has rows."""
    assert set(blocks) == {block.key for block in SETUP.blocks}


@pytest.mark.parametrize("key", [block.key for block in SETUP.blocks])
def test_every_row_has_exactly_the_columns_of_its_block(key: str, blocks: dict[str, Rows]) -> None:
    """No key is missing, none is strange."""
    columns = [field.key for field in SETUP.block(key).fields if field.source != "formula"]
    assert [sorted(row) for row in blocks[key]] == [sorted(columns)] * len(blocks[key])


@pytest.mark.parametrize("key", OF_FREE_BLOCKS)
def test_what_must_be_unique_or_told_is(key: str, blocks: dict[str, Rows]) -> None:
    """Required cells are filled, unique columns and the identity of rows never repeat, patterns match."""
    block, rows = SETUP.block(key), blocks[key]
    for field in (one for one in block.fields if one.source != "formula"):
        values = [row[field.key] for row in rows]
        if field.required:
            assert all(value not in ("", None) for value in values), field.key
        if field.unique:
            assert len(set(values)) == len(values), field.key
        if field.pattern:
            assert all(re.fullmatch(field.pattern, str(value)) for value in values), field.key
    assert len({tuple(row[part] for part in block.identity) for row in rows}) == len(rows)


@pytest.mark.parametrize(
    ("block", "rows"),
    [
        ("shelves", 12),
        ("positions", 36),
        ("items", 33),
        ("labels", 9),
        ("parts", 11),
        ("steps", 10),
        ("stores", 60),
        ("merchandisers", 9),
    ],
)
def test_has_the_size_of_a_small_real_program(block: str, rows: int, blocks: dict[str, Rows]) -> None:
    """60 stores and nine merchandisers, 36 positions, 33 items of nine brands."""
    assert len(blocks[block]) == rows


def test_three_faces_of_four_shelves_of_three_places(blocks: dict[str, Rows]) -> None:
    """All places are set, all shelves described."""
    standing = {(row["face"], row["shelf"], row["place"]) for row in blocks["positions"]}
    described = {(row["face"], row["shelf"]) for row in blocks["shelves"]}
    assert standing == {(face, shelf, place) for face in "ABC" for shelf in (1, 2, 3, 4) for place in (1, 2, 3)}
    assert described == {(face, shelf) for face in "ABC" for shelf in (1, 2, 3, 4)}


def test_the_window_holds_the_demos_today_and_is_not_over(program: dict[str, object]) -> None:
    """The demo looks at its roll-up on 25 November 2026."""
    assert (program["starts"], program["due"]) == (dt.date(2026, 11, 2), dt.date(2026, 11, 29))
    assert program["starts"] <= dt.date(2026, 11, 25) < program["due"]


def test_choices_are_those_of_the_contract(program: dict[str, object]) -> None:
    """Units and photos are told by their keys."""
    choices = default_contract().choices
    assert program["units"] == "in, lb"
    assert program["units"] in choices["units"].keys
    assert program["photos"] in choices["photos"].keys


def test_gtins_are_valid_by_an_independent_judge(blocks: dict[str, Rows]) -> None:
    """Judge: python-stdnum."""
    assert [row["gtin"] for row in blocks["items"] if not ean.is_valid(str(row["gtin"]))] == []


def test_gtins_can_never_be_those_of_a_real_item(blocks: dict[str, Rows]) -> None:
    """GS1 keeps prefix 952 for examples; UPC number systems 2 and 4 and GTIN-8 from 2 are for use within a chain."""
    reserved = {13: "952", 12: "24", 8: "2"}
    gtins = [str(row["gtin"]) for row in blocks["items"]]
    assert all(gtin.startswith("952") if len(gtin) == 13 else gtin[0] in reserved[len(gtin)] for gtin in gtins)
    assert Counter(len(gtin) for gtin in gtins) == {13: 27, 12: 4, 8: 2}
    assert {gtin[0] for gtin in gtins if len(gtin) == 12} == {"2", "4"}


def test_codes_and_store_numbers_are_text_that_a_spreadsheet_would_shorten(blocks: dict[str, Rows]) -> None:
    """They begin with 0, and differ as numbers too."""
    codes = [row["item_code"] for row in blocks["items"]]
    stores = [row["store"] for row in blocks["stores"]]
    assert all(isinstance(code, str) and re.fullmatch(r"0\d{5}", code) for code in codes)
    assert all(isinstance(store, str) and re.fullmatch(r"0\d{4}", store) for store in stores)
    assert len({int(str(code)) for code in codes}) == len(codes)


def test_every_reference_leads_somewhere_and_nothing_stands_unused(blocks: dict[str, Rows]) -> None:
    """Items, brands and merchandisers are all known and all used."""
    items = {row["item"] for row in blocks["items"]}
    brands = {row["brand"] for row in blocks["labels"]}
    people = {row["merchandiser"] for row in blocks["merchandisers"]}
    assert {row["item"] for row in blocks["positions"]} == items
    assert {row["brand"] for row in blocks["items"]} == brands
    assert {row["merchandiser"] for row in blocks["stores"]} == people


def test_some_items_stand_on_more_than_one_position(blocks: dict[str, Rows]) -> None:
    """Three items stand twice."""
    counts = Counter(row["item"] for row in blocks["positions"])
    assert sorted(count for count in counts.values() if count > 1) == [2, 2, 2]


def test_substitutes_are_other_items_of_the_program(blocks: dict[str, Rows]) -> None:
    """Lists part at `; `, which no item name holds."""
    items = {row["item"] for row in blocks["items"]}
    named = [(row["item"], one) for row in blocks["items"] for one in str(row["substitutes"]).split("; ") if one]
    assert len(named) >= 10
    assert all(one in items and one != item for item, one in named)
    assert not any(";" in str(item) for item in items)


def test_units_are_what_stands_there(blocks: dict[str, Rows]) -> None:
    """Units are facings times deep times high."""
    assert all(row["units"] == row["facings"] * row["deep"] * row["high"] for row in blocks["positions"])


def test_goods_fit_their_tray_and_fill_most_of_its_width(blocks: dict[str, Rows]) -> None:
    """Trays of a shelf are equally wide; exact arithmetic, so that five of 1.6 in a tray of 8 would fit."""
    items = by(blocks["items"], "item")
    shelves = {(row["face"], row["shelf"]): row for row in blocks["shelves"]}
    for row in blocks["positions"]:
        item, shelf = items[row["item"]], shelves[row["face"], row["shelf"]]
        wide, tray = exact(row["facings"]) * exact(item["width"]), exact(shelf["width"]) / 3
        assert Fraction(3, 4) * tray <= wide <= tray, row
        assert exact(row["deep"]) * exact(item["depth"]) <= exact(shelf["depth"]), row
        assert exact(row["high"]) * exact(item["height"]) <= exact(shelf["height"]), row


def test_no_shelf_bears_more_than_its_load(blocks: dict[str, Rows]) -> None:
    """The goods of each shelf weigh at most what it bears."""
    items = by(blocks["items"], "item")
    weight: dict[tuple[object, object], Fraction] = defaultdict(Fraction)
    for row in blocks["positions"]:
        weight[row["face"], row["shelf"]] += exact(row["units"]) * exact(items[row["item"]]["weight"])
    assert all(0 < weight[row["face"], row["shelf"]] <= exact(row["load"]) for row in blocks["shelves"])


def test_the_label_kit_has_one_a_tray_and_spares(blocks: dict[str, Rows]) -> None:
    """One label a tray and one or two spare ones, for each brand."""
    items = by(blocks["items"], "item")
    needed = Counter(items[row["item"]]["brand"] for row in blocks["positions"])
    assert sum(needed.values()) == 36
    assert all(needed[row["brand"]] < row["packed"] <= needed[row["brand"]] + 2 for row in blocks["labels"])


def test_the_parts_make_the_display(blocks: dict[str, Rows]) -> None:
    """There is a tray for each position and a shelf for each shelf described."""
    parts = {str(row["name"]): row["quantity"] for row in blocks["parts"]}
    assert parts["Tray, wide, 9 x 9 in"] + parts["Tray, narrow, 6 x 12 in"] == len(blocks["positions"])
    assert parts["Shelf, wide, 27 x 9 in"] + parts["Shelf, narrow, 18 x 12 in"] == len(blocks["shelves"])


def test_the_carton_takes_the_display_flat(blocks: dict[str, Rows], program: dict[str, object]) -> None:
    """The tallest wall, four clear heights and four shelves of 1 in, lies flat; so do all boards of 1/8 in, stacked."""
    wall = sum(exact(row["height"]) for row in blocks["shelves"] if row["face"] == "A") + 4
    wide = max(exact(row["width"]) for row in blocks["shelves"])
    boards = sum(row["quantity"] for row in blocks["parts"] if row["name"] not in NO_BOARDS)
    assert wall <= program["carton_length"]
    assert wide <= program["carton_width"]
    assert boards * Fraction(1, 8) <= program["carton_height"]


def test_the_carton_is_the_one_that_a_person_slides(program: dict[str, object]) -> None:
    """A flat carton of about 46 x 32 in and 30 lb is slid, not carried, by one person (common practice, no source)."""
    assert [program[f"carton_{side}"] for side in ("length", "width", "weight")] == [46, 32, 30]


def test_steps_are_in_order_and_take_as_long_as_a_visit(blocks: dict[str, Rows], program: dict[str, object]) -> None:
    """Ten steps, each told in full, sum to the minutes of a visit."""
    assert [row["step"] for row in blocks["steps"]] == list(range(1, 11))
    assert sum(row["minutes"] for row in blocks["steps"]) == program["visit_minutes"]
    assert all(row["do"] and row["watch_out"] and row["picture"] for row in blocks["steps"])


def test_places_are_told_apart(program: dict[str, object]) -> None:
    """The preferred place and three others."""
    places = [program["place"], *str(program["other_places"]).split("; ")]
    assert len(set(places)) == len(places) == 4


def test_everyone_has_stores_close_together_and_the_hours_for_them(
    blocks: dict[str, Rows], program: dict[str, object]
) -> None:
    """Each serves 5 to 7 stores of one district and has the minutes for them, with half an hour of way to each."""
    hours = {row["merchandiser"]: row["hours"] for row in blocks["merchandisers"]}
    counts = Counter(row["merchandiser"] for row in blocks["stores"])
    assert set(counts.values()) <= {5, 6, 7}
    assert all(counts[person] * (program["visit_minutes"] + 30) <= hours[person] * 60 for person in counts)
    assert len({(row["merchandiser"], row["district"]) for row in blocks["stores"]}) == 9
    assert len({row["district"] for row in blocks["stores"]}) == 5


def test_people_read_three_languages_as_far_as_there_are_words(blocks: dict[str, Rows]) -> None:
    """Five English, two Spanish, two French; where a words file is missing the language stays blank."""
    spoken = {"en": 5, "es": 2, "fr": 2}
    known = {language: count for language, count in spoken.items() if language in languages()}
    counts = Counter(row["language"] for row in blocks["merchandisers"])
    assert {language: count for language, count in counts.items() if language} == known
    assert counts[""] == 9 - sum(known.values())


def test_a_language_with_words_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """With words files for all three, nobody's language is blank."""
    monkeypatch.setattr("workbook_tools.demo.scenario.languages", lambda: ("en", "es", "fr"))
    spoken = Counter(row["language"] for row in scenario().blocks["merchandisers"])
    assert spoken == {"en": 5, "es": 2, "fr": 2}


def test_no_one_can_be_called_or_written_to(blocks: dict[str, Rows], program: dict[str, object]) -> None:
    """Phones are of the range kept for fiction, each used once; mail goes to the domains kept for examples."""
    phones = [row["phone"] for row in [program, *blocks["merchandisers"], *blocks["stores"]]]
    mails = [str(row["email"]) for row in [program, *blocks["merchandisers"]]]
    assert all(re.fullmatch(r"555-01\d\d", str(phone)) for phone in phones)
    assert len(set(phones)) == len(phones)
    assert all(re.fullmatch(r"[a-z.-]+@example\.(com|org)", mail) for mail in mails)


def test_stores_lie_in_the_open_atlantic_and_their_towns_together(blocks: dict[str, Rows]) -> None:
    """West of the Azores (31.3 W) and east of Newfoundland (52.6 W) there is no land between 40 N and 50 N (MEM)."""
    towns = defaultdict(list)
    for row in blocks["stores"]:
        assert 43 < row["latitude"] < 46
        assert -41 < row["longitude"] < -38
        towns[row["city"]].append((row["latitude"], row["longitude"]))
    assert len(towns) == 14
    assert all(math.dist(one, other) < 0.2 for places in towns.values() for one in places for other in places)


def test_a_stores_address_is_its_own(blocks: dict[str, Rows]) -> None:
    """No two stores share a number, name or street."""
    for key in ("store", "name", "street"):
        assert len({row[key] for row in blocks["stores"]}) == 60, key
    assert all(re.fullmatch(r"Q\d\d-[A-P]\d\d", str(row["postcode"])) for row in blocks["stores"])


def test_every_item_and_step_has_a_picture_name_that_is_legal_everywhere(blocks: dict[str, Rows]) -> None:
    """Plain lower-case names, each used once."""
    names = [str(row["picture"]) for row in [*blocks["items"], *blocks["steps"]]]
    assert len(set(names)) == len(names) == 43
    assert all(re.fullmatch(r"[a-z0-9-]+\.png", name) for name in names)


def test_the_same_seed_gives_the_same_program() -> None:
    """The seed is 1 unless told."""
    assert scenario(7) == scenario(7)
    assert scenario() == scenario(1)


@pytest.mark.parametrize("seed", range(2, 12))
def test_another_seed_gives_other_stores_of_the_same_program(seed: int) -> None:
    """Only the stores change, and their numbers and phones never repeat."""
    one, other = scenario(1).blocks, scenario(seed).blocks
    assert {key: rows for key, rows in one.items() if key != "stores"} == {
        key: rows for key, rows in other.items() if key != "stores"
    }
    assert one["stores"] != other["stores"]
    assert len({row["store"] for row in other["stores"]}) == len({row["phone"] for row in other["stores"]}) == 60


def test_changing_a_program_does_not_change_the_next_one() -> None:
    """Each call makes its own rows."""
    scenario().blocks["items"][0]["item"] = "something else"
    assert scenario().blocks["items"][0]["item"] == "Vanilla extract, 4 fl oz"
