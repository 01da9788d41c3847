"""Bar codes that a store's hand scanner reads off the Items and Tags sheets: PNG pictures of the bars.

The bars come from python-barcode, the kind of a GTIN from biip; this module chooses the size and paints. The
digits stand in a cell beside the bars, so none are painted.

Size. One module (the narrowest bar, "X") is shown 2 px wide: at 96 px to the inch .529 mm, inside the .264 to
.660 mm of the GS1 size guide (gs1.se/en/guides/how-to-guides/size-guide/). Two whole pixels, not the nominal
.330 mm (1.25 px): bars that end between pixels turn grey on a screen of single density and cannot be read; and
a ten-inch tablet, or a sheet fitted to the width of A4, shows a pixel at only .6 to .8 of its size, which would
take .330 mm below the smallest X allowed and leaves .529 mm at .32 to .42 mm.

Bars are 14.3 mm high, cut down from the retail height (22.85 mm at X = .330 mm, more at a larger X) to fit a
table row. That costs the reading at any angle that a checkout needs; a hand scanner is laid across the bars.
"""

from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from math import ceil

from barcode.codex import Code128
from barcode.ean import EAN8, EAN13
from biip import ParseError
from biip.gtin import Gtin, GtinFormat
from PIL import Image

from workbook_tools.errors import BuildError

MODULE_PX = 2.0
"""Width of one module as shown, in px of a sheet at 100 % (96 to the inch)."""
HEIGHT_PX = 54
"""Height of the bars as shown, in px: 14.3 mm, cut down from the retail height to fit a row."""
X_LIMITS_MM = (0.264, 0.660)
"""Smallest and largest module of EAN-13, EAN-8 and UPC-A at retail: the GS1 size guide named above."""

# In the picture itself: a whole number, so that bars stay true, and pixel for pixel on a double-density screen.
_IMAGE_PX_PER_MODULE = 4
_MM_PER_PX = 25.4 / 96

# Left and right, in modules: the GS1 size guide named above; Code 128 as GS1-128 there.
_QUIET_ZONES = {"UPC-A": (9, 9), "EAN-13": (11, 7), "EAN-8": (7, 7), "Code 128": (10, 10)}


@dataclass(frozen=True)
class Symbol:
    """One bar code as a 1-bit PNG, quiet zones included.

    The PNG states its own density, so a sheet that inserts it unscaled shows it at the size given here.
    """

    data: bytes
    width_px: int
    """As shown at 96 px to the inch, rounded up to whole px."""
    height_px: int
    width_mm: float
    height_mm: float
    modules: int
    """Width in modules, quiet zones included; width_mm / modules is the X dimension."""
    name: str
    """`UPC-A`, `EAN-13`, `EAN-8` or `Code 128`."""
    text: str
    """What a scanner reads."""


@lru_cache(maxsize=1024)
def gtin_symbol(gtin: str, module_px: float = MODULE_PX) -> Symbol | None:
    """Draw the retail bar code of a GTIN: UPC-A, EAN-13 or EAN-8 after its own length.

    Args:
        gtin: 8, 12, 13 or 14 digits. Leading zeros that only fill a longer field do not count: `0036000291452`
            and `00036000291452` are a GTIN-12 and give the same UPC-A.
        module_px: Width of one module as shown, in px at 96 to the inch.

    Returns:
        The symbol; None if this is no GTIN (length, characters, check digit), or if it is that of an outer case
        (14 digits that do not begin with 0): its ITF-14 is made for cartons, at least 31.75 mm high, and
        stands on no shelf tag.

    Raises:
        BuildError: `module_px` gives a module outside `X_LIMITS_MM`.
    """
    try:
        parsed = Gtin.parse(gtin) if gtin.isascii() else None
    except ParseError:
        parsed = None
    if parsed is None or parsed.format is GtinFormat.GTIN_14:
        return None
    if parsed.format is GtinFormat.GTIN_8:
        return _paint("EAN-8", parsed.as_gtin_8(), EAN8(parsed.as_gtin_8()).build()[0], module_px)
    bars = EAN13(parsed.as_gtin_13()).build()[0]
    if parsed.format is GtinFormat.GTIN_12:
        return _paint("UPC-A", parsed.as_gtin_12(), bars, module_px)
    return _paint("EAN-13", parsed.as_gtin_13(), bars, module_px)


@lru_cache(maxsize=1024)
def item_code_symbol(code: str, module_px: float = MODULE_PX) -> Symbol | None:
    """Draw an item code as Code 128.

    Args:
        code: The chain's item code: printable ASCII characters, at least one.
        module_px: Width of one module as shown, in px at 96 to the inch.

    Returns:
        The symbol, or None if the code is empty or holds a character that Code 128 cannot show in print.

    Raises:
        BuildError: `module_px` gives a module outside `X_LIMITS_MM`.
    """
    if not (code and code.isascii() and code.isprintable()):
        return None
    return _paint("Code 128", code, _Code128(code).build()[0], module_px)


class _Code128(Code128):  # type: ignore[misc]
    """Code 128 that keeps a leading 99.

    python-barcode 0.16 takes the digits 99 at the very start for "change to set C", whose value is 99 as well,
    and drops them. Digits need no change there: the start already says set C.
    """

    def _try_to_optimize(self, encoded: list[int]) -> list[int]:
        if self.code.startswith("99"):
            return encoded
        optimized: list[int] = super()._try_to_optimize(encoded)
        return optimized


def _paint(name: str, text: str, bars: str, module_px: float) -> Symbol:
    """Bars (`1` dark, `0` light, one character a module) between their quiet zones, as a Symbol."""
    low, high = X_LIMITS_MM
    if not low <= module_px * _MM_PER_PX <= high:
        raise BuildError(f"{name} {text}: a module of {module_px} px is outside {low} to {high} mm")
    left, right = _QUIET_ZONES[name]
    modules = left + len(bars) + right
    row = Image.new("1", (modules, 1), 1)
    for x, bar in enumerate(bars, start=left):
        row.putpixel((x, 0), int(bar == "0"))
    density = _IMAGE_PX_PER_MODULE / module_px
    size = (modules * _IMAGE_PX_PER_MODULE, round(HEIGHT_PX * density))
    out = BytesIO()
    picture = row.resize(size, Image.Resampling.NEAREST)
    picture.save(out, "PNG", optimize=True, dpi=(96 * density, 96 * density))
    return Symbol(
        data=out.getvalue(),
        width_px=ceil(modules * module_px),
        height_px=HEIGHT_PX,
        width_mm=modules * module_px * _MM_PER_PX,
        height_mm=HEIGHT_PX * _MM_PER_PX,
        modules=modules,
        name=name,
        text=text,
    )
