"""A raw block → its rows as clean values, with a finding for everything that could not be read as it stands."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from workbook_tools.contract.findings import Finding, Phrase, shown
from workbook_tools.contract.model import KEY_COLUMN, Block, Contract, Field
from workbook_tools.contract.names import a1
from workbook_tools.contract.remembered import remembering
from workbook_tools.contract.sheets import RawBlock, RawCell
from workbook_tools.contract.values import (
    BLANK,
    Value,
    clean_text,
    counted_from_1900,
    is_as_typed,
    is_blank,
    plain_form,
    read_value,
)

MOST_REMEMBERED = 20_000
"""Rows of one layout, and layouts, that are remembered at most."""
HAND_MADE = "setup"
"""The form that people keep and carry on from one program to the next: one made before a field was added lacks its row,
which is no more than a blank answer.
"""
Line = tuple[int, Sequence[object]]
"""A row as found: its 0-based number in the sheet and its cells from column A."""
Remembered: TypeAlias = "dict[tuple[object, ...], tuple[str, dict[str, Value]]]"
"""By a row's cells and their types: its key and its values."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a block: its 0-based row in the sheet, what its column A holds, and the values that could be read."""

    number: int
    key: str
    values: dict[str, Value]
    broken: frozenset[str] = frozenset()
    """Fields whose cell holds something that cannot be read."""
    cells: Sequence[object] = ()
    """The sheet's row as found, from column A."""


@dataclass(frozen=True, slots=True)
class Table:
    """One block read: its rows in the order of the sheet, and what was found on the way."""

    block: Block
    raw: RawBlock
    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]

    def cell(self, row: Row, key: str) -> str:
        """The address of a field of a row; of a fixed block's field, give the field's own row."""
        column = self.block.value_column if self.block.rows == "fixed" else key
        return a1(row.number, self.raw.columns.get(column, KEY_COLUMN))


class RowMemory:
    """What rows said that raised no finding: most rows of most workbooks of one form say what others said."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], Remembered] = {}

    def of(self, form: str, block: Block, raw: RawBlock, language: str) -> Remembered:
        """The memory for blocks laid out like this one."""
        layout = (form, block.key, language, raw.counts_from_1904, *raw.columns.items())
        known = self._known.setdefault(layout, {})
        if len(known) > MOST_REMEMBERED or len(self._known) > MOST_REMEMBERED:
            self._known.clear()
            return self._known.setdefault(layout, {})
        return known


class BlockReader:
    """Reads blocks of one workbook. `form` is the words key of the workbook ("setup", "field_book").

    A reader of many workbooks gives them all one `memory`.
    """

    def __init__(
        self, contract: Contract, form: str, file: str, language: str = "en", memory: RowMemory | None = None
    ) -> None:
        self.contract = contract
        self.form = form
        self.file = file
        self.language = language
        self.memory = memory

    def read(self, block: Block, raw: RawBlock) -> Table:
        """Read a block; a fixed one gives a row a field, holding that field's value only."""
        findings = list(self._structure(block, raw))
        reader = self._fixed_rows if block.rows == "fixed" else self._table_rows
        rows = tuple(reader(block, raw, findings))
        if block.rows == "keyed" and len({row.key for row in rows}) < len(rows):
            rows = tuple(self._first_ones(block, raw, rows, findings))
        return Table(block, raw, rows, tuple(findings))

    def finding(
        self, rule: str, block: Block, raw: RawBlock, key: str, cell: RawCell | None = None, /, **fields: object
    ) -> Finding:
        """A finding about a field of a block (by key), at a cell when there is one."""
        return Finding(
            rule=rule,
            severity=self.contract.rules[rule],
            file=self.file,
            sheet=raw.sheet,
            cell=a1(cell.row, cell.column) if cell else "",
            column=key,
            value=shown(cell.value) if cell else "",
            about=f"{self.form}.{block.key}.{key}" if key in block.by_key else "",
            fields=fields,
        )

    def _structure(self, block: Block, raw: RawBlock) -> Iterator[Finding]:
        if raw.columns == block.columns and not raw.doubled:
            return
        row = raw.key_row + 1
        wanted = [block.value_column] if block.rows == "fixed" else [f.key for f in block.fields if not f.source]
        for key in wanted:
            if key not in raw.columns:
                yield self.finding("column_missing", block, raw, key, key=key, row=row)
        for key, column in raw.columns.items():
            cell = RawCell(raw.key_row, column, key)
            if key not in block.columns:
                hint = did_you_mean(key, list(block.columns))
                yield self.finding("column_unknown", block, raw, key, cell, row=row, did_you_mean=hint)
            if key in raw.doubled:
                yield self.finding("column_twice", block, raw, key, cell)

    def _fixed_rows(self, block: Block, raw: RawBlock, findings: list[Finding]) -> Iterator[Row]:
        if block.value_column not in raw.columns:
            return
        column = raw.columns[block.value_column]
        found: dict[str, Line] = {}
        for number, cells in raw.rows:
            key = key_of(cells)
            at = RawCell(number, KEY_COLUMN, key)
            if key in found:
                findings.append(self.finding("row_twice", block, raw, key, at))
            elif key in block.by_key:
                found[key] = (number, cells)
            elif key:
                hint = did_you_mean(key, list(block.by_key))
                findings.append(self.finding("row_unknown", block, raw, key, at, did_you_mean=hint))
        for field in block.fields:
            if field.key in found:
                yield self._row(block, raw, found[field.key], [(field, column)], findings)
            elif field.required or self.form != HAND_MADE or _is_keyless(raw, column):
                findings.append(self.finding("row_missing", block, raw, field.key, key=field.key))

    def _table_rows(self, block: Block, raw: RawBlock, findings: list[Finding]) -> Iterator[Row]:
        places = [
            (field, raw.columns[field.key])
            for field in block.fields
            if field.key in raw.columns and field.source != "formula"
        ]
        memory = self.memory.of(self.form, block, raw, self.language) if self.memory else {}
        for line in raw.rows:
            number, cells = line
            said = (*cells, *map(type, cells))
            if known := memory.get(said):
                yield Row(number, *known, frozenset(), cells)
                continue
            if block.rows == "keyed" and not key_of(cells):
                continue
            count = len(findings)
            row = self._row(block, raw, line, places, findings)
            if row.values or row.broken:
                if self.memory and len(findings) == count:
                    memory[said] = row.key, row.values
                yield row

    def _first_ones(self, block: Block, raw: RawBlock, rows: Iterable[Row], findings: list[Finding]) -> Iterator[Row]:
        """The rows whose key did not stand before."""
        seen: set[str] = set()
        for row in rows:
            if row.key in seen:
                at = RawCell(row.number, KEY_COLUMN, row.key)
                findings.append(self.finding("row_twice", block, raw, row.key, at))
            else:
                seen.add(row.key)
                yield row

    def _row(
        self, block: Block, raw: RawBlock, line: Line, places: Iterable[tuple[Field, int]], findings: list[Finding]
    ) -> Row:
        """One row read; `places` are its fields with their 0-based columns."""
        number, cells = line
        values: dict[str, Value] = {}
        broken = set()
        for field, column in places:
            found = cells[column] if column < len(cells) else ""
            if is_as_typed(field.type, found):
                values[field.key] = found  # type: ignore[assignment]
                continue
            if raw.counts_from_1904:
                found = counted_from_1900(field.type, found)
            if found == "" or (reading := read_value(field, found, self.language)) is BLANK:
                continue
            if reading.value is not None:
                values[field.key] = reading.value
            if reading.problem:
                broken.add(field.key)
            if rule := reading.problem or reading.repair:
                cell = RawCell(number, column, found)
                findings.append(self.finding(rule, block, raw, field.key, cell, read=shown(reading.value)))
        return Row(number, key_of(cells), values, frozenset(broken), cells)


def _is_keyless(raw: RawBlock, column: int) -> bool:
    """True when a row without a key holds something in a 0-based column."""
    return any(column < len(cells) and not key_of(cells) and not is_blank(cells[column]) for _, cells in raw.rows)


def did_you_mean(word: str, known: list[str]) -> Phrase | str:
    """The hint at the nearest known word, or "" when none is near."""
    plain = {plain_form(one): one for one in reversed(known)}
    near = difflib.get_close_matches(plain_form(word), plain, n=1)
    return Phrase("messages.did_you_mean", {"near": plain[near[0]]}) if near else ""


_clean_key = remembering(32, 4096)(clean_text)


def key_of(cells: Sequence[object]) -> str:
    """The key in column A of a row's cells, cleaned, "" for none; one that a program made a number reads as before."""
    first = cells[KEY_COLUMN]
    if isinstance(first, float) and first.is_integer():
        return str(int(first))
    return _clean_key(str(first)) if first is not None else ""
