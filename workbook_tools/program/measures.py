"""Lengths and weights with their units written beside them, as people type them: 2'6", 30 in, 5 1/2, 1 lb 4 oz, 76 cm.

What is written in the program's own system is read as meant. What is written in the other one is told in the program's
units, and left to its writer: someone may have taken the sizes from another sheet than they thought.
"""

from __future__ import annotations

import dataclasses
import re
from fractions import Fraction

from workbook_tools.contract.findings import Finding, shown
from workbook_tools.contract.model import Contract, Field
from workbook_tools.contract.tables import BlockReader, Row, Table
from workbook_tools.contract.values import plain_form
from workbook_tools.program.exact import half_up, plain

_INCH, _POUND = Fraction("2.54"), Fraction("0.45359237")
"""Centimetres and kilograms, exactly (international yard and pound agreement of 1959, MEM)."""
_LENGTHS: dict[str, tuple[str, Fraction]] = {
    "in": ("in", Fraction(1)),
    "ft": ("in", Fraction(12)),
    "mm": ("cm", Fraction(1, 10)),
    "cm": ("cm", Fraction(1)),
    "m": ("cm", Fraction(100)),
}
_WEIGHTS: dict[str, tuple[str, Fraction]] = {
    "lb": ("lb", Fraction(1)),
    "oz": ("lb", Fraction(1, 16)),
    "g": ("kg", Fraction(1, 1000)),
    "kg": ("kg", Fraction(1)),
}
"""A unit as written → the unit that a program can have, and how many of it."""
_SPELLINGS = {
    '"': "in", "''": "in", "in": "in", "in.": "in", "inch": "in", "inches": "in",
    "'": "ft", "ft": "ft", "ft.": "ft", "foot": "ft", "feet": "ft",
    "mm": "mm", "cm": "cm", "m": "m",
    "lb": "lb", "lb.": "lb", "lbs": "lb", "lbs.": "lb", "pound": "lb", "pounds": "lb",
    "oz": "oz", "oz.": "oz", "ounce": "oz", "ounces": "oz",
    "g": "g", "gram": "g", "grams": "g", "kg": "kg", "kilo": "kg",
}  # fmt: skip
_BETWEEN = {"in": ("cm", _INCH), "cm": ("in", 1 / _INCH), "lb": ("kg", _POUND), "kg": ("lb", 1 / _POUND)}
_LARGER_FIRST = (("ft", "in"), ("lb", "oz"))
_VULGAR = {
    "¼": "1/4", "½": "1/2", "¾": "3/4", "⅐": "1/7", "⅑": "1/9", "⅒": "1/10", "⅓": "1/3", "⅔": "2/3", "⅕": "1/5",
    "⅖": "2/5", "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_NUMBER = r"(?:\d+[ -]\d+/\d+|\d+/\d+|\d+(?:\.\d+)?|\.\d+)"
_UNIT = r"(?:''|[\"']|[a-z]+\.?)"
_ONE = re.compile(rf"({_NUMBER})\s*({_UNIT})?")
_TWO = re.compile(rf"({_NUMBER})\s*({_UNIT})[\s,-]*({_NUMBER})\s*({_UNIT})?")
_PLACES = 3


def read_measure(text: str, kind: str) -> tuple[Fraction, str] | None:
    """Read a text as a length or a weight (`kind`): its exact size and its unit (in, cm, lb, kg), "" when none is told.

    None when it is no measure, or not in a way that has one meaning.
    """
    known = _LENGTHS if kind == "length" else _WEIGHTS
    for vulgar, written in _VULGAR.items():
        text = text.replace(vulgar, f" {written}")
    typed = re.sub(r"[\u2032\u02b9]", "'", re.sub(r"[\u2033\u02ba]", '"', text)).replace("\u2044", "/")
    typed = plain_form(typed)
    if match := _ONE.fullmatch(typed):
        return _single(match[1], match[2], known)
    if match := _TWO.fullmatch(typed):
        first, second = _unit(match[2]), _unit(match[4])
        for large, small in _LARGER_FIRST:
            is_pair = first == large and (second == small or not match[4]) and large in known
            if is_pair and (size := _number(match[3])) is not None and (whole := _number(match[1])) is not None:
                return _sum(whole, size, (large, small), known)
    return None


def _single(number: str, unit: str | None, known: dict[str, tuple[str, Fraction]]) -> tuple[Fraction, str] | None:
    size, name = _number(number), _unit(unit)
    if size is None or (unit and name not in known):
        return None
    if not unit:
        return (size, "") if "/" in number else None
    base, times = known[name]
    return size * times, base


def _sum(
    whole: Fraction, rest: Fraction, units: tuple[str, str], known: dict[str, tuple[str, Fraction]]
) -> tuple[Fraction, str] | None:
    """Feet and inches, pounds and ounces: the smaller ones are fewer than one of the larger."""
    base, large = known[units[0]]
    _, small = known[units[1]]
    if whole.denominator != 1 or rest * small >= large:
        return None
    return whole * large + rest * small, base


def _unit(spelling: str | None) -> str:
    return _SPELLINGS.get(spelling or "", "")


def _number(text: str) -> Fraction | None:
    """A plain number, a fraction, or a whole number with one; None for a fraction of nothing."""
    whole, _, part = text.replace("-", " ").rpartition(" ")
    if "/" not in part:
        return Fraction(part)
    above, _, below = part.partition("/")
    if not int(below):
        return None
    return Fraction(int(whole or 0)) + Fraction(int(above), int(below))


def with_measures(contract: Contract, file: str, table: Table, units: str) -> Table:
    """A table whose lengths and weights with units beside them are read, as far as they can be in the units chosen."""
    measured = {field.key: field for field in table.block.fields if field.measure}
    if not measured or not units or not any(row.broken for row in table.rows):
        return table
    reader = BlockReader(contract, "setup", file)
    rows, findings = [], list(table.findings)
    for row in table.rows:
        for key in row.broken & measured.keys():
            row = _read(reader, table, row, measured[key], units, findings)  # noqa: PLW2901
        rows.append(row)
    return dataclasses.replace(table, rows=tuple(rows), findings=tuple(findings))


def _read(reader: BlockReader, table: Table, row: Row, field: Field, units: str, findings: list[Finding]) -> Row:
    """One cell: its row with the value where it can be read, and its finding in place of `not_a_number`."""
    column = table.block.value_column if table.block.rows == "fixed" else field.key
    cell = table.raw.cell(row.number, row.cells, column)
    read = read_measure(cell.value, field.measure) if isinstance(cell.value, str) else None
    at = next((n for n, one in enumerate(findings) if one.cell == table.cell(row, field.key)), None)
    if read is None or at is None:
        return row
    size, unit = read
    length, _, weight = units.partition(", ")
    wanted = length if field.measure == "length" else weight
    if unit and unit != wanted:
        other, times = _BETWEEN[unit]
        said = {"read": plain(half_up(size * times, _PLACES)), "unit": other}
        findings[at] = reader.finding("other_unit", table.block, table.raw, field.key, cell, **said)
        return row
    findings[at] = reader.finding(
        "measure_read", table.block, table.raw, field.key, cell, read=shown(plain(size)), unit=wanted
    )
    values = {**row.values, field.key: float(size)}
    return dataclasses.replace(row, values=values, broken=row.broken - {field.key})
