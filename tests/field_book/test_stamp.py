"""A stamped book is the template with one store's texts in it, and otherwise the template byte for byte."""

from __future__ import annotations

import io
import pickle
import random
import xml.etree.ElementTree as ET
import zipfile
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from hypothesis import example, given, settings
from hypothesis import strategies as st
from openxml_audit import OpenXmlValidator
from PIL import Image
from python_calamine import CalamineWorkbook

from workbook_tools.errors import BuildError
from workbook_tools.field_book import stamp as stamping
from workbook_tools.field_book.stamp import Stamp, text_as_stamped

KEYS = ("store.name", "store.street", "visit.token")
PLACEHOLDERS = {key: f"{{{{{key}}}}}" for key in KEYS}
VALUES = {"store.name": "Corner Shop 7", "store.street": "12 Mill Lane", "visit.token": "k3f9x2m7q1"}
STAMPED_PARTS = {
    "xl/sharedStrings.xml",
    "xl/workbook.xml",
    "docProps/core.xml",
    "xl/worksheets/sheet1.xml",
}
FOOTER = "&L&8{}&RPage &P of &N"
FILLER = [f"Step {number}: set tray {number % 9} on shelf {number % 4}, label to the front" for number in range(120)]


def build(texts: dict[str, str], footer: str) -> bytes:
    """A small book with the texts in cells, a name, the title and a footer, long literals between, and a picture."""
    buffer = io.BytesIO()
    workbook = xlsxwriter.Workbook(buffer, {"in_memory": True})
    workbook.set_properties({"title": texts["visit.token"], "created": datetime(2000, 1, 1)})
    cover, face = workbook.add_worksheet("Cover"), workbook.add_worksheet("Face A")
    cover.write_string("A1", texts["store.name"])
    cover.write_string("A2", texts["store.street"])
    for row, text in enumerate(FILLER):
        face.write_string(row, 0, text)
    face.write_string("C1", f"{texts['store.name']}, {texts['store.street']} (store)")
    face.write_string("C2", texts["visit.token"])
    pixels = random.Random(7).randbytes(40 * 40 * 3)
    picture = io.BytesIO()
    Image.frombytes("RGB", (40, 40), pixels).save(picture, "PNG")
    face.insert_image("E2", "tray.png", {"image_data": picture})
    cover.set_footer(footer)
    workbook.define_name("book_token", f'="{texts["visit.token"]}"')
    workbook.close()
    return buffer.getvalue()


TEMPLATE = build(PLACEHOLDERS, FOOTER.format(" {{footer:store.name}}"))
STAMP = Stamp(TEMPLATE)


def packed(parts: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A ZIP file of these parts."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return buffer.getvalue()


def parts_of(book: bytes) -> dict[str, bytes]:
    """The parts as inflated, in file order; every check sum holds."""
    with zipfile.ZipFile(io.BytesIO(book)) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def packed_bytes(book: bytes, name: str) -> bytes:
    """A part as it lies in the file."""
    with zipfile.ZipFile(io.BytesIO(book)) as archive:
        info = archive.getinfo(name)
    lengths = book[info.header_offset + 26 : info.header_offset + 30]
    start = info.header_offset + 30 + int.from_bytes(lengths[:2], "little") + int.from_bytes(lengths[2:], "little")
    return book[start : start + info.compress_size]


def cells_by_openpyxl(book: bytes) -> list[object]:
    """The four cells that hold values, in `expected_cells`' order."""
    workbook = openpyxl.load_workbook(io.BytesIO(book))
    cover, face = workbook["Cover"], workbook["Face A"]
    found = [cover["A1"].value, cover["A2"].value, face["C1"].value, face["C2"].value]
    return [value or "" for value in found]


def cells_by_calamine(book: bytes) -> list[object]:
    """The same four cells through the other reader."""
    workbook = CalamineWorkbook.from_filelike(io.BytesIO(book))
    cover = workbook.get_sheet_by_name("Cover").to_python(skip_empty_area=False, nrows=2)
    face = workbook.get_sheet_by_name("Face A").to_python(skip_empty_area=False, nrows=2)
    cover += [[""]] * (2 - len(cover))
    return [cover[0][0], cover[1][0], face[0][2], face[1][2]]


def expected_cells(values: dict[str, str]) -> list[str]:
    """The texts that the values promise for these cells."""
    name, street, token = (text_as_stamped(values[key]) for key in KEYS)
    return [name, street, f"{name}, {street} (store)", token]


def as_openpyxl_reads(texts: list[str]) -> list[str]:
    """openpyxl's reader undoes the escape of escapes by dropping every "x005F_", also one that belongs to the text."""
    return [text.replace("x005F_", "") for text in texts]


def tree(content: bytes) -> list[tuple[str, dict[str, str], str | None]]:
    """An XML part as parsed: tag, attributes and text of every element in order."""
    return [(node.tag, node.attrib, node.text) for node in ET.fromstring(content).iter()]


def test_the_template_names_its_placeholders() -> None:
    """Every key is found once, whatever its form and however many parts it stands in."""
    assert STAMP.placeholders == set(KEYS)


@pytest.mark.parametrize(
    "name",
    [
        "Corner Shop 7",
        "Fish & Chips <\"Old\" 'Town'>",
        "&amp; &lt;already&gt; &#65;",
        "食品店 三丁目",
        "متجر الزاوية",
        "חנות הפינה 12",
        "Café 🛒👩‍👩‍👧 Zoë",
        "_x0041_",
        "_x0041_x0042_",
        "_x005F_",
        "Two\nlines and\ta tab",
        "=1+1",
        "{{visit.token}}",
        "x" * 32_000,
        "&" * 15_000,
        "",
    ],
    ids=ascii,
)
def test_values_stand_in_their_cells(name: str) -> None:
    """Both readers find every value in its cells, in the middle of texts and in several sheets, as it was given."""
    values = VALUES | {"store.name": name, "store.street": ""}
    book = STAMP.render(values)
    parts_of(book)
    expected = [name, "", f"{name},  (store)", VALUES["visit.token"]]
    assert cells_by_calamine(book) == expected
    assert cells_by_openpyxl(book) == as_openpyxl_reads(expected)


@settings(max_examples=150, deadline=None)
@given(st.text(), st.text(), st.text(alphabet="_x0045F\n\t &"))
@example("\r\n a\r b \x00\x0b\ufffe", "\u00a0\u0085x\u3000", "_x000D_x000A_")
def test_any_text_reads_back(name: str, street: str, token: str) -> None:
    """Any text reads back as `text_as_stamped` says, through both readers."""
    values = dict(zip(KEYS, (name, street, token), strict=True))
    book = STAMP.render(values)
    assert cells_by_calamine(book) == expected_cells(values)
    assert cells_by_openpyxl(book) == as_openpyxl_reads(expected_cells(values))


LEGAL_IN_XML = st.characters(exclude_categories=["Cs"], exclude_characters=[*map(chr, range(32)), "\ufffe", "\uffff"])


@given(st.text(alphabet=LEGAL_IN_XML | st.sampled_from("\t\n")))
def test_legal_text_only_loses_its_ends(text: str) -> None:
    """A text that XML can hold and whose lines end with \\n loses nothing but white space at its ends."""
    assert text_as_stamped(text) == text.strip()


@pytest.mark.parametrize(
    ("given_text", "kept"),
    [
        (" both ends ", "both ends"),
        ("\u00a0wide\u3000", "wide"),
        ("a\r\nb\rc\n", "a\nb\nc"),
        ("a\x00b\x1fc\ufffed\uffffe\ud800f", "abcdef"),
    ],
)
def test_what_is_not_kept(given_text: str, kept: str) -> None:
    """Outer white space goes, line ends become \\n, characters XML cannot hold are dropped; also once stamped."""
    assert text_as_stamped(given_text) == kept
    assert cells_by_openpyxl(STAMP.render(VALUES | {"store.name": given_text}))[0] == kept


@pytest.mark.parametrize("name", ["Corner Shop 7", 'A & B <"C"> _x0041_', "角の店 🛒"])
def test_a_stamped_book_equals_one_built_directly(name: str) -> None:
    """Every part parses to the same as in a book that xlsxwriter builds with the values in place."""
    values = VALUES | {"store.name": name}
    direct = parts_of(build(values, FOOTER.format(" " + name.replace("&", "&&"))))
    stamped = parts_of(STAMP.render(values))
    assert sorted(stamped) == sorted(direct)
    for part, content in direct.items():
        if part.endswith((".xml", ".rels")):
            assert tree(stamped[part]) == tree(content), part
        else:
            assert stamped[part] == content, part


def test_untouched_parts_are_copied_as_they_lie() -> None:
    """Parts without placeholders keep their packed bytes; only the others change."""
    book = STAMP.render(VALUES)
    before, after = parts_of(TEMPLATE), parts_of(book)
    assert sorted(after) == sorted(before)
    assert {name for name in before if before[name] != after[name]} == STAMPED_PARTS
    for name in before.keys() - STAMPED_PARTS:
        assert packed_bytes(book, name) == packed_bytes(TEMPLATE, name), name


def test_what_all_books_share_comes_first() -> None:
    """Every book starts with the same bytes, the parts without placeholders; both kinds keep the template's order."""
    order = list(parts_of(STAMP.render(VALUES)))
    template = list(parts_of(TEMPLATE))
    assert order == sorted(template, key=lambda name: (name in STAMPED_PARTS, template.index(name)))
    with zipfile.ZipFile(io.BytesIO(STAMP.render(VALUES))) as archive:
        first_stamped = min(archive.getinfo(name).header_offset for name in STAMPED_PARTS)
    assert len(STAMP.shared) == first_stamped
    other = STAMP.render(VALUES | {"store.name": "Another shop"})
    assert STAMP.render(VALUES).startswith(STAMP.shared)
    assert other.startswith(STAMP.shared)


def test_no_placeholder_is_left() -> None:
    """Cells, name, title and footer all hold the value."""
    parts = parts_of(STAMP.render(VALUES))
    assert not [name for name, content in parts.items() if b"{{" in content]
    assert b'"k3f9x2m7q1"</definedName>' in parts["xl/workbook.xml"]
    assert b"<dc:title>k3f9x2m7q1</dc:title>" in parts["docProps/core.xml"]
    assert b"Corner Shop 7&amp;RPage" in parts["xl/worksheets/sheet1.xml"]


def test_same_values_same_bytes() -> None:
    """Stamping twice, from two readings of the template and with the values in another order, gives the same bytes."""
    turned = dict(reversed(VALUES.items()))
    assert STAMP.render(VALUES) == STAMP.render(VALUES) == Stamp(TEMPLATE).render(turned)


def test_a_stamp_can_be_sent_to_a_worker() -> None:
    """What another process receives stamps the same bytes."""
    assert pickle.loads(pickle.dumps(STAMP)).render(VALUES) == STAMP.render(VALUES)


def test_unused_values_change_nothing() -> None:
    """Values for keys that the template does not use are passed over."""
    assert STAMP.render(VALUES | {"store.fax": "none"}) == STAMP.render(VALUES)


def test_a_stamped_book_is_hardly_larger_than_its_template() -> None:
    """Cutting the packed parts at placeholders costs little: long literals stay deflated."""
    assert len(STAMP.render(VALUES)) < len(TEMPLATE) + 800


def test_members_carry_no_date_and_no_data_descriptor() -> None:
    """Every member is dated 1 January 1980, has its sizes in its local header and no extra field."""
    with zipfile.ZipFile(io.BytesIO(STAMP.render(VALUES))) as archive:
        for info in archive.infolist():
            assert (info.date_time, info.flag_bits, info.extra) == ((1980, 1, 1, 0, 0, 0), 0, b"")


def test_a_stamped_book_passes_the_audit(tmp_path: Path) -> None:
    """A validator of the standard accepts a stamped book with every kind of text in it."""
    book = tmp_path / "book.xlsx"
    book.write_bytes(STAMP.render(VALUES | {"store.name": 'A & B <"C"> _x0041_\n角の店 🛒'}))
    assert [error.description for error in OpenXmlValidator().validate(book).errors] == []


def test_a_missing_value_raises() -> None:
    """Every missing key is named; nothing is written with a hole in it."""
    with pytest.raises(BuildError, match=r"store\.street, visit\.token"):
        STAMP.render({"store.name": "Corner Shop 7"})


def footer_of(book: bytes) -> str | None:
    """The codes and texts of the cover's footer, as written."""
    node = ET.fromstring(parts_of(book)["xl/worksheets/sheet1.xml"]).find(".//{*}oddFooter")
    assert node is not None
    return node.text


@pytest.mark.parametrize(
    ("name", "written"), [("A & B", "A && B"), ("&&P", "&&&&P"), ("_x0041_", "_x005F_x0041_"), ("7 <up>", "7 <up>")]
)
def test_a_footer_doubles_the_ampersand(name: str, written: str) -> None:
    """In a footer & starts a code, so a value's own is doubled; the codes of the template stay."""
    assert footer_of(STAMP.render(VALUES | {"store.name": name})) == f"&L&8 {written}&RPage &P of &N"


def test_a_footer_reads_back_through_a_reader() -> None:
    """The reader sees the value as the text of the left part and no code in it."""
    book = openpyxl.load_workbook(io.BytesIO(STAMP.render(VALUES | {"store.name": "Bread & Butter"})))
    assert book["Cover"].oddFooter.left.text.strip() == "Bread && Butter"
    assert book["Cover"].oddFooter.right.text == "Page &P of &N"


@pytest.mark.parametrize(
    ("content", "slip"),
    [
        (b"<s><headerFooter><oddFooter>{{store.name}}</oddFooter></headerFooter></s>", "stands in a header or footer"),
        (b"<s><t>{{footer:store.name}}</t></s>", "stands outside"),
        (b"<s><headerFooter><oddHeader>&amp;L&amp;12{{footer:store.no}}</oddHeader></headerFooter></s>", "font size"),
    ],
)
def test_a_placeholder_in_the_wrong_place_raises(content: bytes, slip: str) -> None:
    """The plain form in a footer, the footer form elsewhere and a size code run into a value are refused at once."""
    with pytest.raises(BuildError, match=slip):
        Stamp(packed({"xl/worksheets/sheet1.xml": content}))


@pytest.mark.parametrize(
    "text",
    [
        "{{a}}",
        "{{a}}{{a}}{{b.c}}",
        "start{{a}}",
        "{{a}}" + "long literal, " * 50,
        "long literal, " * 50 + "{{a}}" + "other literal, " * 50 + "{{b.c}}",
        "long literal, " * 50 + "{{a}}" + "long literal, " * 50,
        "{a} {{A}} {{}} {{ a }} {{a1}} {{{b.c}}}",
    ],
    ids=lambda text: text[:30],
)
@pytest.mark.parametrize("value", ["", "value", "v" * 200_000])
@pytest.mark.parametrize("method", [zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED])
def test_placeholders_may_stand_anywhere(text: str, value: str, method: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """First, last, side by side, between long or short literals: the part is the text with the values put in."""
    monkeypatch.setattr(stamping, "legal_text", str)
    stamp = Stamp(packed({"x.xml": text.encode(), "y.bin": b"{{a}}"}, method))
    found = parts_of(stamp.render({"a": value, "b.c": "other"}))
    assert found["x.xml"].decode() == text.replace("{{a}}", value).replace("{{b.c}}", "other")
    assert found["y.bin"] == b"{{a}}"


def test_a_value_in_an_attribute_keeps_its_lines() -> None:
    """Quotation marks, line ends and tabs survive in an attribute too, where XML would turn bare ones into spaces."""
    text = "two\nlines,\ta tab and \"quotes\" 'of' <both> kinds & more"
    found = parts_of(Stamp(packed({"x.xml": b'<x prompt="{{a}}"/>'})).render({"a": text}))
    assert ET.fromstring(found["x.xml"]).attrib == {"prompt": text}


def test_member_names_outside_ascii_are_kept() -> None:
    """A part's name is written as UTF-8 and marked so."""
    book = Stamp(packed({"größe.xml": b"{{a}}", "絵.png": b"1"})).render({"a": "x"})
    assert parts_of(book) == {"größe.xml": b"x", "絵.png": b"1"}


def test_what_is_no_zip_file_raises() -> None:
    """Bytes that are no workbook are refused with BuildError."""
    with pytest.raises(BuildError, match=r"not an \.xlsx"):
        Stamp(b"PK, but nothing more")


def test_a_damaged_part_raises() -> None:
    """A text part whose bytes were changed is noticed by its check sum."""
    start = TEMPLATE.index(packed_bytes(TEMPLATE, "xl/sharedStrings.xml"))
    damaged = TEMPLATE[: start + 40] + bytes([TEMPLATE[start + 40] ^ 0xFF]) + TEMPLATE[start + 41 :]
    with pytest.raises(BuildError, match=r"not an \.xlsx"):
        Stamp(damaged)


def test_other_packing_raises() -> None:
    """Only stored and deflated parts can be copied into a workbook that every program opens."""
    with pytest.raises(BuildError, match="other than deflate"):
        Stamp(packed({"x.xml": b"text"}, zipfile.ZIP_LZMA))


def test_a_book_that_needs_zip64_raises(monkeypatch: pytest.MonkeyPatch) -> None:
    """A book is written up to the size a plain ZIP file can count, and not a byte beyond."""
    book = STAMP.render(VALUES)
    end_record = 22
    monkeypatch.setattr(stamping, "_MOST_BYTES", len(book) - end_record)
    assert STAMP.render(VALUES) == book
    for limit in (len(book) - end_record - 1, len(book) // 2):
        monkeypatch.setattr(stamping, "_MOST_BYTES", limit)
        with pytest.raises(BuildError, match="larger than"):
            STAMP.render(VALUES)


def test_a_template_of_too_many_parts_raises(monkeypatch: pytest.MonkeyPatch) -> None:
    """A template with more parts than a plain ZIP file can count is refused."""
    monkeypatch.setattr(stamping, "_MOST_PARTS", 3)
    with pytest.raises(BuildError, match="can hold 3"):
        Stamp(TEMPLATE)
