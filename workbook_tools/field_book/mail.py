"""Mail drafts: a text and field books → the bytes of an .eml file that a mail program opens as a mail not yet sent."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from email.header import Header
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import formataddr
from typing import TypeVar

LARGEST_MAIL = 18_000_000
"""Bytes of attachments in one mail. Base64 makes them a third more (RFC 2045, 6.8): 24 million, below the 25 MB that
common mail services take."""

_WORKBOOK = "vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_LINE_END = SMTP.linesep
_BOUNDARY = "=_field_books_=_"
"""Neither base64 nor quoted-printable text can hold `=_` (RFC 2045, 6.7 and 6.8)."""
_BETWEEN_ADDRESSES = re.compile(r"[;,\s]+")
_LOCAL_PART = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+(\.[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+)*"
_DOMAIN = r"[A-Za-z0-9]([A-Za-z0-9-]*[A-Za-z0-9])?(\.[A-Za-z0-9]([A-Za-z0-9-]*[A-Za-z0-9])?)*"
_ADDRESS = re.compile(rf"{_LOCAL_PART}@{_DOMAIN}")
"""A dot-atom address (RFC 5322, 3.4.1) in ASCII."""

_Sized = TypeVar("_Sized")


@dataclass(frozen=True, slots=True)
class Attachment:
    """One book: its file name and its bytes."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Draft:
    """One mail. `addresses` may be empty: then it has no recipient yet."""

    name: str
    addresses: tuple[str, ...]
    subject: str
    text: str
    attachments: tuple[Attachment, ...] = ()

    def to_bytes(self) -> bytes:
        """The .eml file, with CRLF line ends; the same draft gives the same bytes.

        It has no date, sender or message id: a mail program adds them when the mail is sent.
        """
        message = EmailMessage(policy=SMTP)
        message.set_content(self.text, charset="utf-8", cte="quoted-printable")
        message.make_mixed(boundary=_BOUNDARY)
        for one in self.attachments:
            message.add_attachment(one.data, "application", _WORKBOOK, filename=one_line(one.name))
        lines = (f"{name}: {value.encode(linesep=_LINE_END)}{_LINE_END}" for name, value in self._headers())
        return "".join(lines).encode("ascii") + message.as_bytes()

    def _headers(self) -> Iterator[tuple[str, Header]]:
        """The headers with texts in them, by their names.

        Of Python's two ways to fold headers this is the older one; the newer one loses spaces between encoded words or
        joins them to one (github.com/python/cpython, issues 92081 and 144156).
        """
        yield "X-Unsent", Header("1")
        yield "Subject", Header(one_line(self.subject), header_name="Subject")
        if self.addresses:
            yield "To", self._recipients()

    def _recipients(self) -> Header:
        to, name = Header(header_name="To"), one_line(self.name)
        for number, address in enumerate(self.addresses, start=1):
            comma = "," if number < len(self.addresses) else ""
            if name.isascii():
                to.append(f"{formataddr((name, address))}{comma}")
            else:
                to.append(name)
                to.append(f"<{address}>{comma}")
        return to


def addresses_in(text: str) -> tuple[str, ...]:
    """The mail addresses in a cell of the setup, in order; what is not one is passed over."""
    return tuple(one for one in _BETWEEN_ADDRESSES.split(text) if _ADDRESS.fullmatch(one))


def one_line(text: str) -> str:
    """A text that can stand in a header: one line, nothing that cannot be seen, nothing that looks encoded."""
    seen = "".join(one if one.isprintable() else " " for one in text).replace("=?", "= ?")
    return " ".join(seen.split())


def within_limit(sized: Iterable[tuple[_Sized, int]], limit: int = LARGEST_MAIL) -> Iterator[Sequence[_Sized]]:
    """Share things with their sizes in bytes among mails, in order; one that passes the limit gets its own."""
    group: list[_Sized] = []
    total = 0
    for one, size in sized:
        if group and total + size > limit:
            yield group
            group, total = [], 0
        group.append(one)
        total += size
    if group:
        yield group
