"""Picture files that are damaged, hostile or no pictures: each gives a problem, none an exception or a full memory."""

import io
import struct
import zlib
from pathlib import Path
from typing import IO

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFile

from workbook_tools.program.pictures import MOST_PIXELS, Picture, PictureProblem, prepare, probe

BOX = (96, 72)
KINDS = ("PNG", "JPEG", "GIF", "BMP", "WEBP")


def grain(size: tuple[int, int] = (400, 300)) -> Image.Image:
    """A picture that no encoder makes small."""
    return Image.effect_noise(size, 80).convert("RGB")


def saved(folder: Path, image: Image.Image, name: str = "source.png", **options: object) -> Path:
    """The image as a file, of the kind its name says."""
    path = folder / name
    image.save(path, **options)
    return path


def png_of(width: int, height: int) -> bytes:
    """A whole, valid 1-bit PNG of black: some hundred bytes for a million pixels."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    packer = zlib.compressobj(6)
    row = bytes(1 + (width + 7) // 8)
    pixels = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


def resized(suffix: str, offset: int, width_and_height: bytes, folder: Path) -> bytes:
    """A small picture whose head declares another size."""
    data = bytearray(
        saved(folder, Image.new("RGB", (8, 8)), f"small.{suffix}", **LOSSLESS.get(suffix, {})).read_bytes()
    )
    data[offset : offset + len(width_and_height)] = width_and_height
    return bytes(data)


LOSSLESS = {"webp": {"lossless": True}}


def bomb(kind: str, folder: Path) -> tuple[bytes, int]:
    """A file that declares far too many pixels, and how many."""
    if kind == "png":
        return png_of(30_000, 30_000), 30_000 * 30_000
    if kind == "png just above":
        return png_of(12_001, 10_000), 12_001 * 10_000
    if kind == "jpg":
        frame = saved(folder, Image.new("RGB", (8, 8)), "small.jpg").read_bytes().index(b"\xff\xc0") + 5
        return resized("jpg", frame, struct.pack(">HH", 60_000, 60_000), folder), 60_000 * 60_000
    if kind == "gif":
        return resized("gif", 6, struct.pack("<HH", 60_000, 60_000), folder), 60_000 * 60_000
    if kind == "bmp":
        return resized("bmp", 18, struct.pack("<II", 60_000, 60_000), folder), 60_000 * 60_000
    # VP8L packs width - 1 and height - 1 into 14 bits each.
    return resized("webp", 21, struct.pack("<I", 16_000 - 1 | (16_000 - 1) << 14), folder), 16_000 * 16_000


def decode_nothing(image: ImageFile.ImageFile) -> None:
    """Stands in for the decoder, and tells that it was called."""
    raise AssertionError("decoded")


@pytest.mark.parametrize("kind", ["png", "png just above", "jpg", "gif", "bmp", "webp"])
def test_a_pixel_bomb_is_refused_before_anything_is_decoded(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its declared size alone, by `prepare` and by `probe`; the detail is the number of pixels."""
    data, pixels = bomb(kind, tmp_path)
    path = tmp_path / "bomb.png"
    path.write_bytes(data)

    monkeypatch.setattr(ImageFile.ImageFile, "load", decode_nothing)
    expected = PictureProblem("picture_too_many_pixels", str(pixels))
    assert len(data) < 200_000
    assert prepare(path, BOX) == expected
    assert probe(path) == expected


def test_a_webp_may_have_a_third_of_the_pixels(tmp_path: Path) -> None:
    """Its decoder takes three times the memory a pixel: 36 bytes of file would fill 2 GB at the limit of the others."""
    path = tmp_path / "bomb.webp"
    path.write_bytes(resized("webp", 21, struct.pack("<I", 10_000 - 1 | (10_000 - 1) << 14), tmp_path))
    assert MOST_PIXELS["WEBP"] * 3 == MOST_PIXELS["PNG"]
    assert prepare(path, BOX) == PictureProblem("picture_too_many_pixels", "100000000")


@pytest.mark.parametrize(
    "content", [b"a text, not a picture\n", b"", b"%PDF-1.7", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "tiff"]
)
def test_what_is_no_picture_of_the_five_kinds_is_refused_by_its_content(content: bytes | str, tmp_path: Path) -> None:
    """The name .png does not help a text, a PDF, an SVG or a TIFF."""
    path = tmp_path / "a.png"
    if isinstance(content, str):
        grain().save(path, format=content)
    else:
        path.write_bytes(content)
    assert prepare(path, BOX) == probe(path) == PictureProblem("picture_kind", "a.png")


@pytest.mark.parametrize("kind", KINDS)
def test_no_decoder_but_that_of_the_kind_ever_sees_the_file(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pillow knows forty kinds, and the rarer ones have had holes (CVE-2026-40192, FITS): it is held to one."""
    seen: list[list[str]] = []
    really_open = Image.open

    def watched_open(file: IO[bytes], formats: list[str]) -> Image.Image:
        seen.append(formats)
        return really_open(file, formats=formats)

    path = saved(tmp_path, grain(), "a.png", format=kind)
    monkeypatch.setattr(Image, "open", watched_open)
    assert isinstance(prepare(path, BOX), Picture)
    assert seen == [[kind]]


@pytest.mark.parametrize("name", ["not there.png", "a folder", "nul\0.png"])
def test_a_picture_that_is_not_there_is_said_to_be_missing(name: str, tmp_path: Path) -> None:
    """So is a folder, and a name that no file can have."""
    (tmp_path / "a folder").mkdir()
    expected = PictureProblem("picture_missing", name)
    assert prepare(tmp_path / name, BOX) == probe(tmp_path / name) == expected


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.gif", "a.bmp", "a.webp"])
def test_a_file_cut_short_is_unreadable(name: str, tmp_path: Path) -> None:
    """Half a picture is never passed off as a whole one."""
    path = saved(tmp_path, grain(), name)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    problem = prepare(path, BOX)
    assert isinstance(problem, PictureProblem)
    assert problem.rule == "picture_unreadable"
    assert problem.detail


def test_a_kind_told_but_a_head_that_makes_no_sense_is_unreadable(tmp_path: Path) -> None:
    """The detail then is the file's name, and holds no path of this computer."""
    path = tmp_path / "a.bmp"
    path.write_bytes(b"BM" + b"\xff" * 10)
    assert probe(path) == PictureProblem("picture_unreadable", "a.bmp")


def test_probe_decodes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`check` stays quick however large the pictures: a file cut short passes its probe."""
    path = saved(tmp_path, grain(), "a.jpg")
    path.write_bytes(path.read_bytes()[:2_000])
    monkeypatch.setattr(ImageFile.ImageFile, "load", decode_nothing)
    assert prepare(path, BOX) == PictureProblem("picture_unreadable", "AssertionError: decoded")
    assert probe(path) is None


SMALL = [(grain((30, 20)), {"format": kind}) for kind in KINDS] + [
    (grain((30, 20)).convert("P"), {"format": "PNG"}),
    (grain((30, 20)).convert("CMYK"), {"format": "JPEG"}),
]


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    source=st.sampled_from(range(len(SMALL))),
    damage=st.lists(st.tuples(st.integers(0, 2_000), st.integers(0, 255)), min_size=1, max_size=20),
    keep=st.floats(0.2, 1),
)
def test_damaged_files_give_a_picture_or_a_problem_and_never_an_exception(
    source: int, damage: list[tuple[int, int]], keep: float, tmp_path: Path
) -> None:
    """Bytes changed anywhere, the end cut off: a result all the same."""
    image, options = SMALL[source]
    out = io.BytesIO()
    image.save(out, **options)
    data = bytearray(out.getvalue())
    for place, value in damage:
        data[place % len(data)] = value
    path = tmp_path / "damaged"
    path.write_bytes(data[: int(len(data) * keep)])
    result = prepare(path, BOX)
    assert isinstance(result, Picture | PictureProblem)
    if isinstance(result, Picture):
        assert Image.open(io.BytesIO(result.data)).convert("RGB").size
