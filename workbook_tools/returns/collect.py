"""Finds every file that came back, in folders, stores, zips and mails, by what it holds and not by its name."""

from __future__ import annotations

import errno
import os
import stat
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from workbook_tools.contract.contents import shown_name
from workbook_tools.contract.guard import Refusal
from workbook_tools.returns.address import Address, Place, Stored
from workbook_tools.returns.candidate import Candidate
from workbook_tools.returns.store_listing import files_at, iso_utc, passed_over
from workbook_tools.returns.unpack import candidates_in

__all__ = ["Candidate", "collect"]

_LONGEST_PATH = 1_000
_JUNCTION = getattr(stat, "IO_REPARSE_TAG_MOUNT_POINT", None)


def collect(paths: Iterable[Place], root: Path) -> Iterator[Candidate]:
    """Every candidate under some files and folders, in a fixed order: path by path, folder by folder, by name, then
    what lies at addresses.

    A file that lies under two of the paths is found once. Links are followed only where they are one of the paths
    themselves. Lock files and what systems leave behind are passed over; everything else is one candidate or more.
    Never raises for what lies there: what cannot be read is a candidate with a refusal.
    """
    seen: set[str] = set()
    taken: Counter[str] = Counter()
    for found in _everything(list(paths), root.resolve()):
        if found.key not in seen:
            seen.add(found.key)
            for candidate in _candidates(found):
                yield _named_once(candidate, taken)


def _named_once(candidate: Candidate, taken: Counter[str]) -> Candidate:
    """The candidate, numbered where another one has the same origin (a name twice in a zip)."""
    origin = candidate.origin
    while taken[origin]:
        taken[candidate.origin] += 1
        origin = f"{candidate.origin} ({taken[candidate.origin]})"
    taken[origin] += 1
    return candidate if origin == candidate.origin else replace(candidate, origin=origin)


@dataclass(frozen=True, slots=True)
class _Found:
    """A file on disk or in a store, with its size and time or the reason why it is not looked into; `key` is the same
    wherever it is found again.
    """

    path: Path | Stored
    key: str
    origin: str
    size: int = 0
    received: str = ""
    head: bytes | None = None
    refusal: Refusal | None = None


def _everything(places: Sequence[Place], base: Path) -> Iterator[_Found]:
    for path in sorted(place.resolve() for place in places if isinstance(place, Path)):
        cut = len(base.as_posix().rstrip("/")) + 1 if path.is_relative_to(base) else 0
        for found, status, refusal in _walk(path):
            size, changed = (status.st_size, iso_utc(status.st_mtime)) if status else (0, "")
            origin = shown_name(found.as_posix()[cut:] or ".", _LONGEST_PATH)
            yield _Found(found, os.path.normcase(found), origin, size, changed, None, refusal)
    for address in sorted(place for place in places if isinstance(place, Address)):
        for one in files_at(address):
            origin = shown_name(f"{address}/{one.inside}".rstrip("/"), _LONGEST_PATH)
            yield _Found(one.file, one.key, origin, one.file.size, one.received, one.head, one.refusal)


_OnDisk = tuple[Path, os.stat_result | None, Refusal | None]


def _walk(top: Path) -> Iterator[_OnDisk]:
    """Every file at or under a path, sorted by name in each folder, with its status or why it is not looked into."""
    open_folders = [iter((top,))]
    while open_folders:
        path = next(open_folders[-1], None)
        if path is None:
            open_folders.pop()
            continue
        try:
            status = path.lstat()
            if _is_link(status):
                yield from _link(path, top)
            elif stat.S_ISDIR(status.st_mode):
                open_folders.append(iter(_entries(path)))
            elif stat.S_ISREG(status.st_mode):
                yield path, status, None
            else:
                yield path, None, Refusal("unreadable", stat.filemode(status.st_mode))
        except OSError as slip:
            yield path, None, Refusal("unreadable", slip.strerror or type(slip).__name__)


def _entries(folder: Path) -> list[Path]:
    """What is looked at in a folder, by name; of a maildir not what is still being delivered."""
    paths = sorted(folder.iterdir(), key=lambda path: os.path.normcase(path.name))
    names = {path.name for path in paths}
    return [
        one
        for one in paths
        if not passed_over(one.name, names, partial(_is_folder, one), partial(_is_folder, one / "cur"))
    ]


def _is_folder(path: Path) -> bool:
    """False also for what may not be looked at: it must not hide what lies beside it."""
    try:
        return path.is_dir()
    except OSError:
        return False


def _is_link(status: os.stat_result) -> bool:
    is_junction = _JUNCTION is not None and getattr(status, "st_reparse_tag", 0) == _JUNCTION
    return stat.S_ISLNK(status.st_mode) or is_junction


def _link(path: Path, top: Path) -> Iterator[_OnDisk]:
    """A link to something under the same top is found there; one that leads elsewhere is not followed."""
    target = Path(os.path.realpath(path))
    if not target.is_relative_to(top):
        yield path, None, Refusal("leads_outside")
    elif not target.exists():
        yield path, None, Refusal("unreadable", os.strerror(errno.ENOENT))


def _candidates(found: _Found) -> Iterator[Candidate]:
    refusal = found.refusal
    if refusal is None:
        try:
            yield from candidates_in(found.path, found.origin, found.received, found.size, found.head)
            return
        except OSError as slip:
            refusal = Refusal("unreadable", slip.strerror or type(slip).__name__)
    yield Candidate(origin=found.origin, received=found.received, kind="other", refusal=refusal)
