"""One file → the candidates in it: itself, or what lies in the zips, mails and mailboxes it turns out to be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

from workbook_tools.contract.contents import (
    ARROW,
    HEAD,
    content_of,
    emlx_start,
    is_spreadsheet_name,
    is_system_name,
    shown_name,
    shown_path,
)
from workbook_tools.contract.guard import MAX_FILE, Refusal, megabytes, refusal_of
from workbook_tools.contract.package import folded
from workbook_tools.contract.zip_directory import Directory, Member, UnfitZipError, directory
from workbook_tools.contract.zips import inflate, inflate_head
from workbook_tools.returns.address import Stored
from workbook_tools.returns.candidate import (
    MAX_MEMBER,
    Candidate,
    Kind,
    Part,
    RefusedError,
    Span,
    Step,
    read_file,
    read_span,
)
from workbook_tools.returns.mails import MAX_MAIL, MAX_NESTED, Attachment, UnfitMailError, messages, take_apart

MAX_DEPTH = 3
"""Zips within zips."""
MAX_MEMBERS = 2_000
"""Files in one zip or mail, and in all zips and mails within it."""
MAX_IN_MAILBOX = 100_000
"""Messages and files in one mailbox that is a file of its own, whose messages have the bounds of mails each."""
MAX_INFLATED = 256 << 20
"""Bytes of those of these files that are inflated, together; pictures are not."""
_MOST_ENTRIES = 0xFFFF
_LONGEST_PATH = 3_000
"""Characters of a name in a zip that are looked at, from its end; what is shown of them is shorter."""
_GUARDED = frozenset(("ole", "old_workbook", "xml_workbook", "open_document", "empty", "zeros"))
_FIRST_OF_WORKBOOK = (b"[content_types].xml", b"_rels/.rels")
_NAME_LENGTH_AT, _NAME_AT = 26, 30


@dataclass(slots=True)
class _Budget:
    """What may still be taken out of one file."""

    members: int = MAX_MEMBERS
    inflated: int = MAX_INFLATED


@dataclass(frozen=True, slots=True)
class _Thing:
    """Something that may be or hold a return; `load` gives its bytes, or raises what taking them out raises."""

    origin: str
    name: str
    received: str
    path: Path | Stored
    head: bytes
    size: int
    load: Callable[[], bytes]
    sender: str = ""
    steps: tuple[Step, ...] = ()
    zips: int = 0
    mails: int = 0

    def candidate(self, kind: Kind = "workbook", refusal: Refusal | None = None) -> Candidate:
        return Candidate(
            origin=self.origin,
            received=self.received,
            sender=self.sender,
            kind=kind,
            refusal=refusal,
            path=self.path,
            steps=self.steps,
        )

    def refused(self, rule: str, detail: object = "") -> Candidate:
        return self.candidate("other", Refusal(rule, shown_name(str(detail))))


def candidates_in(
    path: Path | Stored, origin: str, received: str, size: int, head: bytes | None = None
) -> Iterator[Candidate]:
    """What one file of the given size in bytes holds, in order; `head` is its first bytes where they are known.

    Never raises for what the file holds: what cannot be read or goes beyond a bound is a candidate with a refusal.
    Raises OSError only while nothing was yielded yet, when the file cannot be opened.
    """
    head = read_span(path, 0, HEAD) if head is None else head
    thing = _Thing(origin, path.name, received, path, head, size, lambda: read_file(path, MAX_INFLATED))
    try:
        yield from _look(thing, _Budget())
    except RefusedError as slip:
        yield thing.candidate("other", slip.refusal)
    except OSError as slip:
        yield thing.refused("unreadable", slip.strerror or type(slip).__name__)
    except Exception as slip:  # whatever a file holds costs that file and no other
        yield thing.refused("unreadable", type(slip).__name__)


def _look(thing: _Thing, budget: _Budget) -> Iterator[Candidate]:
    content = content_of(thing.head)
    if content == "system" or (is_system_name(thing.name) and content != "zip"):
        return
    if content == "zip":
        yield from _zip(thing, budget)
    elif content in {"mail", "emlx"}:
        yield from _mail(thing, budget, content)
    elif content == "mbox":
        yield from _mailbox(thing, budget)
    elif content == "picture":
        yield thing.candidate("photo")
    elif content in _GUARDED or (content in {"text", "web_page", "unknown"} and is_spreadsheet_name(thing.name)):
        yield _guarded(thing)
    else:
        plain = content in {"text", "web_page"}
        yield thing.candidate("other", Refusal("not_a_workbook", content) if plain else refusal_of(content))


def _guarded(thing: _Thing) -> Candidate:
    refusal = Refusal("too_large", megabytes(thing.size)) if thing.size > MAX_FILE else None
    return thing.candidate("workbook", refusal)


def _zip(thing: _Thing, budget: _Budget) -> Iterator[Candidate]:
    if _opens_like_workbook(thing.head):
        yield _guarded(thing)
        return
    if thing.size > MAX_INFLATED:
        yield thing.refused("archive_too_large", megabytes(thing.size))
        return
    try:
        data = thing.load()
        members = directory(data, _MOST_ENTRIES)
    except UnfitZipError as slip:
        yield _guarded(thing) if slip.rule == "cut_short" else thing.refused("archive_too_many", slip.detail)
        return
    if _is_one_document(map(folded, members.names)):
        yield _guarded(thing)
    elif thing.zips >= MAX_DEPTH:
        yield thing.refused("archive_too_deep", MAX_DEPTH)
    else:
        yield from _or_refusal(_members(thing, data, members, budget), thing.refused("archive_empty"))


def _opens_like_workbook(head: bytes) -> bool:
    """True when the first member is one of those that open a workbook's package; saves looking at its directory."""
    length = int.from_bytes(head[_NAME_LENGTH_AT:_NAME_AT], "little") & 0xFFFF
    return head[_NAME_AT : _NAME_AT + length].lower() in _FIRST_OF_WORKBOOK


def _is_one_document(names: Iterable[str]) -> bool:
    """True for a zip that is one document of some program, even one that was unpacked and packed again."""
    return any(
        name == "mimetype" or name.endswith(".iwa") or name.rpartition("/")[2] == "[content_types].xml"
        for name in names
    )


def _members(thing: _Thing, data: bytes, members: Directory, budget: _Budget) -> Iterator[Candidate]:
    if any(members.locked):
        yield thing.refused("encrypted")
    for member in members:
        if member.locked or "__macosx" in folded(member.name).split("/"):
            continue
        budget.members -= 1
        if budget.members < 0:
            yield thing.refused("archive_too_many", MAX_MEMBERS)
            return
        inner = _member(thing, data, member)
        try:
            inner = replace(inner, head=inflate_head(data, member, HEAD))
        except UnfitZipError as slip:
            yield inner.refused("archive_other" if slip.rule == "packed_otherwise" else slip.rule, slip.detail)
            continue
        if content_of(inner.head) != "picture":
            budget.inflated -= member.size
        if member.size > MAX_MEMBER or budget.inflated < 0:
            yield inner.refused("archive_too_large", megabytes(member.size))
            if budget.inflated < 0:
                yield thing.refused("archive_too_large", megabytes(MAX_INFLATED))
                return
            continue
        yield from _safely(inner, budget)


def _member(thing: _Thing, data: bytes, member: Member) -> _Thing:
    name = shown_path(member.name[-_LONGEST_PATH:])
    return replace(
        thing,
        origin=f"{thing.origin}{ARROW}{name}",
        name=name.rpartition("/")[2],
        head=b"",
        size=member.size,
        load=lambda: inflate(data, member, MAX_MEMBER),
        steps=(*thing.steps, member),
        zips=thing.zips + 1,
    )


def _safely(thing: _Thing, budget: _Budget) -> Iterator[Candidate]:
    """Look at something inside; what cannot be taken out is one candidate with the reason."""
    try:
        yield from _look(thing, budget)
    except (UnfitZipError, UnfitMailError) as slip:
        yield thing.refused(slip.rule, slip.detail)


def _or_refusal(found: Iterator[Candidate], refusal: Candidate) -> Iterator[Candidate]:
    """What was found, or the refusal when nothing was."""
    is_empty = True
    for candidate in found:
        is_empty = False
        yield candidate
    if is_empty:
        yield refusal


def _mail(thing: _Thing, budget: _Budget, content: str = "mail") -> Iterator[Candidate]:
    if thing.size > MAX_MAIL:
        yield thing.refused("too_large", megabytes(thing.size))
        return
    if thing.mails >= MAX_NESTED:
        yield thing.refused("archive_too_deep", MAX_NESTED)
        return
    data = thing.load()
    if content == "emlx":
        start, length = emlx_start(data[:HEAD])
        data = data[start : start + length]
        length = len(data)
        thing = replace(thing, steps=(*thing.steps, Span(start, length)))
    try:
        mail = take_apart(data)
    except UnfitMailError as slip:
        yield thing.refused(slip.rule, slip.detail)
        return
    thing = replace(thing, sender=mail.sender or thing.sender, received=mail.sent or thing.received)
    yield from _or_refusal(_attached(thing, mail.attachments, budget), thing.refused("nothing_attached"))


def _attached(thing: _Thing, found: tuple[Attachment, ...], budget: _Budget) -> Iterator[Candidate]:
    for index, attachment in enumerate(found):
        budget.members -= 1
        if budget.members < 0:
            yield thing.refused("archive_too_many", MAX_MEMBERS)
            return
        inner = _attachment(thing, attachment, index)
        if attachment.is_locked:
            yield inner.refused("mail_encrypted")
        else:
            yield from _safely(inner, budget)


def _attachment(thing: _Thing, attachment: Attachment, index: int) -> _Thing:
    steps = []
    for number, name in attachment.numbers:
        steps += [f"attachment {number}", *filter(None, [shown_path(name)])]
    return replace(
        thing,
        origin=ARROW.join((thing.origin, *steps)),
        name=shown_path(attachment.name).rpartition("/")[2],
        received=attachment.sent or thing.received,
        sender=attachment.sender or thing.sender,
        head=attachment.head(),
        size=attachment.size(),
        load=attachment.read,
        steps=(*thing.steps, Part(index)),
        mails=thing.mails + 1,
    )


def _mailbox(thing: _Thing, budget: _Budget) -> Iterator[Candidate]:
    """A mailbox on disk may be of any size; each of its messages has bounds of its own."""
    on_disk = not thing.steps
    left = MAX_IN_MAILBOX if on_disk else budget.members
    data = b"" if on_disk else thing.load()
    with thing.path.open("rb") if on_disk else BytesIO(data) as stream:
        for number, span in enumerate(messages(stream), 1):
            inner = replace(
                thing,
                origin=f"{thing.origin}{ARROW}message {number}",
                size=span[1],
                load=_span_loader(thing.path if on_disk else data, *span),
                steps=(*thing.steps, Span(*span)),
            )
            left -= 1
            if left < 0:
                yield thing.refused("archive_too_many", MAX_IN_MAILBOX if on_disk else MAX_MEMBERS)
                return
            within = _Budget(min(left, MAX_MEMBERS), MAX_INFLATED if on_disk else budget.inflated)
            before = within.members
            yield from _mail(inner, within)
            left -= before - within.members
            if not on_disk:
                budget.members, budget.inflated = left, within.inflated


def _span_loader(source: Path | Stored | bytes, start: int, length: int) -> Callable[[], bytes]:
    if isinstance(source, bytes):
        return lambda: source[start : start + length]
    return lambda: read_span(source, start, length)
