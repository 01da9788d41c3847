"""What a file is, told from its first bytes, and names from outside made fit to be shown."""

from __future__ import annotations

import re
import unicodedata

HEAD = 4096
"""How many first bytes of a file `content_of` wants to see."""
SHOWN_NAME_LENGTH = 160
ARROW = " → "
"""Stands between the steps of an origin: the mail, its attachment, the file in the zip that was attached."""

_STARTS = (
    (b"PK\x03\x04", "zip"),
    (b"PK\x05\x06", "zip"),
    (b"PK\x07\x08", "zip"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "ole"),
    (b"\xff\xd8\xff", "picture"),
    (b"\x89PNG\r\n\x1a\n", "picture"),
    (b"GIF87a", "picture"),
    (b"GIF89a", "picture"),
    (b"II*\x00", "picture"),
    (b"MM\x00*", "picture"),
    (b"%PDF-", "pdf"),
    (b"{\\rtf", "rtf"),
    (b"\x78\x9f\x3e\x22", "tnef"),
    (b"!BDN", "mail_store"),
    (b"Rar!\x1a\x07", "archive"),
    (b"7z\xbc\xaf\x27\x1c", "archive"),
    (b"\x1f\x8b", "archive"),
    (b"BZh", "archive"),
    (b"\xfd7zXZ\x00", "archive"),
    (b"(\xb5/\xfd", "archive"),
    (b"MSCF", "archive"),
    (b"\x00\x05\x16\x07", "system"),
    (b"\x00\x05\x16\x00", "system"),
    (b"-----BEGIN PGP MESSAGE", "mail_locked"),
    (b"\x09\x00\x04\x00", "old_workbook"),
    (b"\x09\x02\x06\x00", "old_workbook"),
    (b"\x09\x04\x06\x00", "old_workbook"),
    (b"\x09\x08", "old_workbook"),
)
"""Signatures, most from the formats' own specifications; the last four are worksheets older than OLE files."""
_HEIF_BRANDS = frozenset((b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif"))
_BYTE_ORDER_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_CONTROLS = re.compile(r"[\x00-\x08\x0b\x0e-\x1a\x1c-\x1f]")
_HTML = re.compile(r"<(?:!doctype\s+html|html|head|body|table|meta|style|script)\b", re.IGNORECASE)
_MHTML = re.compile(r"^(?:x-document-type:\s*workbook|snapshot-content-location:)", re.IGNORECASE | re.MULTILINE)
_HEADER = re.compile(rb"[!-9;-~]+[ \t]*:|[ \t]")
_MBOX_LINE = re.compile(rb"From \S.*\d{1,2}:\d\d(?::\d\d)?\b.*\b\d{4}\s*$")
_EMLX_LINE = re.compile(rb"\d{1,10} *\r?\n")
_OF_A_MAIL = frozenset(
    (b"received", b"return-path", b"delivered-to", b"message-id", b"from", b"date", b"x-sender", b"mime-version")
)
_IN_A_MAIL = _OF_A_MAIL | {b"to", b"cc", b"subject", b"mime-version", b"content-type", b"sender", b"reply-to"}
_SYSTEM_NAMES = frozenset(
    (
        *(".ds_store", "__macosx", "icon\r", "thumbs.db", "ehthumbs.db", "desktop.ini"),
        *("dovecot-uidlist", "dovecot.index", "dovecot.index.log", "dovecot.index.cache", "maildirsize"),
        *("maildirfolder", "subscriptions", "courierimapuiddb"),
    )
)
_SPREADSHEET_SUFFIX = re.compile(r"\.(?:xl\w{0,3}|csv|tsv|tab|ods|fods|numbers|gsheet)$", re.IGNORECASE)


def content_of(head: bytes) -> str:
    """What a file is, from its first `HEAD` bytes (all of them when it is shorter).

    One of: empty, zeros, zip, ole, picture, pdf, rtf, tnef, mail_store, mail_locked, archive, system, old_workbook,
    mail, emlx, mbox, web_page, xml_workbook, open_document, text, unknown.
    """
    if not head:
        return "empty"
    for start, content in _STARTS:
        if head.startswith(start):
            return content
    if _is_other_picture(head):
        return "picture"
    if head[257:262] == b"ustar":
        return "archive"
    if not head.strip(b"\0"):
        return "zeros"
    return _mail_kind(head) or _text_kind(head)


def _is_other_picture(head: bytes) -> bool:
    if (head[:4] == b"RIFF" and head[8:12] == b"WEBP") or (head[:2] == b"BM" and head[6:10] == bytes(4)):
        return True
    return head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS


def _mail_kind(head: bytes) -> str:
    first, _, rest = head.partition(b"\n")
    if _MBOX_LINE.match(first.rstrip(b"\r")) and _HEADER.match(rest):
        return "mbox"
    if found := _EMLX_LINE.match(head):
        return "emlx" if looks_like_mail(head[found.end() :]) else ""
    return "mail" if looks_like_mail(head) else ""


def looks_like_mail(head: bytes) -> bool:
    """True when a text opens with mail headers; one odd line among them is forgiven, as mail programs forgive it."""
    lines = head.removeprefix(b"\xef\xbb\xbf").lstrip(b"\r\n").split(b"\n")
    names: set[bytes] = set()
    odd = 0
    for line in lines[: -1 if len(lines) > 1 and len(head) >= HEAD else None]:
        if not line.strip():
            break
        if opens_header(line):
            names.add(line.partition(b":")[0].strip().lower())
        elif line[:1] not in b" \t":
            odd += 1
        if odd > 1 or not names:
            return False
    return bool(names & _OF_A_MAIL) and len(names & _IN_A_MAIL) > 1 and not _MHTML.search(head.decode("latin-1"))


def _text_kind(head: bytes) -> str:
    """The kind of text, or "unknown" when the bytes are no text at all."""
    text = _decoded(head)
    if text is None or _CONTROLS.search(text):
        return "unknown"
    start = text.lstrip("\ufeff \t\r\n")
    if _MHTML.search(start):
        return "web_page"
    if not start.startswith("<"):
        return "text"
    if "Excel.Sheet" in start or "urn:schemas-microsoft-com:office:spreadsheet" in start[:1000]:
        return "web_page" if _HTML.match(start) else "xml_workbook"
    if "<office:document" in start:
        return "open_document"
    return "web_page" if _HTML.search(start) else "text"


def _decoded(head: bytes) -> str | None:
    """The bytes as text: by their mark, as UTF-8 (perhaps cut within a character), or in an 8-bit code."""
    for mark, code in _BYTE_ORDER_MARKS:
        if head.startswith(mark):
            return head[len(mark) :].decode(code, "replace")
    for short in range(4):
        try:
            return head[: len(head) - short].decode("utf-8")
        except UnicodeDecodeError:
            continue
    few = sum(byte < 0x20 and byte not in b"\t\n\r" for byte in head) == 0
    return head.decode("latin-1") if few and sum(byte >= 0x80 for byte in head) * 3 < len(head) else None


def is_mbox_line(line: bytes) -> bool:
    """True for the "From " line that opens a message of an mbox file."""
    return bool(_MBOX_LINE.match(line))


def opens_header(line: bytes) -> bool:
    """True for a line that has the form of a mail header."""
    return bool(_HEADER.match(line)) and line[:1] not in b" \t"


def emlx_start(head: bytes) -> tuple[int, int]:
    """Where the message of an .emlx file starts and how long it says it is, both in bytes."""
    found = _EMLX_LINE.match(head)
    return (found.end(), int(found[0])) if found else (0, len(head))


def is_system_name(name: str) -> bool:
    """True for files that programs and systems leave beside a person's: locks, thumbnails, hidden files."""
    folded = name.casefold()
    return name.startswith((".", "~$")) or folded in _SYSTEM_NAMES or folded.endswith(".msf")


def is_spreadsheet_name(name: str) -> bool:
    """True for a name by which a person means a spreadsheet, whatever the file really is."""
    return bool(_SPREADSHEET_SUFFIX.search(name.strip()))


def shown_name(text: str, most: int = SHOWN_NAME_LENGTH) -> str:
    """A name from outside as it may be shown: one line, no control, direction or invisible characters, no arrow of
    our own, bounded in length with its end kept. It is for people; never make a path of it.
    """
    plain = text[: 20 * most].replace(ARROW.strip(), ">")
    if not plain.isprintable():
        plain = "".join(map(_shown, plain))
    plain = plain.strip()
    if len(plain) > most:
        plain = f"{plain[: most - 21]}…{plain[-20:]}"
    return plain


def shown_path(text: str) -> str:
    """A path from outside as it may be shown: parts that lead upwards or to a drive's root are left out."""
    parts = (shown_name(part) for part in re.split(r"[\\/]+", text))
    return shown_name("/".join(part for part in parts if part not in {"", ".", ".."}))


def _shown(one: str) -> str:
    category = unicodedata.category(one)
    if category in {"Cc", "Zl", "Zp"}:
        return " "
    if category == "Cs":
        return "\ufffd"
    return "" if category == "Cf" else one
