"""Files that are no .xlsx workbooks, though they came in a workbook's place: each made by code, with its refusal."""

import struct
from collections.abc import Callable

from tests.faults.packages import TYPES, entry, good_parts, made, pack

Maker = Callable[[], bytes]
PHOTO = b"\xff\xd8\xff\xe0" + bytes(50)


def ole(*streams: str) -> bytes:
    """An OLE file that holds nothing but the names of its streams: header, table of sectors, directory."""
    header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + struct.pack("<5H", 0x3E, 3, 0xFFFE, 9, 6) + bytes(10)
    header += struct.pack("<5L", 1, 1, 0, 4096, 0xFFFFFFFE) + struct.pack("<3L", 0, 0xFFFFFFFE, 0)
    header += struct.pack("<L", 0) + b"\xff" * 432
    table = struct.pack("<2L", 0xFFFFFFFD, 0xFFFFFFFE) + b"\xff" * 504
    names = b"".join(
        name.encode("utf-16-le").ljust(64, b"\0") + struct.pack("<H2B", 2 * len(name) + 2, kind, 1) + bytes(60)
        for name, kind in (("Root Entry", 5), *((name, 2) for name in streams))
    )
    return header + table + names.ljust(512, b"\0")


def plain_zip(members: dict[str, bytes]) -> bytes:
    """An ordinary zip."""
    return pack(entry(name, data) for name, data in members.items())


def open_document(rows: int = 1) -> bytes:
    """A spreadsheet in the OpenDocument format; with many rows, a cell said to be repeated over all of them."""
    repeated_rows = f'<table:table-row table:number-rows-repeated="{rows}">'
    content = f"<office:document-content>{repeated_rows}</table:table-row></office:document-content>"
    kind = b"application/vnd.oasis.opendocument.spreadsheet"
    return plain_zip({"mimetype": kind, "content.xml": content.encode(), "META-INF/manifest.xml": b"<x/>"})


NO_WORKBOOKS: dict[str, tuple[Maker, str | None]] = {
    "empty": (lambda: b"", "empty_file"),
    "zeros": (lambda: bytes(5000), "cut_short"),
    "first letter of a zip": (lambda: b"P", "cut_short"),
    "text": (lambda: b"I could not do the store today, sorry.\n", "text_file"),
    "comma-separated": ("\ufeffposition,label\nA-1-1,Zoë\n".encode, "text_file"),
    "UTF-16 text": (lambda: "position\tlabel\nA-1-1\tx\n".encode("utf-16"), "text_file"),
    "web page": (lambda: b"<!DOCTYPE html><html><body>Sign in</body></html>", "web_page"),
    "web page saved as workbook": (lambda: b'<html xmlns:x="urn:x"><table><tr><td>1</td></tr></table>', "web_page"),
    "web archive": (
        lambda: b"MIME-Version: 1.0\nX-Document-Type: Workbook\nContent-Type: multipart/related\n",
        "web_page",
    ),
    "XML spreadsheet": (lambda: b'<?xml version="1.0"?><?mso-application progid="Excel.Sheet"?><W/>', "xml_workbook"),
    "legacy workbook": (lambda: ole("Workbook"), "legacy_xls"),
    "very old workbook": (lambda: ole("Book"), "legacy_xls"),
    "older than OLE": (lambda: b"\x09\x04\x06\x00\x00\x00\x10\x00" + bytes(40), "legacy_xls"),
    "with a password": (lambda: ole("EncryptionInfo", "EncryptedPackage"), "encrypted"),
    "message file": (lambda: ole("__properties_version1.0"), "outlook_message"),
    "old word document": (lambda: ole("WordDocument"), "not_a_workbook"),
    "OLE of nothing known": (lambda: ole("Thing"), "not_a_workbook"),
    "open document": (open_document, "open_document"),
    "open document bomb": (lambda: open_document(1_048_576), "open_document"),
    "flat open document": (lambda: b'<?xml version="1.0"?><office:document xmlns:office="x"/>', "open_document"),
    "open text document": (
        lambda: plain_zip({"mimetype": b"application/vnd.oasis.opendocument.text"}),
        "not_a_workbook",
    ),
    "tablet spreadsheet": (lambda: plain_zip({"Index/Document.iwa": b"x", "preview.jpg": PHOTO}), "numbers_file"),
    "binary workbook": (lambda: plain_zip({TYPES: b"<T/>", "xl/workbook.bin": b"x"}), "binary_workbook"),
    "word document": (lambda: plain_zip({TYPES: b"<T/>", "word/document.xml": b"<x/>"}), "not_a_workbook"),
    "presentation": (lambda: plain_zip({TYPES: b"<T/>", "ppt/presentation.xml": b"<x/>"}), "not_a_workbook"),
    "some other package": (lambda: plain_zip({TYPES: b"<T/>", "visio/x.xml": b"<x/>"}), "not_a_workbook"),
    "zip of photos": (lambda: plain_zip({"1.jpg": PHOTO, "2.jpg": PHOTO}), "not_a_workbook"),
    "zip in a zip": (lambda: plain_zip({"book.xlsx": made()}), "not_a_workbook"),
    "workbook unpacked and packed again": (
        lambda: plain_zip({f"book/{name}": data for name, data in good_parts().items()}),
        "missing_part",
    ),
    "picture": (lambda: PHOTO, "not_a_workbook"),
    "portable document": (lambda: b"%PDF-1.7\n" + bytes(20), "not_a_workbook"),
    "winmail.dat": (lambda: b"\x78\x9f\x3e\x22" + bytes(20), "tnef"),
    "other archive": (lambda: b"7z\xbc\xaf\x27\x1c" + bytes(20), "archive_other"),
    "locked mail": (lambda: b"-----BEGIN PGP MESSAGE-----\n\nhQ==\n", "mail_encrypted"),
    "mail": (lambda: b"From: a@example.org\nDate: Tue, 4 Mar 2025 10:11:12 +0000\n\nHello\n", "not_a_workbook"),
    "noise": (lambda: bytes(range(256)) * 8, "not_a_workbook"),
}
