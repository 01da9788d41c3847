"""The bar codes of the Items and Tags sheets: read back, sized and quiet as scanners need them."""

import io
import math
import re
import string
import zipfile

import numpy
import pytest
import stdnum.ean
import xlsxwriter
import zxingcpp
from biip.gs1_prefixes import GS1Prefix
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from workbook_tools.errors import BuildError
from workbook_tools.field_book import barcodes
from workbook_tools.field_book.barcodes import Symbol, gtin_symbol, item_code_symbol

FORMATS = {
    "UPC-A": zxingcpp.BarcodeFormat.UPCA,
    "EAN-13": zxingcpp.BarcodeFormat.EAN13,
    "EAN-8": zxingcpp.BarcodeFormat.EAN8,
    "Code 128": zxingcpp.BarcodeFormat.Code128,
}
NOMINAL_PX = 0.330 / 25.4 * 96
"""X = .330 mm as px of a sheet: the target of the GS1 size guide (gs1.se/en/guides/how-to-guides/size-guide/; READ)."""


def keyed(digits: str) -> str:
    """With its check digit, as python-stdnum computes it."""
    return digits + str(stdnum.ean.calc_check_digit(digits))


def invented(prefixes: list[str], length: int) -> st.SearchStrategy[str]:
    """GTINs of `length` digits that can belong to no real item."""
    return st.sampled_from(prefixes).flatmap(
        lambda prefix: st.text(string.digits, min_size=(n := length - 1 - len(prefix)), max_size=n).map(
            lambda rest: keyed(prefix + rest)
        )
    )


# Demonstration and restricted-circulation prefixes (biip's GS1 prefix data; READ). UPC-A and EAN-8: number systems 2
# and 4, and GS1-8 prefix 2.
gtin_12 = invented(["2", "4"], 12)
gtin_13 = invented(["952", *map(str, range(200, 300))], 13)
gtin_8 = invented(["2"], 8)
item_codes = st.text(string.digits + string.ascii_letters + "-./ ", min_size=1, max_size=16).filter(
    lambda code: code == code.strip()
)


def picture(symbol: Symbol) -> Image.Image:
    """The symbol's PNG, opened."""
    return Image.open(io.BytesIO(symbol.data))


def drawn(symbol: Symbol | None) -> Symbol:
    """The symbol, which must be there."""
    assert symbol is not None
    return symbol


def scanned(image: Image.Image, name: str) -> list[str]:
    """What a reader of this kind of symbol alone finds; it gives UPC-A in 13 digits, a zero in front."""
    found = zxingcpp.read_barcodes(image.convert("L"), formats=FORMATS[name])
    return [barcode.text.removeprefix("0") if name == "UPC-A" else barcode.text for barcode in found]


def modules(symbol: Symbol) -> str:
    """Every module of the symbol, quiet zones included, `1` dark."""
    image = picture(symbol)
    row = numpy.asarray(image)[0]
    step = image.width // symbol.modules
    return "".join("0" if row[x] else "1" for x in range(step // 2, image.width, step))


@pytest.mark.parametrize(
    ("name", "gtins"), [("UPC-A", gtin_12), ("EAN-13", gtin_13), ("EAN-8", gtin_8)], ids=["UPC-A", "EAN-13", "EAN-8"]
)
def test_every_gtin_is_read_back_from_its_symbol(name: str, gtins: st.SearchStrategy[str]) -> None:
    """Whatever the GTIN, a scanner reads exactly it, as the kind of symbol that its length asks for."""

    @settings(max_examples=60, deadline=None)
    @given(gtins)
    def reads_back(gtin: str) -> None:
        symbol = drawn(gtin_symbol(gtin))
        assert (symbol.name, symbol.text) == (name, gtin)
        assert scanned(picture(symbol), name) == [gtin]

    reads_back()


UNASSIGNED = {
    first: next(p for p in map(str, range(first * 100, first * 100 + 100)) if GS1Prefix.extract(p) is None)
    for first in (1, 3, 4, 5, 6, 7, 8)
}
"""For each first digit, a prefix that GS1 has given to nobody (biip's prefix data)."""


@pytest.mark.parametrize("prefix", [*UNASSIGNED.values(), "200", "952"])
def test_every_first_digit_of_an_ean_13_is_read_back(prefix: str) -> None:
    """The first digit is not drawn but told by the pattern of the next six: all nine patterns are right."""
    gtin = keyed(prefix + "012345678")
    assert scanned(picture(drawn(gtin_symbol(gtin))), "EAN-13") == [gtin]


@settings(max_examples=150, deadline=None)
@given(item_codes)
def test_every_item_code_is_read_back(code: str) -> None:
    """Digits, letters, hyphens, points, slashes and inner blanks come back as they were."""
    symbol = drawn(item_code_symbol(code))
    assert (symbol.name, symbol.text) == ("Code 128", code)
    assert scanned(picture(symbol), "Code 128") == [code]


@pytest.mark.parametrize(
    "code", ["99", "990", "9912", "99-A", "99999999", "1", "12", "123", "0012", "A1", "1A", "AB12345-6"]
)
def test_item_codes_at_the_edges_of_code_128_are_read_back(code: str) -> None:
    """Among them a leading 99, which python-barcode alone would drop, and odd runs of digits."""
    assert scanned(picture(drawn(item_code_symbol(code))), "Code 128") == [code]


@settings(max_examples=60, deadline=None)
@given(st.integers(10, 99), st.text(string.digits, min_size=0, max_size=10))
def test_item_codes_of_digits_are_read_back_whatever_they_begin_with(start: int, rest: str) -> None:
    """The pairs of set C share their values with the set changes: none is taken for one."""
    code = f"{start}{rest}"
    assert scanned(picture(drawn(item_code_symbol(code))), "Code 128") == [code]


@pytest.mark.parametrize("density", [1, 1.25, 1.5, 2, 2.625])
@pytest.mark.parametrize(
    "symbol",
    [
        gtin_symbol("9520123456788"),
        gtin_symbol("212345678909"),
        gtin_symbol(keyed("2012345")),
        item_code_symbol("AB-12345"),
    ],
    ids=lambda symbol: symbol.name,
)
def test_symbols_are_read_off_screens_of_every_usual_density(symbol: Symbol, density: float) -> None:
    """Shown at its stated size with `density` screen pixels for each px, a symbol is still read."""
    screen = (round(symbol.width_px * density), round(symbol.height_px * density))
    for resampling in (Image.Resampling.NEAREST, Image.Resampling.BILINEAR, Image.Resampling.BOX):
        shown = picture(symbol).convert("L").resize(screen, resampling)
        assert scanned(shown, symbol.name) == [symbol.text]


@pytest.mark.parametrize(
    ("given_as", "name", "text"),
    [
        ("036000291452", "UPC-A", "036000291452"),  # the three forms of one GTIN-12, from biip's parse (COMP)
        ("0036000291452", "UPC-A", "036000291452"),
        ("00036000291452", "UPC-A", "036000291452"),
        ("96385074", "EAN-8", "96385074"),  # and of one GTIN-8
        ("00000096385074", "EAN-8", "96385074"),
        ("09520000000011", "EAN-13", "9520000000011"),
    ],
)
def test_leading_zeros_of_a_longer_field_do_not_change_the_symbol(given_as: str, name: str, text: str) -> None:
    """A GTIN is drawn after its own length, however long the field it came in."""
    symbol = drawn(gtin_symbol(given_as))
    assert (symbol.name, symbol.text) == (name, text)
    assert scanned(picture(symbol), name) == [text]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "12345",
        "036000291456",  # wrong check digit; the right one is 2
        "0213456789104",  # wrong check digit; the right one is 2
        "95200000000ab",
        "٩٥٢٠٠٠٠٠٠٠٠١١",
        "10012345678902",  # an outer case: ITF-14, 31.75 mm high
    ],
)
def test_what_is_no_retail_gtin_gets_no_symbol(text: str) -> None:
    """No symbol at all rather than one that scans as something else."""
    assert gtin_symbol(text) is None


@pytest.mark.parametrize("code", ["", "Größe-1", "棚札12", "12\t34", "12\n"])
def test_what_code_128_cannot_show_gets_no_symbol(code: str) -> None:
    """Empty codes, letters outside ASCII and control characters give None."""
    assert item_code_symbol(code) is None


@pytest.mark.parametrize(
    ("gtin", "across", "quiet"),
    [("9520000000011", 113, (11, 7)), ("212345678909", 113, (9, 9)), (keyed("2012345"), 81, (7, 7))],
)
def test_sizes_at_nominal_x_are_the_published_ones(gtin: str, across: int, quiet: tuple[int, int]) -> None:
    """113 x .330 = 37.29 mm; 81 x .330 = 26.73 mm; quiet zones 11X = 3.63, 9X = 2.97, 7X = 2.31 mm.

    37.29, 3.63 and 2.31 READ at ozbarcodes.com.au/information/barcode-size-specifications/, the others COMP.
    """
    symbol = drawn(gtin_symbol(gtin, module_px=NOMINAL_PX))
    x = symbol.width_mm / symbol.modules
    published = {113: 37.29, 81: 26.73}
    zones = {11: 3.63, 9: 2.97, 7: 2.31}
    left = len(modules(symbol)) - len(modules(symbol).lstrip("0"))
    right = len(modules(symbol)) - len(modules(symbol).rstrip("0"))
    assert symbol.modules == across
    assert symbol.width_mm == pytest.approx(published[across], abs=0.005)
    assert (left, right) == quiet
    assert (left * x, right * x) == pytest.approx((zones[quiet[0]], zones[quiet[1]]), abs=0.005)


@pytest.mark.parametrize("code", ["12345678", "AB-1234-X"])
def test_code_128_has_ten_modules_of_quiet_zone(code: str) -> None:
    """10X left and right, as the GS1 size guide (READ) asks of GS1-128."""
    bars = modules(drawn(item_code_symbol(code)))
    assert bars.startswith("0" * 10 + "1")
    assert bars.endswith("1" + "0" * 10)


@pytest.mark.parametrize(
    "symbol", [gtin_symbol("9520000000011"), gtin_symbol("212345678909"), gtin_symbol(keyed("2012345"))]
)
def test_x_is_within_the_gs1_limits_on_the_sheet_the_tablet_and_paper(symbol: Symbol) -> None:
    """.264 to .660 mm (GS1 size guide; READ): at 96 px to the inch, and where a px is shown at .6 of that."""
    x = symbol.width_mm / symbol.modules
    assert x == pytest.approx(0.529, abs=0.0005)
    for shown in (1, 0.8, 0.6):
        assert 0.264 <= x * shown <= 0.660


def test_bars_are_at_least_12_mm_high_and_fit_a_row_of_64_px() -> None:
    """Cut down from the retail height, but not below what a hand scanner is comfortably laid across."""
    for symbol in (drawn(gtin_symbol("9520000000011")), drawn(item_code_symbol("1"))):
        assert symbol.height_mm >= 12
        assert symbol.height_px <= 60
        assert symbol.height_mm == pytest.approx(symbol.height_px * 25.4 / 96)


@pytest.mark.parametrize("module_px", [0.9, 2.6])
def test_a_module_outside_the_gs1_limits_is_refused(module_px: float) -> None:
    """A layout cannot shrink or stretch a symbol until it no longer scans."""
    with pytest.raises(BuildError):
        gtin_symbol("9520000000011", module_px=module_px)


def test_symbols_are_small_one_bit_pictures_and_the_same_every_time() -> None:
    """Under 300 bytes, black and white only, and byte for byte alike."""
    for symbol, again in [
        (drawn(gtin_symbol("9520000000011")), gtin_symbol("9520000000011")),
        (drawn(item_code_symbol("AB-1234-X")), item_code_symbol("AB-1234-X")),
    ]:
        assert symbol == again
        assert len(symbol.data) < 300
        assert picture(symbol).mode == "1"


@pytest.mark.parametrize("module_px", [barcodes.MODULE_PX, 1.5, NOMINAL_PX])
def test_a_sheet_that_inserts_a_symbol_unscaled_shows_it_at_its_stated_size(module_px: float) -> None:
    """The density in the PNG makes xlsxwriter give it the stated millimetres (36,000 EMU each)."""
    symbol = drawn(gtin_symbol("9520000000011", module_px=module_px))
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        book.add_worksheet().insert_image(0, 0, "symbol.png", {"image_data": io.BytesIO(symbol.data)})
    drawing = zipfile.ZipFile(out).read("xl/drawings/drawing1.xml").decode()
    width, height = map(int, re.findall(r'<a:ext cx="(\d+)" cy="(\d+)"', drawing)[0])
    assert width / 36_000 == pytest.approx(symbol.width_mm, rel=0.001)
    assert height / 36_000 == pytest.approx(symbol.height_mm, rel=0.005)
    assert math.ceil(width / 9_525 - 0.05) == symbol.width_px
