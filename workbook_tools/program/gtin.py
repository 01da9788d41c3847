"""Reads a GTIN as it was typed into a text cell, or as a spreadsheet program damaged it.

A number is put right only where that is provable, and never from the digits alone: what it becomes must have the
right check digit (GS1 General Specifications, section 7.9.1). The UPC-E table is biip's (section 5.2.2.4).
A right check digit does not say that such an item exists, only that the number was most likely copied rightly.
"""

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

Kind = Literal["GTIN-8", "GTIN-12", "GTIN-13", "GTIN-14", "UPC-E", ""]
Problem = Literal["", "not_digits", "wrong_length", "check_digit", "ambiguous", "shortened"]

_KIND_OF_LENGTH: dict[int, Kind] = {8: "GTIN-8", 12: "GTIN-12", 13: "GTIN-13", 14: "GTIN-14"}

# How many digits a number has left -> the shortest GTIN it can have been. Fewer than 7 would be one of the 8-digit
# numbers that a company gives out for itself, and one check digit cannot tell that from a short item code typed
# into the wrong column; 9 is the fewest that GS1 leaves to a GTIN-12 (prefixes below 00001 are kept free for GTIN-8).
_LENGTH_BEFORE_ZEROS_WERE_LOST = {7: 8, 9: 12, 10: 12, 11: 12}

# Spreadsheet programs keep 15 significant digits of a number; the digits after them become 0.
_DIGITS_OF_A_NUMBER = 15

_DIGITS_WITH_HYPHENS = re.compile(r"[0-9]+(?:-+[0-9]+)*")
# 123.000 may also mean 123000: no harm, neither is long enough for a GTIN.
_WHOLE_WITH_DECIMALS = re.compile(r"([0-9]+)[.,]0+")
_SCIENTIFIC = re.compile(r"([1-9][0-9]*)(?:[.,]([0-9]+))?[eE]\+([0-9]{1,3})")
_TEXT_MARK = re.compile(r"\A['’](?=[0-9])")


@dataclass(frozen=True, slots=True)
class GtinReading:
    """What a cell's text says as a GTIN; `gtin` is None exactly when `problem` is not ''.

    gtin: the accepted digits in the length they have (8, 12, 13 or 14); a UPC-E stands here as its GTIN-12.
    kind: what was read, by that length, or 'UPC-E'; '' when nothing was accepted.
    repaired: the digits were not in the cell as they are meant: zeros were put back, or spaces, hyphens, '.0' or the
        like taken out. Space around the number, and a UPC-E that is written out, are no repair.
    problem: '' or why nothing was accepted:
        'not_digits'    something that is no number (a blank text too)
        'wrong_length'  a number of no GTIN's length, and zeros in front do not provably make it one
        'check_digit'   a GTIN's length, but the last digit does not fit the others
        'ambiguous'     right both as a GTIN-8 and as a UPC-E, which are two items; written with 12 digits it is plain
        'shortened'     digits are gone for good (4.00E+11, or zeros after the 15th digit)
    expected: with 'check_digit' the last digit that would fit; where that depends on whether 8 digits are a GTIN-8
        or a UPC-E, both with '/' between, the one for GTIN-8 first ('5/8'). Otherwise ''.
    """

    gtin: str | None
    kind: Kind
    repaired: bool
    problem: Problem
    expected: str = ""


def check_digit(body: str) -> str:
    """Return the mod-10 check digit (weights 3, 1, 3, … from the right) for the digits that stand before it.

    Leading zeros do not change it.

    Raises:
        ValueError: `body` is empty or not all of the digits 0-9.
    """
    _require_digits(body)
    weighted = sum(map(int, body[::-2])) * 3 + sum(map(int, body[-2::-2]))
    return str(-weighted % 10)


def is_valid(digits: str) -> bool:
    """Say whether `digits` is 8, 12, 13 or 14 of the digits 0-9, the last of them the right check digit."""
    return len(digits) in _KIND_OF_LENGTH and _all_digits(digits) and digits[-1] == check_digit(digits[:-1])


def expand_upc_e(code: str) -> str:
    """Return the GTIN-12 that the 8 digits of a UPC-E (number system 0 or 1, six digits, check digit) stand for.

    Raises:
        ValueError: not 8 digits, another number system, or not the check digit of the GTIN-12.
    """
    _require_digits(code)
    if len(code) != 8:
        raise ValueError(f"a UPC-E is written with 8 digits, not {len(code)}: {code!r}")
    from biip import ParseError  # noqa: PLC0415 - takes longer to load than a setup to check
    from biip.upc import Upc  # noqa: PLC0415

    try:
        return Upc.parse(code).as_upc_a()
    except ParseError as error:
        raise ValueError(str(error)) from error


def canonical(digits: str) -> str:
    """Return `digits` right-justified in 14, the form in which two GTINs are the same item or not.

    A UPC-E must be expanded first: its 8 digits are another number.

    Raises:
        ValueError: `digits` is empty, longer than 14, or not all of the digits 0-9.
    """
    _require_digits(digits)
    if len(digits) > 14:
        raise ValueError(f"a GTIN has at most 14 digits, not {len(digits)}: {digits!r}")
    return digits.zfill(14)


def read_gtin(text: str) -> GtinReading:
    """Read a cell's text as a GTIN, putting right what provably is the same number.

    Taken as the same number: digits with spaces, hyphens or dashes between them, digits of other scripts, characters
    that cannot be seen, the apostrophe that marks a text, a whole number with zero decimals ('36000291452.0'), a
    scientific number of which every digit is written, and 7 or 9-11 digits that get a right check digit when the
    leading zeros that a number cannot keep are put back. (More zeros than that would be the same GTIN: see
    `canonical`.) Digits that still begin with 0 were never a number, so nothing is put in front of them.
    """
    digits, problem = _whole_number(_plain(text))
    if problem:
        return _refused(problem)
    if len(digits) in _KIND_OF_LENGTH:
        return _judge(digits, repaired=digits != text.strip())
    if digits.startswith("0"):
        return _refused("wrong_length")
    if len(digits) > _DIGITS_OF_A_NUMBER and not digits[_DIGITS_OF_A_NUMBER:].strip("0"):
        return _refused("shortened")
    length = _LENGTH_BEFORE_ZEROS_WERE_LOST.get(len(digits))
    if length is None:
        return _refused("wrong_length")
    padded = _judge(digits.zfill(length), repaired=True)
    return _refused("wrong_length") if padded.problem == "check_digit" else padded


def _plain(text: str) -> str:
    """Give `text` with digits 0-9 for any script's, '-' for spaces and dashes, and nothing that cannot be seen."""
    seen = "".join(ch for ch in text if unicodedata.category(ch) != "Cf").strip()
    return _TEXT_MARK.sub("", "".join(map(_plain_character, seen)))


def _plain_character(ch: str) -> str:
    if ch.isdecimal():
        return str(unicodedata.decimal(ch))
    # Zs: NBSP and the other spaces. Pd: hyphens and dashes of every width. The minus sign is in neither.
    return "-" if unicodedata.category(ch) in ("Zs", "Pd") or ch == "\N{MINUS SIGN}" else ch


def _whole_number(plain: str) -> tuple[str, Problem]:
    """Give the digits of a whole number and '', or '' and the problem."""
    if _DIGITS_WITH_HYPHENS.fullmatch(plain):
        return plain.replace("-", ""), ""
    if decimals := _WHOLE_WITH_DECIMALS.fullmatch(plain):
        return decimals[1], ""
    if scientific := _SCIENTIFIC.fullmatch(plain):
        whole, fraction, exponent = scientific[1], scientific[2] or "", int(scientific[3])
        if len(fraction) < exponent:
            return "", "shortened"
        if not fraction[exponent:].strip("0"):
            return whole + fraction[:exponent], ""
    return "", "not_digits"


def _judge(digits: str, *, repaired: bool) -> GtinReading:
    """Read 8, 12, 13 or 14 digits by their check digit."""
    if len(digits) == 8:
        return _judge_eight(digits, repaired=repaired)
    if is_valid(digits):
        return GtinReading(digits, _KIND_OF_LENGTH[len(digits)], repaired, "")
    return _refused("check_digit", check_digit(digits[:-1]))


def _judge_eight(digits: str, *, repaired: bool) -> GtinReading:
    """Read 8 digits, which may be a GTIN-8 or, if they begin with 0, a UPC-E.

    GS1 writes only GTIN-12s with prefix 0 as UPC-E (General Specifications, release 18, section 2.1.3.3), while
    GTIN-8s that begin with 1 are given out; so 8 digits with 1 in front are read as nothing but a GTIN-8.
    """
    begins_with_0 = digits.startswith("0")
    expanded = _expanded(digits) if begins_with_0 else None
    if is_valid(digits):
        if expanded is not None and canonical(expanded) != canonical(digits):
            return _refused("ambiguous")
        return GtinReading(digits, "GTIN-8", repaired, "")
    if expanded is not None:
        return GtinReading(expanded, "UPC-E", repaired, "")
    expected = check_digit(digits[:-1])
    if begins_with_0:
        from biip.upc import Upc  # noqa: PLC0415

        as_upc_e = str(Upc.parse(digits[:-1]).check_digit)
        expected = expected if as_upc_e == expected else f"{expected}/{as_upc_e}"
    return _refused("check_digit", expected)


def _expanded(code: str) -> str | None:
    try:
        return expand_upc_e(code)
    except ValueError:
        return None


def _refused(problem: Problem, expected: str = "") -> GtinReading:
    return GtinReading(None, "", False, problem, expected)


def _all_digits(text: str) -> bool:
    """Only 0-9: `isdecimal` alone would pass the digits of other scripts."""
    return text.isascii() and text.isdecimal()


def _require_digits(text: str) -> None:
    if not _all_digits(text):
        raise ValueError(f"expected one or more of the digits 0-9, got {text!r}")
