"""Reading many files in worker processes: one that dies or hangs costs one file, never the merge."""

from __future__ import annotations

import hashlib
import multiprocessing
import os
from collections import deque
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from concurrent.futures import TimeoutError as TooSlow
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from itertools import chain, islice
from typing import Any

from pebble import ProcessExpired, ProcessPool

from workbook_tools.contract.guard import Refusal, megabytes
from workbook_tools.returns.candidate import Candidate, RefusedError, fetched
from workbook_tools.returns.read import ReadReturn, read_return
from workbook_tools.returns.sharing import Sharing
from workbook_tools.returns.worker_memory import MEMORY_A_WORKER, keep_freed_memory, was_ended, watched_memory

SECONDS_A_FILE = 30
"""How long one file may take; a good one takes ten milliseconds."""
CHUNK = 32
SECONDS_A_CHUNK = SECONDS_A_FILE + CHUNK
MOST_WORKERS = 6
"""Each takes 41 MB: with more of them, 10,000 returns would not stay below 500 MB."""
FEW_WORKERS = 4
"""Beside no more than these, the process that gathers what they read can take the 70 MB that settling needs."""

Said = ReadReturn | str
"""What a worker says of a file: what it read, or only the sha256 of one whose result is known."""
Chunk = Sequence[Candidate]
Spread = Callable[[Iterable[Chunk], Collection[str]], AbstractContextManager[Iterator[Sequence[Said]]]]
"""Takes chunks and begins to read them somewhere, given the sha256 of all files whose results are known; gives what is
said of the chunks, in order.
"""
Watch = Callable[[Iterable[Sequence[Said]], int], Iterable[Sequence[Said]]]

_DIED = Refusal("reader_died")
_TOO_MUCH = Refusal("reader_too_much", megabytes(MEMORY_A_WORKER))
_known: set[str] = set()
"""In a worker: the sha256 of the files whose results are known."""


@contextmanager
def begin_reading(candidates: Iterable[Candidate], known: Collection[str], how: Reading) -> Iterator[Iterator[Said]]:
    """Begin to read every candidate, but for those whose result is known by the sha256 of their bytes.

    Reading begins with the first of them; all have come when this gives what is said of each, in order. Asking for it
    waits until it is there. In the end, whatever still reads is ended. Never raises for what a file holds.
    """
    chunks: list[Chunk] = []
    with how.spread(_noted(_in_chunks(candidates), chunks), known) as done:
        yield chain.from_iterable(how.watch(done, len(chunks)) if how.watch else done)


def _in_chunks(candidates: Iterable[Candidate]) -> Iterator[Chunk]:
    coming = iter(candidates)
    return iter(lambda: list(islice(coming, CHUNK)), [])


def _noted(chunks: Iterable[Chunk], noted: list[Chunk]) -> Iterator[Chunk]:
    for chunk in chunks:
        noted.append(chunk)
        yield chunk


def readers() -> int:
    """How many processes read on this machine: as many as there are processors, up to MOST_WORKERS."""
    return min(os.cpu_count() or 1, MOST_WORKERS)


@contextmanager
def on_this_machine(chunks: Iterable[Chunk], known: Collection[str]) -> Iterator[Iterator[Sequence[Said]]]:
    """Read chunks in worker processes, as many as `readers` says."""
    coming = iter(chunks)
    first = list(islice(coming, readers()))
    if not first:
        yield iter(())
        return
    pool = _pool(len(first), known)
    try:
        with watched_memory():
            yield _results(pool, deque((one, _scheduled(pool, one)) for one in chain(first, coming)), known)
    finally:
        _end(pool)


def _scheduled(pool: ProcessPool, chunk: Chunk) -> Any:
    return pool.schedule(_read_chunk, args=[chunk], timeout=SECONDS_A_CHUNK)


def _results(pool: ProcessPool, waiting: deque[tuple[Chunk, Any]], known: Collection[str]) -> Iterator[Sequence[Said]]:
    """What is said of the chunks, in order; a pool that is stuck is left for another one."""
    while waiting:
        chunk, future = waiting.popleft()
        said, stuck = _result(future, chunk)
        yield said
        if stuck:
            _end(pool)
            with on_this_machine([chunk for chunk, _ in waiting], known) as rest:
                yield from rest
            return


@dataclass(frozen=True, slots=True)
class Reading:
    """How files are read: where, whether results of earlier merges are used and kept, and what sees the progress."""

    spread: Spread = on_this_machine
    keep: bool = False
    watch: Watch | None = None


def read_chunk(chunk: Chunk, known: Collection[str] = ()) -> list[Said]:
    """Read some candidates in this process."""
    sharing = Sharing()
    said = (read_candidate(candidate, known) for candidate in fetched(chunk))
    return [one if isinstance(one, str) else sharing.share(one) for one in said]


def read_candidate(candidate: Candidate, known: Collection[str] = ()) -> Said:
    """Read one candidate in this process; one that was refused when it was collected keeps its refusal.

    Never raises: whatever goes wrong over a file costs that file and no other.
    """
    try:
        data = candidate.read()
    except Exception as slip:
        return ReadReturn("", candidate.refusal or _why(slip))
    sha256 = hashlib.sha256(data).hexdigest()
    if candidate.refusal:
        return ReadReturn(sha256, candidate.refusal)
    try:
        return sha256 if sha256 in known else read_return(data, sha256)
    except Exception as slip:
        return ReadReturn(sha256, _why(slip))


def _why(slip: Exception) -> Refusal:
    """Why a file cannot be read."""
    if isinstance(slip, RefusedError):
        return slip.refusal
    if isinstance(slip, OSError):
        return Refusal("unreadable", slip.strerror or str(slip))
    return _TOO_MUCH if isinstance(slip, MemoryError) else _DIED


def read_singly(chunk: Chunk) -> list[ReadReturn]:
    """Read some candidates one by one in a worker, for one of them made a worker die or hang."""
    pool = _pool(1, ())
    try:
        with watched_memory():
            futures = [pool.schedule(read_candidate, args=[candidate], timeout=SECONDS_A_FILE) for candidate in chunk]
            return [_single_result(future) for future in futures]
    finally:
        _end(pool)


def _result(future: Any, chunk: Chunk) -> tuple[Sequence[Said], bool]:
    """What was said of the chunk that is next, and whether the pool is stuck: a worker that is killed while it takes
    its work from the queue can leave the queue locked for all others, and one that is killed while no worker has work
    ends the pool.
    """
    try:
        return future.result(timeout=2 * SECONDS_A_CHUNK), False
    except (ProcessExpired, TooSlow, MemoryError):
        return read_singly(chunk), not future.done()
    except BrokenProcessPool:
        return read_singly(chunk), True


def _single_result(future: Any) -> ReadReturn:
    try:
        return future.result()  # type: ignore[no-any-return]
    except TooSlow:
        return ReadReturn("", Refusal("reader_too_slow", str(SECONDS_A_FILE)))
    except ProcessExpired as slip:
        return ReadReturn("", _TOO_MUCH if was_ended(slip.pid) else _DIED)
    except MemoryError:
        return ReadReturn("", _TOO_MUCH)


def _read_chunk(chunk: Chunk) -> list[Said]:
    return read_chunk(chunk, _known)


def _begin(known: Collection[str]) -> None:
    """What a worker does first."""
    keep_freed_memory()
    _remember(known)


def _remember(known: Collection[str]) -> None:
    _known.update(known)


def _pool(workers: int, known: Collection[str]) -> ProcessPool:
    context = multiprocessing.get_context("spawn")
    return ProcessPool(workers, initializer=_begin, initargs=[list(known)], context=context)


def _end(pool: ProcessPool) -> None:
    """End the workers, whatever they are doing."""
    pool.stop()  # type: ignore[no-untyped-call]
    pool.join()
