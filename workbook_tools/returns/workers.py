"""Reading many files in worker processes: one that dies or hangs costs one file, never the merge."""

from __future__ import annotations

import hashlib
import multiprocessing
import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import TimeoutError as TooSlow

from pebble import ProcessExpired, ProcessPool

from workbook_tools.returns.collect import Candidate
from workbook_tools.returns.guard import Refusal
from workbook_tools.returns.read import ReadReturn, read_return

SECONDS_A_FILE = 30
"""How long one file may take; a good one takes a few milliseconds."""
_CHUNK = 32

Watch = Callable[[Iterable[list[ReadReturn]], int], Iterable[list[ReadReturn]]]


def read_all(candidates: Sequence[Candidate], watch: Watch | None = None) -> list[ReadReturn]:
    """Read every candidate, in order. Never raises for what a file holds."""
    chunks = [list(candidates[start : start + _CHUNK]) for start in range(0, len(candidates), _CHUNK)]
    if not chunks:
        return []
    workers = min(len(chunks), os.cpu_count() or 1)
    with _pool(workers) as pool:
        futures = [pool.schedule(read_chunk, args=[chunk], timeout=SECONDS_A_FILE + _CHUNK) for chunk in chunks]
        done = (_result(future, chunk) for future, chunk in zip(futures, chunks, strict=True))
        watched = watch(done, len(chunks)) if watch else done
        return [read for chunk in watched for read in chunk]


def read_chunk(chunk: Sequence[Candidate]) -> list[ReadReturn]:
    """Read some candidates in this process."""
    return [read_candidate(one) for one in chunk]


def read_candidate(candidate: Candidate) -> ReadReturn:
    """Read one candidate in this process; one that was refused when it was collected keeps its refusal."""
    try:
        data = candidate.read()
    except OSError as slip:
        return ReadReturn("", candidate.refusal or Refusal("unreadable", slip.strerror or str(slip)))
    if candidate.refusal:
        return ReadReturn(hashlib.sha256(data).hexdigest(), candidate.refusal)
    return read_return(data)


def _result(future: object, chunk: list[Candidate]) -> list[ReadReturn]:
    """A chunk's result; when its worker died or hung, each of its files alone in a worker of its own."""
    try:
        return future.result()  # type: ignore[attr-defined, no-any-return]
    except (ProcessExpired, TooSlow, MemoryError):
        return [_alone(candidate) for candidate in chunk]


def _alone(candidate: Candidate) -> ReadReturn:
    with _pool(1) as pool:
        future = pool.schedule(read_candidate, args=[candidate], timeout=SECONDS_A_FILE)
        try:
            return future.result()
        except TooSlow:
            return ReadReturn("", Refusal("reader_too_slow", str(SECONDS_A_FILE)))
        except (ProcessExpired, MemoryError):
            return ReadReturn("", Refusal("reader_died", ""))


def _pool(workers: int) -> ProcessPool:
    return ProcessPool(max_workers=workers, context=multiprocessing.get_context("spawn"))
