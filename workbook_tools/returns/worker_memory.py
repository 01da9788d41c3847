"""The memory of worker processes: kept from one file to the next; one that takes far more than any needs is ended.

Watched from outside and alike on every system: native code that fills the memory lets nothing else run in its own
process, and limits that a process can be given are of another kind on each system (macOS keeps none of them).
"""

from __future__ import annotations

import ctypes
import multiprocessing
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event, Thread

import psutil

MEMORY_A_WORKER = 512 << 20
"""Bytes a worker may have in memory: hundreds of returns take it to 50 MB, the largest sheet that passes the guard to
130 MB.
"""
_SECONDS_BETWEEN_LOOKS = 0.05
"""In so short a time a process fills about 100 MB."""
_ended: set[int | None] = set()

_LARGEST_BLOCK, _KEPT = 8 << 20, 16 << 20
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Names of numbers for glibc's mallopt (mallopt(3), M_TRIM_THRESHOLD and M_MMAP_THRESHOLD)."""


def keep_freed_memory() -> None:
    """Let this process use the memory that one file took for the next one: up to 16 MB, in blocks up to 8 MB.

    The C library of most Linux systems (glibc) gives large blocks back to the system at once; to get them again, page
    by page, took an eighth of the time of reading a file. Other systems' libraries are left as they are.
    """
    try:
        set_option = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):
        return
    set_option(_MMAP_THRESHOLD, _LARGEST_BLOCK)
    set_option(_TRIM_THRESHOLD, _KEPT)


@contextmanager
def watched_memory(most: int = MEMORY_A_WORKER) -> Iterator[None]:
    """While this is open, every process started here through multiprocessing is ended once it has more than `most`
    bytes in memory. Processes that ran before are left alone.
    """
    others = frozenset(child.pid for child in multiprocessing.active_children())
    done = Event()
    watching = Thread(target=_watch, args=(most, others, done), name="watched_memory", daemon=True)
    watching.start()
    try:
        yield
    finally:
        done.set()
        watching.join()


def was_ended(process: int | None) -> bool:
    """Whether the process with this number was ended for the memory it took."""
    return process in _ended


def _watch(most: int, others: frozenset[int | None], done: Event) -> None:
    while not done.wait(_SECONDS_BETWEEN_LOOKS):
        for child in multiprocessing.active_children():
            if child.pid is not None and child.pid not in others and _memory_of(child.pid) > most:
                _ended.add(child.pid)
                child.kill()


def _memory_of(process: int) -> int:
    """Bytes a process has in memory; 0 for one that is gone or cannot be looked at."""
    try:
        return int(psutil.Process(process).memory_info().rss)
    except psutil.Error:
        return 0
