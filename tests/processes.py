"""What tests want to know of the processes that a merge starts."""

from __future__ import annotations

import time

import psutil


def reading_workers(merging: psutil.Process) -> list[psutil.Process]:
    """The processes below a merge, once one of them reads. Fails when none does within half a minute."""
    for _ in range(600):
        children = merging.children(recursive=True)
        if any(sum(child.cpu_times()[:2]) > 0.4 for child in children):
            return children
        time.sleep(0.05)
    raise AssertionError("the workers never got to work")
