"""Pictures are cut out, and the facings of a tray stand side by side."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from workbook_tools.field_book.cutout import ITEM_BOX, cut_out, tray_picture
from workbook_tools.program.pictures import Picture, PictureProblem, prepare


def bottle(folder: Path, suffix: str = "png") -> Picture:
    """A tall dark bottle in the middle of a wide white picture, prepared as the program does it."""
    image = Image.new("RGB", (400, 300), "white")
    ImageDraw.Draw(image).rectangle((180, 30, 219, 269), fill=(90, 40, 10))
    path = folder / f"bottle.{suffix}"
    image.save(path)
    picture = prepare(path, (168, 126))
    assert not isinstance(picture, PictureProblem)
    return picture


def opened(picture: Picture) -> Image.Image:
    """The picture's pixels."""
    return Image.open(BytesIO(picture.data)).convert("RGB")


@pytest.mark.parametrize("suffix", ["png", "jpg"])
def test_white_edges_are_cut_off(tmp_path: Path, suffix: str) -> None:
    """What is left has the proportions of the thing itself, 40 by 240, and fits the box."""
    picture = cut_out(bottle(tmp_path, suffix))
    assert picture.height <= ITEM_BOX[1]
    assert picture.height / picture.width == pytest.approx(240 / 40, rel=0.15)
    assert opened(picture).getpixel((opened(picture).width // 2, 2)) < (150, 150, 150)


def test_a_white_picture_is_left_as_it_is(tmp_path: Path) -> None:
    """There is nothing to cut out of it."""
    Image.new("RGB", (50, 40), "white").save(tmp_path / "white.png")
    picture = prepare(tmp_path / "white.png", (168, 126))
    assert isinstance(picture, Picture)
    cut = cut_out(picture)
    assert (cut.width, cut.height) == (50, 40)


@pytest.mark.parametrize(("facings", "high"), [(1, 1), (5, 1), (4, 2), (3, 4)])
def test_facings_stand_side_by_side(tmp_path: Path, facings: int, high: int) -> None:
    """One picture a tray, as many things across and on top of one another as there are, within the room."""
    room = (180, 100)
    item = cut_out(bottle(tmp_path))
    made = tray_picture(item, facings, high, room, 100.0)
    assert made.width <= room[0]
    assert made.height <= room[1]
    assert made.width / facings / (made.height / high) == pytest.approx(item.width / item.height, rel=0.35)


def test_an_item_is_no_higher_than_it_stands(tmp_path: Path) -> None:
    """`tall` bounds one item, so that a stack of two is at most twice that."""
    made = tray_picture(cut_out(bottle(tmp_path)), 2, 2, (180, 100), 30.0)
    assert made.height <= 60


def test_facings_too_narrow_to_be_told_apart_become_one(tmp_path: Path) -> None:
    """Sixty facings in a small tray are one picture of the item."""
    one = tray_picture(cut_out(bottle(tmp_path)), 1, 1, (90, 60), 60.0)
    assert tray_picture(cut_out(bottle(tmp_path)), 60, 3, (90, 60), 20.0) == one
