"""What a whole process costs: time on the clock, processor time and peak memory, with all processes it starts."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import psutil

_EVERY_SECONDS = 0.1
"""A look takes more than a millisecond, which what is measured has to wait for where all processors are busy."""
_MEGABYTE = 1 << 20
ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Spent:
    """What one run cost. `seconds` on the clock; `processor` seconds and peak `megabytes` over the whole tree.

    Memory is the sum of the resident sets, so pages that processes share count more than once.
    """

    seconds: float
    processor: float
    megabytes: float
    output: str


def run_program(*arguments: str) -> Spent:
    """Run `workbook-tools` as the office does."""
    return run([sys.executable, "-c", "from workbook_tools.cli import main; main()", *arguments])


def start_up() -> float:
    """Processor seconds of a process that shows the help, the middle one of seven."""
    code = """
import sys, time
from workbook_tools.cli import main
try:
    main(["--help"])
except SystemExit:
    print(time.process_time())
"""
    spent = [float(run([sys.executable, "-c", code]).output.split()[-1]) for _ in range(7)]
    return median(spent)


def run_module(name: str, *arguments: str) -> Spent:
    """Run one of the benchmarks' own modules."""
    return run([sys.executable, "-W", "ignore", "-m", name, *arguments])


def run(command: Sequence[str]) -> Spent:
    """Run a command and watch its process tree. Raises RuntimeError, with what it said, when it fails."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    if hasattr(os, "sync"):
        os.sync()  # so that nobody waits for what another one wrote
    started = time.perf_counter()
    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    ) as child:
        peak, processor = _watch(psutil.Process(child.pid), child)
        seconds = time.perf_counter() - started
        assert child.stdout is not None
        output = child.stdout.read().decode("utf-8", "replace")
    if child.returncode:
        raise RuntimeError(f"{' '.join(command)}: {output[-2000:]}")
    return Spent(seconds, processor, peak / _MEGABYTE, output)


def _watch(root: psutil.Process, child: subprocess.Popen[bytes]) -> tuple[int, float]:
    """Peak bytes and processor seconds of a process and all below it, until it ends."""
    peak = 0
    processor: dict[int, float] = {}
    while child.poll() is None:
        total = 0
        for process in _tree(root):
            try:
                with process.oneshot():
                    total += process.memory_info().rss
                    times = process.cpu_times()
                    processor[process.pid] = times.user + times.system
            except psutil.Error:
                continue
        peak = max(peak, total)
        time.sleep(_EVERY_SECONDS)
    return peak, sum(processor.values())


def _tree(root: psutil.Process) -> list[psutil.Process]:
    try:
        return [root, *root.children(recursive=True)]
    except psutil.Error:
        return []
