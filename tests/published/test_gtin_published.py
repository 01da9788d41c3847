"""GTIN arithmetic and reading, against values from outside and against outside judges.

Each row carries its source and how it was verified:
READ: the number was read in the source named. COMP: computed, by our own arithmetic and, where named, by a library.
MEM: from memory. TRAP: the source prints a wrong number, or sources disagree; such rows are negative tests only.
A row without READ is a reproducible value, not a published one.
"""

import itertools
from typing import NamedTuple

import pytest
from biip.gs1_prefixes import GS1Prefix
from biip.gtin import Gtin, GtinFormat
from biip.upc import Upc
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from workbook_tools.program.gtin import canonical, check_digit, expand_upc_e, is_valid, read_gtin

DIGITS = "0123456789"


def _digits(*lengths: int) -> st.SearchStrategy[str]:
    return st.sampled_from(lengths).flatmap(lambda n: st.text(DIGITS, min_size=n, max_size=n))


BODIES = _digits(7, 11, 12, 13)
GTINS = BODIES.map(lambda body: body + check_digit(body))


class WorkedExample(NamedTuple):
    body: str
    weighted_sum: int
    check: str
    key: str
    source: str
    mark: str


HEELPBOOK = "heelpbook.altervista.org/docs/How-to-manually-calculate-an-EAN-13-Check-Digit.txt"
UPC_ARTICLE = "Wikipedia UPC text, crifan.com/files/doc/docbook/symbology_upc/release/webhelp/ch01s05s02.html"
EAN_8_PAGE = "1001ferramentas.com/en/tools/ean-8-validator"
HONG_KONG = "gs1hk.org/CheckDigitCalculator_en.htm"
BOTH = "READ, COMP"

WORKED_EXAMPLES = [
    WorkedExample("629104150021", 57, "3", "6291041500213", HONG_KONG, "READ, COMP (stdnum, biip)"),
    WorkedExample("890400021003", 63, "7", "8904000210037", "gs1india.org/SERV/checkdgt.htm", BOTH),
    WorkedExample("03600029145", 58, "2", "036000291452", UPC_ARTICLE, BOTH),
    WorkedExample("01010101010", 5, "5", "010101010105", "Wikipedia, Universal Product Code", "part READ, COMP"),
    WorkedExample("501001708843", 61, "9", "5010017088439", HEELPBOOK, BOTH),
    WorkedExample("931234567890", 103, "7", "9312345678907", "tennysongraphics.com/eanchet.txt", "READ (sums), COMP"),
    WorkedExample("7351353", 63, "7", "73513537", EAN_8_PAGE, BOTH),
    WorkedExample("1001234567890", 88, "2", "10012345678902", "infomax-usa.com, page dun14.htm", BOTH),
    WorkedExample("03600024145", 53, "7", "036000241457", "easystickersoftware.com", BOTH),
]


@pytest.mark.parametrize("row", WORKED_EXAMPLES, ids=lambda row: f"{row.key} {row.mark}")
def test_worked_examples_of_the_mod_10_rule_are_met(row: WorkedExample) -> None:
    """The check digit is what the source works out, by its weighted sum and by its full key."""
    assert check_digit(row.body) == row.check == str(-row.weighted_sum % 10)
    assert row.body + check_digit(row.body) == row.key
    assert is_valid(row.key)
    assert read_gtin(row.key).gtin == row.key


class Key(NamedTuple):
    digits: str
    source: str
    mark: str


RUST_CRATE = "docs page of the Rust crate gtin-validate"
JAVASCRIPT_PACKAGE = "docs page of the JavaScript package gtin-validator"
PRINTED = "4006381333931 5901234123457 9780306406157 9506000134352 614141000036 10614141000415 96385074"
INVENTED = "9520000000011 9520000000028 9520000000035 9520000000042 9520000000059 9520123456788"

VALID_KEYS = [
    Key("04527819983417", RUST_CRATE, "READ, COMP"),
    Key("087248795257", RUST_CRATE, "READ, COMP"),
    Key("05766796", RUST_CRATE, "READ, COMP"),
    Key("078000053401", JAVASCRIPT_PACKAGE, "READ, COMP"),
    Key("722510035005", JAVASCRIPT_PACKAGE, "READ, COMP"),
    Key("012345678905", "docs page of the Elixir library gl_gtin", "READ, COMP"),
    *(Key(digits, "widely printed", "MEM+COMP (stdnum)") for digits in PRINTED.split()),
    *(Key(digits, "made here, prefix 952 for demonstrations", "COMP") for digits in INVENTED.split()),
]


@pytest.mark.parametrize("row", VALID_KEYS, ids=lambda row: f"{row.digits} {row.mark}")
def test_keys_that_are_said_to_be_valid_are_valid(row: Key) -> None:
    """Valid keys of every length pass, and python-stdnum agrees."""
    assert is_valid(row.digits)
    assert ean.is_valid(row.digits)


def test_valid_keys_read_as_gtins_but_for_the_one_that_is_also_a_upc_e() -> None:
    """Of the valid keys only 05766796 may be meant otherwise."""
    doubtful = [row.digits for row in VALID_KEYS if read_gtin(row.digits).gtin != row.digits]
    assert doubtful == ["05766796"]
    assert read_gtin("05766796").problem == "ambiguous"


class WrongKey(NamedTuple):
    digits: str
    right_digit: str
    source: str
    mark: str


WRONG_KEYS = [
    WrongKey("01012345678905", "4", JAVASCRIPT_PACKAGE + ", there as invalid", "READ, digit COMP (stdnum)"),
    WrongKey("0213456789104", "2", "barcodesaustralia.com/upc-ean13, there as a good sample", "TRAP, COMP"),
    WrongKey("036000291456", "2", "printed in one page", "TRAP, COMP"),
]


@pytest.mark.parametrize("row", WRONG_KEYS, ids=lambda row: f"{row.digits} {row.mark}")
def test_wrong_keys_are_refused_and_the_right_digit_is_told(row: WrongKey) -> None:
    """Also where a page prints them as samples."""
    assert not is_valid(row.digits)
    assert not ean.is_valid(row.digits)
    reading = read_gtin(row.digits)
    assert (reading.problem, reading.expected) == ("check_digit", row.right_digit)
    assert is_valid(row.digits[:-1] + row.right_digit)


class SameItem(NamedTuple):
    written: tuple[str, ...]
    format: GtinFormat
    source: str
    mark: str


SAME_ITEMS = [
    SameItem(("747599700743", "0747599700743"), GtinFormat.GTIN_12, "support.ozbarcodes.com.au", "READ, COMP"),
    SameItem(("799439112766", "0799439112766"), GtinFormat.GTIN_12, "barcodes.pk; barcodesrwanda.com", "READ, COMP"),
    SameItem(("036000291452", "0036000291452", "00036000291452"), GtinFormat.GTIN_12, "biip parse", "COMP (biip)"),
    SameItem(("96385074", "00000096385074"), GtinFormat.GTIN_8, "biip parse", "COMP (biip)"),
]


@pytest.mark.parametrize("row", SAME_ITEMS, ids=lambda row: f"{row.written[0]} {row.mark}")
def test_leading_zeros_make_no_other_item(row: SameItem) -> None:
    """All ways to write one GTIN have one canonical form, and biip takes them for one GTIN of one format."""
    assert {canonical(digits) for digits in row.written} == {row.written[0].zfill(14)}
    assert {read_gtin(digits).gtin for digits in row.written} == set(row.written)
    assert {Gtin.parse(digits).format for digits in row.written} == {row.format}


@given(BODIES, st.integers(min_value=0, max_value=6))
def test_leading_zeros_never_change_the_check_digit(body: str, zeros: int) -> None:
    """READ: gs1hk.org; gs1.se/en/standards-and-services/check-digit-calculator/ (right-justified in 14 digits)."""
    assert check_digit("0" * zeros + body) == check_digit(body)


@given(GTINS)
def test_the_canonical_form_is_the_gtin_14_of_biip(gtin: str) -> None:
    """COMP (biip)."""
    assert canonical(gtin) == Gtin.parse(gtin).as_gtin_14()


def test_an_indicator_digit_asks_for_a_new_check_digit() -> None:
    """READ: the rule, gs1au.org GTIN-14 page. COMP: the number 5010017088439 -> 15010017088436."""
    assert not is_valid("1" + "5010017088439")
    assert "1501001708843" + check_digit("1501001708843") == "15010017088436"


def test_a_gtin_12_that_lost_its_zero_is_right_again_when_padded() -> None:
    """COMP: 36000291452 (11 digits) is no GTIN; padded to 12 digits it is valid."""
    assert not is_valid("36000291452")
    reading = read_gtin("36000291452")
    assert (reading.gtin, reading.kind, reading.repaired) == ("036000291452", "GTIN-12", True)


class UpcE(NamedTuple):
    six: str
    eight: str
    upc_a: str
    source: str
    mark: str


TABLE_19 = "Printronix manual, manualsdump.com item 150559 p.197, Table 19"
PARTS = "READ (parts), COMP"
WHOLE = "READ with check, COMP"

UPC_ES = [
    UpcE("124560", "01245608", "012000004568", TABLE_19, "READ (parts), COMP (biip both ways)"),
    UpcE("275831", "02758314", "027100005834", TABLE_19, "READ (parts), COMP (biip both ways)"),
    UpcE("425261", "04252614", "042100005264", "tools.gera.services/upc-e-to-upc-a", WHOLE),
    UpcE("412022", "04120229", "041200002029", TABLE_19, PARTS),
    UpcE("876543", "08765438", "087600000548", TABLE_19, PARTS),
    UpcE("418263", "04182635", "041800000265", "ActiveState recipe 528911", WHOLE),
    UpcE("593663", "05936631", "059300000661", "cristallight.com (0-59300-00066)", PARTS),
    UpcE("753774", "07537743", "075370000073", TABLE_19, PARTS),
    UpcE("123455", "01234558", "012345000058", "made here", "COMP"),
    UpcE("213756", "02137568", "021375000068", TABLE_19, PARTS),
    UpcE("123456", "01234565", "012345000065", "worth-data manual, worth-data.manymanuals.es p.53", WHOLE),
    UpcE("123457", "01234572", "012345000072", "made here", "COMP"),
    UpcE("123458", "01234589", "012345000089", "made here", "COMP"),
    UpcE("517019", "05170197", "051701000097", TABLE_19, PARTS),
    UpcE("654321", "06543217", "065100004327", "from memory", "MEM+COMP"),
]


@pytest.mark.parametrize("row", UPC_ES, ids=lambda row: f"{row.eight} {row.mark}")
def test_upc_e_examples_expand_as_printed(row: UpcE) -> None:
    """The six digits, the eight with number system and check digit, and the UPC-A belong together; biip goes back."""
    assert row.eight[1:-1] == row.six
    assert expand_upc_e(row.eight) == row.upc_a
    assert is_valid(row.upc_a)
    assert Upc.parse(row.upc_a).as_upc_e() == row.eight


# By the last of the six digits a-f. READ: worth-data manual (worth-data.manymanuals.es, table on p.53), Printronix
# manual (Table 19), ActiveState recipe 528911.
EXPANSIONS = {
    "0": "ab00000cde", "1": "ab10000cde", "2": "ab20000cde", "3": "abc00000de", "4": "abcd00000e",
    "5": "abcde00005", "6": "abcde00006", "7": "abcde00007", "8": "abcde00008", "9": "abcde00009",
}  # fmt: skip


def _expand_by(selector: str, six: str) -> str:
    letters = dict(zip("abcdef", six, strict=True))
    return "".join(letters.get(place, place) for place in EXPANSIONS[selector])


@given(st.sampled_from("01"), _digits(6))
def test_every_upc_e_expands_by_the_published_table(number_system: str, six: str) -> None:
    """The expansion is the table's; exactly one last digit is right, that of the expanded UPC-A."""
    body = number_system + _expand_by(six[-1], six)
    right = check_digit(body)
    assert expand_upc_e(number_system + six + right) == body + right
    for wrong in set(DIGITS) - {right}:
        with pytest.raises(ValueError, match="check digit"):
            expand_upc_e(number_system + six + wrong)


@pytest.mark.parametrize("row", [row for row in UPC_ES if row.six[0] != row.six[-1]], ids=lambda row: row.eight)
def test_the_expansion_does_not_go_by_the_first_digit(row: UpcE) -> None:
    """TRAP: errorhandle.ai says the rule depends on the first digit; it is the last of the six."""
    assert expand_upc_e(row.eight)[1:-1] != _expand_by(row.six[0], row.six)


@pytest.mark.parametrize("digits", ["01234565", "01245608", "02137568", "05170197"])
def test_eight_digits_that_pass_both_checks_are_reported_as_a_doubt(digits: str) -> None:
    """COMP: valid as GTIN-8 and as UPC-E, two different items."""
    assert is_valid(digits)
    assert canonical(expand_upc_e(digits)) != canonical(digits)
    assert (read_gtin(digits).problem, read_gtin(digits).gtin) == ("ambiguous", None)


@pytest.mark.parametrize("digits", ["02758314", "04252614", "04120229", "08765438", "04182635", "05936631", "07537743"])
def test_eight_digits_that_pass_only_as_upc_e_are_read_as_upc_e(digits: str) -> None:
    """COMP: wrong as GTIN-8, so what is meant is plain."""
    assert not is_valid(digits)
    reading = read_gtin(digits)
    assert (reading.gtin, reading.kind, reading.repaired) == (expand_upc_e(digits), "UPC-E", False)


class PrefixRow(NamedTuple):
    prefixes: tuple[str, ...]
    usage: str | None
    source: str
    mark: str


CRIFAN = "crifan.com .../ch01s05s03.html; en.wikipedia.org List of GS1 country codes"
PREFIX_DATA = "biip prefix data; GS1 list copies"
PREFIXES = [
    # Numbers may be invented with the first three: no real item has one.
    PrefixRow(("020", "029", "200", "299"), "Restricted Circulation Numbers", CRIFAN, "READ + COMP (biip)"),
    PrefixRow(("040", "049"), "Restricted Circulation Numbers within a company", CRIFAN, "READ + COMP (biip)"),
    PrefixRow(("952",), "demonstrations and examples of the GS1 system", PREFIX_DATA, "READ + COMP (biip)"),
    PrefixRow(("951",), "General Manager Number", PREFIX_DATA, "READ + COMP (biip)"),
    PrefixRow(("001", "019", "060", "139"), "GS1 US", CRIFAN, "READ + COMP (biip)"),
    PrefixRow(("090", "099"), "GS1 US", CRIFAN + "; older text: coupons", "TRAP, COMP (biip)"),
    PrefixRow(("030", "039"), "GS1 US", CRIFAN + ": drugs; biip tells the issuer only", "READ + COMP (biip)"),
    PrefixRow(("050", "059"), "GS1 US reserved for future use", CRIFAN + "; older: coupons", "TRAP, COMP (biip)"),
    PrefixRow(("977",), "ISSN", CRIFAN, "READ + COMP (biip)"),
    PrefixRow(("978", "979"), "Bookland", CRIFAN, "READ + COMP (biip)"),
    PrefixRow(("980",), "Refund receipts", CRIFAN, "READ + COMP (biip)"),
    PrefixRow(("981", "983"), "coupon identification for common currency areas", CRIFAN, "READ + COMP (biip)"),
    PrefixRow(("984",), None, CRIFAN + " give it to coupons too, biip has none", "TRAP, COMP (biip)"),
    PrefixRow(("990", "999"), "coupon identification", CRIFAN, "READ + COMP (biip)"),
    PrefixRow(("140", "199"), None, "biip has none", "COMP (biip)"),
    PrefixRow(("0000001", "0000099"), "Unused to avoid collision with GTIN-8", "biip prefix data", "COMP (biip)"),
    PrefixRow(("00001", "00009"), "GS1 US", "biip prefix data", "COMP (biip)"),
]


@pytest.mark.parametrize("row", PREFIXES, ids=lambda row: f"{row.prefixes[0]} {row.mark}")
def test_prefixes_mean_what_is_published(row: PrefixRow) -> None:
    """What invented numbers and the putting back of zeros (9 digits or more, or 8) rely on holds in biip's table."""
    for prefix in row.prefixes:
        found = GS1Prefix.extract(prefix + "000000000")
        if row.usage is None:
            assert found is None
        else:
            assert found is not None
            assert row.usage in found.usage


RESTRICTED = "0212345678909 2012345678903 0412345678903"
ONE_A_NUMBER_SYSTEM = "212345678909 312345678906 412345678903 512345678900"


@pytest.mark.parametrize("digits", f"{RESTRICTED} {ONE_A_NUMBER_SYSTEM}".split())
def test_what_a_prefix_is_for_decides_nothing(digits: str) -> None:
    """COMP: a number reads by its check digit alone; lists of prefixes differ by date.

    READ: github.com/openfoodfacts/api-documentation/issues/64, a valid check digit is not a real trade item.
    """
    assert read_gtin(digits).gtin == digits
    assert ean.is_valid(digits)


def test_all_108_single_changes_of_a_gtin_12_are_rejected() -> None:
    """READ: Rosen exercise at vaia.com (every single-digit error is detected). COMP: 108 of 108 for 036000291452."""
    key = "036000291452"
    changed = [
        key[:place] + digit + key[place + 1 :] for place in range(len(key)) for digit in DIGITS if digit != key[place]
    ]
    assert len(changed) == 108
    assert {read_gtin(digits).problem for digits in changed} == {"check_digit"}


@given(GTINS, st.data())
def test_every_single_digit_error_is_detected(gtin: str, data: st.DataObject) -> None:
    """READ: Rosen exercise at vaia.com; here for GTINs of every length."""
    place = data.draw(st.integers(min_value=0, max_value=len(gtin) - 1))
    digit = data.draw(st.sampled_from([digit for digit in DIGITS if digit != gtin[place]]))
    assert not is_valid(gtin[:place] + digit + gtin[place + 1 :])


def _swapped(gtin: str, first: int, second: int) -> str:
    digits = list(gtin)
    digits[first], digits[second] = digits[second], digits[first]
    return "".join(digits)


def test_ten_of_ninety_neighbour_swaps_are_missed() -> None:
    """READ: digfir-published.macmillanusa.com exercise; bartleby.com. COMP: 80 of 90 ordered pairs caught."""
    pairs = list(itertools.permutations(DIGITS, 2))
    missed = [(a, b) for a, b in pairs if is_valid(f"9520000000{b}{a}" + check_digit(f"9520000000{a}{b}"))]
    assert (len(pairs), len(missed)) == (90, 10)
    assert all(abs(int(a) - int(b)) == 5 for a, b in missed)


@given(GTINS, st.data())
def test_swapped_neighbours_are_missed_exactly_when_they_differ_by_five(gtin: str, data: st.DataObject) -> None:
    """Both ways: a swap of equal neighbours changes nothing, one of a difference of 5 passes, any other is caught."""
    place = data.draw(st.integers(min_value=0, max_value=len(gtin) - 2))
    difference = abs(int(gtin[place]) - int(gtin[place + 1]))
    assert is_valid(_swapped(gtin, place, place + 1)) == (difference in (0, 5))


@given(GTINS, st.data())
def test_two_digits_of_equal_weight_can_change_places_unseen(gtin: str, data: st.DataObject) -> None:
    """COMP: digits two places apart have the same weight, so their swap is never detected."""
    place = data.draw(st.integers(min_value=0, max_value=len(gtin) - 3))
    assert is_valid(_swapped(gtin, place, place + 2))


UNDETECTED_PAIRS = [
    ("9520000000165", "9520000000615"),
    ("9520000000271", "9520000000721"),
    ("9520123456276", "9520123456726"),
]


@pytest.mark.parametrize(("one", "other"), UNDETECTED_PAIRS)
def test_undetected_demonstration_pairs_are_both_valid_and_two_items(one: str, other: str) -> None:
    """COMP: a swap of neighbours that differ by 5 gives another valid GTIN."""
    assert other in {_swapped(one, place, place + 1) for place in range(12)}
    assert is_valid(one)
    assert is_valid(other)
    assert canonical(one) != canonical(other)


@given(BODIES)
def test_the_check_digit_is_that_of_an_independent_judge(body: str) -> None:
    """Judge: python-stdnum, which has its own arithmetic."""
    assert check_digit(body) == ean.calc_check_digit(body)


@given(st.one_of(_digits(8, 12, 13, 14), GTINS, st.text(DIGITS, max_size=20)))
def test_validity_is_that_of_an_independent_judge(digits: str) -> None:
    """Judge: python-stdnum; random digits, valid GTINs and digits of any length."""
    assert is_valid(digits) == ean.is_valid(digits)


@given(st.one_of(_digits(12, 13, 14), GTINS.filter(lambda gtin: len(gtin) > 8)))
def test_twelve_digits_and_more_are_accepted_exactly_when_the_judge_accepts_them(digits: str) -> None:
    """Judge: python-stdnum; there is no second meaning from 12 digits on."""
    assert (read_gtin(digits).gtin == digits) == ean.is_valid(digits)
