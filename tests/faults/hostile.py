"""Hostile and broken files, each made by code: what lands in an office's mail, and what somebody might put there.

`HOSTILE` maps a name to a maker of the file's bytes and the rule by which the guard refuses it, None where it passes
and the reader must cope. The files are those of which spreadsheet readers were seen to abort, hang, fill the memory or
give wrong values in silence, and some built against this guard in particular. Bombs are packed from one block and cost
some tenths of a second each.
"""

import struct
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO

from tests.faults.packages import (
    HEAD,
    LINKED,
    MAIN,
    MB,
    RELATIONS,
    SHEET,
    STRICT,
    STRINGS,
    TYPES,
    WORKBOOK,
    WORKBOOK_RELATIONS,
    Entry,
    cell,
    entry,
    good_parts,
    made,
    pack,
    relations,
    repeated,
    sheet,
    sheet_bomb,
    strings,
    strings_bomb,
    with_bomb,
    with_entry,
    with_many,
    with_more,
    with_sheet,
    without,
    workbook,
)
from tests.faults.strangers import NO_WORKBOOKS, Maker


def laughs(kind: str) -> str:
    """A document type that grows when it is believed."""
    if kind == "billion":
        steps = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
        return f'<!DOCTYPE x [<!ENTITY l0 "ha">{steps}]>'
    if kind == "quadratic":
        return f'<!DOCTYPE x [<!ENTITY l9 "{"a" * 2000}">]>'
    return '<!DOCTYPE x [<!ENTITY l9 SYSTEM "file:///etc/hostname">]>'


def with_laughs(kind: str, part: str) -> bytes:
    """The sound workbook with a document type in one part, and text that uses it."""
    text = "&l9;" * (1000 if kind == "quadratic" else 1)
    sound = sheet(f'<row r="1"><c r="A1" t="inlineStr"><is><t>{text}</t></is></c></row>')
    data = sound if part == SHEET else strings(f"<si><t>{text}</t></si>")
    return made({part: data.replace(HEAD.encode(), (HEAD + laughs(kind)).encode())})


def pixel_bomb() -> bytes:
    """A PNG of 30,000 × 30,000 black pixels, in some hundred kB."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">L", len(data)) + name + data + struct.pack(">L", zlib.crc32(name + data))

    packer = zlib.compressobj(1)
    pixels = b"".join(packer.compress(bytes(3751 * 100)) for _ in range(300)) + packer.flush()
    head = struct.pack(">2L5B", 30_000, 30_000, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


def overlapping() -> bytes:
    """A second member whose bytes are those of the first (the trick of CVE-2024-0450)."""
    entries = [entry(key, data) for key, data in good_parts().items()]
    return pack([*entries, replace(entries[0], name=b"xl/again.xml", start=0)])


def in_zip64_form(promised: int = 0, size_promised: int = 0) -> bytes:
    """A sound workbook whose writer kept all sizes in zip64 fields, as some writers of streams do; its end record may
    promise more entries, or bytes of them, than there are.
    """
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in good_parts().items():
            with archive.open(zipfile.ZipInfo(name), "w", force_zip64=True) as member:
                member.write(data)
    data = out.getvalue()
    end = len(data) - 22
    count, size, start = struct.unpack_from("<H2L", data, end + 10)
    record = struct.pack(
        "<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, count, promised or count, size_promised or size, start
    )
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, end, 1)
    short = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 0xFFFF, 0xFFFF, 0xFFFFFFFF, 0xFFFFFFFF, 0)
    return data[:end] + record + locator + short


def damaged(name: str) -> bytes:
    """The sound workbook with one bit of a packed part changed."""

    def change(one: Entry) -> Entry:
        middle = len(one.packed) // 2
        return replace(one, packed=one.packed[:middle] + bytes((one.packed[middle] ^ 4,)) + one.packed[middle + 1 :])

    return with_entry(name, change)


def other_value() -> bytes:
    """A number changed without a trace but the checksum: 7 is now 9, and the part inflates without complaint."""
    parts = good_parts()
    told = zlib.crc32(parts[SHEET])
    changed = parts[SHEET].replace(b"<v>7</v>", b"<v>9</v>")
    return with_entry(SHEET, lambda one: replace(entry(SHEET, changed), checksum=told))


def renamed_in_archive(change: Callable[[str], str]) -> bytes:
    """The sound workbook with all its parts under other names."""
    return pack(entry(change(name), data) for name, data in good_parts().items())


def prefixed(address: str) -> bytes:
    """A sheet whose elements all carry a prefix."""
    rows = f'<x:row r="1"><x:c r="{address}"><x:v>7</x:v></x:c></x:row>'
    return made({SHEET: f'<x:worksheet xmlns:x="{MAIN}"><x:sheetData>{rows}</x:sheetData></x:worksheet>'.encode()})


def many_sheets(count: int) -> bytes:
    """A workbook that lists one sheet many times."""
    listed = "".join(f'<sheet name="S{n}" sheetId="{n}" r:id="rId1"/>' for n in range(1, count + 1))
    return made({WORKBOOK: workbook(f'<x xmlns:r="{RELATIONS}"/>{listed}')})


def with_link(target: str) -> bytes:
    """A workbook related to another one."""
    return made({WORKBOOK_RELATIONS: relations([*LINKED, ("externalLink", target)])})


def strict() -> bytes:
    """The sound workbook in the strict form of the standard, with namespaces of its own."""
    parts = good_parts()
    old, new = RELATIONS.encode(), b"http://purl.oclc.org/ooxml/officeDocument/relationships"
    return made({name: data.replace(MAIN.encode(), STRICT.encode()).replace(old, new) for name, data in parts.items()})


FAR = "XFD1048576"
NOT_CLOSED = '<row r="1"><c r="A1" x="1><v>7</v></c></row>'

CONTAINERS: dict[str, tuple[Maker, str | None]] = {
    "sound": (made, None),
    "cut in half": (lambda: made()[: len(made()) // 2], "cut_short"),
    "cut by one byte": (lambda: made()[:-1], "cut_short"),
    "start lost": (lambda: made()[10:], "cut_short"),
    "middle lost": (lambda: made()[:600] + made()[700:], "cut_short"),
    "something before it": (lambda: b"\0\x01\x02" * 9 + made(), "cut_short"),
    "line end behind it": (lambda: made() + b"\r\n", None),
    "another end behind it": (lambda: made() + made(), "cut_short"),
    "a comment behind it": (lambda: pack([entry(*one) for one in good_parts().items()], comment=b"sent"), None),
    "two directories": (
        lambda: pack([entry(*one) for one in good_parts().items()], comment=b"x" + made() + b"y"),
        "cut_short",
    ),
    "zip64 form": (in_zip64_form, None),
    "zip64 form of five million entries": (lambda: in_zip64_form(5_000_000), "too_many_parts"),
    "zip64 form with a directory of a gigabyte": (lambda: in_zip64_form(0, 1 << 30), "too_many_parts"),
    "65,000 members": (lambda: with_more(*(Entry(b"%d" % n, b"", 0, 0, 0) for n in range(65_000))), "too_many_parts"),
    "3,000 members": (lambda: with_more(*(Entry(b"%d" % n, b"", 0, 0, 0) for n in range(3_000))), "too_many_parts"),
    "more members than counted": (lambda: pack((entry(*one) for one in good_parts().items()), count=3), "cut_short"),
    "doubled part": (lambda: with_more(entry(SHEET, sheet(""))), "doubled_part"),
    "doubled part in capitals": (lambda: with_more(entry(SHEET.upper(), sheet(""))), "doubled_part"),
    "doubled part with backslashes": (lambda: with_more(entry(SHEET.replace("/", "\\"), b"")), "doubled_part"),
    "name that climbs": (lambda: with_more(entry("../../x", b"x")), "unsafe_name"),
    "name that climbs backwards": (lambda: with_more(entry("a\\..\\..\\x", b"x")), "unsafe_name"),
    "name from the root": (lambda: with_more(entry("/etc/x", b"x")), "unsafe_name"),
    "name on a drive": (lambda: with_more(entry("c:/x", b"x")), "unsafe_name"),
    "name with a line end": (lambda: with_more(entry("x\ny", b"x")), "unsafe_name"),
    "name cut by a zero": (lambda: with_more(entry("xl/styles.xml\0.png", b"x")), "unsafe_name"),
    "second name": (
        lambda: with_more(replace(entry("x.png", b"x"), extra=struct.pack("<2H", 0x7075, 9) + b"\x01" + bytes(8))),
        "unsafe_name",
    ),
    "names in capitals": (lambda: renamed_in_archive(str.upper), None),
    "names with backslashes": (lambda: renamed_in_archive(lambda name: name.replace("/", "\\")), None),
    "locked members": (lambda: with_entry(SHEET, lambda one: replace(one, flags=1)), "encrypted"),
    "packed in an unknown way": (lambda: with_entry(SHEET, lambda one: replace(one, method=14)), "packed_otherwise"),
    "stored, not packed": (
        lambda: with_entry(SHEET, lambda one: replace(one, packed=good_parts()[SHEET], method=0)),
        None,
    ),
    "overlapping members": (overlapping, "damaged_part"),
    "a sheet's bit changed": (lambda: damaged(SHEET), "damaged_part"),
    "a number changed in silence": (other_value, "damaged_part"),
    "a picture's bit changed": (lambda: damaged("xl/media/image1.png"), None),
    "core properties damaged": (lambda: damaged("docProps/core.xml"), None),
    "size understated": (lambda: with_entry(SHEET, lambda one: replace(one, size=20)), "damaged_part"),
    "size overstated": (lambda: with_entry(SHEET, lambda one: replace(one, size=one.size + 9)), "damaged_part"),
    "no content types": (lambda: without(TYPES), "missing_part"),
    "no package relations": (lambda: without("_rels/.rels"), "missing_part"),
    "no workbook part": (lambda: without(WORKBOOK), "missing_part"),
    "no workbook relations": (lambda: without(WORKBOOK_RELATIONS), "missing_part"),
    "no sheet part": (lambda: without(SHEET), "missing_part"),
    "no strings part": (lambda: without(STRINGS), "missing_part"),
    "no picture": (lambda: without("xl/media/image1.png"), None),
    "no relation to a workbook": (lambda: made({"_rels/.rels": relations([("thumbnail", "x")])}), "missing_part"),
    "macros": (lambda: with_more(entry("xl/vbaProject.bin", b"x")), "macros"),
    "macros under another name": (
        lambda: made({TYPES: good_parts()[TYPES].replace(b"application/xml", b"application/vnd.ms-office.vbaProject")}),
        "macros",
    ),
    "macro sheets": (lambda: with_more(entry("xl/macrosheets/sheet1.xml", sheet(""))), "macros"),
    "link to another workbook": (
        lambda: with_more(entry("xl/externalLinks/externalLink1.xml", b"<x/>")),
        "external_links",
    ),
    "link by relation": (lambda: with_link("links/one.xml"), "external_links"),
    "pixel bomb": (lambda: made({"xl/media/image1.png": pixel_bomb()}), None),
    "far too large": (lambda: bytes(33 * MB), "too_large"),
    "201 sheets": (lambda: many_sheets(201), "too_many_parts"),
}

SHEETS: dict[str, tuple[Maker, str | None]] = {
    "bomb of spaces": (lambda: sheet_bomb(b" " * 1024, 80 * MB), "too_large"),
    "bomb of cells": (lambda: sheet_bomb(b'<c r="A1"><v>1</v></c>', 80 * MB), "too_large"),
    "bomb of cells within bounds": (lambda: sheet_bomb(b"<c><v>1</v></c>", 12 * MB), "too_many_cells"),
    "bomb of rows within bounds": (lambda: sheet_bomb(b"<row/>", 12 * MB), "too_many_cells"),
    "bomb that lies about its size": (
        lambda: with_entry(
            SHEET, lambda one: replace(repeated(b"", b" " * 1024, 80 * 1024, b""), name=one.name, size=3000)
        ),
        "damaged_part",
    ),
    "bomb of one string": (lambda: strings_bomb(b"a" * 1024, 80 * MB), "too_large"),
    "bomb of short strings": (lambda: strings_bomb(b"<si><t>a</t></si>", 80 * MB), "too_large"),
    "many parts large together": (lambda: with_many("xl/more%d/sharedStrings.xml", 20 * MB, 4), "too_large"),
    "pictures large together": (lambda: with_many("xl/media/more%d.png", 60 * MB, 5), "too_large"),
    "bomb in the relations": (
        lambda: with_bomb(WORKBOOK_RELATIONS, b"<Relationships>", b" " * 1024, 2 * MB, b"</Relationships>"),
        "too_large",
    ),
    "million blank formatted rows": (
        lambda: sheet_bomb(b'<row r="1"><c r="A1" s="1"/><c r="B1" s="1"/><c r="C1" s="1"/></row>', 80 * MB),
        "too_large",
    ),
    "70,000 blank formatted rows": (
        lambda: sheet_bomb(b'<row r="9999"><c r="A9999" s="1"/><c r="B9999" s="1"/></row>', 9 * MB // 2),
        None,
    ),
    "words that hold the strings' name": (lambda: made({STRINGS: strings("<si><t>Messstand</t></si>" * 1_500)}), None),
    "cell of 32,768 letters": (lambda: made({STRINGS: strings(f"<si><t>{'a' * 32_768}</t></si>")}), None),
    "cell of a million letters": (lambda: made({STRINGS: strings(f"<si><t>{'a' * 1_000_000}</t></si>")}), None),
    "false dimension": (lambda: with_sheet(f'<row r="1">{cell("A1")}</row>', '<dimension ref="A1:XFD1048576"/>'), None),
    "far corner": (lambda: with_sheet(f'<row r="1">{cell("A1")}</row><row r="1048576">{cell(FAR)}</row>'), "far_cell"),
    "far row": (lambda: with_sheet(f'<row r="1048576">{cell("A1048576")}</row>'), "far_cell"),
    "far column": (lambda: with_sheet(f'<row r="1">{cell("XFD1")}</row>'), "far_cell"),
    "far corner in small letters": (lambda: with_sheet(f'<row r="1">{cell("xfd1048576")}</row>'), "far_cell"),
    "far corner in single quotes": (lambda: with_sheet(f"<row r='1'><c r='{FAR}'><v>7</v></c></row>"), "far_cell"),
    "far corner after a line end": (lambda: with_sheet(f'<row r="1"><c\n r = "{FAR}"><v>7</v></c></row>'), "far_cell"),
    "far corner under a prefix": (lambda: prefixed(FAR), "far_cell"),
    "near cell under a prefix": (lambda: prefixed("B2"), None),
    "far corner said second": (
        lambda: with_sheet(f'<row r="1"><c r="A1" r="{FAR}"><v>7</v></c></row>'),
        "far_cell",
    ),
    "far corner behind a bracket": (
        lambda: with_sheet(f'<row r="1"><c x=">" r="{FAR}"><v>7</v></c></row>'),
        "far_cell",
    ),
    "far row that its cell does not name": (
        lambda: with_sheet('<row r="1048576"><c><v>7</v></c></row>'),
        "far_cell",
    ),
    "cells that name no place": (lambda: with_sheet("<row><c><v>7</v></c></row>" * 100), None),
    "6,000 rows that name no place": (lambda: with_sheet("<row><c><v>7</v></c></row>" * 6_000), "far_cell"),
    "300 cells that name no place": (lambda: with_sheet(f"<row>{'<c><v>7</v></c>' * 300}</row>"), "far_cell"),
    "blank far row": (lambda: with_sheet(f'<row r="1">{cell("A1")}</row><row r="1048576" ht="12.8"/>'), None),
    "blank far cell": (lambda: with_sheet(f'<row r="1">{cell("A1")}<c r="{FAR}" s="1"/></row>'), None),
    "blank far cell in two tags": (lambda: with_sheet(f'<row r="1"><c r="{FAR}" s="1"></c></row>'), None),
    "tag that never closes": (lambda: with_sheet(NOT_CLOSED), "damaged_part"),
    "merge of everything": (
        lambda: with_sheet("", "", f'<mergeCells><mergeCell ref="A1:{FAR}"/></mergeCells>'),
        "far_cell",
    ),
    "merge of ten columns": (
        lambda: with_sheet("", "", '<mergeCells count="1"><mergeCell ref="A1:J1048576"/></mergeCells>'),
        "far_cell",
    ),
    "honest merges": (
        lambda: with_sheet(
            "", "", '<mergeCells count="2"><mergeCell ref="A1:J1"/><mergeCell ref="A2:J2"/></mergeCells>'
        ),
        None,
    ),
    "25,000 merges": (
        lambda: with_sheet("", "", "<mergeCells>" + '<mergeCell ref="A1:B1"/>' * 25_000 + "</mergeCells>"),
        "too_many_merges",
    ),
    "promise of 4 billion strings": (
        lambda: made({STRINGS: strings(counts='count="1" uniqueCount="4294967295"')}),
        "shared_strings_count",
    ),
    "promise in other words": (
        lambda: made({STRINGS: strings(counts="x='>' uniqueCount = '+4294967295'")}),
        "shared_strings_count",
    ),
    "promise behind a comment": (
        lambda: made(
            {STRINGS: strings().replace(b"<sst", b'<!-- <sst uniqueCount="1"> --><sst uniqueCount="99999999"')}
        ),
        "shared_strings_count",
    ),
    "promise the part cannot hold": (
        lambda: made({STRINGS: strings(counts='count="9" uniqueCount="1000000"')}),
        "shared_strings_count",
    ),
    "harmless wrong promise": (lambda: made({STRINGS: strings(counts='count="900" uniqueCount="700"')}), None),
    "string that is not there": (lambda: with_sheet('<row r="1"><c r="A1" t="s"><v>99</v></c></row>'), None),
    "number that is none": (lambda: with_sheet(f'<row r="1">{cell("A1", "abc")}</row>'), None),
    "100,000 attributes": (
        lambda: with_sheet(
            '<row r="1"><c r="A1"' + "".join(f" a{n}=''" for n in range(100_000)) + "><v>7</v></c></row>"
        ),
        None,
    ),
    "100,000 namespaces": (
        lambda: made({SHEET: sheet("").replace(b"<worksheet", b"<worksheet" + b' xmlns:a="b"' * 100_000)}),
        None,
    ),
    "200,000 validations": (
        lambda: with_sheet(
            "", "", "<dataValidations>" + '<dataValidation sqref="A1"/>' * 200_000 + "</dataValidations>"
        ),
        None,
    ),
}

ENCODINGS: dict[str, tuple[Maker, str | None]] = {
    "billion laughs in strings": (lambda: with_laughs("billion", STRINGS), "document_type"),
    "billion laughs in a sheet": (lambda: with_laughs("billion", SHEET), "document_type"),
    "quadratic laughs": (lambda: with_laughs("quadratic", STRINGS), "document_type"),
    "file from outside": (lambda: with_laughs("outside", SHEET), "document_type"),
    "document type behind a comment": (
        lambda: made({SHEET: sheet("").replace(b"<worksheet", b"<!-- x --><!DOCTYPE x><worksheet")}),
        "document_type",
    ),
    "document type spoken of in text": (
        lambda: made({STRINGS: strings("<si><t>&lt;!DOCTYPE</t></si><si><t><![CDATA[<!DOCTYPE x>]]></t></si>")}),
        None,
    ),
    "UTF-16 sheet": (lambda: made({SHEET: sheet("").decode().replace("UTF-8", "UTF-16").encode("utf-16")}), "not_utf8"),
    "UTF-16 sheet without a mark": (lambda: made({SHEET: sheet("").decode().encode("utf-16-le")}), "not_utf8"),
    "UTF-16 strings": (lambda: made({STRINGS: strings().decode().encode("utf-16")}), "not_utf8"),
    "laughs hidden in UTF-16": (
        lambda: made({SHEET: (HEAD + laughs("billion") + sheet("").decode()).encode("utf-16-be")}),
        "not_utf8",
    ),
    "Latin-1 as declared": (
        lambda: made(
            {STRINGS: strings("<si><t>Zo\u00eb</t></si>").decode().replace("UTF-8", "latin1").encode("latin1")}
        ),
        "not_utf8",
    ),
    "Latin-1 in secret": (
        lambda: made({STRINGS: strings("<si><t>Zo\u00eb</t></si>").decode().encode("latin1")}),
        "not_utf8",
    ),
    "UTF-8 with a mark": (lambda: made({SHEET: b"\xef\xbb\xbf" + good_parts()[SHEET]}), None),
    "strict form": (strict, None),
}

HOSTILE: dict[str, tuple[Maker, str | None]] = NO_WORKBOOKS | CONTAINERS | SHEETS | ENCODINGS
"""Every file, by what is wrong with it."""
