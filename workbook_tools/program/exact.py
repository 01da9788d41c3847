"""Exact arithmetic on numbers as a person typed them: 50.1 means 501/10, not the binary number nearest to it."""

from __future__ import annotations

import math
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import TypeAlias

Number: TypeAlias = int | float | Decimal | Fraction | str


def exact(number: Number) -> Fraction:
    """Read `number` as the decimal number that was meant; a float by its shortest form, a text as a decimal number.

    Raises:
        ValueError: no number, or not a finite one.
    """
    if isinstance(number, bool):
        raise ValueError(f"expected a number, got {number!r}")
    try:
        if isinstance(number, (int, Fraction, Decimal)):
            return Fraction(number)
        # float(): a subclass of float (numpy's) may write itself otherwise.
        return Fraction(Decimal(repr(float(number)) if isinstance(number, float) else number.strip()))
    except (InvalidOperation, ValueError, OverflowError) as error:
        raise ValueError(f"expected a finite number, got {number!r}") from error


def positive(number: Number) -> Fraction:
    """Read `number` exactly.

    Raises:
        ValueError: no finite number, or not above 0.
    """
    value = exact(number)
    if value <= 0:
        raise ValueError(f"expected a number above 0, got {number!r}")
    return value


def not_negative(number: Number) -> Fraction:
    """Read `number` exactly.

    Raises:
        ValueError: no finite number, or below 0.
    """
    value = exact(number)
    if value < 0:
        raise ValueError(f"expected 0 or more, got {number!r}")
    return value


def plain(value: Fraction) -> int | float:
    """Give `value` as an int where it is whole, else as the float nearest to it, which prints as it was meant."""
    return int(value) if value.denominator == 1 else float(value)


def half_up(value: Fraction, places: int) -> Fraction:
    """Round to `places` decimals, a half away from zero, as a person does by hand."""
    scale = 10**places
    rounded = math.floor(abs(value) * scale + Fraction(1, 2))
    return Fraction(rounded if value >= 0 else -rounded, scale)
