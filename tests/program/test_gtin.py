"""What a GTIN cell may hold, and what is made of it.

Invented numbers begin with 952 (demonstrations) or a restricted-circulation prefix.
"""

import dataclasses
from typing import get_args

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from workbook_tools.program.gtin import (
    GtinReading,
    Problem,
    canonical,
    check_digit,
    expand_upc_e,
    is_valid,
    read_gtin,
)

GTIN_BODIES = st.sampled_from([7, 11, 12, 13]).flatmap(
    lambda length: st.text("0123456789", min_size=length, max_size=length)
)
GTINS = GTIN_BODIES.map(lambda body: body + check_digit(body))
UPC_ES = st.from_regex(r"0[0-9]{6}", fullmatch=True).flatmap(
    lambda body: st.sampled_from([body + str(last) for last in range(10) if _expands(body + str(last))])
)


def _expands(code: str) -> bool:
    try:
        expand_upc_e(code)
    except ValueError:
        return False
    return True


def _accepted(gtin: str, kind: str, *, repaired: bool) -> GtinReading:
    return GtinReading(gtin, kind, repaired, "", "")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("96385074", "GTIN-8"),
        ("036000291452", "GTIN-12"),
        ("9520000000011", "GTIN-13"),
        ("0036000291452", "GTIN-13"),
        ("00036000291452", "GTIN-14"),
        ("19520000000018", "GTIN-14"),
    ],
)
def test_a_right_number_is_taken_as_it_stands(text: str, kind: str) -> None:
    """Digits with a right check digit keep their length and are no repair, with or without space around them."""
    for cell in (text, f"  {text}\t", f"\N{NO-BREAK SPACE}{text}\n"):
        assert read_gtin(cell) == _accepted(text, kind, repaired=False)


@pytest.mark.parametrize(
    "cell",
    [
        pytest.param("0 36000 29145 2", id="spaces"),
        pytest.param("0\N{NO-BREAK SPACE}36000\N{NARROW NO-BREAK SPACE}29145\N{NO-BREAK SPACE}2", id="NBSP"),
        pytest.param("0-36000-29145-2", id="hyphens"),
        pytest.param("0 - 36000 - 29145 - 2", id="hyphens between spaces"),
        pytest.param("0\N{EN DASH}36000\N{NON-BREAKING HYPHEN}29145\N{MINUS SIGN}2", id="dashes put in while typing"),
        pytest.param("\N{ZERO WIDTH SPACE}036000291452\N{LEFT-TO-RIGHT MARK}", id="unseen characters"),
        pytest.param("\N{ZERO WIDTH NO-BREAK SPACE} 036000291452", id="unseen character before a space"),
        pytest.param("'036000291452", id="text mark"),
        pytest.param("\N{RIGHT SINGLE QUOTATION MARK}036000291452", id="curly text mark"),
        pytest.param("０３６０００２９１４５２", id="full-width digits"),
        pytest.param("٠٣٦٠٠٠٢٩١٤٥٢", id="Arabic-Indic digits"),
        pytest.param("036000291452.0", id="decimals on a text"),
        pytest.param("36000291452", id="number"),
        pytest.param("36000291452.0", id="float"),
        pytest.param("36000291452.00", id="number format 0.00"),
        pytest.param("36000291452,0", id="float, decimal comma"),
        pytest.param("3.6000291452E+10", id="scientific, every digit there"),
        pytest.param("3,6000291452e+10", id="scientific, decimal comma"),
        pytest.param("3.60002914520E+10", id="scientific, a zero decimal"),
        pytest.param("36.000291452E+09", id="scientific in steps of three"),
        pytest.param("36 000 291 452", id="thousands with spaces, zero lost"),
    ],
)
def test_the_same_number_written_otherwise_is_read_and_told_as_repaired(cell: str) -> None:
    """Formatting and what a number cell does to a whole number never change which GTIN it is."""
    assert read_gtin(cell) == _accepted("036000291452", "GTIN-12", repaired=True)


@pytest.mark.parametrize(
    ("cell", "gtin", "kind"),
    [
        pytest.param("2000015", "02000015", "GTIN-8", id="7 digits, only right as GTIN-8"),
        pytest.param("2758314", "027100005834", "UPC-E", id="7 digits, only right as UPC-E"),
        pytest.param("200000008", "000200000008", "GTIN-12", id="9 digits"),
        pytest.param("4000000008", "004000000008", "GTIN-12", id="10 digits"),
        pytest.param("21234567893", "021234567893", "GTIN-12", id="11 digits"),
    ],
)
def test_lost_zeros_are_put_back_up_to_the_shortest_gtin(cell: str, gtin: str, kind: str) -> None:
    """A number that kept all but its leading zeros gets them back when its check digit agrees."""
    assert read_gtin(cell) == _accepted(gtin, kind, repaired=True)


@pytest.mark.parametrize(
    ("cell", "problem"),
    [
        ("", "not_digits"),
        (" \N{NO-BREAK SPACE} ", "not_digits"),
        ("N/A", "not_digits"),
        ("-036000291452", "not_digits"),
        ("036000291452-", "not_digits"),
        ("O36000291452", "not_digits"),
        ("036000291452 / 9520000000011", "not_digits"),
        ("036000291452\n9520000000011", "not_digits"),
        ("36000291452.5", "not_digits"),
        ("3.60002914525E+10", "not_digits"),
        ("4.00E-11", "not_digits"),
        ("²²²²²²²²", "not_digits"),
        ("''036000291452", "not_digits"),
        ("036000'291452", "not_digits"),
        ("3.6,0", "not_digits"),
        ("0.36000291452E+11", "not_digits"),
        ("#VALUE!", "not_digits"),
        ("17", "wrong_length"),
        ("123.000", "wrong_length"),
        ("0.0", "wrong_length"),
        ("123457", "wrong_length"),
        ("36000291453", "wrong_length"),
        ("952000000001100", "wrong_length"),
        ("036000291452 036000291452", "wrong_length"),
        ("4.00E+11", "shortened"),
        ("4,00E+11", "shortened"),
        ("4E+11", "shortened"),
        ("36.0E+9", "shortened"),
        ("9.50123456789E+12", "shortened"),
        ("1.2345678901234567e+19", "shortened"),
        ("1234567890123450", "shortened"),
        ("123456789012345000", "shortened"),
        ("123456789012345000.0", "shortened"),
        ("1234567890123456", "wrong_length"),
        ("0123456789012340", "wrong_length"),
    ],
)
def test_what_is_no_gtin_is_named_and_not_mended(cell: str, problem: str) -> None:
    """Nothing is accepted from a text that is not provably one GTIN, and the reason is told."""
    assert read_gtin(cell) == GtinReading(None, "", False, problem, "")  # type: ignore[arg-type]


@pytest.mark.parametrize("cell", ["03600029145", "0124560", "003600028", "0360002914"])
def test_digits_that_kept_a_leading_zero_get_no_more(cell: str) -> None:
    """A text that still begins with 0 never was a number: what it lacks is not its leading zeros."""
    assert read_gtin(cell).problem == "wrong_length"


def test_no_zero_is_put_before_a_text_even_where_the_check_digit_would_agree() -> None:
    """02123456788 is one digit short; that 002123456788 is valid does not say that the digit was a 0."""
    assert is_valid("002123456788")
    assert read_gtin("02123456788").problem == "wrong_length"


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("9520000000012", "1"),
        ("952-0000-00001-2", "1"),
        ("9520000000012.0", "1"),
        ("19520000000011", "8"),
        ("036000291453", "2"),
        ("96385070", "4"),
    ],
)
def test_a_wrong_last_digit_is_told_with_the_right_one(cell: str, expected: str) -> None:
    """A number of a GTIN's length whose check digit is wrong is refused, and the digit that would fit is given."""
    assert read_gtin(cell) == GtinReading(None, "", False, "check_digit", expected)


def test_eight_digits_that_fit_neither_way_name_both_last_digits() -> None:
    """0275831x ends in 4 as a UPC-E; as a GTIN-8 its own digits ask for another: both are told, GTIN-8 first."""
    assert read_gtin("02758319") == GtinReading(None, "", False, "check_digit", "2/4")


def test_eight_digits_that_fit_neither_way_name_one_digit_where_both_ways_agree() -> None:
    """0123456x ends in 5 both as GTIN-8 and as UPC-E."""
    assert read_gtin("01234567") == GtinReading(None, "", False, "check_digit", "5")


@pytest.mark.parametrize("cell", ["01234565", "1234565", "1234565.0", "0-123456-5"])
def test_eight_digits_right_as_gtin_8_and_as_upc_e_are_a_doubt(cell: str) -> None:
    """GTIN-8 and UPC-E of the same digits are two items; neither is chosen, also when the zero was lost."""
    assert read_gtin(cell) == GtinReading(None, "", False, "ambiguous", "")


@pytest.mark.parametrize("cell", ["012345000065", "000001234565"])
def test_the_doubt_ends_when_the_number_is_written_with_twelve_digits(cell: str) -> None:
    """Both meanings of 01234565 can be said plainly."""
    assert read_gtin(cell) == _accepted(cell, "GTIN-12", repaired=False)


def test_two_readings_that_are_the_same_number_are_no_doubt() -> None:
    """Eight zeros are the same number as GTIN-8 and as UPC-E; the arithmetic finds nothing wrong with it."""
    assert canonical(expand_upc_e("00000000")) == canonical("00000000")
    assert read_gtin("00000000") == _accepted("00000000", "GTIN-8", repaired=False)


def test_eight_digits_that_begin_with_1_are_a_gtin_8_or_nothing() -> None:
    """A UPC-E of number system 1 can be expanded when asked for, but no cell is guessed to be one."""
    assert expand_upc_e("12345670") == "123456000070"
    assert read_gtin("12345670") == _accepted("12345670", "GTIN-8", repaired=False)
    assert expand_upc_e("12758311") == "127100005831"
    assert read_gtin("12758311") == GtinReading(None, "", False, "check_digit", "9")


@pytest.mark.parametrize(
    "code", ["", "0123456", "012345650", "0123456A", "21234565", "01234566", " 01234565", "٠1234565"]
)
def test_what_is_no_upc_e_cannot_be_expanded(code: str) -> None:
    """Eight digits 0-9, number system 0 or 1 and the right check digit, or ValueError."""
    with pytest.raises(ValueError, match=r"\w"):
        expand_upc_e(code)


@pytest.mark.parametrize("text", ["", "12a", " 12", "١٢", "1.0", "-1"])
def test_digits_are_asked_for_where_digits_are_needed(text: str) -> None:
    """check_digit and canonical refuse anything but 0-9 with ValueError; is_valid says no."""
    with pytest.raises(ValueError, match="digits 0-9"):
        check_digit(text)
    with pytest.raises(ValueError, match="digits 0-9"):
        canonical(text)
    assert not is_valid(text)


def test_is_valid_knows_no_digits_but_western_ones() -> None:
    """A stored GTIN is ASCII, so that two equal ones compare equal."""
    assert is_valid("036000291452")
    assert not is_valid("٠٣٦٠٠٠٢٩١٤٥٢")


def test_canonical_makes_equal_what_is_one_item() -> None:
    """036000291452 and 0036000291452 are duplicates; a GTIN-8 keeps apart from a UPC-E's GTIN-12."""
    assert canonical("036000291452") == canonical("0036000291452") == "00036000291452"
    assert canonical("01234565") != canonical(expand_upc_e("01234565"))
    with pytest.raises(ValueError, match="at most 14"):
        canonical("000036000291452")


def test_a_reading_cannot_be_changed() -> None:
    """GtinReading is frozen."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        read_gtin("036000291452").gtin = None  # type: ignore[misc]


@given(GTINS)
def test_an_accepted_number_reads_as_itself(gtin: str) -> None:
    """Reading what was read changes nothing, so a repaired cell is never repaired twice."""
    reading = read_gtin(gtin)
    if reading.gtin is not None:
        assert read_gtin(reading.gtin) == _accepted(reading.gtin, f"GTIN-{len(reading.gtin)}", repaired=False)
    else:
        assert (len(gtin), reading.problem) == (8, "ambiguous")


@given(GTINS)
@example("00000001234565")
@example("00000000000000")
def test_a_number_cell_never_turns_a_gtin_into_another(gtin: str) -> None:
    """Kept as a number (as integer or float text), a GTIN comes back as the same item or not at all."""
    for damaged in (str(int(gtin)), str(float(gtin))):
        reading = read_gtin(damaged)
        if reading.gtin is None:
            assert reading.problem in ("ambiguous", "wrong_length")
            assert len(gtin.lstrip("0")) <= 8
        else:
            assert canonical(reading.gtin) == canonical(gtin)


@given(UPC_ES)
@example("00000055")
def test_a_number_cell_never_turns_a_upc_e_into_another_item(code: str) -> None:
    """A UPC-E, whole or without its 0, comes back as the same item, or is told as a doubt or as too short."""
    for damaged in (code, str(int(code)), str(float(code))):
        reading = read_gtin(damaged)
        if reading.gtin is None:
            assert reading.problem in ("ambiguous", "wrong_length")
        else:
            assert canonical(reading.gtin) == canonical(expand_upc_e(code))


@given(GTINS.filter(lambda gtin: len(gtin.lstrip("0")) >= 9))
def test_lost_zeros_come_back_from_nine_digits_on(gtin: str) -> None:
    """Every GTIN with 9 or more digits after its zeros survives a number cell."""
    reading = read_gtin(str(int(gtin)))
    assert reading.gtin is not None
    assert canonical(reading.gtin) == canonical(gtin)


@given(GTINS.filter(lambda gtin: int(gtin) >= 1000), st.integers(min_value=0, max_value=2))
def test_a_scientific_display_is_always_told_as_shortened(gtin: str, places: int) -> None:
    """Three significant digits are never made into a GTIN again."""
    assert read_gtin(f"{int(gtin):.{places}E}").problem == "shortened"


@given(st.integers(min_value=10**15, max_value=10**18))
def test_more_than_fifteen_digits_cut_to_fifteen_are_told_as_shortened(number: int) -> None:
    """What a spreadsheet program makes of a longer number is seen, whatever the lost digits were."""
    text = str(number)
    assert read_gtin(text[:15] + "0" * (len(text) - 15)).problem == "shortened"


@given(GTINS, st.lists(st.integers(min_value=1, max_value=13)), st.sampled_from(" -\N{NO-BREAK SPACE}\N{EN DASH}"))
def test_separators_never_change_what_is_read(gtin: str, places: list[int], separator: str) -> None:
    """Spaces and hyphens between digits change nothing but the repaired mark."""
    spaced = "".join(separator + digit if place and place in places else digit for place, digit in enumerate(gtin))
    plain, read = read_gtin(gtin), read_gtin(spaced)
    assert dataclasses.replace(read, repaired=False) == plain
    assert read.repaired == (plain.gtin is not None and spaced != gtin)


@given(st.text(max_size=40) | st.text("0123456789.,eE+-' ", max_size=25))
def test_any_text_gives_a_reading(text: str) -> None:
    """No text raises; what is accepted is valid, what is refused has a reason from the list and nothing else."""
    reading = read_gtin(text)
    assert reading.problem in get_args(Problem)
    assert (reading.gtin is None) == (reading.problem != "") == (reading.kind == "")
    assert (reading.expected != "") == (reading.problem == "check_digit")
    if reading.gtin is None:
        assert not reading.repaired
    else:
        assert is_valid(reading.gtin)
