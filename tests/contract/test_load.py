"""A definition that is written wrong is refused when it is loaded, and the message names file, place and slip."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.contract.conftest import Templates
from workbook_tools.contract.load import default_contract, load_contract, templates_folder, templates_from
from workbook_tools.contract.look import load_look
from workbook_tools.errors import DefinitionError

STORE = (
    '{ key = "store",        type = "code",   required = true, unique = true, width = 130, example = "Example: 00417" }'
)
LATITUDE = 'key = "latitude",     type = "number", minimum = -90, maximum = 90,'


def _refusal(folder: Path) -> str:
    with pytest.raises(DefinitionError) as refused:
        load_contract(folder)
    return str(refused.value)


def test_the_contract_that_ships_is_in_order() -> None:
    """Every setup block of the design is defined, and so are the four blocks of a field book."""
    contract = load_contract(templates_folder())
    assert [block.key for block in contract.setup.blocks] == [
        "program", "shelves", "positions", "items", "labels", "parts", "steps", "stores", "merchandisers",
    ]  # fmt: skip
    assert {block.key for block in contract.field_book.blocks} == {"visit", "positions", "parts", "book"}
    assert contract.field_book.sheet_of("book").visibility == "very hidden"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (STORE, STORE.replace("required", "requird"), "unknown name 'requird'; did you mean 'required'?"),
        (STORE, STORE.replace("width", "breadth"), "unknown name 'breadth'"),
        (STORE, STORE.replace('"code"', '"cod"'), "type: 'cod' is not one of text, code, gtin"),
        (STORE, STORE.replace('type = "code", ', ""), "type: is missing; give one of text, code, gtin"),
        (STORE, STORE.replace('"code"', '"choice"'), "choices: is missing; give one of yes_no"),
        (STORE, STORE.replace('"code"', '"choice", choices = "photoes"'), "'photoes' is not one of"),
        (STORE, STORE.replace('"code"', '"choice", choices = "photoes"'), "; did you mean 'photos'?"),
        (STORE, STORE.replace('"code"', '"code", choices = "photos"'), "choices goes with type choice, not 'code'"),
        (STORE, STORE.replace('"code"', '"code", free = true'), "free goes with type choice, not 'code'"),
        (STORE, STORE.replace('"code"', '"code", pattern = "[0-9"'), "pattern is not a regular expression"),
        (STORE, STORE.replace('"code"', '"date", pattern = "x"'), "pattern goes with type text or code or gtin"),
        (STORE, STORE.replace('"code"', '"code", minimum = 1'), "minimum goes with type integer or number, not 'code'"),
        (STORE, STORE.replace('"code"', '"list", maximum = 9'), "maximum goes with type integer or number or text"),
        (STORE, STORE.replace('"code"', '"code", refers = "store.store"'), "refers: 'store.store' is not one of"),
        (STORE, STORE.replace('"code"', '"code", refers = "store.store"'), "; did you mean 'stores.store'?"),
        (STORE, STORE.replace('"code"', '"code", source = "stempel"'), "source: 'stempel' is not one of"),
        (STORE, STORE.replace('"code"', '"code", index = 2'), "block 'stores', index: 2 stands twice"),
        (STORE, STORE.replace('"code"', '"code", index = 0'), "index 0 is not right of the key column, column A"),
        (STORE, STORE.replace("true, unique", '"yes", unique'), "required: 'yes' is not true or false"),
        (STORE, STORE.replace("130", "true"), "width: True is not a whole number"),
        (STORE, STORE.replace("130", '"wide"'), "width: 'wide' is not a whole number"),
        (STORE, STORE.replace('"Example: 00417"', "417"), "example: 417 is not a text"),
        (LATITUDE, LATITUDE.replace("-90,", '"90",'), "minimum: '90' is not a number"),
        (LATITUDE, LATITUDE.replace("-90", "91"), "minimum 91 is above maximum 90"),
        (LATITUDE, LATITUDE.replace("minimum", "above = 0, minimum"), "has both minimum and above; keep one"),
        (LATITUDE, LATITUDE.replace("minimum = -90", "above = 90.5"), "above 90.5 is above maximum 90"),
    ],
)  # fmt: skip
def test_a_wrong_field_is_refused(templates: Templates, old: str, new: str, said: str) -> None:
    """The message says which file, block and field it is, what is wrong, and what was probably meant."""
    templates.edit("setup.toml", old, new)
    message = _refusal(templates.folder)
    assert message.startswith("setup.toml, ")
    assert "'stores'" in message
    assert said in message


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("setup.toml", STORE, STORE.replace('"store"', '"name"'), "block 'stores', fields: 'name' stands twice"),
        ("setup.toml", STORE, STORE.replace('"store"', '"Store no"'), "field 'Store no': needs a key of small letters"),
        ("setup.toml", STORE, STORE.replace('key = "store", ', ""), "field None: needs a key of small letters"),
        ("setup.toml", STORE, '"store"', "field None: needs a key"),
        ("setup.toml", 'identity = ["store"]', 'identity = ["stor"]', "identity: 'stor' is not one of store"),
        ("setup.toml", 'identity = ["store"]', 'identity = "store"', "identity: 'store' is not a list"),
        ("setup.toml", 'identity = ["store"]', 'value_column = "value"', "value_column goes with fixed rows only"),
        ("setup.toml", 'value_column = "value"\n', "", "block 'program': rows are fixed, so value_column must name"),
        ("setup.toml", 'rows = "fixed"', 'rows = "fix"', "rows: 'fix' is not one of fixed, free, keyed; did you mean"),
        ("setup.toml", 'rows = "fixed"\n', "", "block 'program', rows: is missing; give one of fixed, free, keyed"),
        ("setup.toml", "width = 330", "value_index = 0", "'value': index 0 is not right of the key column"),
        ("setup.toml", "width = 330", "widht = 330", "unknown name 'widht'; did you mean 'width'?"),
        ("setup.toml", 'key = "steps"\n[[sheets', 'key = "parts"\n[[sheets', "sheets: 'parts' stands twice"),
        ("setup.toml", 'key = "steps"\nrows', 'key = "parts"\nrows', "blocks: 'parts' stands twice"),
        ("setup.toml", 'key = "steps"\n[[sheets', 'key = "steps"\nrows = 1\n[[sheets', "sheet 'steps': unknown name"),
        ("field_book.toml", '"very hidden"', '"veryhidden"', "'veryhidden' is not one of visible, hidden, very"),
        ("field_book.toml", "index = 7", "index = 6", "block 'parts', index: 6 stands twice"),
        ("choices.toml", 'keys = ["set", ', 'keys = ["none", ', "product.keys: 'none' stands twice"),
        ("choices.toml", 'source = "stores"', 'source = "shops"', "store.source: 'shops' is not one of brands, places"),
        ("choices.toml", 'source = "stores"', 'sorce = "stores"', "unknown name 'sorce'; did you mean 'source'?"),
        ("choices.toml", '{ source = "stores" }', "{ }", "store: has neither keys nor a source"),
        ("choices.toml", '{ source = "stores" }', '"stores"', "store: 'stores' is not a table"),
        ("choices.toml", 'keys = ["set", ', "keys = [1, ", "product.keys: [1, 'short', 'none',"),
        ("rules.toml", '"must mend"\nnot_a_code', '"must fix"\nnot_a_code', "not_readable: 'must fix' is not one of"),
        ("rollup.toml", 'tag_asked      = "store"', 'tag_asked      = "shop"', "flags.tag_asked: 'shop' is not one of"),
        ("rollup.toml", "[states]\norder", "[states]\nordre", "states.order: None is not a list of texts"),
        ("rollup.toml", "[outcomes]", "[outcome]", "unknown name 'outcome'; did you mean 'outcomes'?"),
        ("rollup.toml", '"merged", "to correct"', '"merged", "merged"', "outcomes.order: 'merged' stands twice"),
    ],
)  # fmt: skip
def test_a_wrong_definition_is_refused(templates: Templates, file: str, old: str, new: str, said: str) -> None:
    """Blocks, sheets, choices, rules and tables are held to the same: file, place, slip."""
    templates.edit(file, old, new)
    message = _refusal(templates.folder)
    assert message.startswith(f"{file}, ")
    assert said in message


def test_a_file_that_is_missing_or_no_toml_is_named(templates: Templates) -> None:
    """A missing file is named with its folder, a broken one with the line."""
    templates.write("rules.toml", 'required = "must mend\n')
    assert "rules.toml is not valid TOML: " in _refusal(templates.folder)
    assert "line 1" in _refusal(templates.folder)
    (templates.folder / "choices.toml").unlink()
    assert _refusal(templates.folder) == f"choices.toml is missing from {templates.folder}"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('ink          = "1B2430"', 'ink          = "#1B2430"', "colours: '#1B2430' is not a colour written RRGGBB"),
        ('ink          = "1B2430"', "ink          = 112233", "colours: 112233 is not a colour written RRGGBB"),
        ('fill = "C9CED6"', 'fyll = "C9CED6"', "'fyll'"),
        ('font     = "Arial"\n', "", "'font' is missing or unknown"),
        ("[sizes]", "[size]", "'sizes' is missing or unknown"),
    ],
)
def test_a_wrong_look_is_refused(templates: Templates, old: str, new: str, said: str) -> None:
    """Colours are RRGGBB and every section is there, or look.toml is refused."""
    templates.edit("look.toml", old, new)
    with pytest.raises(DefinitionError, match=r"^look\.toml") as refused:
        load_look(templates.folder)
    assert said in str(refused.value)


def test_another_contract_is_used_only_while_asked_for(templates: Templates) -> None:
    """`templates_from` puts another folder in the place of the one that ships, and takes it back, error or not."""
    templates.edit("rollup.toml", '"superseded", ', "")
    shipped = default_contract()
    with pytest.raises(ZeroDivisionError), templates_from(templates.folder):
        assert default_contract().outcomes == ("merged", "to correct", "duplicate", "set aside")
        raise ZeroDivisionError
    assert default_contract() is shipped
