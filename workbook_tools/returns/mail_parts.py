"""Parts of mails that are packed otherwise than the standard has it: what is meant is got out all the same."""

from __future__ import annotations

import binascii
import quopri
import re
from collections.abc import Iterator
from email.feedparser import FeedParser
from email.message import Message

_NO_SIGN = re.compile(rb"[^A-Za-z0-9+/]+")
_UU_BLOCK = re.compile(
    r"^begin [0-7]{3,4} ([^\r\n]{1,200})\r?\n((?:[!-_][ -`]{0,90}\r?\n)++)[ `]?\r?\nend\b", re.MULTILINE
)
"""The lines between are never given back once they are taken: to go back to each would take 160 bytes a line."""
_PACKED_STARTS = (b"UEsDB", b"0M8R4KGx")
"""A zip's and an OLE file's first bytes in base64."""
_FED = 64 << 10
"""Bytes the parser is given at once; given all of a mail, it would hold it three times."""


def decoded_base64(text: bytes) -> bytes:
    """Base64 as far as it goes: signs that are none are left out, and the padding or a line of words ends it.

    A mail that is cut, or to which a mailing list added a footer, ends in the middle; so does what is decoded.
    """
    signs = bytearray()
    for line in text.splitlines():
        packed = line.strip()
        if b" " in packed or b"\t" in packed:
            break
        body, padding, _ = packed.partition(b"=")
        signs += _NO_SIGN.sub(b"", body)
        if padding:
            break
    del signs[len(signs) - (len(signs) % 4 == 1) :]
    return binascii.a2b_base64(bytes(signs) + b"=" * (-len(signs) % 4))


def is_silently_packed(text: bytes) -> bool:
    """True for base64 of a workbook in a part that does not say that it is packed."""
    return text.lstrip().startswith(_PACKED_STARTS)


def unpacked_mail(part: Message, nested: Message) -> bytes | None:
    """The bytes of a mail that is attached packed, as the standard forbids; None for one that is attached as it is."""
    packing = str(part.get("Content-Transfer-Encoding", "")).strip().lower()
    if packing == "base64" and not nested.keys():
        return decoded_base64(nested.as_string().encode("latin-1"))
    if packing == "quoted-printable" and b"=3D" in (raw := nested.as_string().encode("latin-1")):
        return quopri.decodestring(raw)
    return None


def parsed(data: bytes) -> Message:
    """A mail, whatever stands before its first header, as text in which each character is one byte (Latin-1).

    The parser that takes bytes lets a part's text be decoded by the charset the mail names, whenever it is looked at,
    and there are charsets that take the square of its length.
    """
    parser = FeedParser()
    start = 3 if data.startswith(b"\xef\xbb\xbf") else 0
    while data[start : start + 1] in (b"\r", b"\n"):
        start += 1
    for at in range(start, len(data), _FED):
        parser.feed(data[at : at + _FED].decode("latin-1"))
    return parser.close()


def files_in_text(part: Message) -> Iterator[Message]:
    """The files that stand uuencoded in the text of a mail, each as a part of its own."""
    text = part.get_payload()
    if not isinstance(text, str) or "begin " not in text:
        return
    for block in _UU_BLOCK.finditer(text):
        made = Message()
        made["Content-Transfer-Encoding"] = "x-uuencode"
        made.add_header(
            "Content-Disposition", "attachment", filename=block[1].encode("ascii", "replace").decode().strip()
        )
        made.set_payload(f"begin 644 file\n{block[2]}`\nend\n")
        yield made
