"""Pictures for the books: any usual picture file becomes a small, sharp, clean one that fits its place.

A picture fills at most its box and is stored at twice the size shown, because a tablet has two screen pixels or
more for each px of a sheet. It lies on white, stands upright, and keeps its colours but nothing else of the
source (no camera, place or author).

Size against quality. A stored picture may take .4 bytes a pixel: 11,059 bytes for the 192 x 144 pixels of a box
of 96 x 72, so 36 items stay under 400 kB whatever they show. JPEG quality starts at 82 and goes down in steps
only as far as that budget asks: a usual photograph keeps 82, and only all-over texture pays with its grain.
Drawings and logos are mostly smaller as a PNG of at most 256 colours, and are stored so. The same source gives
the same bytes with the same Pillow.

Large sources are scaled, never refused: a JPEG is decoded at down to 1/8 of its size. Only a declared size above
`MOST_PIXELS` is taken for a bomb and refused, before anything is decoded. At that size a PNG, GIF or BMP takes
half a gigabyte while it is read, a JPEG a few MB (a progressive one up to 400).
"""

import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Literal, TypeVar

from PIL import ExifTags, Image, ImageCms, ImageOps, UnidentifiedImageError

MOST_PIXELS = {"PNG": 120_000_000, "JPEG": 120_000_000, "GIF": 120_000_000, "BMP": 120_000_000, "WEBP": 40_000_000}
"""Declared pixels (width x height) above which a source is refused; WEBP takes three times the memory a pixel."""
DENSITY = 2
"""Stored pixels for each px shown, across and down, where the source is larger than its box."""
BYTES_A_PIXEL = 0.4
"""What a stored pixel may cost before JPEG quality goes down."""

_QUALITIES = (82, 74, 66, 58, 50, 42, 34, 26)
_PX_PER_INCH = 96
_LYING = (5, 6, 7, 8)
"""Orientations of a picture that was taken with the camera on its side (EXIF, MEM)."""
_SIGNATURES = {
    "PNG": re.compile(rb"\x89PNG\r\n\x1a\n"),
    "JPEG": re.compile(rb"\xff\xd8\xff"),
    "GIF": re.compile(rb"GIF8[79]a"),
    "BMP": re.compile(rb"BM"),
    "WEBP": re.compile(rb"RIFF....WEBP", re.DOTALL),
}
_Result = TypeVar("_Result")


@dataclass(frozen=True)
class Picture:
    """A picture ready for a sheet.

    The file states its own density, so a sheet that inserts it unscaled shows it at the size given here.
    """

    data: bytes
    width: int
    """As shown, in px at 96 to the inch; height likewise."""
    height: int
    suffix: Literal["png", "jpeg"]


@dataclass(frozen=True)
class PictureProblem:
    """Why a picture file cannot be used.

    Rules, with what `detail` holds: `picture_missing` (file name), `picture_kind` (file name; not PNG, JPEG, GIF,
    BMP or WEBP by its content), `picture_too_many_pixels` (declared pixels, in digits), `picture_unreadable`
    (what the decoder said, for whoever looks into it; file name if nothing).
    """

    rule: Literal["picture_missing", "picture_unreadable", "picture_too_many_pixels", "picture_kind"]
    detail: str


def prepare(path: Path, box: tuple[int, int]) -> Picture | PictureProblem:
    """Make the small picture that stands for a file on a sheet.

    Args:
        path: The picture file; of a moving picture, the first frame counts.
        box: Width and height of its place, px at 96 to the inch, each at least 1. The picture is made to fit
            and keeps its proportions; one that is smaller is left as it is.
    """
    return _with_image(path, lambda image: _fitted(image, box))


def probe(path: Path) -> PictureProblem | None:
    """Look at the head of a picture file only: there, of a known kind, not too large?

    What only decoding shows (a file cut short) is found by `prepare`.
    """
    return _with_image(path, lambda image: None)


def upright_size(path: Path) -> tuple[int, int] | None:
    """Width and height in pixels of a picture as it was held; None for one that `probe` has something against."""
    found = _with_image(path, _upright_size)
    return None if isinstance(found, PictureProblem) else found


def _upright_size(image: Image.Image) -> tuple[int, int]:
    is_turned = image.getexif().get(ExifTags.Base.Orientation, 1) in _LYING
    return (image.height, image.width) if is_turned else (image.width, image.height)


def _with_image(path: Path, use: Callable[[Image.Image], _Result]) -> _Result | PictureProblem:
    """What `use` makes of the opened, not yet decoded image; or why it cannot."""
    if not path.is_file():
        return PictureProblem("picture_missing", path.name)
    try:
        with path.open("rb") as file, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # Pillow warns of sizes and oddities that are judged here
            head = file.read(12)
            kind = next((kind for kind, start in _SIGNATURES.items() if start.match(head)), None)
            if kind is None:
                return PictureProblem("picture_kind", path.name)
            file.seek(0)
            with Image.open(file, formats=[kind]) as image:
                return _bomb(image.width * image.height, kind) or use(image)
    except Image.DecompressionBombError as error:
        # Pillow's own, higher limit stops the opening; its message begins with the number of pixels.
        return PictureProblem("picture_too_many_pixels", re.findall(r"\d+", str(error))[0])
    except UnidentifiedImageError:
        return PictureProblem("picture_unreadable", path.name)  # Pillow has no more to say than that
    except Exception as error:  # Decoders of damaged files raise whatever they stumble over, MemoryError too.
        return PictureProblem("picture_unreadable", f"{type(error).__name__}: {error}")


def _bomb(pixels: int, kind: str) -> PictureProblem | None:
    return PictureProblem("picture_too_many_pixels", str(pixels)) if pixels > MOST_PIXELS[kind] else None


def _fitted(image: Image.Image, box: tuple[int, int]) -> Picture:
    most = 2 * DENSITY * max(box)
    image.draft(None, (most, most))  # only JPEG heeds it, and stays at least this large
    _turn_upright(image)
    shrink = min(box[0] / image.width, box[1] / image.height)
    density = DENSITY if shrink < 1 else 1
    shown = (_share(image.width, shrink), _share(image.height, shrink))
    stored = (shown[0] * density, shown[1] * density)
    data, suffix = encoded(_on_white(_resized(image, stored)), _PX_PER_INCH * density)
    return Picture(data, *shown, suffix)


def _turn_upright(image: Image.Image) -> None:
    """Decode, and turn as the camera noted it was held."""
    image.load()
    try:
        ImageOps.exif_transpose(image, in_place=True)
    except Exception:  # whatever a damaged note of the camera raises: the picture itself is sound
        return


def _share(length: int, shrink: float) -> int:
    return max(1, round(length * min(1, shrink)))


def _resized(image: Image.Image, size: tuple[int, int]) -> Image.Image:
    """The image at `size` (px), as RGB, RGBA, L or CMYK, its `info` kept."""
    if image.mode not in ("RGB", "L", "CMYK"):
        # All others are copied before they can be scaled: copy only as many pixels as can still be told apart.
        image.thumbnail((8 * size[0], 8 * size[1]), Image.Resampling.NEAREST)
    if image.has_transparency_data:
        image = image.convert("RGBA")
    elif image.mode.startswith("I"):
        image = image.point(lambda value: value / 256).convert("L")
    elif image.mode not in ("RGB", "L", "CMYK"):
        image = image.convert("RGB")
    if image.size == size:
        return image
    return image.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0)


def _on_white(image: Image.Image) -> Image.Image:
    """A new RGB image without any metadata: the colours as sRGB, the transparent parts white."""
    alpha = image.getchannel("A") if image.mode == "RGBA" else None
    colours = image if image.mode == "CMYK" else image.convert("RGB")
    canvas = Image.new("RGB", image.size, "white")
    canvas.paste(_as_srgb(colours, image.info.get("icc_profile")), mask=alpha)
    return canvas


def _as_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """RGB of an RGB or CMYK image, by its colour profile where it has one that can be used."""
    if profile:
        try:
            source = ImageCms.ImageCmsProfile(BytesIO(profile))
            target = ImageCms.createProfile("sRGB")
            converted = ImageCms.profileToProfile(image, source, target, outputMode="RGB")
        except (ImageCms.PyCMSError, OSError, ValueError, ImportError):
            converted = None  # a damaged profile is no reason to lose the picture
        if converted is not None:
            return converted
    return image.convert("RGB")


def encoded(image: Image.Image, dpi: int) -> tuple[bytes, Literal["png", "jpeg"]]:
    """An RGB image as the smaller of PNG and JPEG, within the budget; no metadata but its density."""
    jpeg = _jpeg(image, dpi)
    if image.getcolors(image.width * image.height // 8 + 256) is None:
        return jpeg, "jpeg"  # so many colours never make the smaller PNG, and sorting them takes longest of all
    png = _png(image, dpi)
    return (png, "png") if len(png) <= len(jpeg) else (jpeg, "jpeg")


def _png(image: Image.Image, dpi: int) -> bytes:
    palette = image.quantize(256, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    out = BytesIO()
    palette.save(out, "PNG", optimize=True, dpi=(dpi, dpi))
    return out.getvalue()


def _jpeg(image: Image.Image, dpi: int) -> bytes:
    """JPEG of the best quality within the budget, or of the lowest."""
    budget = BYTES_A_PIXEL * image.width * image.height
    data = b""
    for quality in _QUALITIES:
        out = BytesIO()
        image.save(out, "JPEG", quality=quality, optimize=True, dpi=(dpi, dpi))
        data = out.getvalue()
        if len(data) <= budget:
            break
    return data
