"""The demo's pictures are small, clean and the same each time, and each shows something of its own."""

from pathlib import Path

import pytest
from PIL import Image

from workbook_tools.contract.look import default_look
from workbook_tools.demo.pictures import ITEM_SIZE, STEP_SIZE, draw_pictures
from workbook_tools.demo.scenario import scenario

BLOCKS = scenario().blocks
ITEMS = [str(row["picture"]) for row in BLOCKS["items"]]
STEPS = [str(row["picture"]) for row in BLOCKS["steps"]]
BRANDS = [row["brand"] for row in BLOCKS["labels"]]
NO_PACK = {"balloon-whisk.png", "silicone-spatula.png"}
"""Goods whose brand shows on a narrow sleeve only."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All pictures, drawn once."""
    folder = tmp_path_factory.mktemp("demo") / "images"
    draw_pictures(scenario(), folder)
    return folder


def test_every_picture_of_the_setup_is_drawn_and_no_other(folder: Path) -> None:
    """One file for each name in the setup."""
    assert sorted(path.name for path in folder.iterdir()) == sorted([*ITEMS, *STEPS])


@pytest.mark.parametrize(("names", "size"), [(ITEMS, ITEM_SIZE), (STEPS, STEP_SIZE)], ids=["items", "steps"])
def test_pictures_are_whole_pngs_of_one_size(names: list[str], size: tuple[int, int], folder: Path) -> None:
    """Item pictures share one size, step pictures another."""
    for name in names:
        with Image.open(folder / name) as image:
            image.load()
            assert (image.format, image.size) == ("PNG", size), name


def test_every_picture_takes_less_than_25_kb(folder: Path) -> None:
    """Small enough to lie in every field book."""
    sizes = {path.name: path.stat().st_size for path in folder.iterdir()}
    assert {name: size for name, size in sizes.items() if size >= 25_000} == {}


def test_the_same_program_gives_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    """Drawing twice gives equal files."""
    draw_pictures(scenario(), tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        path.name: path.read_bytes() for path in folder.iterdir()
    }


def test_no_two_pictures_are_alike(folder: Path) -> None:
    """Each item and step can be told by its picture."""
    assert len({path.read_bytes() for path in folder.iterdir()}) == len(ITEMS) + len(STEPS)


@pytest.mark.parametrize("name", ITEMS)
def test_goods_stand_whole_on_pure_white(name: str, folder: Path) -> None:
    """Nothing is cut off at an edge, the ground is the white of the sheet, and the goods fill much of the height."""
    with Image.open(folder / name) as file:
        image = file.convert("RGB")
    ink = Image.eval(image.convert("L"), lambda value: 255 if value < 255 else 0).getbbox()
    assert ink is not None
    left, top, right, bottom = ink
    assert min(left, top, image.width - right, image.height - bottom) >= 1
    assert bottom - top > image.height * 0.55


@pytest.mark.parametrize("row", BLOCKS["items"], ids=ITEMS)
def test_a_pack_shows_the_colour_of_its_brands_label(row: dict[str, object], folder: Path) -> None:
    """At least one pixel in 50 (one in 150 on a sleeve) is the fill that the brand's label has on the sheets."""
    fill = default_look().brand(BRANDS.index(row["brand"])).fill
    wanted = tuple(int(fill[i : i + 2], 16) for i in (0, 2, 4))
    with Image.open(folder / str(row["picture"])) as file:
        image = file.convert("RGB")
    colours = image.getcolors(image.width * image.height) or []
    near = sum(count for count, colour in colours if all(abs(a - b) <= 8 for a, b in zip(colour, wanted, strict=True)))
    assert near > image.width * image.height / (150 if row["picture"] in NO_PACK else 50)


def test_a_picture_without_a_drawing_is_refused(tmp_path: Path) -> None:
    """A name that nobody drew raises KeyError."""
    story = scenario()
    story.blocks["items"][0]["picture"] = "unknown.png"
    with pytest.raises(KeyError, match="unknown"):
        draw_pictures(story, tmp_path)
