"""templates_src → the typed contract; a definition that is written wrong is refused here, with file and place."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

from workbook_tools.contract.model import (
    FIELD_SOURCES,
    FIELD_TYPES,
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
_CLOSED_VALUES = {
    "type": FIELD_TYPES,
    "rows": ROW_KINDS,
    "visibility": VISIBILITIES,
    "source": FIELD_SOURCES,
}


def templates_folder() -> Path:
    """Where the contract lies: inside an installed package, or beside it in a source tree."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "templates_src"
    return inside if inside.is_dir() else package.parent / "templates_src"


@lru_cache(maxsize=1)
def default_contract() -> Contract:
    """The contract this program ships with."""
    return load_contract(templates_folder())


def load_contract(folder: Path) -> Contract:
    """Read every definition in `folder`.

    Raises DefinitionError naming the file, the place in it and the probable slip.
    """
    choices = _load_choices(folder / "choices.toml")
    setup = _load_workbook(folder / "setup.toml", choices)
    field_book = _load_workbook(folder / "field_book.toml", choices)
    rollup = read_toml(folder / "rollup.toml")
    rules = read_toml(folder / "rules.toml")
    for name, severity in rules.items():
        _one_of("rules.toml", name, severity, SEVERITIES)
    return Contract(
        setup=setup,
        field_book=field_book,
        choices=choices,
        tables={name: tuple(table["columns"]) for name, table in rollup["tables"].items()},
        flag_owners=dict(rollup["flags"]),
        states=tuple(rollup["states"]["order"]),
        outcomes=tuple(rollup["outcomes"]["order"]),
        rules=rules,
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
        keys = tuple(table.get("keys", ()))
        _no_duplicates(path.name, f"{name}.keys", keys)
        lists[name] = ChoiceList(key=name, keys=keys, source=table.get("source", ""))
    return lists


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
    place = f"sheet {table.get('key', '?')!r}"
    _known_names(file, place, table, _names_of(Sheet))
    key = _key(file, place, table)
    visibility = _one_of(file, place, table.get("visibility", "visible"), VISIBILITIES)
    blocks = tuple(_load_block(file, block, choices) for block in table.get("blocks", ()))
    return Sheet(key=key, blocks=blocks, visibility=visibility)


def _load_block(file: str, table: Mapping[str, Any], choices: Mapping[str, ChoiceList]) -> Block:
    place = f"block {table.get('key', '?')!r}"
    _known_names(file, place, table, _names_of(Block))
    key = _key(file, place, table)
    rows = _one_of(file, f"{place}, rows", table.get("rows"), ROW_KINDS)
    made = tuple(
        _load_field(file, place, {"index": number, **one}, choices)
        for number, one in enumerate(table.get("fields", ()), start=1)
    )
    _no_duplicates(file, f"{place}, fields", [f.key for f in made])
    if rows == "fixed" and not table.get("value_column"):
        raise DefinitionError(f"{file}, {place}: rows are fixed, so value_column must name the column they stand in")
    identity = tuple(table.get("identity", ()))
    for name in identity:
        _one_of(file, f"{place}, identity", name, [f.key for f in made])
    options = {k: table[k] for k in ("value_column", "value_index", "width") if k in table}
    return Block(key=key, rows=rows, fields=made, identity=identity, **options)


def _load_field(file: str, block: str, table: Mapping[str, Any], choices: Mapping[str, ChoiceList]) -> Field:
    place = f"{block}, field {table.get('key', '?')!r}"
    _known_names(file, place, table, _names_of(Field))
    _key(file, place, table)
    kind = _one_of(file, f"{place}, type", table.get("type"), FIELD_TYPES)
    if "source" in table:
        _one_of(file, f"{place}, source", table["source"], FIELD_SOURCES)
    if kind == "choice":
        _one_of(file, f"{place}, choices", table.get("choices"), list(choices))
    elif "choices" in table:
        raise DefinitionError(f"{file}, {place}: has choices but its type is {kind!r}; make the type 'choice'")
    try:
        re.compile(table.get("pattern", ""))
    except re.error as slip:
        raise DefinitionError(f"{file}, {place}: pattern is not a regular expression ({slip})") from None
    low, high = table.get("minimum"), table.get("maximum")
    if low is not None and high is not None and low > high:
        raise DefinitionError(f"{file}, {place}: minimum {low} is above maximum {high}")
    return Field(**table)


def _check_reference(file: str, workbook: WorkbookForm, block: Block, one: Field) -> None:
    if not one.refers:
        return
    places = [f"{b.key}.{f.key}" for b in workbook.blocks for f in b.fields]
    _one_of(file, f"block {block.key!r}, field {one.key!r}, refers", one.refers, places)


def _names_of(kind: type) -> tuple[str, ...]:
    return tuple(f.name for f in fields(kind) if f.init)


def _key(file: str, place: str, table: Mapping[str, Any]) -> str:
    key = table.get("key", MISSING)
    if not isinstance(key, str) or not _KEY.fullmatch(key):
        raise DefinitionError(f"{file}, {place}: needs a key of small letters, digits and _")
    return key


def _known_names(file: str, place: str, table: Mapping[str, Any], known: Iterable[str]) -> None:
    known = list(known)
    for name in table:
        if name not in known:
            raise DefinitionError(f"{file}, {place}: unknown name {name!r}{_did_you_mean(name, known)}")


def _one_of(file: str, place: str, value: object, known: Iterable[str]) -> Any:
    known = list(known)
    if value not in known:
        raise DefinitionError(
            f"{file}, {place}: {value!r} is not one of {', '.join(known)}{_did_you_mean(value, known)}"
        )
    return value


def _did_you_mean(value: object, known: list[str]) -> str:
    near = difflib.get_close_matches(str(value), known, n=1)
    return f"; did you mean {near[0]!r}?" if near else ""


def _no_duplicates(file: str, place: str, keys: Iterable[str]) -> None:
    seen = set()
    for key in keys:
        if key in seen:
            raise DefinitionError(f"{file}, {place}: {key!r} stands twice")
        seen.add(key)
