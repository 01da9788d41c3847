"""The typed shape of the contract: workbooks of sheets, sheets of blocks, blocks of fields, lists of choices."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

FieldType = Literal["text", "code", "gtin", "integer", "number", "date", "time", "choice", "list"]
RowKind = Literal["fixed", "free", "keyed"]
Visibility = Literal["visible", "hidden", "very hidden"]
FieldSource = Literal["", "stamp", "program", "formula"]
Severity = Literal["must mend", "look at", "note"]
Measure = Literal["", "length", "weight"]
FlagOwner = Literal["merchandiser", "store", "office"]

FIELD_TYPES: tuple[str, ...] = get_args(FieldType)
ROW_KINDS: tuple[str, ...] = get_args(RowKind)
VISIBILITIES: tuple[str, ...] = get_args(Visibility)
FIELD_SOURCES: tuple[str, ...] = get_args(FieldSource)
SEVERITIES: tuple[str, ...] = get_args(Severity)
MEASURES: tuple[str, ...] = get_args(Measure)
FLAG_OWNERS: tuple[str, ...] = get_args(FlagOwner)

KEY_COLUMN = 0
"""Column A (0-based) of every sheet that is read back: block names and row keys, hidden from people."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One thing a cell can hold: a column of a free or keyed block, or a row of a fixed one.

    `minimum` and `maximum` bound numbers (inclusive), `maximum` also the length of a text; `above` is an exclusive
    lower bound. A number with a `measure` is in the program's units of length or weight. `free` choices are offered,
    and another text is taken all the same. `width` is in pixels, `index` the 0-based column in the sheet.
    """

    key: str
    type: FieldType
    required: bool = False
    unique: bool = False
    open: bool = False
    choices: str = ""
    free: bool = False
    refers: str = ""
    pattern: str = ""
    minimum: float | None = None
    maximum: float | None = None
    above: float | None = None
    measure: Measure = ""
    width: int = 90
    index: int = 1
    source: FieldSource = ""
    example: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A table or a form inside a sheet, opened by a row whose column A holds `#key`.

    `rows` says how its rows are found: "fixed" (each field is a row, column A holds the field's key, the cell
    stands under `value_column`), "keyed" (each field is a column, column A holds each row's key) or "free"
    (each field is a column, rows follow one another and blank ones are passed over).
    """

    key: str
    rows: RowKind
    fields: tuple[Field, ...]
    value_column: str = ""
    value_index: int = 2
    identity: tuple[str, ...] = ()
    width: int = 200
    by_key: dict[str, Field] = field(init=False, repr=False, compare=False)
    columns: dict[str, int] = field(init=False, repr=False, compare=False)
    """Column key → 0-based column, as written."""
    open_fields: tuple[Field, ...] = field(init=False, repr=False, compare=False)
    """The fields a person may fill in once the sheet is protected."""
    answered_fields: tuple[Field, ...] = field(init=False, repr=False, compare=False)
    """The fields whose values come from a person: all but those filled by the program or a formula."""

    def __post_init__(self) -> None:
        fixed = {self.value_column: self.value_index}
        made = {
            "by_key": {f.key: f for f in self.fields},
            "columns": fixed if self.rows == "fixed" else {f.key: f.index for f in self.fields},
            "open_fields": tuple(f for f in self.fields if f.open),
            "answered_fields": tuple(f for f in self.fields if f.open or not f.source),
        }
        for name, value in made.items():
            object.__setattr__(self, name, value)

    @property
    def marker(self) -> str:
        """What column A holds in the block's opening row."""
        return f"#{self.key}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet of a workbook that is read back."""

    key: str
    blocks: tuple[Block, ...]
    visibility: Visibility = "visible"


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkbookForm:
    """All sheets of one kind of workbook; block keys are unique in it."""

    key: str
    sheets: tuple[Sheet, ...]
    blocks: tuple[Block, ...] = field(init=False, repr=False, compare=False)
    """All blocks, in the order of the sheets."""
    _by_key: dict[str, Block] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "blocks", tuple(block for sheet in self.sheets for block in sheet.blocks))
        object.__setattr__(self, "_by_key", {block.key: block for block in reversed(self.blocks)})

    def block(self, key: str) -> Block:
        """The block named `key`. Raises KeyError when the workbook has none."""
        return self._by_key.get(key) or _no_such(key, self.key)

    def sheet_of(self, block_key: str) -> Sheet:
        """The sheet on which a block stands. Raises KeyError when the workbook has no such block."""
        block = self.block(block_key)
        return next(s for s in self.sheets if block in s.blocks)


def _no_such(key: str, workbook: str) -> Block:
    raise KeyError(f"no block {key!r} in {workbook}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceList:
    """A drop-down: fixed `keys`, after the entries of a list taken from the program (`source`), if it names one."""

    key: str
    keys: tuple[str, ...] = ()
    source: str = ""

    def options(self, sources: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
        """All choices in order; `sources` gives the program's lists by name."""
        return (*sources.get(self.source, ()), *self.keys)


@dataclass(frozen=True, slots=True, kw_only=True)
class Contract:
    """Everything templates_src defines but words and look."""

    setup: WorkbookForm
    field_book: WorkbookForm
    choices: dict[str, ChoiceList]
    tables: dict[str, tuple[str, ...]]
    flag_owners: dict[str, str]
    states: tuple[str, ...]
    outcomes: tuple[str, ...]
    rules: dict[str, Severity]
