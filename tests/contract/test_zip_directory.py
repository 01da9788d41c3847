"""The directory of a zip says what the standard library says of it, whatever directories were read before."""

from __future__ import annotations

import struct
import zipfile
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.contract.zip_directory import Member, UnfitZipError, directory

NAMES = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=6)
EXTRAS = st.sampled_from([b"", struct.pack("<2H", 0x9999, 3) + b"abc", struct.pack("<2H", 0x7075, 0)])
ENTRIES = st.tuples(NAMES, st.binary(max_size=20), EXTRAS, st.binary(max_size=4), st.booleans())


def packed(entries: list[tuple[str, bytes, bytes, bytes, bool]]) -> bytes:
    """A zip of entries: name, content, extra fields, comment, whether it is deflated."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, content, extra, comment, is_deflated in entries:
            info = zipfile.ZipInfo(name)
            info.extra, info.comment = extra, comment
            info.compress_type = zipfile.ZIP_DEFLATED if is_deflated else zipfile.ZIP_STORED
            made.writestr(info, content)
    return out.getvalue()


def plain(*names: str) -> bytes:
    """A zip of empty members with these names."""
    return packed([(name, b"", b"", b"", False) for name in names])


def by_library(data: bytes) -> list[Member]:
    """What zipfile says of the members, folders left out."""
    with zipfile.ZipFile(BytesIO(data)) as archive:
        found = [
            Member(
                one.orig_filename,
                one.header_offset,
                one.compress_size,
                one.file_size,
                one.compress_type,
                one.CRC,
                bool(one.flag_bits & 1),
                one.extra.startswith(b"\x75\x70"),
            )
            for one in archive.infolist()
        ]
    return [one for one in found if one.size or not one.name.endswith(("/", "\\"))]


@given(st.lists(st.lists(ENTRIES, max_size=6, unique_by=lambda entry: entry[0]), min_size=1, max_size=4))
def test_members_are_those_the_standard_library_finds(zips: list[list[tuple[str, bytes, bytes, bytes, bool]]]) -> None:
    """Name, place, sizes, method, checksum and marks of each, in order, one zip after the other."""
    for entries in zips:
        data = packed(entries)
        found = directory(data, 100)
        assert list(found) == by_library(data)
        assert len(found) == len(list(found))


@pytest.mark.parametrize("zips", [("a bcd", "abc d", "a bcd"), ("ab/ c", "a/ bc", "a b/c")])
def test_a_directory_of_the_same_size_is_not_taken_for_one_seen_before(zips: tuple[str, ...]) -> None:
    """As many entries in as many bytes, and names of other lengths: each is read as it stands."""
    made = [plain(*names.split()) for names in zips]
    assert len({len(data) for data in made}) == 1
    for data in made:
        assert list(directory(data, 100)) == by_library(data)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_layout_seen_before_does_not_hide_a_damaged_entry(place: int) -> None:
    """An entry whose mark is damaged cuts the directory short, though all lengths are those of the one before."""
    data = plain("one", "two", "six")
    assert [member.name for member in directory(data, 100)] == ["one", "two", "six"]
    at = data.index(b"PK\x01\x02") + place * (46 + 3)
    with pytest.raises(UnfitZipError, match="cut_short"):
        directory(data[:at] + b"PX" + data[at + 2 :], 100)


def test_some_of_the_members_keep_all_their_columns() -> None:
    """Those with the numbers asked for, in the order asked for."""
    members = directory(packed([(name, name.encode(), b"", b"", False) for name in ("a", "bb", "ccc")]), 100)
    assert list(members.some([2, 0])) == [members[2], members[0]]
