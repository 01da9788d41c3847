"""The guard: what a field book may look like, where the bounds lie exactly, and what a refusal says."""

from io import BytesIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

import pytest
import xlsxwriter

from tests.faults.hostile import HOSTILE, damaged
from tests.faults.packages import SHEET, cell, entry, made, sheet, with_more, with_sheet
from workbook_tools.contract.guard import MAX_SHEETS, REFUSALS, Refusal, guard
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.package import MAX_PARTS, Package
from workbook_tools.contract.sheet_grid import FIELD_BOOK, far_reference, parts_of
from workbook_tools.contract.words import words_for
from workbook_tools.contract.zip_directory import Member, UnfitZipError, directory
from workbook_tools.contract.zips import inflate

BY_OTHERS = {"unreadable", "leads_outside", "archive_too_deep", "archive_too_many", "archive_too_large"} | {
    "address_too_many",
    "archive_empty",
    "mail_unreadable",
    "nothing_attached",
    "workbook_unreadable",
    "reader_too_slow",
    "reader_too_much",
    "reader_died",
}
"""Refusals given by collecting or by the workers."""


def test_a_workbook_as_we_write_it_passes():
    """A protected book with pictures, lists, links, merged cells and formulas is let through."""
    out = BytesIO()
    with xlsxwriter.Workbook(out) as book:
        page = book.add_worksheet("Return")
        page.protect()
        page.merge_range("A1:F1", "Zoë's return")
        page.data_validation("B2:B40", {"validate": "list", "source": ["yes", "no"]})
        page.write_formula("C2", '=IF(B2="","to do","right")', None, "to do")
        page.write_url("D2", "https://example.org/")
        page.insert_image("G1", "dot.png", {"image_data": BytesIO(DOT)})
        page.write_string(FIELD_BOOK.rows - 1, FIELD_BOOK.columns - 1, "last corner")
        book.add_worksheet("book").very_hidden()
        book.set_properties({"title": "token"})
        book.define_name("token", '="x"')
    assert guard(out.getvalue()) is None


DOT = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c4890000000d49444154789c63f8cfc0f01f000500"
    "01ffa9f4a1d50000000049454e44ae426082"
)


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("IV5000", None),
        ("A5000", None),
        ("IV1", None),
        ("A5001", "A5001"),
        ("IW1", "IW1"),
        ("IW5001", "IW5001"),
        ("AAA1", "AAA1"),
        ("A1000", None),
        ("HZ999", None),
        ("ZZ9", "ZZ9"),
    ],
)
def test_the_grid_ends_at_its_last_row_and_column(address, expected):
    """A cell with content is refused from the first row and column outside, and named."""
    refusal = guard(with_sheet(f'<row r="{address.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")}">{cell(address)}</row>'))
    assert refusal == (Refusal("far_cell", expected) if expected else None)


@pytest.mark.parametrize(
    ("address", "place"),
    [(b"A1", (1, 1)), (b"b2", (2, 2)), (b"$AA$10", (27, 10)), (b"XFD1048576", (16384, 1048576)), (b"7", (1, 7))],
)
def test_addresses_are_read_as_the_standard_counts_them(address, place):
    """Letters count to base 26 without a zero: A = 1, AA = 27, XFD = 16,384 (ECMA-376 part 1, 18.18.62; MEM)."""
    assert parts_of(address) == place


@pytest.mark.parametrize("address", [b"A1B2", b"ABCD1", b"A1234567890", b"#REF!", b"A-1"])
def test_an_address_that_is_none_lies_outside(address):
    """Nonsense in the place of an address is never taken for a near cell."""
    column, row = parts_of(address)
    assert column > FIELD_BOOK.columns
    assert row > FIELD_BOOK.rows


@pytest.mark.parametrize(
    "form",
    [
        '<c r="{}" s="3" t="str"><v>x</v></c>',
        "<c r='{}'><v>7</v></c>",
        '<c s="1" r="{}"><v>7</v></c>',
        '<c\tr="{}"><v>7</v></c>',
        '<x:c r="{}"><x:v>7</x:v></x:c>',
        '<c r="{}" cm="1" vm="1" ph="1"><v>7</v></c>',
        '<c r="{}"><is><t>x</t></is></c>',
        '<c r="{}"><f>1+1</f></c>',
    ],
)
def test_a_cell_is_seen_in_whatever_form_it_is_written(form):
    """Near cells pass and far ones are named, whatever the order of attributes, quotes, spaces and prefixes."""
    assert far_reference(sheet(f"<row>{form.format('C4')}</row>")) is None
    assert far_reference(sheet(f"<row>{form.format('C6000')}</row>")) == ("far_cell", "C6000")


def test_the_detail_names_the_part_or_the_number():
    """A refusal's detail says which part it is about, or how many there are."""
    assert guard(damaged(SHEET)) == Refusal("damaged_part", SHEET)
    assert guard(with_more(*(entry(f"{n}.xml", b"") for n in range(MAX_PARTS)))) == Refusal("too_many_parts", "2009")
    assert guard(bytes(40 << 20)) == Refusal("too_large", "40 MB")


def test_a_name_from_outside_is_shown_but_cannot_mislead():
    """Control and direction characters are taken out of names in a refusal's detail, and long names are cut."""
    refusal = guard(with_more(entry("../evil\u202exslx\n" + "long" * 99, b"")))
    assert refusal is not None
    assert refusal.rule == "unsafe_name"
    assert refusal.detail.isprintable()
    assert len(refusal.detail) < 200


def test_the_most_sheets_are_allowed_and_one_more_is_not():
    """Only the number of sheets listed counts, because one part may be listed many times."""
    maker, expected = HOSTILE["201 sheets"]
    package = Package(maker())
    assert (len(package.sheets), expected) == (MAX_SHEETS + 1, "too_many_parts")


def test_every_reason_of_the_catalogue_occurs():
    """The catalogue is closed: each of the guard's reasons has a file that is refused for it, and no other occurs."""
    given = {expected for _, expected in HOSTILE.values() if expected}
    assert given == set(REFUSALS) - BY_OTHERS


def test_every_reason_has_a_severity_and_words():
    """Every reason can be put into a sentence: what is wrong and what to do."""
    words = words_for("en")
    for rule in REFUSALS:
        assert rule in default_contract().rules
        for part in ("problem", "todo"):
            assert f"rules.{rule}.{part}" in words


def test_a_directory_lists_what_the_zip_holds():
    """Members come in directory order with the sizes and checksums of their contents."""
    data = made()
    members = directory(data, 100)
    assert [member.name for member in members][:2] == ["[Content_Types].xml", "_rels/.rels"]
    assert all(len(inflate(data, member, 1 << 20)) == member.size for member in members)


def test_a_member_larger_than_allowed_is_not_inflated():
    """The bound holds before anything is inflated."""
    data = made()
    member = directory(data, 100)[0]
    assert isinstance(member, Member)
    with pytest.raises(UnfitZipError, match="too_large"):
        inflate(data, member, member.size - 1)


@pytest.mark.parametrize("size", [100, 40_000])
@pytest.mark.parametrize("method", [ZIP_STORED, ZIP_DEFLATED])
def test_a_member_that_was_seen_before_is_held_to_its_own_directory(method, size):
    """What short packed bytes hold is remembered between files: another file's false size or checksum is still seen."""
    out = BytesIO()
    with ZipFile(out, "w", method) as made:
        made.writestr("xl/styles.xml", b"<styleSheet/>".ljust(size))
    buffer = out.getvalue()
    (member,) = directory(buffer, 10)
    for _ in range(2):
        assert inflate(buffer, member, 1 << 20) == b"<styleSheet/>".ljust(size)
        for false in (member._replace(checksum=1), member._replace(size=size - 1), member._replace(size=size + 1)):
            with pytest.raises(UnfitZipError) as refused:
                inflate(buffer, false, 1 << 20)
            assert (refused.value.rule, refused.value.detail) == ("damaged_part", "xl/styles.xml")
