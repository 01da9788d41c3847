"""Makes demo_books/ anew: python -m tests.apps.demo_books [FOLDER].

The demo program, some of its field books and returns, the roll-up, and the pictures that the README shows, as
LibreOffice draws them. Needs what `tests.apps.render` needs.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import zipfile
from functools import partial
from pathlib import Path

from PIL import Image

from tests.apps.office import find_office
from tests.apps.render import render
from workbook_tools.contract.words import words_for
from workbook_tools.demo.run import run_demo

BOOKS, RETURNS = 5, 9
TABLET = (1024, 768)
WIDTH = 900
"""Of the pictures in the README, in pixels."""


def make(target: Path) -> None:
    """Write everything into `target`, whatever was there before."""
    with tempfile.TemporaryDirectory() as place:
        root = Path(place)
        list(run_demo(root, 1, words_for("en")))
        shutil.rmtree(target, ignore_errors=True)
        target.mkdir(parents=True)
        shutil.copyfile(root / "program.xlsx", target / "program.xlsx")
        shutil.copytree(root / "rollup", target / "rollup", ignore=shutil.ignore_patterns(".*", "cache"))
        for name, count in (("issued", BOOKS), ("returns", RETURNS)):
            (target / name).mkdir()
            books = sorted((root / name).glob("*.xlsx"))
            for book in books[:: len(books) // count]:
                shutil.copyfile(book, target / name / book.name)
        draw(target, target / "pictures")


def draw(books: Path, pictures: Path) -> None:
    """The pictures: a fresh book's cover and face, a filled return, and the roll-up's first sheets."""
    office = find_office()
    if office is None:
        raise SystemExit("LibreOffice is not installed.")
    fresh = next(book for book in sorted((books / "issued").glob("*.xlsx")) if is_english(book))
    filled = max(filter(is_english, sorted((books / "returns").glob("*.xlsx"))), key=partial(flags_of, books))
    shots = (
        ("cover", fresh, "Cover", 0),
        ("face", filled, "Face A", 0),
        ("return", filled, "Return", 0),
        ("items", fresh, "Items", 0),
        ("rollup", books / "rollup" / "rollup.xlsx", None, 0),
    )
    pictures.mkdir()
    with office, tempfile.TemporaryDirectory() as place:
        for name, book, sheet, page in shots:
            pages = render(office, book, Path(place) / name, sheet, screen=TABLET)
            small(pages[page], pictures / f"{name}.png")


def is_english(book: Path) -> bool:
    """Whether a book is in English, by the name of its sheets."""
    if not zipfile.is_zipfile(book):
        return False
    with zipfile.ZipFile(book) as archive:
        return b'"Return"' in archive.read("xl/workbook.xml")


def flags_of(books: Path, returned: Path) -> int:
    """How many flags a return raised: the more, the more there is to see."""
    store = returned.name.partition(" ")[0]
    lines = (books / "rollup" / "flags.csv").read_text(encoding="utf-8-sig").splitlines()
    return sum(line.startswith(f"{store},") for line in lines)


def small(source: Path, target: Path) -> None:
    """A picture scaled to the README's width, with few colours."""
    with Image.open(source) as image:
        height = round(image.height * WIDTH / image.width)
        shown = image.convert("RGB").resize((WIDTH, height), Image.Resampling.LANCZOS)
        shown.quantize(128, dither=Image.Dither.NONE).save(target, optimize=True)


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("demo_books"))
