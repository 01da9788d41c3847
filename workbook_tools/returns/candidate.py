"""One file that came back: where it was found, who sent it, and how to get at its bytes."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, NamedTuple

from workbook_tools.contract.guard import MAX_FILE, Refusal, megabytes
from workbook_tools.contract.zip_directory import Member, UnfitZipError
from workbook_tools.contract.zips import MOST_LOCAL, inflate
from workbook_tools.returns.address import Address, Stored, first_bytes
from workbook_tools.returns.mails import MAX_MAIL, UnfitMailError, take_apart

MAX_MEMBER = 64 << 20
"""Bytes one file inside a zip may have."""
MAX_FETCHED = 32 << 20
"""Bytes of files in a store that are had at once; some sixty field books."""

Kind = Literal["workbook", "photo", "other"]


class Span(NamedTuple):
    """A step into a file: bytes that stand in it as they are, such as one message of many."""

    start: int
    length: int


class Part(NamedTuple):
    """A step into a mail: its attachment with this number, counted from 0."""

    nth: int


Step = Span | Part | Member


class RefusedError(OSError):
    """The bytes cannot be had, and `refusal` says why."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(errno.EIO, refusal.rule)
        self.refusal = refusal

    def __reduce__(self) -> tuple[type[RefusedError], tuple[Refusal]]:
        return RefusedError, (self.refusal,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One file that came back.

    `origin` says where it was found ("returns/mail.eml → attachment 2 → book.xlsx"); it is unique in one collecting
    and never a path. `received` is ISO 8601 in UTC to the second: the date of the mail it came in, else when the file
    was last changed, "" when neither is known. `kind`: "workbook" is to be guarded and read; "photo" is a picture;
    "other" is anything else and always has a `refusal`. The bytes lie at `steps` into the file `path`, or are `data`.
    """

    origin: str
    received: str
    sender: str = ""
    kind: Kind = "workbook"
    refusal: Refusal | None = None
    path: Path | Stored | None = None
    steps: tuple[Step, ...] = ()
    data: bytes | None = None

    def read(self) -> bytes:
        """The bytes; those of a mail or zip are taken out anew.

        Raises OSError when they cannot be had or are too many to be wanted; RefusedError where there is a reason.
        """
        if self.data is not None:
            return self.data
        if self.path is None:
            raise RefusedError(self.refusal or Refusal("unreadable", os.strerror(errno.ENOENT)))
        return _bytes_at(self.path, self.steps) if self.steps else read_file(self.path, MAX_FILE)


def fetched(candidates: Iterable[Candidate]) -> Iterator[Candidate]:
    """The same candidates, those that are whole files in a store with their bytes, which are had for many at once, and
    those that lie in a zip or mail one after another with theirs, so that it is not taken out anew for each of them.

    What could not be had, or has grown, is left to be read, and so is what would take too much memory.
    """
    container = _Container()
    yield from map(container.taken_out, _in_groups(candidates))


def _in_groups(candidates: Iterable[Candidate]) -> Iterator[Candidate]:
    waiting: list[Candidate] = []
    room = MAX_FETCHED
    for one in candidates:
        file = _whole_file(one)
        size = file.size if file else 0
        if size > room:
            yield from _with_bytes(waiting)
            waiting, room = [], MAX_FETCHED
        waiting.append(one)
        room -= size
    yield from _with_bytes(waiting)


def _with_bytes(candidates: Sequence[Candidate]) -> Iterator[Candidate]:
    files = [_whole_file(one) for one in candidates]
    by_address: dict[Address, list[Stored]] = {}
    for wanted in filter(None, files):
        by_address.setdefault(wanted.address, []).append(wanted)
    known: dict[Stored | None, bytes | None] = {}
    for some in by_address.values():
        known |= zip(some, first_bytes(some, [file.size + 1 for file in some]), strict=True)
    for one, file in zip(candidates, files, strict=True):
        data = known.get(file)
        yield one if file is None or data is None or len(data) > file.size else replace(one, data=data)


def _whole_file(one: Candidate) -> Stored | None:
    """The file in a store that a candidate is, with nothing to be taken out of it; None also for a very large one."""
    if not isinstance(one.path, Stored) or one.steps:
        return None
    return one.path if 0 < one.path.size <= MAX_FETCHED else None


def read_file(path: Path | Stored, most: int) -> bytes:
    """A whole file. Raises RefusedError too_large when it has more than `most` bytes, OSError as reading does."""
    data = read_span(path, 0, most + 1)
    if len(data) > most:
        raise RefusedError(Refusal("too_large", megabytes(len(data))))
    return data


def read_span(path: Path | Stored, start: int, length: int) -> bytes:
    """Bytes of a file from a 0-based offset on; fewer where the file ends. Raises OSError."""
    if isinstance(path, Stored):
        return path.span(start, length)
    with path.open("rb") as stream:
        stream.seek(start)
        # Room is made for all that is asked for before anything is read, so no more is asked for than there is.
        there = os.fstat(stream.fileno()).st_size - start
        return stream.read(min(length, there + 1) if there > 0 else length)


class _Container:
    """The zip, mail or message that the last candidate lay in, held until one lies elsewhere."""

    def __init__(self) -> None:
        self._place: tuple[Path | Stored, tuple[Step, ...]] | None = None
        self._data = b""

    def taken_out(self, one: Candidate) -> Candidate:
        """The candidate with its bytes, or with the reason why they cannot be had, where it lies in a container that
        would have to be read whole for it.
        """
        if one.path is None or not one.steps or (len(one.steps) == 1 and not isinstance(one.steps[0], Part)):
            return one
        try:
            return replace(one, data=_inside(self._opened(one.path, one.steps[:-1]), one.steps[-1]))
        except (UnfitZipError, UnfitMailError) as slip:
            return replace(one, path=None, refusal=one.refusal or Refusal(slip.rule, slip.detail))
        except OSError:
            return one

    def _opened(self, path: Path | Stored, steps: tuple[Step, ...]) -> bytes:
        if self._place != (path, steps):
            self._place, self._data = None, b""
            self._data = _bytes_at(path, steps) if steps else read_file(path, MAX_MAIL)
            self._place = path, steps
        return self._data


def _bytes_at(path: Path | Stored, steps: Sequence[Step]) -> bytes:
    """The bytes that lie at some steps into a file, one at least. Raises OSError, RefusedError among others."""
    try:
        data = _taken(lambda start, length: read_span(path, start, length), steps[0])
        for step in steps[1:]:
            data = _inside(data, step)
    except (UnfitZipError, UnfitMailError) as slip:
        raise RefusedError(Refusal(slip.rule, slip.detail)) from slip
    return data


def _inside(data: bytes, step: Step) -> bytes:
    return _taken(lambda start, length: data[start : start + length], step)


def _taken(read: Callable[[int, int], bytes], step: Step) -> bytes:
    if isinstance(step, Span):
        if step.length > MAX_MAIL:
            raise UnfitMailError("too_large", megabytes(step.length))
        return read(step.start, step.length)
    if isinstance(step, Member):
        if step.size > MAX_MEMBER:
            raise UnfitZipError("too_large", step.name)
        return inflate(read(step.start, step.packed + MOST_LOCAL), step._replace(start=0), MAX_MEMBER)
    found = take_apart(read(0, MAX_MAIL + 1)).attachments
    if step.nth >= len(found):
        raise UnfitMailError("mail_unreadable")
    return found[step.nth].read()
