"""Choices and names typed with other capitals, spaces or marks than they have: read as meant where only one fits."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from workbook_tools.contract.choice_words import section
from workbook_tools.contract.findings import Finding
from workbook_tools.contract.model import Contract, Field
from workbook_tools.contract.tables import BlockReader, Row, Table
from workbook_tools.contract.values import letters_of, only_meanings, plain_form
from workbook_tools.contract.words import languages

Meant = Callable[[str], str]
"""A text → what it is read as; the text itself when it is known or when not exactly one thing fits."""


def with_choices(contract: Contract, file: str, table: Table) -> Table:
    """A table whose choices are keys, where they were typed as a key or as its word in any language."""
    meant = {
        field.key: _meant(_choice_words(contract, field), letters_of)
        for field in table.block.fields
        if field.type == "choice" and not field.free
    }
    return _read(contract, file, table, meant) if meant else table


def with_names(contract: Contract, file: str, tables: Mapping[str, Table]) -> dict[str, Table]:
    """Tables in which names that stand on another sheet are spelled as they are there."""
    read = dict(tables)
    for key, table in tables.items():
        meant = {}
        for field in table.block.fields:
            block, _, name = field.refers.partition(".")
            if block in tables:
                known = [str(row.values[name]) for row in tables[block].rows if name in row.values]
                meant[field.key] = _meant([(one, one) for one in known], plain_form)
        read[key] = _read(contract, file, table, meant) if meant else table
    return read


def _choice_words(contract: Contract, field: Field) -> list[tuple[str, str]]:
    options = contract.choices[field.choices].options({"languages": languages()})
    said = [section(language, f"choices.{field.choices}") for language in languages()]
    return [(key, key) for key in options] + [(words.get(key, key), key) for words in said for key in options]


def _meant(words: Sequence[tuple[str, str]], form: Callable[[str], str]) -> Meant:
    """`words` are what may be typed with what it stands for; `form` leaves out what may differ."""
    known = {key for _, key in words}
    alone = only_meanings((form(word), key) for word, key in words)
    return lambda text: text if text in known else alone.get(form(text), text)


def _read(contract: Contract, file: str, table: Table, meant: Mapping[str, Meant]) -> Table:
    if not any(_odd(table, key, as_meant) for key, as_meant in meant.items()):
        return table
    reader = BlockReader(contract, "setup", file)
    findings: list[Finding] = []
    rows = tuple(_row(reader, table, row, meant, findings) for row in table.rows)
    return dataclasses.replace(table, rows=rows, findings=(*table.findings, *findings)) if findings else table


def _odd(table: Table, key: str, meant: Meant) -> bool:
    """Whether any value of a field is read as another: told from each value once, for nearly all rows hold none."""
    values = {row.values.get(key) for row in table.rows}
    texts = {one for value in values for one in (value if isinstance(value, tuple) else (value,))}
    return any(isinstance(one, str) and meant(one) != one for one in texts)


def _row(reader: BlockReader, table: Table, row: Row, meant: Mapping[str, Meant], findings: list[Finding]) -> Row:
    changed: dict[str, Any] = {}
    for key, as_meant in meant.items():
        value = row.values.get(key)
        typed = value if isinstance(value, tuple) else (value,)
        read = tuple(as_meant(one) if isinstance(one, str) else one for one in typed)
        if read != typed:
            changed[key] = read if isinstance(value, tuple) else read[0]
            column = table.block.value_column if table.block.rows == "fixed" else key
            cell = table.raw.cell(row.number, row.cells, column)
            said = "; ".join(map(str, read))
            findings.append(reader.finding("choice_recognised", table.block, table.raw, key, cell, read=said))
    return dataclasses.replace(row, values={**row.values, **changed}) if changed else row
