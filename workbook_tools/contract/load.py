"""templates_src → the typed contract; a definition that is written wrong is refused here, with file and place."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import fields
from functools import lru_cache
from pathlib import Path
from typing import Any, get_origin, get_type_hints

from workbook_tools.contract.model import (
    FIELD_SOURCES,
    FIELD_TYPES,
    FLAG_OWNERS,
    KEY_COLUMN,
    MEASURES,
    ROW_KINDS,
    SEVERITIES,
    VISIBILITIES,
    Block,
    ChoiceList,
    Contract,
    Field,
    Sheet,
    WorkbookForm,
)
from workbook_tools.errors import DefinitionError

CHOICE_SOURCES = ("brands", "places", "stores", "merchandisers", "languages")
_KEY = re.compile(r"[a-z][a-z0-9_]*")
_FITTING_TYPES = {
    "choices": ("choice",),
    "free": ("choice",),
    "pattern": ("text", "code", "gtin"),
    "minimum": ("integer", "number"),
    "maximum": ("integer", "number", "text", "code"),
    "above": ("integer", "number"),
    "measure": ("number",),
}
"""What narrows a field → the types it goes with."""
_CALLED = {str: "a text", bool: "true or false", int: "a whole number", float: "a number", list: "a list"}
_templates: ContextVar[Path | None] = ContextVar("templates", default=None)


def templates_folder() -> Path:
    """Where the contract lies: the folder of `templates_from` while that is in use, else what this program ships."""
    return _templates.get() or _shipped_templates()


@contextmanager
def templates_from(folder: Path) -> Iterator[None]:
    """Take contract, words and look from another folder until the block ends, in this thread or task only."""
    before = _templates.set(folder)
    try:
        yield
    finally:
        _templates.reset(before)


def default_contract() -> Contract:
    """The contract in `templates_folder()`. Raises DefinitionError as `load_contract` does."""
    return _loaded(templates_folder())


@lru_cache(maxsize=8)
def _loaded(folder: Path) -> Contract:
    return load_contract(folder)


@lru_cache(maxsize=1)
def _shipped_templates() -> Path:
    """Inside an installed package, or beside it in a source tree."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "templates_src"
    return inside if inside.is_dir() else package.parent / "templates_src"


def load_contract(folder: Path) -> Contract:
    """Read every definition in `folder`.

    Raises DefinitionError naming the file, the place in it and the probable slip.
    """
    choices = _load_choices(folder / "choices.toml")
    setup = _load_workbook(folder / "setup.toml", choices)
    field_book = _load_workbook(folder / "field_book.toml", choices)
    rules = read_toml(folder / "rules.toml")
    for name, severity in rules.items():
        _one_of("rules.toml", name, severity, SEVERITIES)
    return Contract(
        setup=setup, field_book=field_book, choices=choices, rules=rules, **_load_rollup(folder / "rollup.toml")
    )


def read_toml(path: Path) -> dict[str, Any]:
    """One TOML file as a dict. Raises DefinitionError when it is missing or not TOML."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise DefinitionError(f"{path.name} is missing from {path.parent}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as slip:
        raise DefinitionError(f"{path.name} is not valid TOML: {slip}") from None


def _load_choices(path: Path) -> dict[str, ChoiceList]:
    lists = {}
    for name, table in read_toml(path).items():
        _known_names(path.name, name, table, ("keys", "source"))
        if "source" in table:
            _one_of(path.name, f"{name}.source", table["source"], CHOICE_SOURCES)
        keys = _texts(path.name, f"{name}.keys", table.get("keys", []))
        if not keys and "source" not in table:
            raise DefinitionError(f"{path.name}, {name}: has neither keys nor a source, so there is nothing to pick")
        lists[name] = ChoiceList(key=name, keys=keys, source=table.get("source", ""))
    return lists


def _load_rollup(path: Path) -> dict[str, Any]:
    table = read_toml(path)
    parts = ("tables", "flags", "states", "outcomes")
    _known_names(path.name, "top level", table, parts)
    for part in parts:
        _known_names(path.name, part, table.get(part, {}), table.get(part, {}))
    for name, one in table.get("tables", {}).items():
        _known_names(path.name, f"tables.{name}", one, ("columns",))
    for kind, owner in table.get("flags", {}).items():
        _one_of(path.name, f"flags.{kind}", owner, FLAG_OWNERS)
    return {
        "tables": {
            name: _texts(path.name, f"tables.{name}.columns", one.get("columns"))
            for name, one in table.get("tables", {}).items()
        },
        "flag_owners": dict(table.get("flags", {})),
        "states": _texts(path.name, "states.order", table.get("states", {}).get("order")),
        "outcomes": _texts(path.name, "outcomes.order", table.get("outcomes", {}).get("order")),
    }


def _load_workbook(path: Path, choices: Mapping[str, ChoiceList]) -> WorkbookForm:
    table = read_toml(path)
    _known_names(path.name, "top level", table, ("sheets",))
    sheets = tuple(_load_sheet(path.name, sheet, choices) for sheet in table.get("sheets", ()))
    _no_duplicates(path.name, "sheets", [s.key for s in sheets])
    _no_duplicates(path.name, "blocks", [b.key for s in sheets for b in s.blocks])
    workbook = WorkbookForm(key=path.stem, sheets=sheets)
    for block in workbook.blocks:
        for one in block.fields:
            _check_reference(path.name, workbook, block, one)
    return workbook


def _load_sheet(file: str, table: Mapping[str, Any], choices: Mapping[str, ChoiceList]) -> Sheet:
    place = _place(file, "sheet", table)
    _shaped(file, place, table, Sheet)
    visibility = _one_of(file, place, table.get("visibility", "visible"), VISIBILITIES)
    blocks = tuple(_load_block(file, block, choices) for block in table.get("blocks", ()))
    return Sheet(key=table["key"], blocks=blocks, visibility=visibility)


def _load_block(file: str, table: Mapping[str, Any], choices: Mapping[str, ChoiceList]) -> Block:
    place = _place(file, "block", table)
    _shaped(file, place, table, Block)
    rows = _one_of(file, f"{place}, rows", table.get("rows"), ROW_KINDS)
    made = tuple(
        _load_field(file, place, one, number, choices) for number, one in enumerate(table.get("fields", ()), start=1)
    )
    _no_duplicates(file, f"{place}, fields", [f.key for f in made])
    identity = _texts(file, f"{place}, identity", table.get("identity", []))
    for name in identity:
        _one_of(file, f"{place}, identity", name, [f.key for f in made])
    options = {k: table[k] for k in ("value_column", "value_index", "width") if k in table}
    block = Block(key=table["key"], rows=rows, fields=made, identity=identity, **options)
    _check_columns(file, place, block)
    return block


def _check_columns(file: str, place: str, block: Block) -> None:
    """Every column stands right of the key column and holds one thing only."""
    if block.rows == "fixed" and not block.value_column:
        raise DefinitionError(f"{file}, {place}: rows are fixed, so value_column must name the column they stand in")
    if block.rows != "fixed" and block.value_column:
        raise DefinitionError(f"{file}, {place}: value_column goes with fixed rows only; here every field is a column")
    _no_duplicates(file, f"{place}, index", block.columns.values())
    for key, index in block.columns.items():
        if index <= KEY_COLUMN:
            raise DefinitionError(f"{file}, {place}, {key!r}: index {index} is not right of the key column, column A")


def _load_field(
    file: str, block: str, table: Mapping[str, Any], number: int, choices: Mapping[str, ChoiceList]
) -> Field:
    place = f"{block}, {_place(file, 'field', table)}"
    _shaped(file, place, table, Field)
    kind = _one_of(file, f"{place}, type", table.get("type"), FIELD_TYPES)
    _one_of(file, f"{place}, source", table.get("source", ""), FIELD_SOURCES)
    _one_of(file, f"{place}, measure", table.get("measure", ""), MEASURES)
    if kind == "choice":
        _one_of(file, f"{place}, choices", table.get("choices"), list(choices))
    for name, types in _FITTING_TYPES.items():
        if name in table and kind not in types:
            raise DefinitionError(f"{file}, {place}: {name} goes with type {' or '.join(types)}, not {kind!r}")
    try:
        re.compile(table.get("pattern", ""))
    except re.error as slip:
        raise DefinitionError(f"{file}, {place}: pattern is not a regular expression ({slip})") from None
    if "minimum" in table and "above" in table:
        raise DefinitionError(f"{file}, {place}: has both minimum and above; keep one")
    for name in ("minimum", "above"):
        if name in table and "maximum" in table and table[name] > table["maximum"]:
            raise DefinitionError(f"{file}, {place}: {name} {table[name]} is above maximum {table['maximum']}")
    return Field(**{"index": number, **table})


def _check_reference(file: str, workbook: WorkbookForm, block: Block, one: Field) -> None:
    if not one.refers:
        return
    places = [f"{b.key}.{f.key}" for b in workbook.blocks for f in b.fields]
    _one_of(file, f"block {block.key!r}, field {one.key!r}, refers", one.refers, places)


def _place(file: str, kind: str, table: object) -> str:
    """How messages name a sheet, block or field; refused when it is no table or has no proper key."""
    key = table.get("key") if isinstance(table, dict) else None
    if not isinstance(key, str) or not _KEY.fullmatch(key):
        raise DefinitionError(f"{file}, {kind} {key!r}: needs a key of small letters, digits and _")
    return f"{kind} {key!r}"


def _shaped(file: str, place: str, table: Mapping[str, Any], kind: type) -> None:
    """Refuse names that `kind` does not have, and values of another type than it declares."""
    hints = _hints(kind)
    _known_names(file, place, table, [one.name for one in fields(kind) if one.init])
    for name, value in table.items():
        wanted = _toml_type(hints[name])
        fits = isinstance(value, int | float if wanted is float else wanted)
        if not fits or (isinstance(value, bool) and wanted is not bool):
            raise DefinitionError(f"{file}, {place}, {name}: {value!r} is not {_CALLED[wanted]}")


@lru_cache(maxsize=16)
def _hints(kind: type) -> dict[str, Any]:
    """The declared types of a class; working them out takes longer than reading all definitions."""
    return get_type_hints(kind)


def _toml_type(hint: Any) -> type:
    """The type that TOML gives for a value declared as `hint`: literals are texts, tuples lists."""
    if hint in _CALLED:
        return hint  # type: ignore[no-any-return]
    if get_origin(hint) is tuple:
        return list
    return float if hint == float | None else str


def _known_names(file: str, place: str, table: object, known: Iterable[str]) -> None:
    if not isinstance(table, dict):
        raise DefinitionError(f"{file}, {place}: {table!r} is not a table of names and values")
    known = list(known)
    for name in table:
        if name not in known:
            raise DefinitionError(f"{file}, {place}: unknown name {name!r}{_did_you_mean(name, known)}")


def _texts(file: str, place: str, value: object) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(one, str) and one for one in value):
        raise DefinitionError(f"{file}, {place}: {value!r} is not a list of texts")
    _no_duplicates(file, place, value)
    return tuple(value)


def _one_of(file: str, place: str, value: object, known: Iterable[str]) -> Any:
    known = list(known)
    if value is None:
        raise DefinitionError(f"{file}, {place}: is missing; give one of {', '.join(known)}")
    if value not in known:
        raise DefinitionError(
            f"{file}, {place}: {value!r} is not one of {', '.join(known)}{_did_you_mean(value, known)}"
        )
    return value


def _did_you_mean(value: object, known: list[str]) -> str:
    near = difflib.get_close_matches(str(value), known, n=1)
    return f"; did you mean {near[0]!r}?" if near else ""


def _no_duplicates(file: str, place: str, keys: Iterable[object]) -> None:
    seen = set()
    for key in keys:
        if key in seen:
            raise DefinitionError(f"{file}, {place}: {key!r} stands twice")
        seen.add(key)
