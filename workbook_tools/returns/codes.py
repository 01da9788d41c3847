"""Codes as spreadsheet programs leave them, and which codes of a list they can have been.

A code of digits that lands in a cell for numbers loses its leading zeros, its digits after the 15th (Microsoft support
article 269370), or, shown in a narrow cell and copied as text, all but the first few: 4.00E+11. Nothing is guessed:
every code of the list that the program would have left like that is a candidate.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal

DIGITS_OF_A_NUMBER = 15
"""Significant digits a spreadsheet program keeps of a number."""
_SCIENTIFIC = re.compile(r"(\d)(?:[.,](\d+))?[eE]\+(\d{1,2})")
_ZERO_DECIMALS = re.compile(r"(\d+)[.,](0+)")
_EXPONENT_CODE = re.compile(r"(\d+)[eE]\+?(\d{1,2})")
_MARK_OF_TEXT = "'\u2019\u2018"


class CodeList:
    """The codes of one kind that a program knows."""

    def __init__(self, codes: Iterable[str]) -> None:
        self._codes = dict.fromkeys(codes)
        self._by_form: dict[str, set[str]] = {}
        for code in self._codes:
            for form in (_form(code), *_as_number(code)):
                self._by_form.setdefault(form, set()).add(code)

    def has(self, typed: str) -> bool:
        """True for a code as the program has it."""
        return typed in self._codes

    def fitting(self, typed: str) -> tuple[str, ...]:
        """Every code that a spreadsheet program may have left as this text, in the program's order."""
        plain = typed.replace(" ", "").replace("-", "").strip(_MARK_OF_TEXT)
        if self.has(plain):
            return (plain,)
        if not plain:
            return ()
        forms = {_form(typed), _form(plain)}
        if decimals := _ZERO_DECIMALS.fullmatch(plain):
            forms |= {_form(decimals[1]), _form(decimals[1] + decimals[2])}
        found = {code for form in forms for code in self._by_form.get(form, ())}
        if self.is_shortened(plain):
            found |= {code for code in self._codes if code.isdecimal() and _can_become(int(code), plain)}
        return tuple(code for code in self._codes if code in found)

    @staticmethod
    def is_shortened(typed: str) -> bool:
        """True for a number of which digits are gone: 4.00E+11, or nothing but zeros after the 15th digit."""
        digits = typed.lstrip("0")
        is_cut = digits.isdecimal() and len(digits) > DIGITS_OF_A_NUMBER and not digits[DIGITS_OF_A_NUMBER:].strip("0")
        return is_cut or bool(_SCIENTIFIC.fullmatch(typed))


def _form(code: str) -> str:
    """What is left of a code when zeros in front and the case of its letters do not count."""
    return code.lstrip("0").casefold()


def _as_number(code: str) -> tuple[str, ...]:
    """What becomes of a code such as 2E5 in a cell for numbers."""
    found = _EXPONENT_CODE.fullmatch(code)
    return (_form(found[1] + "0" * int(found[2])),) if found else ()


def _can_become(code: int, shortened: str) -> bool:
    """Whether a number can be shown as this shortened one: rounded to its digits, of all or of the 15 that are kept."""
    found = _SCIENTIFIC.fullmatch(shortened)
    if not found:
        return len(str(code)) == len(shortened.lstrip("0")) and _cut(code) == int(shortened)
    digits, exponent = found[1] + (found[2] or ""), int(found[3])
    unit = Decimal(10) ** (exponent - len(digits) + 1)
    shown = int(digits) * unit
    return any(2 * abs(one - shown) <= unit for one in (code, _cut(code))) or float(code) == float(shown)


def _cut(code: int) -> int:
    """A number as a spreadsheet program keeps it: zeros after the 15th digit."""
    digits = str(code)
    return int(digits[:DIGITS_OF_A_NUMBER].ljust(len(digits), "0"))
