"""Every file at an fsspec address, in the order in which those of a folder are found: by name, folder by folder."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from workbook_tools.contract.contents import HEAD, is_system_name
from workbook_tools.contract.guard import Refusal
from workbook_tools.returns.address import Address, Stored, as_os_errors, first_bytes

MOST_LISTED = 2_000_000
"""Files and folders that are looked at under one address; what a store says of one folder is held whole."""
_AT_ONCE = 64
"""Files whose first bytes are asked for at once."""
_CHANGED = ("mtime", "LastModified", "last_modified", "updated", "created")
"""What stores call the time a file was last changed; there is no one name for it."""
_MAILDIR = frozenset(("cur", "new", "tmp"))
_FOLDER, _FILE = "directory", "file"
_OUTSIDE = Refusal("leads_outside")


@dataclass(frozen=True, slots=True)
class Listed:
    """A file in a store, with its place below the address ("" for what the address names itself), when it was last
    changed and its first bytes where they are known; or why it is not looked into. `key` is the same for one file of
    one store, through whatever address it was found.
    """

    file: Stored
    key: str
    inside: str
    received: str = ""
    head: bytes | None = None
    refusal: Refusal | None = None


@dataclass(frozen=True, slots=True)
class _Entry:
    """What one line of a store's listing says."""

    path: str
    kind: str = _FILE
    size: int = 0
    changed: str = ""
    refusal: Refusal | None = None


def files_at(address: Address) -> Iterator[Listed]:
    """Every file at or under an address. Never raises for what lies there: what cannot be listed has a refusal."""
    listed = _listed(address)
    while some := list(islice(listed, _AT_ONCE)):
        sound = [one.file for one in some if not one.refusal and one.file.size]
        heads = first_bytes(sound, [HEAD] * len(sound))
        known = dict(zip((one.path for one in sound), heads, strict=True))
        yield from (replace(one, head=known.get(one.file.path)) for one in some)


def passed_over(
    name: str, siblings: Collection[str], is_folder: Callable[[], bool], holds_mail: Callable[[], bool]
) -> bool:
    """True for folders that systems and programs keep for themselves, and for what is still being delivered into a
    maildir; a folder of a maildir may begin with a dot.
    """
    if name == "tmp" and _MAILDIR.issubset(siblings):
        return True
    return is_system_name(name) and is_folder() and not holds_mail()


def iso_utc(moment: object) -> str:
    """A time as stores and file systems give it, as ISO 8601 in UTC to the second; "" where it is none."""
    try:
        if isinstance(moment, str):
            moment = dt.datetime.fromisoformat(moment)
        if isinstance(moment, int | float):
            moment = dt.datetime.fromtimestamp(int(moment), dt.UTC)
        if not isinstance(moment, dt.datetime):
            return ""
        known = moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)
        return known.astimezone(dt.UTC).isoformat(timespec="seconds")
    except (ValueError, OverflowError, OSError):
        return ""


def _listed(address: Address) -> Iterator[Listed]:
    try:
        store, top = address.opened()
    except OSError as slip:
        yield Listed(Stored(address, "", 0), address.url, "", refusal=Refusal("unreadable", slip.strerror or ""))
        return
    yield from _Listing(address, store, top).files()


class _Listing:
    """One walk through what lies at an address."""

    def __init__(self, address: Address, store: Any, top: str) -> None:
        self.address = address
        self.store = store
        self.top = top

    def files(self) -> Iterator[Listed]:
        """Every file, each folder listed when its turn comes."""
        waiting = [self._itself()]
        left = MOST_LISTED
        while waiting and left:
            left -= 1
            entry = waiting.pop()
            if entry.kind == _FOLDER:
                waiting += self._entries(entry.path)
            else:
                yield self._said(entry)
        if waiting:
            yield self._said(_Entry(self.top, refusal=Refusal("address_too_many", str(MOST_LISTED))))

    def _said(self, entry: _Entry) -> Listed:
        inside = _inside(self.top, entry.path)
        key = f"{hash(self.store)} {entry.path}"
        file = Stored(self.address, entry.path, entry.size)
        return Listed(file, key, entry.path if inside is None else inside, entry.changed, refusal=entry.refusal)

    def _itself(self) -> _Entry:
        try:
            with as_os_errors():
                if self.store.isdir(self.top):
                    return _Entry(self.top, _FOLDER)
                return self._entry(self.top, {**self.store.info(self.top), "type": _FILE})
        except OSError as slip:
            return _Entry(self.top, refusal=Refusal("unreadable", slip.strerror or ""))

    def _entries(self, folder: str) -> list[_Entry]:
        """What is looked at in a folder, by name from the last to the first."""
        try:
            with as_os_errors():
                found = [(one["name"].rstrip("/"), one) for one in self.store.ls(folder, detail=True)]
                named = [(_inside(folder, path), path, one) for path, one in found]
                siblings = {name for name, *_ in named if name}
                return [
                    self._entry(path, one) if name and _is_name(name) else _Entry(path, refusal=_OUTSIDE)
                    for name, path, one in sorted(named, key=lambda one: one[0] or "", reverse=True)
                    if name is None or (name and not self._passed_over(name, siblings, path, one))
                ]
        except OSError as slip:
            return [_Entry(folder, refusal=Refusal("unreadable", slip.strerror or ""))]

    def _passed_over(self, name: str, siblings: Collection[str], path: str, one: Mapping[str, Any]) -> bool:
        return passed_over(name, siblings, lambda: one["type"] == _FOLDER, lambda: self.store.isdir(f"{path}/cur"))

    def _entry(self, path: str, one: Mapping[str, Any]) -> _Entry:
        """What a store says of one file or folder; links are not followed."""
        if one.get("islink") or one["type"] == "link":
            return _Entry(path, refusal=_OUTSIDE)
        if one["type"] == _FOLDER:
            return _Entry(path, _FOLDER)
        size = one.get("size")
        size = self.store.info(path).get("size") if size is None else size
        if one["type"] != _FILE or size is None:
            return _Entry(path, refusal=Refusal("unreadable", f"{one['type']}, {size}"))
        return _Entry(path, size=size, changed=next(filter(None, (iso_utc(one.get(key)) for key in _CHANGED)), ""))


def _inside(folder: str, path: str) -> str | None:
    """A path from a folder on, "" for the folder itself; None when it does not lie in the folder."""
    own, base = path.strip("/"), folder.strip("/")
    if own == base:
        return ""
    return own.removeprefix(f"{base}/") if not base or own.startswith(f"{base}/") else None


def _is_name(name: str) -> bool:
    """True for one step down, and no other."""
    return "/" not in name and name not in (".", "..")
