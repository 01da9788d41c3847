"""The demo program's field book as LibreOffice prints it, and as a scanner reads it off the page and the tablet."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from tests.apps.field_books import WORDS, demo_book, demo_program
from tests.apps.needed import needed_tool
from tests.apps.office import Office
from tests.apps.render import render

PAPERS = {"in, lb": (612, 792), "cm, kg": (595, 842)}
"""Units → points across and down of Letter and A4."""
MOST_PAGES = 12
"""For a book of 36 positions."""
PAPER_DPI, TABLET_DPI = 240, 192
"""Less than any office printer prints, and the pixels per inch of a tablet with two of them for each of a sheet's."""
FORMATS = {"UPCA": "UPC-A", "EAN13": "EAN-13", "EAN8": "EAN-8", "Code128": "Code 128"}


@pytest.fixture(scope="module")
def printed(office: Office, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The PDF of the book, on either paper."""
    folder, pdfs = tmp_path_factory.mktemp("paper"), {}
    for number, units in enumerate(PAPERS):
        book = folder / f"{number}.xlsx"
        book.write_bytes(demo_book(units))
        pdfs[units] = office.pdf(book, book.with_suffix(".pdf"))
    return pdfs


def texts(pdf: Path) -> list[str]:
    """The text of every page, laid out as printed."""
    call = [needed_tool("pdftotext"), "-layout", pdf, "-"]
    text = subprocess.run(call, capture_output=True, check=True, timeout=60).stdout.decode()
    return text.split("\f")[:-1]


@pytest.mark.parametrize("units", PAPERS)
def test_a_book_of_36_positions_prints_in_twelve_pages(printed: dict[str, Path], units: str) -> None:
    """On Letter and on A4; every page says which it is, of which program and store."""
    pages = texts(printed[units])
    program, _ = demo_program()
    assert len(program.positions) == 36
    assert len(pages) <= MOST_PAGES
    store = program.stores[0]
    for number, text in enumerate(pages, start=1):
        footer = " ".join(text.split())
        assert footer.endswith(WORDS("page.of", page=number, pages=len(pages)))
        assert program.settings.name in footer
        assert f"{store.store} {store.name}" in footer


@pytest.mark.parametrize(("units", "points"), PAPERS.items())
def test_the_paper_is_that_of_the_program(printed: dict[str, Path], units: str, points: tuple[int, int]) -> None:
    """Letter for a program in inches, A4 for one in centimetres; faces lie, everything else stands."""
    call = [needed_tool("pdfinfo"), "-f", "1", "-l", "99", printed[units]]
    said = subprocess.run(call, capture_output=True, check=True, timeout=60).stdout.decode()
    sizes = [(round(float(one)), round(float(other))) for one, other in re.findall(r"size: +([\d.]+) x ([\d.]+)", said)]
    assert set(sizes) == {points, points[::-1]}
    assert sizes.count(points[::-1]) == len(demo_program()[0].faces)


@pytest.mark.parametrize("units", PAPERS)
def test_headings_repeat_and_shelves_are_not_split(printed: dict[str, Path], units: str) -> None:
    """Every page of the Return sheet carries the headings; a shelf's trays stand on one page."""
    pages = [text for text in texts(printed[units]) if WORDS("field_book.positions.brand.heading") in text]
    assert len(pages) == 3
    program, _ = demo_program()
    for face in program.faces:
        for _, positions in program.shelves_of(face):
            rows = [re.compile(rf"^\s*{position.key}\s.*to do", re.MULTILINE) for position in positions]
            found = [{number for number, text in enumerate(pages) if row.search(text)} for row in rows]
            assert len(set.union(*found)) == 1, positions[0].key


def codes_expected(sheet: str) -> set[tuple[str, str]]:
    """(kind, digits) of every bar code that has to stand on a sheet."""
    program, _ = demo_program()
    standing = [program.item_at(position) for position in program.walk]
    substitutes = [program.item[name] for item in standing for name in item.substitutes]
    items = standing + (substitutes if sheet == "Items" else [])
    codes = {("Code 128", item.item_code) for item in items}
    if sheet == "Items":
        kinds = {8: "EAN-8", 12: "UPC-A", 13: "EAN-13"}
        codes |= {(kinds[len(item.gtin)], item.gtin) for item in items}
    return codes


def named(kind: str, text: str) -> tuple[str, str]:
    """The kind of a bar code that was read; a UPC-A is the EAN-13 that begins with 0, and may be read as that."""
    if kind == "EAN13" and text.startswith("0"):
        return "UPC-A", text[1:]
    return FORMATS.get(kind, kind), text


def codes_read(pages: list[Path]) -> set[tuple[str, str]]:
    """(kind, digits) of every bar code that zxing-cpp finds on pictures of pages."""
    found = set()
    for page in pages:
        for code in zxingcpp.read_barcodes(Image.open(page).convert("L")):
            found.add(named(code.format.name, code.text))
    return found


@pytest.mark.parametrize(("sheet", "units"), [("Items", "in, lb"), ("Items", "cm, kg"), ("Tags", "cm, kg")])
def test_every_bar_code_is_read_off_the_paper(office: Office, tmp_path: Path, sheet: str, units: str) -> None:
    """UPC-A, EAN-13, EAN-8 and Code 128, as printed on Letter and on A4."""
    book = tmp_path / "book.xlsx"
    book.write_bytes(demo_book(units))
    assert codes_read(render(office, book, tmp_path, sheet, PAPER_DPI)) == codes_expected(sheet)


@pytest.mark.parametrize("sheet", ["Items", "Tags"])
def test_every_bar_code_is_read_off_the_tablet(office: Office, tmp_path: Path, sheet: str) -> None:
    """Screenful by screenful at 100 %; a bar code at the lower edge is read on the next one."""
    book = tmp_path / "book.xlsx"
    book.write_bytes(demo_book())
    screens = render(office, book, tmp_path, sheet, TABLET_DPI, (1024, 768))
    assert codes_read(screens) == codes_expected(sheet)
