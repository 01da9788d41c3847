"""What a merchandiser holds in the hand: room on the screen, open cells, prompts, links, names of any length."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils import get_column_letter
from openpyxl.workbook.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet
from openxml_audit import FileFormat, OpenXmlValidator
from PIL import Image

from tests.field_book.programs import book_of, made_program
from workbook_tools.contract.lettering import lines
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.words import Words, languages, words_for
from workbook_tools.contract.writing import PROMPT_TEXT, PROMPT_TITLE
from workbook_tools.field_book.layout import KEY_ROW, plan_return
from workbook_tools.field_book.return_styles import TIME_FORMAT
from workbook_tools.program.model import Program
from workbook_tools.program.pictures import Picture, PictureProblem, prepare

WORDS = words_for("en")
TABLET = 1024
TOUCH, LEAST_POINTS = 44, 12
"""Pixels of height that a finger hits, and points that can be read at arm's length."""
LONG = ("Lids with a very long name that says all there is to say about them, and then some more, because " * 3)[:200]
SCRIPTS = (
    "سكر بودرة ناعم للحلويات",
    "アーモンドエッセンス、業務用、二百グラム入り",
    "חטיף שוקולד מריר",
    "糖粉一磅装家庭用",
)

SHAPES: dict[str, Program] = {
    "plain": made_program(),
    "one position": made_program(1, 1, 1),
    "eight faces": made_program(8, 2, 2),
    "400 positions": made_program(1, 20, 20),
    "60 brands": made_program(3, 4, 5, brands=60),
    "long names": made_program(2, 2, 3, name=lambda n: f"{n} {LONG}"[:200], brand=lambda n: f"{n} {LONG[:60]}"),
    "scripts": made_program(
        1, 2, 4, name=lambda n: f"{SCRIPTS[n % 4]} {n}", brand=lambda n: f"{SCRIPTS[n % 4][:8]} {n}"
    ),
    "no sizes": made_program(1, 3, 7, sized=False),
}
BOOKS = {name: book_of(program) for name, program in SHAPES.items()}


def opened(book: bytes) -> Workbook:
    """The book as openpyxl reads it."""
    return openpyxl.load_workbook(BytesIO(book), rich_text=False)


SHAPES |= {language: SHAPES["plain"] for language in languages() if language != "en"}
BOOKS |= {name: book_of(SHAPES[name], language=name) for name in languages() if name != "en"}
WORKBOOKS = {name: opened(book) for name, book in BOOKS.items()}
every_shape = pytest.mark.parametrize("shape", SHAPES)


def pixels(sheet: Worksheet, column: int) -> int:
    """The width of a 1-based column, 0 when it is hidden (7 pixels a digit, 5 of padding)."""
    for dimension in sheet.column_dimensions.values():
        if dimension.min <= column <= dimension.max:
            return 0 if dimension.hidden else round(dimension.width * 7)
    return 64


def words_of(shape: str) -> Words:
    """The words of a shape's book."""
    return words_for(shape if shape in languages() else "en")


def visible(book: Workbook) -> list[Worksheet]:
    """The sheets that people see."""
    return [sheet for sheet in book if sheet.sheet_state == "visible"]


@every_shape
def test_every_sheet_fits_the_width_of_a_tablet(shape: str) -> None:
    """At 100 %, everything stands within 1024 pixels."""
    for sheet in visible(WORKBOOKS[shape]):
        width = sum(pixels(sheet, column) for column in range(1, sheet.max_column + 1))
        assert width <= TABLET, sheet.title


@every_shape
def test_answers_are_large_enough_for_a_finger_and_an_arms_length(shape: str) -> None:
    """Every open cell is at least 44 pixels high and set in at least 12 points."""
    sheet = WORKBOOKS[shape][words_of(shape)("field_book.sheets.return")]
    for cells in sheet.iter_rows():
        for cell in cells:
            if not cell.protection.locked:
                assert sheet.row_dimensions[cell.row].height * 96 / 72 >= TOUCH, cell.coordinate
                assert cell.font.sz >= LEAST_POINTS, cell.coordinate


@every_shape
def test_only_answers_are_open(shape: str) -> None:
    """Every sheet is protected; exactly the cells that the contract opens can be typed in."""
    program = SHAPES[shape]
    layout = plan_return(program, default_contract(), "Return")
    expected = {
        (row + 1, field.index + 1) for row in layout.position_rows.values() for field in layout.positions.open_fields
    }
    expected |= {(row + 1, field.index + 1) for row in layout.part_rows.values() for field in layout.parts.open_fields}
    answer = layout.visit.value_index + 1
    expected |= {(layout.visit_rows[field.key] + 1, answer) for field in layout.visit.open_fields}
    for sheet in visible(WORKBOOKS[shape]):
        assert sheet.protection.sheet
        unlocked = {
            (cell.row, cell.column) for cells in sheet.iter_rows() for cell in cells if not cell.protection.locked
        }
        assert unlocked == (expected if sheet.title == words_of(shape)("field_book.sheets.return") else set()), (
            sheet.title
        )


@every_shape
def test_no_answer_cell_is_merged(shape: str) -> None:
    """Merged answers break drop-downs in some programs."""
    sheet = WORKBOOKS[shape][words_of(shape)("field_book.sheets.return")]
    for area in sheet.merged_cells.ranges:
        assert sheet.cell(area.min_row, area.min_col).protection.locked, area.coord


@pytest.mark.parametrize("shape", ["plain", "eight faces", "long names"])
def test_every_open_cell_says_what_it_is_for(shape: str) -> None:
    """A prompt with a title stands on each open cell."""
    sheet = WORKBOOKS[shape][words_of(shape)("field_book.sheets.return")]
    prompted = {
        (row, column)
        for rule in sheet.data_validations.dataValidation
        if rule.prompt and rule.promptTitle
        for area in rule.sqref.ranges
        for row in range(area.min_row, area.max_row + 1)
        for column in range(area.min_col, area.max_col + 1)
    }
    for cells in sheet.iter_rows():
        for cell in cells:
            assert cell.protection.locked or (cell.row, cell.column) in prompted, cell.coordinate


@pytest.mark.parametrize("language", languages())
def test_prompts_are_not_cut(language: str) -> None:
    """In every language a prompt and its title are within what a cell can hold."""
    words = words_for(language)
    for block in default_contract().field_book.blocks:
        for field in block.open_fields:
            key = f"field_book.{block.key}.{field.key}"
            assert len(words(f"{key}.prompt")) <= PROMPT_TEXT
            assert len(words(f"{key}.heading")) <= PROMPT_TITLE


@every_shape
def test_texts_have_the_height_they_need(shape: str) -> None:
    """Wrapped texts that stand in one cell or in a merged row are not cut: names, brands, prompts, steps, cautions."""
    for sheet in visible(WORKBOOKS[shape]):
        areas = {(area.min_row, area.min_col): area for area in sheet.merged_cells.ranges}
        for cells in sheet.iter_rows():
            for cell in cells:
                if cell.data_type != "s" or not cell.alignment.wrap_text or str(cell.value).startswith("{{"):
                    continue
                area = areas.get((cell.row, cell.column))
                last = area.max_col if area else cell.column
                room = sum(pixels(sheet, column) for column in range(cell.column, last + 1)) - 6
                height = sheet.row_dimensions[cell.row].height
                needed = lines(str(cell.value), room, cell.font.sz, bool(cell.font.b)) * cell.font.sz
                assert needed <= height, (sheet.title, cell.coordinate, cell.value)


@every_shape
def test_positions_are_linked_to_their_trays_and_back(shape: str) -> None:
    """A tap on a tray leads to its row, a tap on the row's name back to the tray."""
    book, program = WORKBOOKS[shape], SHAPES[shape]
    sheet_name = words_of(shape)("field_book.sheets.return")
    layout = plan_return(program, default_contract(), sheet_name)
    planned = get_column_letter(layout.positions.columns["as_planned"] + 1)
    for position in program.walk:
        row = layout.position_rows[position.key] + 1
        name = book[sheet_name].cell(row, layout.positions.columns["position"] + 1)
        assert name.value == position.key
        sheet, _, address = name.hyperlink.location.rpartition("!")
        tray = book[sheet.strip("'")][address.replace("$", "")]
        assert tray.value == position.key
        assert tray.hyperlink.location.replace("$", "") == f"'{sheet_name}'!{planned}{row}"


@every_shape
def test_every_link_leads_somewhere(shape: str) -> None:
    """All targets are sheets of the book."""
    book = WORKBOOKS[shape]
    links = [cell.hyperlink.location for sheet in book for row in sheet.iter_rows() for cell in row if cell.hyperlink]
    assert links
    assert {link.rpartition("!")[0].strip("'") for link in links} <= set(book.sheetnames)


def test_a_cell_of_a_time_shows_what_is_typed_in_haste() -> None:
    """9:40 shows as a time, 940 stays 940: both are read alike when they come back."""
    layout = plan_return(SHAPES["plain"], default_contract(), "Return")
    cell = WORKBOOKS["plain"]["Return"].cell(layout.visit_rows["time_in"] + 1, layout.visit.value_index + 1)
    assert cell.number_format == TIME_FORMAT


def test_headings_stay_in_sight_and_keys_do_not() -> None:
    """The heading rows are frozen; column A and the key rows are hidden, and so is every technical sheet."""
    book = WORKBOOKS["plain"]
    sheet = book["Return"]
    assert sheet.freeze_panes == f"A{KEY_ROW + 2}"
    assert sheet.column_dimensions["A"].hidden
    for row in range(1, sheet.max_row + 1):
        if str(sheet.cell(row, 1).value or "").startswith("#"):
            assert sheet.row_dimensions[row].hidden
    assert [one.title for one in visible(book)] == ["Cover", "Face A", "Face B", "Return", "Items", "Tags"]


def test_a_shared_book_offers_all_stores_and_persons() -> None:
    """Store and person are open and have a list."""
    sheet = opened(book_of(SHAPES["plain"], shared=True))["Return"]
    layout = plan_return(SHAPES["plain"], default_contract(), "Return")
    for question in ("store", "merchandiser"):
        cell = sheet.cell(layout.visit_rows[question] + 1, layout.visit.value_index + 1)
        assert not cell.protection.locked
        [rule] = [rule for rule in sheet.data_validations.dataValidation if cell.coordinate in rule.sqref]
        assert rule.type == "list"


@pytest.mark.parametrize("shape", ["plain", "eight faces", "long names", "scripts"])
def test_nothing_is_found_by_the_audit_of_the_format(shape: str, tmp_path: Path) -> None:
    """A book that passes opens in the common spreadsheet program without a repair."""
    path = tmp_path / "book.xlsx"
    path.write_bytes(BOOKS[shape])
    assert OpenXmlValidator(file_format=FileFormat.OFFICE_2019).validate(path).errors == []


def photographs(folder: Path, names: list[str]) -> dict[str, Picture]:
    """Pictures as hard to store as photographs are: soft shapes under all-over grain."""
    made = {}
    for number, name in enumerate(names):
        soft = Image.effect_mandelbrot((400, 300), (-2 + number / 40, -1.2, 1, 1.2), 60).convert("RGB")
        grain = Image.effect_noise((400, 300), 60).convert("RGB")
        Image.blend(soft, grain, 0.35).save(folder / name, quality=90, format="JPEG")
        picture = prepare(folder / name, (168, 126))
        assert not isinstance(picture, PictureProblem)
        made[name] = picture
    return made


def test_a_book_with_36_pictured_items_is_under_a_megabyte(tmp_path: Path) -> None:
    """36 grainy photographs, each on its tray and on the Items sheet."""
    program = made_program(3, 4, 3, brands=9, pictured=True)
    pictures = photographs(tmp_path, [item.picture for item in program.items])
    assert len(pictures) == 36
    assert len(book_of(program, pictures)) < 1_000_000


def test_the_same_program_gives_the_same_bytes() -> None:
    """Nothing in a book depends on when or how often it is built."""
    assert book_of(SHAPES["plain"]) == BOOKS["plain"]


def test_a_brand_has_the_same_colour_wherever_it_stands() -> None:
    """Fill and words of a brand are those of its place in the label list, on every sheet."""
    look, program = default_look(), SHAPES["60 brands"]
    fills = {label.brand: look.brand(number).fill for number, label in enumerate(program.labels)}
    seen = set()
    for sheet in visible(WORKBOOKS["60 brands"]):
        for cells in sheet.iter_rows():
            for cell in cells:
                if cell.value in fills:
                    assert cell.fill.fgColor.rgb == f"FF{fills[cell.value]}", (sheet.title, cell.coordinate)
                    seen.add((sheet.title, cell.value))
    assert {brand for sheet, brand in seen if sheet == "Return"} == set(fills)


def test_the_words_of_a_state_begin_with_its_mark() -> None:
    """Counts and colours go by the mark: in every language each state begins with its own."""
    for language in languages():
        words = words_for(language)
        marks = [words(f"state.{name}_mark") for name in ("todo", "right", "again")]
        assert len(set(marks)) == len(marks)
        begins = {"todo": ("todo", "told_in_part"), "right": ("right",), "again": ("again", "clash", "which")}
        for mark, states in begins.items():
            for state in states:
                assert words(f"state.{state}").startswith(words(f"state.{mark}_mark"))
        assert not words("state.not_asked").startswith(tuple(marks))
        assert words("return.answered").startswith(words("state.right_mark"))
        for slip in ("out_before_in", "say_why", "say_where", "trays_reported", "photo_wanted", "too_many"):
            assert words(f"return.{slip}").startswith(words("state.again_mark"))
