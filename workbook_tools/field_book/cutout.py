"""Pictures as the sheets need them: white edges cut off, and the facings of a tray side by side in one picture."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO
from math import sqrt

from PIL import Image, ImageChops

from workbook_tools.program.pictures import DENSITY, Picture, encoded

ITEM_BOX = (88, 88)
"""Pixels across and down that an item's picture keeps at the most, its white edges cut off."""
_NEARLY_WHITE = 14
"""What a shade may differ from white (0 to 255) and still be edge: faint shadows and the noise of JPEG."""
_PX_PER_INCH = 96
_MOST_TRAY_PX = 20_000
"""Stored pixels of a photographed tray's picture: 36 of them must leave room for everything else in 1 MB."""
_LEAST_FACING = 12
"""Pixels across below which facings are not drawn one by one."""


@lru_cache(maxsize=256)
def cut_out(picture: Picture, box: tuple[int, int] = ITEM_BOX) -> Picture:
    """The picture without its white edges, scaled down into `box` (pixels across and down as shown)."""
    image = _opened(picture)
    edges = ImageChops.invert(image).convert("L").point(lambda shade: 255 * (shade > _NEARLY_WHITE))
    image = image.crop(edges.getbbox() or (0, 0, *image.size))
    density = max(round(_opened(picture).width / picture.width), 1)
    scale = min(box[0] * density / image.width, box[1] * density / image.height, 1)
    return _stored(image, image.width / density * scale, image.height / density * scale, density)


@lru_cache(maxsize=1024)
def tray_picture(picture: Picture, facings: int, high: int, room: tuple[int, int], tall: float) -> Picture:
    """One picture of the goods of a tray as seen from the front: `facings` across, `high` on top of one another.

    `room` is the tray's, in pixels across and down, `tall` the most that one item may be high. Where facings would
    become too narrow to be told apart, one item stands for all.
    """
    if room[0] / facings < _LEAST_FACING:
        facings, high, tall = 1, 1, room[1]
    scale = min(
        room[0] / facings / picture.width,
        room[1] / high / picture.height,
        tall / picture.height,
        DENSITY,
    )
    across, down = max(int(picture.width * scale), 1), max(int(picture.height * scale), 1)
    shown = (across * facings, down * high)
    density = float(DENSITY)
    if picture.suffix == "jpeg":
        density = min(density, sqrt(_MOST_TRAY_PX / (shown[0] * shown[1])))
    one = _opened(picture).resize((max(round(across * density), 1), max(round(down * density), 1)))
    image = Image.new("RGB", (one.width * facings, one.height * high), "white")
    for number in range(facings * high):
        image.paste(one, (number % facings * one.width, number // facings * one.height))
    return _stored(image, *shown, density)


def _opened(picture: Picture) -> Image.Image:
    return Image.open(BytesIO(picture.data)).convert("RGB")


def _stored(image: Image.Image, across: float, down: float, density: float) -> Picture:
    shown = (max(round(across), 1), max(round(down), 1))
    size = (max(round(shown[0] * density), 1), max(round(shown[1] * density), 1))
    if image.size != size:
        image = image.resize(size, Image.Resampling.LANCZOS)
    data, suffix = encoded(image, round(_PX_PER_INCH * density))
    return Picture(data, *shown, suffix)
