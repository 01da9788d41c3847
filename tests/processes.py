"""What tests want to know of the processes that a merge starts, and a stand-in that starts none."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import Future
from typing import Any

import psutil

from workbook_tools.returns import workers
from workbook_tools.returns.candidate import Candidate
from workbook_tools.returns.workers import Reading, Said, begin_reading


class ReadingHere:
    """A pool of no processes: whatever it is given to do is done at once."""

    def __init__(self, known: Collection[str]) -> None:
        workers._known.clear()
        workers._remember(known)

    def schedule(self, function: Callable[..., Any], args: Sequence[Any], timeout: float) -> Future[Any]:
        """What a pool of processes does, but for the limit of `timeout` seconds."""
        done: Future[Any] = Future()
        done.set_result(function(*args))
        return done

    def stop(self) -> None:
        """Nothing runs."""

    def join(self) -> None:
        """Nothing is waited for."""


def read_all(candidates: Sequence[Candidate], how: Reading | None = None) -> list[Said]:
    """What is said of each candidate, none of which is known."""
    with begin_reading(candidates, (), how or Reading()) as said:
        return list(said)


def reading_workers(merging: psutil.Process) -> list[psutil.Process]:
    """The processes below a merge, once one of them reads. Fails when none does within half a minute."""
    for _ in range(600):
        children = merging.children(recursive=True)
        if any(sum(child.cpu_times()[:2]) > 0.4 for child in children):
            return children
        time.sleep(0.05)
    raise AssertionError("the workers never got to work")
