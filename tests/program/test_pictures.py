"""Pictures for the field book: small, upright, clean. Damaged and hostile files: tests/faults/test_pictures.py."""

import io
import random
import re
import zipfile
from pathlib import Path

import numpy
import pytest
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageDraw

from workbook_tools.program.pictures import Picture, prepare, probe

BOX = (96, 72)
RED, BLUE, WHITE = (255, 0, 0), (0, 0, 255), (255, 255, 255)
Colour = tuple[int, int, int]


def halves(size: tuple[int, int] = (400, 300), left: Colour = RED, right: Colour = BLUE) -> Image.Image:
    """A picture of two colours, side by side."""
    image = Image.new("RGB", size, left)
    image.paste(right, (size[0] // 2, 0, size[0], size[1]))
    return image


def photo(seed: int, size: tuple[int, int] = (1200, 900)) -> Image.Image:
    """Like a photograph to an encoder: noise whose strength falls with frequency (1/f), in three related colours."""
    wide, high = size
    source = numpy.random.default_rng(seed)
    frequency = numpy.hypot(numpy.fft.fftfreq(high)[:, None], numpy.fft.rfftfreq(wide)[None])
    frequency[0, 0] = 1
    layers = []
    for _ in range(3):
        waves = source.normal(size=frequency.shape) + 1j * source.normal(size=frequency.shape)
        layer = numpy.fft.irfft2(waves / frequency, s=(high, wide))
        layers.append((layer - layer.mean()) / layer.std() * 50 + 128)
    grey = sum(layers) / 3
    colours = numpy.stack([0.8 * grey + 0.2 * layer for layer in layers], axis=-1)
    return Image.fromarray(colours.clip(0, 255).astype(numpy.uint8))


def saved(folder: Path, image: Image.Image, name: str = "source.png", **options: object) -> Path:
    """The image as a file, of the kind its name says."""
    path = folder / name
    image.save(path, **options)
    return path


def prepared(path: Path, box: tuple[int, int] = BOX) -> Picture:
    """The picture of a file that has to work."""
    picture = prepare(path, box)
    assert isinstance(picture, Picture), picture
    return picture


def opened(picture: Picture) -> Image.Image:
    """The stored picture, decoded as RGB."""
    with Image.open(io.BytesIO(picture.data)) as image:
        assert image.format == picture.suffix.upper()
        return image.convert("RGB")


def colour_at(picture: Picture, across: float, down: float = 0.5) -> Colour:
    """The colour at a share of the width and height."""
    image = opened(picture)
    return image.getpixel((int(across * image.width), int(down * image.height)))


def near(one: Colour, other: Colour, within: int = 12) -> bool:
    """Alike but for what JPEG does to them."""
    return all(abs(a - b) <= within for a, b in zip(one, other, strict=True))


SOURCES = {
    "a PNG": (halves(), "a.png", {}),
    "a PNG with a palette": (halves().convert("P"), "a.png", {}),
    "a PNG with transparency": (halves().convert("RGBA"), "a.png", {}),
    "a JPEG": (halves(), "a.jpg", {}),
    "a progressive JPEG": (halves(), "a.jpg", {"progressive": True}),
    "a CMYK JPEG": (halves().convert("CMYK"), "a.jpg", {}),
    "a GIF": (halves(), "a.gif", {}),
    "a moving GIF": (halves(), "a.gif", {"save_all": True, "append_images": [halves(left=BLUE)]}),
    "a BMP": (halves(), "a.bmp", {}),
    "a WEBP": (halves(), "a.webp", {"lossless": True}),
    "a picture of another kind than its name says": (halves(), "a.png", {"format": "JPEG"}),
}


@pytest.mark.parametrize("source", SOURCES)
def test_every_usual_kind_of_picture_comes_out_in_its_box_and_its_colours(source: str, tmp_path: Path) -> None:
    """400 x 300 in a box of 96 x 72: it fills the box, red left and blue right."""
    image, name, options = SOURCES[source]
    path = saved(tmp_path, image, name, **options)
    picture = prepared(path)
    assert probe(path) is None
    assert (picture.width, picture.height) == BOX
    assert near(colour_at(picture, 0.25), RED)
    assert near(colour_at(picture, 0.75), BLUE)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "I;16"])
def test_pictures_without_colour_keep_their_greys(mode: str, tmp_path: Path) -> None:
    """Black stays black and white white, in one bit as in sixteen; the middle grey of 16 bits stays the middle."""
    if mode == "I;16":
        ramp = numpy.linspace(0, 65535, 3000).astype(numpy.uint16)[None].repeat(300, axis=0)
        picture = prepared(saved(tmp_path, Image.fromarray(ramp)))
        assert near(colour_at(picture, 0.5), (128, 128, 128))
    else:
        picture = prepared(saved(tmp_path, halves((3000, 300), (0, 0, 0), WHITE).convert(mode)))
    assert near(colour_at(picture, 0.01), (0, 0, 0))
    assert near(colour_at(picture, 0.99), WHITE)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    size=st.tuples(st.integers(1, 700), st.integers(1, 700)),
    box=st.tuples(st.integers(1, 200), st.integers(1, 200)),
    suffix=st.sampled_from(["png", "jpg"]),
)
def test_a_picture_fits_its_box_and_keeps_its_proportions(
    size: tuple[int, int], box: tuple[int, int], suffix: str, tmp_path: Path
) -> None:
    """Never larger than the box or the source, one side full, the other true to within a px."""
    picture = prepared(saved(tmp_path, halves(size), f"a.{suffix}"), box)
    shrink = min(1, box[0] / size[0], box[1] / size[1])
    stored = opened(picture).size
    assert 1 <= picture.width <= box[0]
    assert 1 <= picture.height <= box[1]
    assert abs(picture.width - size[0] * shrink) < 1
    assert abs(picture.height - size[1] * shrink) < 1
    assert stored == ((picture.width, picture.height) if shrink == 1 else (2 * picture.width, 2 * picture.height))


@pytest.mark.parametrize("size", [(20_000, 10), (10, 20_000)])
def test_a_long_thin_picture_is_still_a_picture(size: tuple[int, int], tmp_path: Path) -> None:
    """What would shrink to nothing keeps one px."""
    picture = prepared(saved(tmp_path, halves(size)))
    assert min(picture.width, picture.height) == 1


TURNS = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""Exif orientation (Exif 2.3, tag 0x0112; MEM) and how an upright picture is turned before it is stored under it."""


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp"])
@pytest.mark.parametrize("orientation", TURNS)
def test_a_picture_stands_as_the_camera_was_held(orientation: int, suffix: str, tmp_path: Path) -> None:
    """All eight ways come out alike: wider than high, red left, blue right, green across the top."""
    upright = halves()
    upright.paste((0, 255, 0), (0, 0, 400, 60))
    turn = TURNS[orientation]
    exif = Image.Exif()
    exif[0x0112] = orientation
    stored = upright if turn is None else upright.transpose(turn)
    picture = prepared(saved(tmp_path, stored, f"a.{suffix}", exif=exif.tobytes()))
    assert (picture.width, picture.height) == BOX
    assert near(colour_at(picture, 0.5, 0.1), (0, 255, 0), within=40)
    assert near(colour_at(picture, 0.25, 0.7), RED, within=40)
    assert near(colour_at(picture, 0.75, 0.7), BLUE, within=40)


@pytest.mark.parametrize("exif", [b"Exif\0\0garbage", b"Exif\0\0II*\0\xff\xff\xff\xff"])
@pytest.mark.parametrize("suffix", ["jpg", "png"])
def test_a_damaged_note_of_the_camera_does_not_cost_the_picture(exif: bytes, suffix: str, tmp_path: Path) -> None:
    """The picture is taken as it is stored."""
    picture = prepared(saved(tmp_path, halves(), f"a.{suffix}", exif=exif))
    assert near(colour_at(picture, 0.25), RED)


def test_nothing_but_the_picture_is_kept(tmp_path: Path) -> None:
    """Camera, place, author, comment, colour profile: none of it reaches the book."""
    exif = Image.Exif()
    exif[0x010F] = "TELLTALE camera"
    exif.get_ifd(0x8825)[1] = "TELLTALE north"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for image in (photo(1, (400, 300)), halves()):
        path = saved(tmp_path, image, "a.jpg", exif=exif, comment=b"TELLTALE", icc_profile=profile)
        assert path.read_bytes().count(b"TELLTALE") == 3
        picture = prepared(path)
        with Image.open(io.BytesIO(picture.data)) as stored:
            assert not stored.getexif()
            assert not {"icc_profile", "comment", "exif", "xmp"} & stored.info.keys()
        assert b"TELLTALE" not in picture.data


def test_transparent_parts_are_white(tmp_path: Path) -> None:
    """A cut-out item stands on white like the sheet, whatever colour hides under its transparency."""
    image = halves().convert("RGBA")
    image.paste((0, 0, 0, 0), (0, 0, 200, 300))
    picture = prepared(saved(tmp_path, image))
    assert near(colour_at(picture, 0.25), WHITE)
    assert near(colour_at(picture, 0.75), BLUE)


def test_colours_are_those_that_the_profile_says(tmp_path: Path) -> None:
    """Under a profile whose red and blue are exchanged, red is blue."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    swapped = profile.replace(b"rXYZ", b"tXYZ").replace(b"bXYZ", b"rXYZ").replace(b"tXYZ", b"bXYZ")
    plain = prepared(saved(tmp_path, halves(), "plain.png", icc_profile=profile))
    exchanged = prepared(saved(tmp_path, halves(), "swapped.png", icc_profile=swapped))
    assert near(colour_at(plain, 0.25), RED)
    assert near(colour_at(exchanged, 0.25), BLUE)
    assert near(colour_at(exchanged, 0.75), RED)


@pytest.mark.parametrize("mode", ["RGB", "CMYK", "L"])
def test_a_profile_that_cannot_be_used_is_left_aside(mode: str, tmp_path: Path) -> None:
    """Damaged, or made for other colours than the picture has: the picture comes all the same."""
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    for profile in (b"no profile", lab):
        picture = prepared(saved(tmp_path, Image.new(mode, (400, 300)), "a.jpg", icc_profile=profile))
        assert (picture.width, picture.height) == BOX


def test_the_same_source_gives_the_same_bytes(tmp_path: Path) -> None:
    """Books do not change because they are built again."""
    for image, name in ((photo(1, (400, 300)), "a.jpg"), (halves(), "a.png")):
        path = saved(tmp_path, image, name)
        assert prepare(path, BOX) == prepare(path, BOX)


def test_drawings_become_png_true_to_the_colour_and_photographs_jpeg(tmp_path: Path) -> None:
    """Whichever is smaller; few colours are kept exactly."""
    drawing = Image.new("RGB", (90, 60), "white")
    pen = ImageDraw.Draw(drawing)
    for step in range(12):
        pen.rectangle((step * 7, step * 4, step * 7 + 5, 58), fill=(step * 20, 255 - step * 17, 90))
    stored = prepared(saved(tmp_path, drawing, "drawing.png"))
    assert stored.suffix == "png"
    assert opened(stored).tobytes() == drawing.tobytes()
    assert prepared(saved(tmp_path, photo(1), "photo.jpg")).suffix == "jpeg"


def test_36_photographs_of_items_take_less_than_400_kb(tmp_path: Path) -> None:
    """Twelve of 1/f noise, for photographs, and one of white noise at the stored size, the worst there is."""
    sizes = [len(prepared(saved(tmp_path, photo(seed, (800, 600)), "a.jpg")).data) for seed in range(12)]
    noise = Image.frombytes("RGB", (192, 144), random.Random(1).randbytes(192 * 144 * 3))
    worst = len(prepared(saved(tmp_path, noise)).data)
    assert sum(sizes) * 3 < 400_000
    assert worst * 36 < 400_000


def test_a_large_photograph_is_scaled(tmp_path: Path) -> None:
    """6,000 x 4,000 of grain as a JPEG: taken, and small."""
    path = saved(tmp_path, Image.effect_noise((6000, 4000), 80).convert("RGB"), "large.jpg")
    picture = prepared(path)
    assert (picture.width, picture.height) == (96, 64)
    assert len(picture.data) < 11_059


def test_a_picture_above_the_size_at_which_pillow_warns_is_scaled(tmp_path: Path) -> None:
    """100 million pixels, more than Pillow's 89.5: no warning, no refusal."""
    picture = prepared(saved(tmp_path, Image.new("1", (10_000, 10_000), 1)))
    assert (picture.width, picture.height) == (72, 72)
    assert near(colour_at(picture, 0.5), WHITE)


@pytest.mark.parametrize("size", [(1200, 900), (1000, 333), (60, 40)])
@pytest.mark.parametrize("make", [photo, lambda seed, size: halves(size)], ids=["jpeg", "png"])
def test_a_sheet_that_inserts_a_picture_unscaled_shows_it_at_its_stated_size(make, size, tmp_path: Path) -> None:
    """The density in the file makes xlsxwriter give it the stated px (9,525 EMU each)."""
    picture = prepared(saved(tmp_path, make(1, size)))
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        book.add_worksheet().insert_image(0, 0, "picture", {"image_data": io.BytesIO(picture.data)})
    drawing = zipfile.ZipFile(out).read("xl/drawings/drawing1.xml").decode()
    extent = [int(emu) / 9_525 for emu in re.findall(r'<a:ext cx="(\d+)" cy="(\d+)"', drawing)[0]]
    assert extent == pytest.approx([picture.width, picture.height], rel=0.001)
