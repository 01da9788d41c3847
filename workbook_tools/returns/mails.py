"""Mails taken apart: their attachments in order, who sent them and when, whatever program wrote them.

The standard library parses them under its older policy (compat32), which takes headers as they are; the newer one
puts every header it is asked for through a grammar, and raises over some that arrive broken.
Its mailbox module needs a path and cuts a message at every line that begins with "From ", so mbox files are cut here.
"""

from __future__ import annotations

import base64
import binascii
import datetime as dt
import quopri
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from email.errors import MessageError
from email.header import decode_header, make_header
from email.message import Message
from email.utils import collapse_rfc2231_value, parseaddr, parsedate_to_datetime
from functools import lru_cache
from typing import IO, Any

from workbook_tools.contract.contents import HEAD, content_of, is_mbox_line, opens_header, shown_name
from workbook_tools.returns.mail_parts import decoded_base64, files_in_text, is_silently_packed, parsed, unpacked_mail

MAX_MAIL = 64 << 20
"""Bytes of the largest mail that is taken apart."""
MAX_NESTED = 8
"""Mails within mails, forwarded as attachments."""
MAX_ATTACHMENTS = 500
_MAX_WORK = 40_000_000
_MAX_BRANCHES = 40
_MAX_LINES = 2_000_000
"""A mail of `MAX_MAIL` has 900,000 lines of the usual length; the parser takes 150 bytes and 2 µs for each."""
_MAX_PART_LINES = 20_000
_MAX_LONGISH = 200
_LARGEST_LOGO = 64 << 10
_LONGEST_LINE = 1 << 20
_HEADER = rb"content-(?:type|disposition)[ \t]*:(?:[^\n]|\n[ \t])"
_LONGISH_HEADER, _LONG_HEADER = re.compile(_HEADER + rb"{1000}"), re.compile(_HEADER + rb"{4000}")
_AFTER_TEXT = re.compile(r"ATT\d{4,}\.(?:txt|html?)", re.IGNORECASE)
_PROTOCOL_PARTS = frozenset(
    (
        *("application/pgp-signature", "application/pkcs7-signature", "application/x-pkcs7-signature"),
        *("message/delivery-status", "message/disposition-notification", "text/rfc822-headers", "text/calendar"),
        *("message/external-body", "application/applefile", "application/pgp-encrypted", "message/feedback-report"),
    )
)
_LOCKED_PARTS = frozenset(("application/pkcs7-mime", "application/x-pkcs7-mime"))
_UU_PACKINGS = frozenset(("x-uuencode", "uuencode", "uue", "x-uue"))
_SPACE = re.compile(r"\s+")


class UnfitMailError(Exception):
    """A mail that cannot or must not be taken apart; `rule` is a key of guard.REFUSALS."""

    def __init__(self, rule: str, detail: object = "") -> None:
        super().__init__(rule)
        self.rule = rule
        self.detail = str(detail)


@dataclass(frozen=True, slots=True)
class Attachment:
    """One attachment. `numbers` are the 1-based numbers that lead to it, through mails attached to mails, each with
    the name it goes by ("" when it has none); `sent` and `sender` are those of the innermost mail that says so.
    """

    numbers: tuple[tuple[int, str], ...]
    sender: str
    sent: str
    part: Message
    is_locked: bool = False

    @property
    def name(self) -> str:
        """The attachment's own name as its sender gave it, never to be used as a path."""
        return self.numbers[-1][1]

    def head(self) -> bytes:
        """Its first bytes, decoded as far as is cheap."""
        text = self.part.get_payload()
        if _is_base64(self.part) and isinstance(text, str) and len(text) > 4 * HEAD:
            start = _SPACE.sub("", text[: 2 * HEAD])
            try:
                return base64.b64decode(start[: len(start) // 4 * 4])[:HEAD]
            except (binascii.Error, ValueError):
                return self.read()[:HEAD]
        return self.read()[:HEAD]

    def size(self) -> int:
        """About how many bytes it has."""
        text = self.part.get_payload()
        length = len(text) if isinstance(text, str) else 0
        return length * 3 // 4 if _is_base64(self.part) else length

    def read(self) -> bytes:
        """All of it, decoded."""
        text = self.part.get_payload()
        raw = text.encode("latin-1", "replace") if isinstance(text, str) else b""
        if _is_base64(self.part) or is_silently_packed(raw):
            return decoded_base64(raw)
        if _packing(self.part) == "quoted-printable":
            return quopri.decodestring(raw)
        if _packing(self.part) not in _UU_PACKINGS:
            return raw
        data = self.part.get_payload(decode=True)
        return data if isinstance(data, bytes) else b""


@dataclass(frozen=True, slots=True)
class Mail:
    """A mail taken apart: who sent it, when (as `sent_at` tells), and what is attached, in order."""

    sender: str
    sent: str
    attachments: tuple[Attachment, ...]


def take_apart(data: bytes) -> Mail:
    """A mail and the mails attached to it.

    Raises UnfitMailError: mail_unreadable, too_large, archive_too_many, archive_too_deep.
    """
    if len(data) > MAX_MAIL:
        raise UnfitMailError("too_large", f"{-(-len(data) // (1 << 20))} MB")
    return _take_apart(data)


def _check_effort(data: bytes) -> None:
    """Refuse mails over which the parser would sit for minutes: it takes the square of the length of a header, and
    holds every line against every part that is open around it.
    """
    lower = data.lower()
    if b"\r" in lower:
        lower = lower.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    lines = lower.count(b"\n")
    branches = lower.count(b"boundary") + lower.count(b"message/rfc822")
    parts = lower.count(b"\n--")
    is_bushy = branches > _MAX_BRANCHES and branches * lines > _MAX_WORK
    if is_bushy or parts > _MAX_PART_LINES:
        raise UnfitMailError("archive_too_many", max(branches, parts))
    if lines > _MAX_LINES:
        raise UnfitMailError("mail_unreadable")
    many = longish = 0
    at = lower.find(b"content-")
    while at >= 0:
        many += 1
        longish += bool(_LONGISH_HEADER.match(lower, at))
        if many > _MAX_PART_LINES or longish > _MAX_LONGISH or _LONG_HEADER.match(lower, at):
            raise UnfitMailError("mail_unreadable")
        at = lower.find(b"content-", at + 1)


@lru_cache(maxsize=1)
def _take_apart(data: bytes) -> Mail:
    """Kept for one mail, because its attachments are read one after another."""
    _check_effort(data)
    try:
        mail = parsed(data)
        found = []
        for one in _walk(mail, (), "", ""):
            found.append(one)
            if len(found) > MAX_ATTACHMENTS:
                raise UnfitMailError("archive_too_many", MAX_ATTACHMENTS)
        return Mail(sender_of(mail), sent_at(mail), tuple(found))
    except (MessageError, ValueError, LookupError, TypeError, AttributeError, RecursionError) as slip:
        raise UnfitMailError("mail_unreadable") from slip


def _walk(mail: Message, numbers: tuple[tuple[int, str], ...], sender: str, sent: str) -> Iterator[Attachment]:
    if len(numbers) > MAX_NESTED:
        raise UnfitMailError("archive_too_deep", MAX_NESTED)
    sender = sender_of(mail) or sender
    sent = sent_at(mail) or sent
    count = 0
    for part, is_related in _leaves(mail, False):
        inner = part.get_payload()
        if part.get_content_type() == "message/partial":
            raise UnfitMailError("mail_unreadable")
        if part.get_content_type() == "message/rfc822" and isinstance(inner, list):
            count += 1
            for nested in _messages(inner):
                yield from _walk(_unpacked(part, nested), (*numbers, (count, _name(part))), sender, sent)
            continue
        for file in files_in_text(part) if _is_text_of_mail(part) else (part,):
            is_locked = file.get_content_type() in _LOCKED_PARTS
            one = Attachment((*numbers, (count + 1, _name(file))), sender, sent, file, is_locked)
            if not _is_logo(one, is_related):
                count += 1
                yield one


def _unpacked(part: Message, nested: Message) -> Message:
    """A mail attached to a mail, unpacked where it is packed."""
    data = unpacked_mail(part, nested)
    if data is None:
        return nested
    _check_effort(data)
    return parsed(data)


def _leaves(part: Message, is_related: bool) -> Iterator[tuple[Message, bool]]:
    """The parts that hold something, each with whether it belongs to a text (multipart/related)."""
    inner = part.get_payload()
    if part.get_content_maintype() != "multipart":
        yield part, is_related
    elif isinstance(inner, list):
        is_related = is_related or part.get_content_subtype() == "related"
        for one in _messages(inner):
            yield from _leaves(one, is_related)
    elif isinstance(inner, str) and inner.strip():
        raise UnfitMailError("mail_unreadable")


def _messages(inner: list[Any]) -> list[Message]:
    return [one for one in inner if isinstance(one, Message)]


def _is_text_of_mail(part: Message) -> bool:
    """True for what a person reads as the mail itself, and for what mail programs tell each other."""
    kind = part.get_content_type()
    if kind in _PROTOCOL_PARTS:
        return True
    name = _name(part)
    is_text = part.get_content_maintype() == "text" and part.get_content_disposition() != "attachment"
    return is_text and (not name or bool(_AFTER_TEXT.fullmatch(name)))


def _is_logo(one: Attachment, is_related: bool) -> bool:
    """True for the small pictures of a signature."""
    is_inline = is_related or one.part.get("Content-ID") is not None
    return is_inline and one.size() <= _LARGEST_LOGO and content_of(one.head()) == "picture"


def _is_base64(part: Message) -> bool:
    return _packing(part) == "base64"


def _packing(part: Message) -> str:
    return str(part.get("Content-Transfer-Encoding", "")).strip().lower()


def _name(part: Message) -> str:
    for header, parameter in (("content-disposition", "filename"), ("content-type", "name")):
        try:
            value = part.get_param(parameter, None, header)
        except (ValueError, LookupError, TypeError, AttributeError):
            continue
        if value:
            return _decoded(collapse_rfc2231_value(value)).strip()
    return ""


def _decoded(value: object) -> str:
    """A header's text with its encoded words read, or as it stands when they cannot be; plain UTF-8 is read too."""
    text = str(value)[:2000]
    with suppress(UnicodeError):
        text = text.encode("latin-1").decode("utf-8")
    try:
        return str(make_header(decode_header(text)))
    except (MessageError, ValueError, LookupError, UnicodeError, AssertionError):
        return text


def sender_of(mail: Message) -> str:
    """The address of who sent a mail, fit to be shown; a name when there is no address, "" when neither is told."""
    for header in ("From", "Sender", "Reply-To", "Return-Path"):
        if value := mail.get(header):
            name, address = parseaddr(_decoded(value).replace("\n", " "))
            if shown := shown_name(address or name):
                return shown
    return ""


def sent_at(mail: Message) -> str:
    """When a mail says it was sent, else when it was received: ISO 8601 in UTC, to the second; "" when not told."""
    dates = [str(mail.get("Date", ""))]
    dates += [str(line).rpartition(";")[2] for line in mail.get_all("Received", [])[:1]]
    for date in dates:
        try:
            moment = parsedate_to_datetime(date.strip()[:200])
            if moment.tzinfo is None:
                moment = moment.replace(tzinfo=dt.UTC)
            return moment.astimezone(dt.UTC).isoformat(timespec="seconds")
        except (ValueError, TypeError, OverflowError, IndexError, AttributeError):
            continue
    return ""


def messages(stream: IO[bytes]) -> Iterator[tuple[int, int]]:
    """Where the messages of an mbox file lie: (0-based offset of the first header, length in bytes), in order.

    A message starts at a line "From sender date" that a header follows, so such a line within a text cuts nothing.
    """
    position = start = line_at = 0
    is_open = opens_message = False
    starts_line = True
    while line := stream.readline(_LONGEST_LINE):
        if opens_message and opens_header(line):
            if is_open:
                yield start, line_at - start
            start, is_open = position, True
        opens_message = starts_line and line.startswith(b"From ") and is_mbox_line(line)
        starts_line = line.endswith(b"\n")
        line_at = position
        position += len(line)
    if is_open:
        yield start, position - start
