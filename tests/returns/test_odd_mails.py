"""Mails as odd programs, gateways and mailing lists leave them: the book is got out whole, or the reason is told."""

from __future__ import annotations

import binascii
import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.returns.mails import FROM, HTML, SENT, TEXT, attached, base64_lines, inner, multipart, part
from workbook_tools.returns.collect import Candidate, collect
from workbook_tools.returns.mail_parts import decoded_base64

BOOK = b"PK\x03\x04" + random.Random(4).randbytes(4_000) + b"PK\x05\x06" + bytes(18)
"""Opens and ends like a workbook; what is between does not pack."""
NAMED = "Content-Type: application/octet-stream; name=a.xlsx"


def uuencoded(data: bytes) -> bytes:
    """As mail programs before the standard packed files."""
    lines = (binascii.b2a_uu(data[start : start + 45]) for start in range(0, len(data), 45))
    return b"begin 644 a.xlsx\n" + b"".join(lines) + b"`\nend\n"


def with_part(*lines: str, body: bytes) -> bytes:
    """A mail with one part under these headers."""
    return multipart(TEXT, "\n".join((*lines, "", "")).encode() + body)


BASE64 = "Content-Transfer-Encoding: base64"
SOUND = multipart(TEXT, attached(BOOK, "a.xlsx"))
IN_IT = multipart(attached(BOOK, "a.xlsx"), boundary="within")

ODD: dict[str, bytes] = {
    "a byte order mark before the headers": b"\xef\xbb\xbf" + SOUND,
    "blank lines before the headers": b"\r\n\n" + SOUND,
    "a footer behind the base64": with_part(
        NAMED, BASE64, body=base64_lines(BOOK) + b"\n\n-- \nsent to all of the list\nhttp://list.example.org/\n"
    ),
    "signs that are none in the base64": with_part(NAMED, BASE64, body=base64_lines(BOOK).replace(b"A", b"!A*")),
    "base64 without its padding": with_part(NAMED, BASE64, body=base64_lines(BOOK).rstrip(b"=")),
    "base64 in one line": with_part(NAMED, BASE64, body=binascii.b2a_base64(BOOK)),
    "base64 indented": with_part(NAMED, BASE64, body=base64_lines(BOOK).replace(b"\n", b"\n\t ")),
    "base64 that is not said": with_part(NAMED, body=base64_lines(BOOK)),
    "base64 said to be plain": with_part(NAMED, "Content-Transfer-Encoding: 7bit", body=base64_lines(BOOK)),
    "bytes as they are": with_part(NAMED, "Content-Transfer-Encoding: binary", body=BOOK),
    "uuencoded as a part": with_part(NAMED, "Content-Transfer-Encoding: x-uuencode", body=uuencoded(BOOK)),
    "uuencoded in the text": FROM + b"\nHere it is.\n\n" + uuencoded(BOOK) + b"\nKim\n",
    "uuencoded in one text of several": multipart(b"Content-Type: text/plain\n\n" + uuencoded(BOOK), HTML),
    "a forwarded mail in base64": multipart(part(IN_IT, "Content-Type: message/rfc822")),
    "a forwarded mail in quoted-printable": with_part(
        "Content-Type: message/rfc822", "Content-Transfer-Encoding: quoted-printable", body=IN_IT.replace(b"=", b"=3D")
    ),
    "a name in pieces of two alphabets": multipart(
        part(
            BOOK,
            "Content-Type: application/octet-stream",
            "Content-Disposition: attachment;\n filename*0*=UTF-8''Vuelta%20;",
            " filename*1*=n%C2%BA%201;\n filename*2=.xlsx",
        )
    ),
    "the book instead of a text": FROM + b"MIME-Version: 1.0\n" + part(BOOK, NAMED),
    "a text of an unknown alphabet": multipart(
        b"Content-Type: text/plain; charset=x-none\n\n\xff", attached(BOOK, "a")
    ),
    "no last line of the parts": SOUND.rstrip().removesuffix(b"--b1--"),
    "within a signed mail": multipart(
        inner(attached(BOOK, "a.xlsx"), kind="mixed", boundary="b2"),
        part(b"sig", "Content-Type: application/pkcs7-signature; name=smime.p7s"),
        kind="signed",
    ),
    "no sender and no date": b"Subject: Store 001\nMIME-Version: 1.0\n" + part(BOOK, NAMED),
}


def found_in(folder: Path, data: bytes) -> list[Candidate]:
    """What a mail holds."""
    (folder / "mail.eml").write_bytes(data)
    return list(collect([folder], folder))


@pytest.mark.parametrize("name", ODD)
def test_the_book_in_an_odd_mail_is_got_out_whole(name: str, tmp_path: Path) -> None:
    """One candidate, whose bytes begin with all of the book's; a zip may have a few more behind it."""
    (one,) = found_in(tmp_path, ODD[name])
    assert (one.kind, one.refusal) == ("workbook", None), one
    data = one.read()
    assert data.startswith(BOOK)
    assert len(data) < len(BOOK) + 50
    if name != "no sender and no date":
        assert (one.sender, one.received) == ("kim@example.org", SENT)


@pytest.mark.parametrize(
    ("data", "rule"),
    [
        (FROM + b'Content-Type: message/partial; id="1"; number=1; total=2\n\n' + SOUND[:3000], "mail_unreadable"),
        (
            multipart(b"Content-Type: message/external-body; access-type=URL\n\nContent-Type: a/b\n\n"),
            "nothing_attached",
        ),
        (FROM + b'Content-Type: text/html\n\n<a href="https://drive.example.org/x">book</a>\n', "nothing_attached"),
        (FROM + b"\nbegin 644 of the visit\nwas at nine\nend\n", "nothing_attached"),
    ],
    ids=["one of several mails", "a file elsewhere", "a link to a drive", "words that look packed"],
)
def test_a_mail_without_a_whole_book_says_so(data: bytes, rule: str, tmp_path: Path) -> None:
    """Half a mail, and a book that lies somewhere else, are one file each with the way out."""
    (one,) = found_in(tmp_path, data)
    assert one.refusal
    assert one.refusal.rule == rule


@given(st.binary(max_size=400), st.integers(1, 90), st.binary(max_size=3))
def test_base64_is_read_as_far_as_it_goes(data: bytes, width: int, junk: bytes) -> None:
    """Whatever the length of its lines and whatever signs stand between them; cut anywhere, its beginning is read."""
    packed = binascii.b2a_base64(data, newline=False)
    lines = b"\r\n".join(packed[start : start + width] for start in range(0, len(packed), width))
    between = bytes(one for one in junk if one in b"!*._-~\xff")
    assert decoded_base64(lines.replace(b"\n", b"\n" + between)) == data
    assert data.startswith(decoded_base64(packed[: len(packed) * 2 // 3].rstrip(b"=")))


@given(st.binary(max_size=400))
def test_no_bytes_whatever_raise(data: bytes) -> None:
    """Noise where base64 should stand is some bytes or none."""
    assert len(decoded_base64(data)) <= len(data)
