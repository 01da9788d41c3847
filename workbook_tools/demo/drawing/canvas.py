"""A surface for flat drawings: px with the origin at the top left, drawn large and scaled down for smooth edges."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from io import BytesIO
from itertools import pairwise

from PIL import Image, ImageDraw, ImageFont

Point = tuple[float, float]
Rect = tuple[float, float, float, float]

INK = "#1B2430"
WHITE = "#FFFFFF"
CREAM = "#FBF6EA"
KRAFT = "#D8B589"
STEEL = "#BCC5CF"
WOOD = "#DDB27C"
SHADOW = "#1B243018"

_OVERSAMPLING = 3
_COLOURS_KEPT = 256


@lru_cache(maxsize=64)
def _font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Pillow's own font (ASCII only), so that the same drawing comes out on every machine."""
    return ImageFont.load_default(size)


def mix(colour: str, other: str, share: float) -> str:
    """`colour` with `share` (0 to 1) of `other` in it; both `#RRGGBB`."""
    pairs = [(int(colour[i : i + 2], 16), int(other[i : i + 2], 16)) for i in (1, 3, 5)]
    return "#" + "".join(f"{round(a + (b - a) * share):02X}" for a, b in pairs)


def darker(colour: str, share: float = 0.25) -> str:
    """A shade of `colour`."""
    return mix(colour, "#000000", share)


def lighter(colour: str, share: float = 0.4) -> str:
    """A tint of `colour`."""
    return mix(colour, WHITE, share)


def around(centre: Point, radii: Sequence[float], turn: float = -90) -> list[Point]:
    """Points at equal angles around `centre`, at each of `radii` in turn; `turn` is the first angle, in degrees."""
    step = 360 / len(radii)
    angles = [math.radians(turn + step * number) for number in range(len(radii))]
    return [(centre[0] + r * math.cos(a), centre[1] + r * math.sin(a)) for r, a in zip(radii, angles, strict=True)]


def turned(points: Iterable[Point], centre: Point, degrees: float) -> list[Point]:
    """The points turned clockwise around `centre`."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    x0, y0 = centre
    shifted = [(x - x0, y - y0) for x, y in points]
    return [(x0 + x * cos - y * sin, y0 + x * sin + y * cos) for x, y in shifted]


def path(words: str) -> list[Point]:
    """Points written as `x,y x,y …`, in px."""
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in words.split())]


def mirrored(right_half: Sequence[Point], x: float) -> list[Point]:
    """A closed outline from its right half, told from top to bottom, and its mirror image left of `x`."""
    return [*right_half, *((2 * x - px, py) for px, py in reversed(right_half))]


class Canvas:
    """One drawing. Colours are `#RRGGBB`, or `#RRGGBBAA` to let what lies under them through."""

    def __init__(self, width: int, height: int, background: str = WHITE) -> None:
        self.width = width
        self.height = height
        self._image = Image.new("RGB", (width * _OVERSAMPLING, height * _OVERSAMPLING), background)
        self._draw = ImageDraw.Draw(self._image, "RGBA")

    def polygon(self, points: Sequence[Point], fill: str, outline: str = "", line: float = 0) -> None:
        """A filled shape, its outline drawn over the edge."""
        self._draw.polygon(self._large(points), fill)
        if outline:
            self.line([*points, points[0], points[1]], outline, line)

    def line(self, points: Sequence[Point], colour: str, width: float) -> None:
        """A line through all points, with round joints and ends."""
        large = self._large(points)
        thick = width * _OVERSAMPLING
        self._draw.line(large, colour, round(thick), joint="curve")
        if len(colour) == 7 and width > 1:
            for x, y in (large[0], large[-1]):
                self._draw.ellipse((x - thick / 2, y - thick / 2, x + thick / 2, y + thick / 2), colour)

    def box(self, corners: Rect, fill: str, radius: float = 0, outline: str = "", line: float = 0) -> None:
        """A rectangle from (left, top) to (right, bottom), with rounded corners."""
        left, top, right, bottom = (value * _OVERSAMPLING for value in corners)
        self._draw.rounded_rectangle(
            (left, top, right, bottom), radius * _OVERSAMPLING, fill, outline or None, round(line * _OVERSAMPLING)
        )

    def solid(self, corners: Rect, depth: Point, fill: str) -> None:
        """A box seen from the front: its front, and its top and right side leading `depth` px to the right and up."""
        left, top, right, bottom = corners
        across, up = depth
        rear = (right + across, top - up)
        self.polygon([(right, top), rear, (right + across, bottom - up * 0.9), (right, bottom)], darker(fill))
        self.polygon([(left, top), (left + across, top - up), rear, (right, top)], lighter(fill))
        self.box(corners, fill)

    def ellipse(self, centre: Point, rx: float, ry: float, fill: str = "", outline: str = "", line: float = 0) -> None:
        """An ellipse by its centre and its two half axes."""
        x, y = centre
        corners = tuple(v * _OVERSAMPLING for v in (x - rx, y - ry, x + rx, y + ry))
        self._draw.ellipse(corners, fill or None, outline or None, round(line * _OVERSAMPLING))

    def curve(self, points: Sequence[Point], colour: str, width: float) -> None:
        """A smooth line: a Bézier curve with the inner points as its handles."""
        self.line(bezier(points), colour, width)

    def text(self, centre: Point, words: str, size: float, colour: str, most: float = 1000, bold: bool = False) -> None:
        """One line of words around `centre`; `size` px high, less where they would be wider than `most` px."""
        font = _font(round(size * _OVERSAMPLING))
        wide = self._draw.textlength(words, font) / _OVERSAMPLING
        if wide > most:
            font = _font(int(size * most / wide * _OVERSAMPLING))
        middle = (centre[0] * _OVERSAMPLING, centre[1] * _OVERSAMPLING)
        stroke = round(size * _OVERSAMPLING / 48) if bold else 0
        self._draw.text(middle, words, colour, font, anchor="mm", stroke_width=stroke, stroke_fill=colour)

    def turn(self, degrees: float) -> None:
        """Turn all that is drawn so far around the middle, clockwise; what comes in at the corners is white."""
        self._image = self._image.rotate(-degrees, Image.Resampling.BICUBIC, fillcolor=WHITE)
        self._draw = ImageDraw.Draw(self._image, "RGBA")

    def png(self) -> bytes:
        """The finished drawing as a PNG of at most 256 colours: the same bytes for the same drawing and Pillow.

        The quantizer that keeps small coloured areas truest makes white one step too dark, which is put right.
        """
        small = self._image.resize((self.width, self.height), Image.Resampling.LANCZOS)
        few = small.quantize(_COLOURS_KEPT, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
        few.putpalette([255 if value > 252 else value for value in few.getpalette() or []])
        out = BytesIO()
        few.save(out, "PNG", optimize=True)
        return out.getvalue()

    def _large(self, points: Iterable[Point]) -> list[Point]:
        return [(x * _OVERSAMPLING, y * _OVERSAMPLING) for x, y in points]


def bezier(points: Sequence[Point], steps: int = 24) -> list[Point]:
    """Points along the Bézier curve of any degree that `points` control, by de Casteljau's construction."""
    curve = []
    for number in range(steps + 1):
        t = number / steps
        level = list(points)
        while len(level) > 1:
            level = [(ax + (bx - ax) * t, ay + (by - ay) * t) for (ax, ay), (bx, by) in pairwise(level)]
        curve.append(level[0])
    return curve
