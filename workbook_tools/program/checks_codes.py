"""Codes written unlike the others of their column: zeros in front that were lost, a digit too many, an O for a 0."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.program.view import View

_CODES = (("items", "item_code"), ("stores", "store"), ("stores", "postcode"))
_SAME_LENGTH, _ENOUGH_CODES = 0.8, 5
_ODD_ONES, _FAR = 0.02, 0.1
"""Codes unlike all others are doubted when it is one, or this share; a number of another length only when it also lies
farther from the others than this share of the stretch that they fill: 1000 may well follow 999.
"""
Code = tuple[str, Row]


def check_codes(view: View) -> Iterator[Finding]:
    """Item codes, store numbers and postcodes that were likely mistyped, where nearly all others are alike."""
    for block, key in _CODES:
        codes = view.told(block, key)
        lengths = Counter([len(value) for value, _ in codes if value.isdecimal()])
        if len(codes) >= _ENOUGH_CODES and lengths:
            yield from _odd_ones(view, (block, key), codes, lengths.most_common(1)[0][0])


def _odd_ones(view: View, where: tuple[str, str], codes: Sequence[Code], length: int) -> Iterator[Finding]:
    """What is not as many digits as most are: a number that lost its zeros, or one that looks mistyped."""
    block, key = where
    alike = [value for value, _ in codes if len(value) == length and value.isdecimal()]
    odd = [(value, row) for value, row in codes if len(value) != length or not value.isdecimal()]
    has_zeros = any(value.startswith("0") for value in alike) and len(alike) >= _SAME_LENGTH * len(codes)
    is_rare = len(odd) <= max(1, _ODD_ONES * len(codes))
    for value, row in odd:
        if has_zeros and value.isdecimal() and len(value) < length:
            yield view.at(block, "zeros_lost", row, key, length=length, likely=value.zfill(length))
        elif is_rare and len(alike) >= _ENOUGH_CODES - 1 and (has_zeros or _is_far(value, alike)):
            yield view.at(block, "code_unlike", row, key, length=length)


def _is_far(value: str, others: Sequence[str]) -> bool:
    """Whether a number lies far from the others; what is no number does."""
    if not value.isdecimal():
        return True
    low, high = min(map(int, others)), max(map(int, others))
    return max(low - int(value), int(value) - high) > _FAR * (high - low)
