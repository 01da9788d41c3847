"""Finding what came back: workbooks in folders, zips and mails, by content and never by name."""

from __future__ import annotations

import datetime as dt
import email
import email.policy
import mailbox
import re
import unicodedata
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from io import BytesIO
from pathlib import Path
from typing import Literal

from workbook_tools.returns.guard import MOST_FILE_BYTES, Refusal

STEP = " → "
"""Between the steps of an origin: mail.eml → attachment 2 → book.xlsx."""
MOST_DEPTH, MOST_MEMBERS = 3, 2_000
MOST_MEMBER_BYTES, MOST_TOTAL_BYTES = MOST_FILE_BYTES, 256 * 1024**2
LONGEST_NAME = 120

Kind = Literal["workbook", "photo", "other"]
_SKIPPED = re.compile(r"(~\$.*|\.~lock\..*#|\.ds_store|thumbs\.db|desktop\.ini|\..*)", re.IGNORECASE)
_PHOTO = re.compile(
    rb"\xff\xd8\xff|\x89PNG\r\n|GIF8[79]a|RIFF....WEBP|....ftyp(?:heic|heix|mif1|avif)|BM....\0\0\0\0", re.DOTALL
)
_MAIL = re.compile(
    rb"(?:[A-Za-z][A-Za-z0-9-]*:[^\r\n]*(?:\r?\n[ \t][^\r\n]*)*\r?\n)*?(?:From|Date|Message-ID|Received|MIME-Version):",
    re.IGNORECASE,
)
_MBOX = re.compile(rb"From \S+ .*\d{4}\r?\n")
_TNEF = b"\x78\x9f\x3e\x22"
_ZIP = b"PK\x03\x04"
_BIDI = dict.fromkeys([*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F])


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that came back. `origin` is for people: its path from the program folder and the steps inside it.

    `received` is ISO 8601 in UTC: a mail's date, or when the file was last changed. A plain file is read only when
    `read` is called; what was unpacked carries its bytes.
    """

    origin: str
    received: str
    path: Path | None = None
    data: bytes | None = None
    sender: str = ""
    kind: Kind = "workbook"
    refusal: Refusal | None = None

    def read(self) -> bytes:
        """The bytes. Raises OSError when a file cannot be opened."""
        if self.data is not None:
            return self.data
        if self.path is None:
            return b""
        if self.path.stat().st_size > MOST_FILE_BYTES:
            with self.path.open("rb") as file:
                return file.read(MOST_FILE_BYTES + 1)
        return self.path.read_bytes()


@dataclass(slots=True)
class _Budget:
    """What may still be unpacked from one file."""

    members: int = MOST_MEMBERS
    size: int = MOST_TOTAL_BYTES


def collect(paths: Iterable[Path], root: Path) -> Iterator[Candidate]:
    """Everything under `paths`, in the order of names; the same file given twice comes once.

    Never raises for what a file holds. Lock files and the system's own files are passed over.
    """
    seen: set[Path] = set()
    for path in paths:
        for file in _files(path):
            place = file.resolve()
            if place not in seen:
                seen.add(place)
                yield from _from_file(file, _shown_path(file, root))


def _files(path: Path) -> Iterator[Path]:
    """Files under a path; links that lead out of it are not followed."""
    if path.is_file():
        yield path
        return
    top = path.resolve()
    for found in sorted(path.rglob("*")):
        hidden = any(_SKIPPED.fullmatch(part) for part in found.relative_to(path).parts)
        if not hidden and found.is_file() and found.resolve().is_relative_to(top):
            yield found


def _shown_path(file: Path, root: Path) -> str:
    try:
        return file.resolve().relative_to(root.resolve()).as_posix()
    except ValueError:
        return file.as_posix()


def _from_file(file: Path, origin: str) -> Iterator[Candidate]:
    try:
        stat = file.stat()
        received = dt.datetime.fromtimestamp(stat.st_mtime, dt.UTC).isoformat(timespec="seconds")
        with file.open("rb") as opened:
            head = opened.read(8192)
    except OSError as slip:
        yield Candidate(origin, "", file, refusal=Refusal("unreadable", slip.strerror or str(slip)))
        return
    found = Candidate(origin, received, file)
    if stat.st_size > MOST_FILE_BYTES and not _MBOX.match(head):
        yield replace(found, data=head, refusal=Refusal("too_large", f"{stat.st_size / 1024**2:.0f} MB"))
    elif _MBOX.match(head):
        yield from _from_mbox(found, file)
    elif head.startswith(_ZIP) or _MAIL.match(head):
        yield from _sorted_out(replace(found, data=_bytes(file)), _Budget(), 0)
    else:
        yield _plain(found, head)


def _bytes(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError:
        return b""


def _plain(found: Candidate, head: bytes) -> Candidate:
    """A file that holds no others: a photo, or whatever the guard makes of it."""
    if _PHOTO.match(head):
        return replace(found, kind="photo")
    if head.startswith(_TNEF):
        return replace(found, kind="other", refusal=Refusal("tnef"))
    return found


def _sorted_out(found: Candidate, budget: _Budget, depth: int) -> Iterator[Candidate]:
    """What a file held in memory is, or holds."""
    data = found.data or b""
    if data.startswith(_ZIP):
        yield from _from_zip(found, budget, depth)
    elif _MAIL.match(data[:8192]):
        yield from _from_mail(found, budget, depth)
    else:
        yield _plain(found, data[:64])


def _from_zip(found: Candidate, budget: _Budget, depth: int) -> Iterator[Candidate]:
    try:
        archive = zipfile.ZipFile(BytesIO(found.data or b""))
        members = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        yield _back_to_path(found)
        return
    names = {member.filename.replace("\\", "/").casefold() for member in members}
    document = names & {"[content_types].xml", "mimetype", "xl/workbook.xml"} or any(n.endswith(".iwa") for n in names)
    if document or not members:
        yield _back_to_path(found)
        return
    for member in members:
        if not member.is_dir() and not _SKIPPED.fullmatch(member.filename.rpartition("/")[2] or "."):
            yield from _from_member(archive, member, found, budget, depth)


def _from_member(
    archive: zipfile.ZipFile, member: zipfile.ZipInfo, found: Candidate, budget: _Budget, depth: int
) -> Iterator[Candidate]:
    inner = replace(found, origin=f"{found.origin}{STEP}{shown_name(member.filename)}", path=None, data=b"")
    budget.members -= 1
    budget.size -= member.file_size
    if depth >= MOST_DEPTH or budget.members < 0:
        yield replace(inner, refusal=Refusal("too_many_parts", str(MOST_MEMBERS)))
    elif budget.size < 0 or member.file_size > MOST_MEMBER_BYTES:
        yield replace(inner, refusal=Refusal("too_large", f"{member.file_size / 1024**2:.0f} MB"))
    else:
        try:
            data = archive.read(member)
        except (
            zipfile.BadZipFile,
            zlib.error,
            OSError,
            RuntimeError,
            NotImplementedError,
            EOFError,
            ValueError,
        ) as slip:
            rule = "encrypted" if member.flag_bits & 0x1 else "damaged_part"
            yield replace(inner, refusal=Refusal(rule, str(slip)))
            return
        yield from _sorted_out(replace(inner, data=data), budget, depth + 1)


def _back_to_path(found: Candidate) -> Candidate:
    """A plain file is read again by the worker that parses it, so that its bytes are not kept in memory."""
    return replace(found, data=None) if found.path else found


def _from_mbox(found: Candidate, file: Path) -> Iterator[Candidate]:
    try:
        box = mailbox.mbox(file, create=False)
        for number, key in enumerate(box.keys(), start=1):
            letter = replace(found, origin=f"{found.origin}{STEP}mail {number}", path=None, data=box.get_bytes(key))
            yield from _from_mail(letter, _Budget(), 0)
    except (OSError, ValueError, mailbox.Error) as slip:
        yield replace(found, refusal=Refusal("unreadable", str(slip)))


def _from_mail(found: Candidate, budget: _Budget, depth: int) -> Iterator[Candidate]:
    message = email.message_from_bytes(found.data or b"", policy=email.policy.default)
    letter = replace(found, received=_date_of(message) or found.received, sender=_sender_of(message), path=None)
    number = 0
    for part in _leaves(message):
        try:
            data = part.get_payload(decode=True) or b""
        except (ValueError, LookupError, AttributeError):
            data = b""
        if not isinstance(data, bytes) or not _is_attachment(part, data):
            continue
        number += 1
        name = shown_name(_file_name(part))
        origin = f"{found.origin}{STEP}attachment {number}{STEP + name if name else ''}"
        inner = replace(letter, origin=origin, data=data)
        if depth >= MOST_DEPTH or len(data) > budget.size:
            yield replace(inner, data=b"", refusal=Refusal("too_large", f"{len(data) / 1024**2:.0f} MB"))
            continue
        budget.size -= len(data)
        yield from _sorted_out(inner, budget, depth + 1)
    if not number:
        yield replace(letter, data=found.data, kind="other", refusal=Refusal("mail_without_book"))


def _leaves(message: EmailMessage) -> Iterator[EmailMessage]:
    try:
        yield from (part for part in message.walk() if not part.is_multipart())  # type: ignore[misc]
    except (ValueError, LookupError, AttributeError, RecursionError):
        return


def _is_attachment(part: EmailMessage, data: bytes) -> bool:
    """True for what may be a return or a photo; the letter's own text and its small inline pictures are not."""
    if not data:
        return bool(_file_name(part))
    if data.startswith((_ZIP, b"\xd0\xcf\x11\xe0", _TNEF)):
        return True
    try:
        inline = part.get_content_disposition() != "attachment"
        text = part.get_content_maintype() == "text"
    except (ValueError, LookupError, AttributeError):
        return True
    if inline and _PHOTO.match(data):
        return len(data) > 50_000
    return not (inline and (text or not _file_name(part)))


def _file_name(part: EmailMessage) -> str:
    try:
        return part.get_filename() or ""
    except (ValueError, LookupError, AttributeError, TypeError):
        return ""


def _date_of(message: EmailMessage) -> str:
    try:
        date = parsedate_to_datetime(str(message["Date"]))
        return date.astimezone(dt.UTC).isoformat(timespec="seconds")
    except (ValueError, TypeError, LookupError, AttributeError, OverflowError):
        return ""


def _sender_of(message: EmailMessage) -> str:
    try:
        return shown_name(str(message["From"] or ""))
    except (ValueError, LookupError, AttributeError, TypeError):
        return ""


def shown_name(name: str) -> str:
    """A name from outside as people may see it: no control characters, no reversed writing, at most 120 characters."""
    plain = "".join(" " if unicodedata.category(one) in ("Cc", "Cs") else one for one in name.translate(_BIDI))
    plain = " ".join(plain.split())
    return plain if len(plain) <= LONGEST_NAME else f"{plain[: LONGEST_NAME - 1]}…"
