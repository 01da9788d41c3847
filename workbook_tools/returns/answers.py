"""The answers of all returns as three tables, and the way back from any of their cells to its file and sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import polars as pl

from workbook_tools.contract.dtypes import table_dtypes
from workbook_tools.contract.findings import Finding, shown
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import Block
from workbook_tools.contract.names import a1
from workbook_tools.program.asked import Asked
from workbook_tools.returns.read import FORM, ReadReturn

RETURN, KEY, BROKEN, SETTLED = "return", "key", "broken", "settled"
"""Columns beside the block's own: the file's number, the row's key, its broken fields (`;a;b;`); of a visit, the
questions that its book did not ask (`;a;b;`)."""


@dataclass(frozen=True, slots=True)
class Source:
    """One return that belongs to a store of the program: which file, store, visit and revision it is.

    `asked` is what its book asks for, None when that is everything.
    """

    number: int
    file: str
    store: str
    visit: int
    revision: int
    read: ReadReturn
    asked: Asked | None = None

    def asked_of(self, block: str, every: frozenset[str]) -> frozenset[str]:
        """Those of `every` row of a keyed block, or question of the visit, that the book asks for."""
        return every if self.asked is None else every.intersection(self.asked.keys(block))


class Answers:
    """Tables by block key. `visit` has a row a return and a column a question; the others a row a keyed row."""

    def __init__(self, sources: Iterable[Source]) -> None:
        self.sources = {source.number: source for source in sources}
        book = default_contract().field_book
        self.tables: dict[str, pl.DataFrame] = {
            "visit": self._visits(book.block("visit")),
            "positions": self._rows(book.block("positions")),
            "parts": self._rows(book.block("parts")),
        }
        self._row_numbers: dict[tuple[int, str], dict[str, int]] = {}

    def _visits(self, block: Block) -> pl.DataFrame:
        columns: dict[str, list[object]] = {RETURN: [], BROKEN: [], SETTLED: [], **{f.key: [] for f in block.fields}}
        questions = frozenset(f.key for f in block.fields)
        for number, source in self.sources.items():
            read = source.read.blocks.get(block.key)
            told = dict(zip(read.keys, read.values[block.value_column], strict=True)) if read else {}
            columns[RETURN].append(number)
            columns[BROKEN].append(broken_mark(key for key, _ in read.broken) if read else "")
            columns[SETTLED].append(broken_mark(questions - source.asked_of(block.key, questions)))
            for field in block.fields:
                columns[field.key].append(told.get(field.key))
        schema = {RETURN: pl.UInt32, BROKEN: pl.String, SETTLED: pl.String, **table_dtypes(block.fields)}
        return pl.DataFrame(columns, schema=schema)

    def _rows(self, block: Block) -> pl.DataFrame:
        fields = [field for field in block.fields if field.source != "formula"]
        columns: dict[str, list[object]] = {RETURN: [], KEY: [], BROKEN: [], **{f.key: [] for f in fields}}
        for number, source in self.sources.items():
            read = source.read.blocks.get(block.key)
            if read is None:
                continue
            columns[RETURN] += [number] * len(read.keys)
            columns[KEY] += read.keys
            broken: dict[str, list[str]] = {}
            for key, name in read.broken:
                broken.setdefault(key, []).append(name)
            columns[BROKEN] += (
                [broken_mark(broken.get(key, ())) for key in read.keys] if broken else [""] * len(read.keys)
            )
            for field in fields:
                columns[field.key] += read.values.get(field.key) or [None] * len(read.keys)
        schema = {RETURN: pl.UInt32, KEY: pl.String, BROKEN: pl.String, **table_dtypes(fields)}
        return self._only_asked(block, pl.DataFrame(columns, schema=schema))

    def _only_asked(self, block: Block, table: pl.DataFrame) -> pl.DataFrame:
        """Without rows that a book does not ask for: nobody can say what is meant by them."""
        partial = {number: source.asked.keys(block.key) for number, source in self.sources.items() if source.asked}
        if not partial:
            return table
        asked = [(number, key) for number, keys in partial.items() for key in keys]
        held = pl.DataFrame(asked, schema={RETURN: pl.UInt32, KEY: pl.String}, orient="row")
        whole = table.filter(~pl.col(RETURN).is_in(list(partial)))
        return pl.concat([whole, table.join(held, on=[RETURN, KEY], how="semi", maintain_order="left")])

    def visits_only(self) -> Answers:
        """The same, without the long tables."""
        self.tables = {"visit": self.tables["visit"]}
        return self

    def finding(self, rule: str, number: int, block: str, key: str, field: str, /, **fields: object) -> Finding:
        """A finding at a cell of a return: of a fixed block, `key` and `field` are both the question's key."""
        contract = default_contract()
        source = self.sources[number]
        read = source.read.blocks.get(block)
        value = fields.pop("value", None)
        return Finding(
            rule=rule,
            severity=contract.rules[rule],
            file=source.file,
            store=source.store,
            sheet=read.sheet if read else "",
            cell=self._cell(number, block, key, field),
            column=field,
            value=shown(value),
            about=f"{FORM}.{block}.{field}" if field else "",
            fields=fields,
        )

    def _cell(self, number: int, block: str, key: str, field: str) -> str:
        read = self.sources[number].read.blocks.get(block)
        if read is None:
            return ""
        if (number, block) not in self._row_numbers:
            self._row_numbers[number, block] = dict(zip(read.keys, read.rows, strict=True))
        row = self._row_numbers[number, block].get(key)
        form = default_contract().field_book.block(block)
        column = read.columns.get(form.value_column or field)
        return "" if row is None or column is None else a1(row, column)


def broken_mark(fields: Iterable[str]) -> str:
    """Field keys as one text that can be searched for `;key;`."""
    names = sorted(fields)
    return f";{';'.join(names)};" if names else ""


def is_broken(field: str) -> pl.Expr:
    """True where the cell of a field holds something that cannot be used."""
    return pl.col(BROKEN).str.contains(f";{field};", literal=True)


def is_settled(question: str) -> pl.Expr:
    """True where the book of a visit did not ask a question."""
    return pl.col(SETTLED).str.contains(f";{question};", literal=True)


def map_column(table: pl.DataFrame, column: str, mapping: Mapping[str, str]) -> pl.DataFrame:
    """A text column through a mapping of typed → meant; what the mapping does not name stays."""
    changed = {typed: meant for typed, meant in mapping.items() if typed != meant}
    return table.with_columns(pl.col(column).replace(changed)) if changed else table
