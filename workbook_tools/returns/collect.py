"""Finds every file that came back, in folders, zips and mails, by what it holds and not by its name."""

from __future__ import annotations

import datetime as dt
import errno
import os
import stat
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from workbook_tools.contract.contents import is_system_name, shown_name
from workbook_tools.contract.guard import Refusal
from workbook_tools.returns.candidate import Candidate
from workbook_tools.returns.unpack import candidates_in

__all__ = ["Candidate", "collect"]

_LONGEST_PATH = 1_000
_MAILDIR = frozenset(("cur", "new", "tmp"))
_JUNCTION = getattr(stat, "IO_REPARSE_TAG_MOUNT_POINT", None)


def collect(paths: Iterable[Path], root: Path) -> Iterator[Candidate]:
    """Every candidate under some files and folders, in a fixed order: path by path, folder by folder, by name.

    A file that lies under two of the paths is found once. Links are followed only where they are one of the paths
    themselves. Lock files and what systems leave behind are passed over; everything else is one candidate or more.
    Never raises for what lies there: what cannot be read is a candidate with a refusal.
    """
    base = root.resolve()
    seen: set[str] = set()
    taken: Counter[str] = Counter()
    for path in sorted(path.resolve() for path in paths):
        for found in _walk(path):
            key = os.path.normcase(found.path)
            if key not in seen:
                seen.add(key)
                for candidate in _candidates(found, _origin(found.path, base)):
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
    """A file on disk, with its size and time or the reason why it is not looked into."""

    path: Path
    status: os.stat_result | None = None
    refusal: Refusal | None = None


def _walk(top: Path) -> Iterator[_Found]:
    """Every file at or under a path, sorted by name in each folder."""
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
                yield _Found(path, status)
            else:
                yield _Found(path, None, Refusal("unreadable", stat.filemode(status.st_mode)))
        except OSError as slip:
            yield _Found(path, None, Refusal("unreadable", slip.strerror or type(slip).__name__))


def _entries(folder: Path) -> list[Path]:
    """What is looked at in a folder, by name; of a maildir not what is still being delivered."""
    paths = sorted(folder.iterdir())
    is_maildir = _MAILDIR.issubset(path.name for path in paths)
    return [path for path in paths if not (is_maildir and path.name == "tmp") and not _is_hidden_folder(path)]


def _is_hidden_folder(path: Path) -> bool:
    """True for folders systems and programs keep for themselves; a folder of a maildir may begin with a dot."""
    return is_system_name(path.name) and path.is_dir() and not (path / "cur").is_dir()


def _is_link(status: os.stat_result) -> bool:
    is_junction = _JUNCTION is not None and getattr(status, "st_reparse_tag", 0) == _JUNCTION
    return stat.S_ISLNK(status.st_mode) or is_junction


def _link(path: Path, top: Path) -> Iterator[_Found]:
    """A link to something under the same top is found there; one that leads elsewhere is not followed."""
    target = Path(os.path.realpath(path))
    if not target.is_relative_to(top):
        yield _Found(path, None, Refusal("leads_outside"))
    elif not target.exists():
        yield _Found(path, None, Refusal("unreadable", os.strerror(errno.ENOENT)))


def _candidates(found: _Found, origin: str) -> Iterator[Candidate]:
    refusal = found.refusal
    received = ""
    if found.status is not None:
        received = _time_of(found.status)
        try:
            yield from candidates_in(found.path, origin, received, found.status.st_size)
            return
        except OSError as slip:
            refusal = Refusal("unreadable", slip.strerror or type(slip).__name__)
    yield Candidate(origin=origin, received=received, kind="other", refusal=refusal)


def _time_of(status: os.stat_result) -> str:
    try:
        return dt.datetime.fromtimestamp(int(status.st_mtime), dt.UTC).isoformat(timespec="seconds")
    except (ValueError, OverflowError, OSError):
        return ""


def _origin(path: Path, base: Path) -> str:
    inside = path.relative_to(base) if path.is_relative_to(base) else path
    return shown_name(inside.as_posix(), _LONGEST_PATH)
