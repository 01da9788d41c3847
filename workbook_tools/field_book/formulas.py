"""Computes the live formulas of a field book: the few functions that every spreadsheet program has, no others.

Texts are compared without regard to case and a blank cell equals "" and 0, as spreadsheet programs do it (ECMA-376
part 1, 18.17). Formulas may look at each other, but not in a circle.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Final, TypeAlias

from workbook_tools.contract.names import row_and_column
from workbook_tools.errors import BuildError

Value: TypeAlias = "str | float | bool | Failed | None"
"""What a cell or a formula holds; None is a blank cell."""


class Failed:
    """The result of a formula that cannot be computed, such as a MATCH that finds nothing."""


FAILED: Final = Failed()
LookUp: TypeAlias = Callable[[str, int, int], Value]
"""Sheet name ("" for the formula's own), 0-based row and column → what stands there."""

_TOKEN = re.compile(
    r"""\s*(?:
    (?P<text>"(?:[^"]|"")*")
    | (?P<area>(?:(?P<sheet>'(?:[^']|'')+'|[\w.]+)!)?\$?[A-Z]{1,3}\$?[0-9]+(?::\$?[A-Z]{1,3}\$?[0-9]+)?)(?![\w(.])
    | (?P<call>[A-Z][A-Z0-9.]*)\(
    | (?P<truth>TRUE|FALSE)\b
    | (?P<number>[0-9]+(?:\.[0-9]+)?)
    | (?P<sign><>|<=|>=|[=<>&+(),-])
    )""",
    re.VERBOSE,
)
_COMPARED = ("=", "<>", "<", "<=", ">", ">=")
_WILD = re.compile(r"~([*?~])|([*?])|([^*?~]+|~)")


def evaluate(formula: str, look_up: LookUp) -> Value:
    """The result of a formula, written without its first `=`. Raises BuildError when it holds anything unknown."""
    return _Reader(formula, look_up).result()


class _Reader:
    """Reads a formula from left to right and computes it on the way; every branch of an IF is computed."""

    def __init__(self, formula: str, look_up: LookUp) -> None:
        self.formula = formula
        self.look_up = look_up
        self.place = 0
        self.found: re.Match[str] | None = None
        self._next()

    def result(self) -> Value:
        value = _single(self._comparison())
        if self.found or self.place < len(self.formula):
            raise self._unknown()
        return value

    def _unknown(self) -> BuildError:
        return BuildError(f"cannot compute {self.formula!r} from {self.formula[self.place :]!r} on")

    def _next(self) -> None:
        self.found = _TOKEN.match(self.formula, self.place)
        if self.found:
            self.place = self.found.end()

    def _takes(self, *signs: str) -> str:
        """The sign that comes next, if it is one of these; it is read over."""
        sign = self.found["sign"] if self.found else None
        if sign and sign in signs:
            self._next()
            return sign
        return ""

    def _comparison(self) -> Value | Sequence[Value]:
        left = self._joined()
        while sign := self._takes(*_COMPARED):
            left = _compared(_single(left), sign, _single(self._joined()))
        return left

    def _joined(self) -> Value | Sequence[Value]:
        left = self._sum()
        while self._takes("&"):
            left = _either_failed(_single(left), _single(self._sum()), lambda one, two: as_text(one) + as_text(two))
        return left

    def _sum(self) -> Value | Sequence[Value]:
        left = self._one()
        while sign := self._takes("+", "-"):
            factor = 1 if sign == "+" else -1
            left = _either_failed(
                _number(_single(left)), _number(_single(self._one())), lambda one, two, f=factor: one + f * two
            )
        return left

    def _one(self) -> Value | Sequence[Value]:
        found = self.found
        if self._takes("-"):
            return _either_failed(_number(_single(self._one())), 0.0, lambda one, _: -one)
        if self._takes("("):
            value = self._comparison()
            self._close()
            return value
        if found is None or found["sign"]:
            raise self._unknown()
        self._next()
        if found["text"]:
            return found["text"][1:-1].replace('""', '"')
        if found["number"]:
            return float(found["number"])
        if found["truth"]:
            return found["truth"] == "TRUE"
        return self._called(found["call"]) if found["call"] else self._area(found)

    def _close(self) -> None:
        if not self._takes(")"):
            raise self._unknown()

    def _called(self, name: str) -> Value | Sequence[Value]:
        if name not in FUNCTIONS:
            raise self._unknown()
        arguments: list[Value | Sequence[Value]] = []
        while not self._takes(")"):
            arguments.append(self._comparison())
            if not self._takes(","):
                self._close()
                break
        return FUNCTIONS[name](*arguments)

    def _area(self, found: re.Match[str]) -> Value | Sequence[Value]:
        """What stands in a cell, or, of a range, in all its cells row by row."""
        sheet = found["sheet"] or ""
        if sheet.startswith("'"):
            sheet = sheet[1:-1].replace("''", "'")
        corners = found["area"].rpartition("!")[2].replace("$", "").split(":")
        places = [place for place in map(row_and_column, corners) if place]
        if len(corners) == 1:
            return self.look_up(sheet, *places[0])
        (row, column), (last_row, last_column) = places
        rows, columns = range(row, last_row + 1), range(column, last_column + 1)
        return [self.look_up(sheet, one, other) for one in rows for other in columns]


def _single(value: Value | Sequence[Value]) -> Value:
    """A range where one value is wanted has none."""
    return value if value is None or isinstance(value, str | float | int | Failed) else FAILED


def _either_failed(one: Value, two: Value, otherwise: Callable[..., Value]) -> Value:
    return FAILED if isinstance(one, Failed) or isinstance(two, Failed) else otherwise(one, two)


def as_text(value: Value) -> str:
    """A value as `&` joins it."""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    return format(value, ".15g") if isinstance(value, int | float) else str(value or "")


def _number(value: Value) -> Value:
    if value is None or isinstance(value, bool | int | float):
        return float(value or 0)
    return FAILED


def _compared(left: Value, sign: str, right: Value) -> Value:
    if isinstance(left, Failed) or isinstance(right, Failed):
        return FAILED
    one, two = _in_order(left, right), _in_order(right, left)
    less, same = one < two, one == two
    return {"=": same, "<>": not same, "<": less, "<=": less or same, ">": not (less or same), ">=": not less}[sign]


def _in_order(value: Value, other: Value) -> tuple[int, float, str]:
    """Sorts numbers before texts before truth values; a blank cell is the other's zero, blank or false."""
    if value is None:
        value = "" if isinstance(other, str) else False if isinstance(other, bool) else 0.0
    if isinstance(value, bool):
        return (2, float(value), "")
    return (1, 0.0, value.casefold()) if isinstance(value, str) else (0, float(value), "")  # type: ignore[arg-type]


def _if(test: Value, then: Value, otherwise: Value = False) -> Value:
    truth = _number(test)
    return FAILED if isinstance(truth, Failed) else then if truth else otherwise


def _any(*tests: Value) -> Value:
    return _truths(tests, any)


def _all(*tests: Value) -> Value:
    return _truths(tests, all)


def _truths(tests: Sequence[Value], whether: Callable[[Sequence[Value]], bool]) -> Value:
    numbers = [_number(test) for test in tests]
    return FAILED if any(isinstance(one, Failed) for one in numbers) else whether(numbers)


def _count_if(cells: Value | Sequence[Value], wanted: Value) -> Value:
    fits = _pattern(as_text(wanted))
    return float(sum(isinstance(one, str) and bool(fits.fullmatch(one)) for one in _cells(cells)))


def _pattern(wanted: str) -> re.Pattern[str]:
    """What a text stands for in which * and ? stand for others, ~ before them for themselves."""
    return re.compile("".join(map(_wild, _WILD.finditer(wanted))), re.IGNORECASE | re.DOTALL)


def _cells(value: Value | Sequence[Value]) -> Sequence[Value]:
    return value if isinstance(value, list) else [_single(value)]


def _wild(match: re.Match[str]) -> str:
    if match[2]:
        return ".*" if match[2] == "*" else "."
    return re.escape(match[1] or match[3])


def _index(cells: Sequence[Value], place: Value) -> Value:
    number = _number(place)
    is_within = isinstance(number, float) and 1 <= number <= len(cells)
    return cells[int(number) - 1] if is_within else FAILED  # type: ignore[arg-type]


def _match(wanted: Value, cells: Sequence[Value], how: Value) -> Value:
    if how or isinstance(wanted, Failed):
        return FAILED
    if isinstance(wanted, str):
        fits = _pattern(wanted)
        places = (place for place, one in enumerate(cells, start=1) if isinstance(one, str) and fits.fullmatch(one))
    else:
        places = (
            place for place, one in enumerate(cells, start=1) if one is not None and _compared(one, "=", wanted) is True
        )
    return float(next(places, 0)) or FAILED


def _substitute(text: Value, old: Value, new: Value) -> Value:
    if isinstance(text, Failed) or isinstance(old, Failed) or isinstance(new, Failed):
        return FAILED
    return as_text(text).replace(as_text(old), as_text(new))


FUNCTIONS: dict[str, Callable[..., Value]] = {
    "AND": _all,
    "COUNTA": lambda cells: float(sum(one is not None for one in _cells(cells))),
    "COUNTIF": _count_if,
    "EXACT": lambda one, two: _either_failed(one, two, lambda left, right: as_text(left) == as_text(right)),
    "IF": _if,
    "IFERROR": lambda value, otherwise: otherwise if isinstance(value, Failed) else value,
    "INDEX": _index,
    "ISNUMBER": lambda value: isinstance(value, int | float) and not isinstance(value, bool),
    "LEFT": lambda text, count: _either_failed(text, count, lambda one, two: as_text(one)[: int(two)]),
    "MATCH": _match,
    "N": lambda value: float(value) if isinstance(value, bool | int | float) else 0.0,
    "NOT": lambda value: FAILED if isinstance(_number(value), Failed) else not _number(value),
    "OR": _any,
    "SUBSTITUTE": _substitute,
    "TRIM": lambda text: FAILED if isinstance(text, Failed) else " ".join(filter(None, as_text(text).split(" "))),
}
