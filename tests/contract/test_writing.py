"""Workbooks are written whole: what the library would drop silently raises, and a text stays a text."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.look import default_look
from workbook_tools.contract.model import Block, Field, Sheet
from workbook_tools.contract.sheets import read_blocks
from workbook_tools.contract.words import words_for
from workbook_tools.contract.writing import (
    LONGEST_TEXT,
    BookWriter,
    ListSheet,
    SheetWriter,
    hide,
    legal_text,
    validation,
    write_key_row,
)
from workbook_tools.errors import BuildError

FORMULA_STARTS = ["=1+1", "=cmd|' /C calc'!A0", "+1 555 0100", "-5", "@SUM(1)", "\t=1", "\r=1", "\n=1", "{=1}", "'=1"]
"""How a text may begin that a spreadsheet program could take for a formula (OWASP, CSV Injection, READ)."""


def _book() -> BookWriter:
    return BookWriter(default_look())


def _opened(book: BookWriter) -> openpyxl.Workbook:
    return openpyxl.load_workbook(BytesIO(book.close()))


@pytest.mark.parametrize(
    "call",
    [
        lambda sheet: sheet.write_string(1_048_576, 0, "beyond the last row"),
        lambda sheet: sheet.write_string(0, 0, "x" * (LONGEST_TEXT + 1)),
        lambda sheet: sheet.write_formula(0, 16_384, "=1"),
        lambda sheet: sheet.set_column(0, 16_384, 10),
        lambda sheet: sheet.merge_range(0, 0, 0, 0, "one cell is no range"),
        lambda sheet: [sheet.merge_range(0, 0, 1, 1, ""), sheet.merge_range(1, 1, 2, 2, "")],
        lambda sheet: sheet.data_validation(0, 0, 0, 0, {"validate": "list", "source": ["x" * 300]}),
        lambda sheet: sheet.data_validation(0, 0, 0, 0, {"validate": "any", "input_title": "x" * 33}),
        lambda sheet: sheet.data_validation(0, 0, 0, 0, {"validate": "any", "input_message": "x" * 256}),
        lambda sheet: sheet.data_validation(0, 0, 0, 0, {"validate": "lisst"}),
        lambda sheet: sheet.conditional_format(0, 0, 0, 0, {"type": "formulla"}),
        lambda sheet: sheet.insert_image(0, 0, "x.png", {"image_data": BytesIO(b"no image")}),
        lambda sheet: sheet.write_url(0, 0, f"internal:{'x' * 2100}"),
        lambda sheet: sheet.set_footer("x" * 256),
        lambda sheet: sheet.add_table(0, 0, 1, 1, {"name": "1 no name"}),
    ],
)
def test_what_the_library_refuses_raises(call: Callable[[SheetWriter], object]) -> None:
    """A return code or a warning of the library is a part that would be missing: it raises and names the sheet."""
    with pytest.raises(BuildError, match=r"^Stores: "):
        call(_book().sheet("Stores"))


@pytest.mark.parametrize("name", ["Sheet: one", "x" * 32, "a/b", "'quoted'"])
def test_a_sheet_name_that_is_not_allowed_raises(name: str) -> None:
    """Names that spreadsheet programs refuse are refused here, and so is a name given twice."""
    book = _book()
    with pytest.raises(BuildError):
        book.sheet(name)
    book.sheet("Stores")
    with pytest.raises(BuildError, match="stores"):
        book.sheet("stores")


@pytest.mark.parametrize("name", ["1st", "A1", "two words", "Nowhere!token"])
def test_a_name_that_is_not_allowed_raises(name: str) -> None:
    """A defined name that would be left out raises and is named."""
    with pytest.raises(BuildError, match=name):
        _book().name(name, "=1")


def test_a_book_that_cannot_be_packed_raises() -> None:
    """A chart without data stops the library only at the end; that is a BuildError too."""
    book = _book()
    book.sheet("Chart").insert_chart(0, 0, book.chart({"type": "bar"}))
    with pytest.raises(BuildError):
        book.close()


@pytest.mark.parametrize("text", FORMULA_STARTS)
def test_a_text_never_becomes_a_formula(text: str) -> None:
    """However it begins and whichever call writes it, the cell holds that text as a text."""
    book = _book()
    sheet = book.sheet("It")
    sheet.text(0, 0, text)
    sheet.write(1, 0, text)
    sheet.merged_text((2, 0, 2, 3), text, book.format())
    sheet.merged_text((3, 0, 3, 0), text, book.format())
    cells = [row[0] for row in _opened(book)["It"]["A1:A4"]]
    assert [cell.data_type for cell in cells] == ["s"] * 4
    assert [str(cell.value).replace("_x000D_", "\r") for cell in cells] == [text] * 4


@pytest.mark.parametrize("text", ["https://example.com", "mailto:robin@example.com", "internal:It!A1", "004170", "1e5"])
def test_a_text_is_no_link_and_no_number(text: str) -> None:
    """An address stays a text that leads nowhere, and digits keep their zeros."""
    book = _book()
    sheet = book.sheet("It")
    sheet.text(0, 0, text)
    sheet.write(1, 0, text)
    for (cell,) in _opened(book)["It"]["A1:A2"]:
        assert (cell.value, cell.data_type, cell.hyperlink) == (text, "s", None)


def test_characters_that_xml_cannot_hold_are_dropped() -> None:
    """Control characters, lone surrogates and non-characters go; tabs, line ends and everything else stay."""
    assert legal_text("a\x00b\x08c\x0b\x0c\x1fd\ud800e\udfff\ufffe\uffff") == "abcde"
    assert legal_text("tab\tline\nend\r\x7f\u0085\U0001f9e9\u200d") == "tab\tline\nend\r\x7f\u0085\U0001f9e9\u200d"
    assert legal_text("x" * 40_000) == "x" * LONGEST_TEXT


@given(st.lists(st.text(st.characters(codec=None)), min_size=1, max_size=20))
@settings(max_examples=40, deadline=None)
def test_any_text_can_be_written_and_read(texts: list[str]) -> None:
    """No text stops the writer or the reader, and what can be held comes back."""
    book = _book()
    sheet = book.sheet("It")
    sheet.text(0, 0, "#it")
    sheet.text(0, 1, "it")
    for row, text in enumerate(texts, start=1):
        sheet.text(row, 0, "row")
        sheet.text(row, 1, text)
    (block,) = read_blocks(book.close(), ["it"])
    read = [block.cell(number, cells, "it").value for number, cells in block.rows]
    assert [str(text).strip() for text in read] == [legal_text(text).strip() for text in texts]


def test_a_formula_can_have_an_empty_text_as_its_result() -> None:
    """It reads back as a blank cell, and not as a formula that nothing has computed."""
    book = _book()
    sheet = book.sheet("It")
    for column, text in enumerate(("#it", "it", "sum")):
        sheet.text(0, column, text)
    sheet.text(1, 0, "row")
    sheet.write_formula(1, 1, '=IF(A2="row","","no")', None, "")
    sheet.write_formula(1, 2, "=1+1", None, 2)
    (block,) = read_blocks(book.close(), ["it"])
    (number, cells) = block.rows[0]
    assert [block.cell(number, cells, key).value for key in ("it", "sum")] == ["", 2]


def test_the_same_content_gives_the_same_bytes() -> None:
    """Nothing of the day or the machine gets into a workbook."""

    def written() -> bytes:
        book = BookWriter(default_look(), title="T", keywords="k")
        book.sheet("It").text(0, 0, "x", book.format(bold=True))
        return book.close()

    assert written() == written()


def test_a_format_is_made_once() -> None:
    """The same properties in any order give one format: a workbook holds few of them."""
    book = _book()
    assert book.format(bold=True, italic=True) is book.format(italic=True, bold=True)
    assert book.format(bold=True) is not book.format(italic=True)


def test_a_list_has_a_range_of_its_own() -> None:
    """Each list stands in its own column, and its range names the sheet as formulas do."""
    book = _book()
    lists = ListSheet(book.sheet("Kim's lists"))
    assert lists.add("a", ["x", "y"], book.format()) == "='Kim''s lists'!$A$1:$A$2"
    assert lists.add("b", [], book.format()) == "='Kim''s lists'!$B$1"
    assert lists.ranges["a"] == "='Kim''s lists'!$A$1:$A$2"
    assert [cell.value for (cell,) in _opened(book)["Kim's lists"]["A1:A2"]] == ["x", "y"]


@pytest.mark.parametrize(
    ("field", "rule"),
    [
        (Field(key="item", type="text"), {"validate": "any"}),
        (Field(key="item", type="date"), {"validate": "any"}),
        (Field(key="item", type="integer"), {"validate": "any"}),
        (Field(key="item", type="integer", minimum=1), {"validate": "integer", "criteria": ">=", "value": 1}),
        (Field(key="item", type="number", maximum=9), {"validate": "decimal", "criteria": "<=", "value": 9}),
        (Field(key="item", type="number", above=0), {"validate": "decimal", "criteria": ">", "value": 0}),
        (
            Field(key="item", type="number", minimum=-90, maximum=90),
            {"validate": "decimal", "criteria": "between", "minimum": -90, "maximum": 90},
        ),
        (Field(key="item", type="choice", choices="built"), {"validate": "list", "source": "=lists!$A$1:$A$3"}),
        (
            Field(key="item", type="choice", choices="built", free=True),
            {"validate": "list", "source": "=lists!$A$1:$A$3", "error_type": "information"},
        ),
    ],
)
def test_a_field_gives_its_drop_down_bounds_and_prompt(field: Field, rule: dict[str, object]) -> None:
    """What the contract allows is what the cell offers; a free choice may be typed over."""
    lists = ListSheet(_book().sheet("lists"), {"built": "=lists!$A$1:$A$3"})
    words = words_for("en")
    made = validation(default_contract(), field, "setup.items", words, lists)
    prompt = words("setup.items.item.prompt")
    assert made.items() >= rule.items()
    assert (made["input_title"], made["input_message"]) == ("Item", prompt)
    assert made.get("error_message", prompt) == prompt
    _book().sheet("Items").data_validation(0, 0, 9, 0, made)


def test_a_key_row_holds_the_marker_and_every_key() -> None:
    """The opening row of a block is hidden and reads back as the block."""
    book = _book()
    block = Block(key="it", rows="keyed", fields=(Field(key="a", type="text"), Field(key="b", type="text", index=4)))
    write_key_row(book.sheet("It"), block, 2)
    data = book.close()
    (raw,) = read_blocks(data, ["it"])
    assert (raw.key_row, raw.columns) == (2, {"a": 1, "b": 4})
    assert openpyxl.load_workbook(BytesIO(data))["It"].row_dimensions[3].hidden


@pytest.mark.parametrize(
    ("visibility", "state"), [("visible", "visible"), ("hidden", "hidden"), ("very hidden", "veryHidden")]
)
def test_a_sheet_is_hidden_as_defined(visibility: str, state: str) -> None:
    """Hidden and very hidden sheets are written so."""
    book = _book()
    book.sheet("First")
    hide(book.sheet("It"), Sheet(key="it", blocks=(), visibility=visibility))  # type: ignore[arg-type]
    assert _opened(book)["It"].sheet_state == state
