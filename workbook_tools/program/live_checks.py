"""Checks that the setup workbook makes by itself, row by row while it is filled in: formulas, and their results.

They follow from the contract: blank where something is required, twice, unknown, not a number, out of range, check
digit. Formulas use only functions that every spreadsheet program has. They see less than `check` and say so in fewer
words; each says the first thing it finds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

from workbook_tools.contract.findings import Phrase, limits
from workbook_tools.contract.limits import limit_of
from workbook_tools.contract.model import Block, Contract, Field
from workbook_tools.contract.names import column_letters, quoted, sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.program.formula_texts import quoted_text, sought

Content = Mapping[str, Sequence[Mapping[str, object]]]
"""Block key → its rows, each field key → value."""
_ROW = "\0"
"""Stands for the row's number in a formula that is written once for all rows."""
_GTIN_LENGTHS = (8, 12, 13, 14)
_LONGEST = 14
_WEIGHTS = (3, 1) * 7
"""Of the 14 digits of a GTIN with zeros put in front, from the left (GS1 General Specifications, section 7.9.1)."""


@dataclass(frozen=True)
class _Test:
    """One thing to find: what to say, the condition as a formula with ROW for the row's number, and the same over the
    content.
    """

    said: str
    formula: str
    holds: Callable[[int], bool]


class LiveChecks:
    """The checks of one block. Rows are 0-based in the sheet; `index` counts the rows of content from 0."""

    def __init__(self, contract: Contract, block: Block, words: Words, content: Content, rows: tuple[int, int]) -> None:
        """`rows` are the first and the last row of every table in the workbook."""
        self.contract = contract
        self.block = block
        self.words = words
        self.content = content
        self.rows = content.get(block.key, ())
        self.first, self.last = rows
        self.fields = [field for field in block.fields if field.source != "formula"]
        self._counted: dict[tuple[str, ...], dict[object, list[int]]] = {}
        self._tests = [*self._numbers(), *self._required(), *self._twice(), *self._unknown(), *self._gtins()]
        self._template = self._written()

    def formula(self, row: int) -> str:
        """What a row's cell holds: "" for a blank row, a mark when all is well, else the first thing to mend."""
        return self._template.replace(_ROW, str(row + 1))

    def result(self, index: int) -> str:
        """What the formula gives for a row of the content; "" beyond its end and for a blank row."""
        if index >= len(self.rows) or all(_blank(self._value(field, index)) for field in self.fields):
            return ""
        if str(self._value(self.fields[0], index)).startswith(self._example_mark):
            return self.words("setup.live.example")
        said = (test.said for test in self._tests if test.holds(index))
        return next(said, self.words("setup.live.right"))

    @cached_property
    def _example_mark(self) -> str:
        return f"{self.words('language.example')}:"

    def _written(self) -> str:
        chain = quoted_text(self.words("setup.live.right"))
        for test in reversed(self._tests):
            chain = f"IF({test.formula},{quoted_text(test.said)},{chain})"
        key, last = _cell(self.fields[0]), _cell(self.fields[-1])
        mark, example = self._example_mark, quoted_text(self.words("setup.live.example"))
        chain = f"IF(LEFT({key},{len(mark)})={quoted_text(mark)},{example},{chain})"
        return f'=IF(COUNTA({key}:{last})=0,"",{chain})'

    def _value(self, field: Field, index: int) -> object:
        return self.rows[index].get(field.key)

    def _said(self, key: str, *fields: Field, **values: object) -> str:
        column = " ".join(self.words(f"setup.{self.block.key}.{field.key}.heading") for field in fields)
        return self.words(f"setup.live.{key}", column=column, **values)

    def _column(self, field: Field) -> str:
        letter = column_letters(field.index)
        return f"${letter}${self.first + 1}:${letter}${self.last + 1}"

    def _sheet(self, block: str) -> str:
        return self.words(f"setup.sheets.{self.contract.setup.sheet_of(block).key}")

    def _required(self) -> Iterator[_Test]:
        for field in self.fields:
            if field.required:
                yield _Test(self._said("blank", field), f'{_cell(field)}=""', partial(self.is_blank, field))

    def is_blank(self, field: Field, index: int) -> bool:
        """Whether a cell of the content is blank."""
        return _blank(self._value(field, index))

    def holds(self, field: Field, index: int) -> bool:
        """Whether a cell of the content holds something that is no example."""
        value = self._value(field, index)
        return not _blank(value) and not str(value).startswith(self._example_mark)

    def _numbers(self) -> Iterator[_Test]:
        for field in self.fields:
            if field.type not in ("integer", "number"):
                continue
            cell = _cell(field)
            formula = f'AND({cell}<>"",ISERROR(VALUE({cell})))'
            yield _Test(self._said("no_number", field), formula, partial(self._is_no_number, field))
            bounds = limits(self.contract, field, {})["range"]
            if isinstance(bounds, Phrase):
                tests = [("<", field.minimum), (">", field.maximum), ("<=", field.above)]
                told = ",".join(f"{cell}{sign}{bound:g}" for sign, bound in tests if bound is not None)
                said = self._said("range", field, range=bounds.say(self.words))
                yield _Test(said, f"AND(ISNUMBER({cell}),OR({told}))", partial(self._is_outside, field))

    def _is_no_number(self, field: Field, index: int) -> bool:
        value = self._value(field, index)
        return not _blank(value) and _number(value) is None

    def _is_outside(self, field: Field, index: int) -> bool:
        judge = limit_of(self.contract, field, {})
        value = self._value(field, index)
        return isinstance(value, int | float) and judge is not None and bool(judge(value))

    def _twice(self) -> Iterator[_Test]:
        for field in self.fields:
            if field.unique:
                yield _Test(self._said("twice", field), self._above(field), partial(self._stands_above, field))
        keys = tuple(field for field in self.fields if field.key in self.block.identity)
        if len(keys) > 1:
            pairs = ",".join(f"{self._column(field)},{_cell(field)}" for field in keys)
            yield _Test(self._said("twice", *keys), f"COUNTIFS({pairs})>1", partial(self._stands_twice, keys))

    def _above(self, field: Field) -> str:
        """Stands in a row above: MATCH, unlike COUNTIF, tells the texts 00417 and 417 apart."""
        cell, column = _cell(field), self._column(field)
        place = f"ROW()-ROW(${column_letters(field.index)}${self.first + 1})+1"
        return f'IF({cell}="",FALSE,IFERROR(MATCH({_sought(field)},{column},0)<{place},FALSE))'

    def _stands_above(self, field: Field, index: int) -> bool:
        value = self._value(field, index)
        return not _blank(value) and self._places((field,))[(_folded(value),)][0] < index

    def _stands_twice(self, keys: tuple[Field, ...], index: int) -> bool:
        mine = tuple(_folded(self._value(field, index)) for field in keys)
        return "" not in mine and len(self._places(keys)[mine]) > 1

    def _places(self, keys: tuple[Field, ...]) -> dict[object, list[int]]:
        """Where the values of some fields stand together, by index, capitals aside."""
        names = tuple(field.key for field in keys)
        if names not in self._counted:
            places: dict[object, list[int]] = {}
            for index in range(len(self.rows)):
                places.setdefault(tuple(_folded(self._value(field, index)) for field in keys), []).append(index)
            self._counted[names] = places
        return self._counted[names]

    def _unknown(self) -> Iterator[_Test]:
        for field in self.fields:
            if not field.refers or field.type == "list":
                continue
            block, _, key = field.refers.partition(".")
            other = self.contract.setup.block(block).by_key[key]
            column, cell = f"{quoted(sheet_name(self._sheet(block)))}!{self._column(other)}", _cell(field)
            found = f"INDEX({column},MATCH({_sought(field)},{column},0))"
            formula = f"IF(ISTEXT({cell}),NOT(IFERROR(EXACT({found},{cell}),FALSE)),FALSE)"
            known = _first_spellings(self.content.get(block, ()), key)
            said = self._said("unknown", field, sheet=self._sheet(block))
            yield _Test(said, formula, partial(self._is_unknown, field, known))

    def _is_unknown(self, field: Field, known: frozenset[str], index: int) -> bool:
        value = self._value(field, index)
        return isinstance(value, str) and value != "" and value not in known

    def _gtins(self) -> Iterator[_Test]:
        for field in self.fields:
            if field.type == "gtin":
                length, digit = partial(self._has, field, _wrong_length), partial(self._has, field, _wrong_digit)
                yield _Test(self._said("gtin_length", field), _length_formula(_cell(field)), length)
                yield _Test(self._said("check_digit", field), _digit_formula(_cell(field)), digit)

    def _has(self, field: Field, what: Callable[[str], bool], index: int) -> bool:
        value = self._value(field, index)
        return not _blank(value) and what(str(value).replace(" ", "").replace("-", ""))


def _length_formula(cell: str) -> str:
    tests = ",".join(f"LEN({_bare(cell)})={length}" for length in _GTIN_LENGTHS)
    return f'AND({cell}<>"",NOT(OR({tests})))'


def _digit_formula(cell: str) -> str:
    """Eight digits that begin with 0 may be a short code whose digit is another: those are left to `check`."""
    bare = _bare(cell)
    padded = f'RIGHT("{"0" * _LONGEST}"&{bare},{_LONGEST})'
    places, weights = ",".join(map(str, range(1, _LONGEST + 1))), ",".join(map(str, _WEIGHTS))
    total = f"SUMPRODUCT(MID({padded},{{{places}}},1)*{{{weights}}})"
    is_short = f'AND(LEN({bare})=8,LEFT({bare},1)="0")'
    return f'AND({cell}<>"",NOT({is_short}),IFERROR(MOD({total},10)<>0,TRUE))'


def _cell(field: Field) -> str:
    return f"${column_letters(field.index)}{_ROW}"


def _sought(field: Field) -> str:
    """A cell as MATCH looks for it: in texts, * and ? stand for themselves."""
    cell = _cell(field)
    if field.type != "text":
        return cell
    return f"IF(ISTEXT({cell}),{sought(cell)},{cell})"


def _bare(cell: str) -> str:
    """A GTIN without the spaces and hyphens that people put between its digits."""
    return f'SUBSTITUTE(SUBSTITUTE({cell}," ",""),"-","")'


def _blank(value: object) -> bool:
    return value is None or value == ""


def _folded(value: object) -> object:
    return "" if _blank(value) else str(value).casefold() if isinstance(value, str) else value


def _number(value: object) -> float | None:
    if isinstance(value, int | float):
        return float(value)
    try:
        return float(str(value))
    except ValueError:
        return None


def _wrong_length(digits: str) -> bool:
    return len(digits) not in _GTIN_LENGTHS


def _wrong_digit(digits: str) -> bool:
    if len(digits) == 8 and digits.startswith("0"):
        return False
    if not (digits.isascii() and digits.isdecimal()):
        return True
    padded = digits.zfill(_LONGEST)[-_LONGEST:]
    return sum(int(digit) * weight for digit, weight in zip(padded, _WEIGHTS, strict=True)) % 10 != 0


def _first_spellings(rows: Sequence[Mapping[str, object]], key: str) -> frozenset[str]:
    first: dict[str, str] = {}
    for row in rows:
        value = row.get(key)
        if not _blank(value):
            first.setdefault(str(value).casefold(), str(value))
    return frozenset(first.values())
