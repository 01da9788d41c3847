"""Pictures of a book as LibreOffice shows it: python -m tests.apps.render BOOK OUT_DIR [--sheet NAME] [--dpi N].

Prints the book to PDF and the PDF to one PNG a page, OUT_DIR/BOOK-1.png and on (BOOK-SHEET-1.png with --sheet), and
lists their paths. Needs LibreOffice and poppler's pdftoppm.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.apps.locate import find_tool
from tests.apps.office import Office, find_office
from tests.apps.office_process import OfficeError

SCREEN_DPI = 96
UNSAFE = re.compile(r"[^\w -]")  # in a file's name
PAGE_LIMIT = 120.0  # seconds for all pages of a book


def render(
    office: Office,
    book: Path,
    out_dir: Path,
    sheet: str | None = None,
    dpi: int = SCREEN_DPI,
    screen: tuple[int, int] | None = None,
) -> list[Path]:
    """One PNG a page, in the order of the pages, into `out_dir`, which is made if need be; pages as `Office.pdf`.

    Raises OfficeError: what `Office.pdf` raises, no pdftoppm, or a page that it cannot draw.
    """
    out_dir.mkdir(parents=True, exist_ok=True)
    stem = book.stem if sheet is None else f"{book.stem}-{UNSAFE.sub('_', sheet)}"
    with tempfile.TemporaryDirectory() as folder:
        pdf = office.pdf(book, Path(folder) / "book.pdf", sheet, screen)
        pages = _draw(pdf, Path(folder), dpi, screen)
        targets = [out_dir / f"{stem}-{number}.png" for number in range(1, len(pages) + 1)]
        for page, target in zip(pages, targets, strict=True):
            target.write_bytes(page.read_bytes())
    return targets


def _draw(pdf: Path, folder: Path, dpi: int, screen: tuple[int, int] | None) -> list[Path]:
    pdftoppm = find_tool("pdftoppm")
    if pdftoppm is None:
        raise OfficeError(f"{pdf}: pdftoppm is not installed; it comes with poppler")
    call: list[str | Path] = [pdftoppm, "-r", str(dpi), *_crop(dpi, screen), "-png", pdf, folder / "page"]
    done = subprocess.run(call, capture_output=True, timeout=PAGE_LIMIT, check=False)
    if done.returncode:
        raise OfficeError(f"{pdf}: {done.stderr.decode(errors='replace').strip()}")
    return sorted(folder.glob("page-*.png"), key=lambda page: int(page.stem.rpartition("-")[2]))


def _crop(dpi: int, screen: tuple[int, int] | None) -> list[str]:
    """A PDF measures pages in steps of its own, which can make a screenful a pixel too large."""
    if screen is None:
        return []
    width, height = (round(pixels * dpi / SCREEN_DPI) for pixels in screen)
    return ["-x", "0", "-y", "0", "-W", str(width), "-H", str(height)]


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; exit status 0 done, 2 could not be done (the reason on stderr)."""
    options = _parser().parse_args(arguments)
    office = find_office()
    if office is None:
        sys.stderr.write("LibreOffice with a Python that can import uno is not installed\n")
        return 2
    try:
        with office:
            pages = render(office, options.book, options.out_dir, options.sheet, options.dpi, options.screen)
    except OfficeError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.writelines(f"{page}\n" for page in pages)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.apps.render", description=__doc__.splitlines()[0])
    parser.add_argument("book", type=Path)
    parser.add_argument("out_dir", type=Path)
    parser.add_argument("--sheet", help="this sheet alone; without it, all that are not hidden")
    parser.add_argument("--dpi", type=int, default=SCREEN_DPI, help="pixels per inch (default: %(default)s)")
    parser.add_argument(
        "--screen", type=_screen, metavar="WxH", help="screenfuls of this size, such as 1024x768, instead of pages"
    )
    return parser


def _screen(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"([1-9][0-9]{1,4})x([1-9][0-9]{1,4})", text)
    if found is None:
        raise argparse.ArgumentTypeError(f"{text!r} is not a width and height in pixels, such as 1024x768")
    return int(found[1]), int(found[2])


if __name__ == "__main__":
    sys.exit(main())
