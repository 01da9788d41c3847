"""A file over which a worker takes too much memory costs that file and no other, whatever takes the memory."""

from __future__ import annotations

import multiprocessing
import platform
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.faults.packages import HEAD, MAIN, STRINGS, entry, good_parts, pack
from tests.processes import read_all
from tests.returns.scene import Scene
from tests.small_program import WORDS
from workbook_tools.contract.guard import Refusal, guard
from workbook_tools.contract.package import MAX_PART
from workbook_tools.returns.candidate import Candidate
from workbook_tools.returns.intake import take_in
from workbook_tools.returns.worker_memory import was_ended, watched_memory

pytestmark = pytest.mark.processes

MB = 1 << 20
TOO_MUCH = Refusal("reader_too_much", "512 MB")


def hungry() -> bytes:
    """A workbook of half a megabyte with thirteen million empty texts, none of them promised: the guard lets it pass,
    and the reader makes room for each (664 MB in all).
    """
    opening, ending = f'{HEAD}<sst xmlns="{MAIN}">'.encode(), b"</sst>"
    texts = b"<si/>" * ((MAX_PART - len(opening) - len(ending) - MB) // 5)
    parts = {**good_parts(), STRINGS: opening + texts + ending}
    return pack(entry(name, data, 1) for name, data in parts.items())


class Broken(Candidate):
    """A file over which reading itself breaks."""

    def read(self) -> bytes:
        raise RecursionError("too deep")


class Endless(Candidate):
    """A file that is more than any memory holds."""

    def read(self) -> bytes:
        return bytes(1 << 62)


def test_a_file_that_takes_too_much_memory_costs_that_file(tmp_path: Path) -> None:
    """It is set aside with a sentence of its own; the good return beside it, read by the same worker, is in."""
    data = hungry()
    assert guard(data) is None
    scene = Scene(tmp_path)
    scene.put(good=scene.filled(), hungry=data)
    taken = take_in(scene.folder, [scene.folder.returns], WORDS)
    good, aside = taken.results
    assert (good.outcome, aside.outcome) == ("merged", "set aside")
    assert str(aside.row(WORDS)["reason"]) == (
        "Reading the file took more than 512 MB of memory, many times what a field book needs. "
        "Look where it comes from before anybody opens it; ask for the field book again."
    )


def test_memory_that_cannot_be_had_and_a_reader_that_breaks_cost_one_file_each(tmp_path: Path) -> None:
    """Python says MemoryError in the worker, or anything else; the files around it are read."""
    sound = Candidate(origin="sound.xlsx", received="", data=Scene(tmp_path).filled())
    endless, broken = Endless(origin="endless.xlsx", received=""), Broken(origin="broken.xlsx", received="")
    reads = read_all([sound, endless, broken, sound])
    assert [read.refusal for read in reads] == [None, TOO_MUCH, Refusal("reader_died"), None]


def fill_memory(size: int) -> None:
    """Take memory piece by piece, and keep it."""
    pieces = []
    for _ in range(size // MB):
        pieces.append(b"\1" * MB)
        time.sleep(0.001)
    time.sleep(60)


@pytest.mark.parametrize("starts", ["before", "within"])
def test_only_processes_of_ones_own_are_watched(starts: str) -> None:
    """A process that takes too much is ended if it was started while the memory is watched, and else left alone."""
    process = multiprocessing.get_context("spawn").Process(target=fill_memory, args=(300 * MB,), daemon=True)
    if starts == "before":
        process.start()
    with watched_memory(150 * MB):
        if starts == "within":
            process.start()
        process.join(20 if starts == "within" else 3)
    assert was_ended(process.pid) == (starts == "within")
    assert process.is_alive() == (starts == "before")
    process.kill()
    process.join()


FAULTS = """
import resource
from workbook_tools.returns.worker_memory import keep_freed_memory

keep_freed_memory()
for time in range(51):
    if time == 1:
        before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    bytes(bytearray(4 << 20))
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""
"""How many pages of memory a process is given while it takes 8 MB and frees them, fifty times."""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="other systems' libraries are left as they are")
def test_memory_that_a_file_took_is_kept_for_the_next_one() -> None:
    """The system gives the pages of two files at most, and not those of fifty."""
    pages_a_file = (8 << 20) // 4096
    said = subprocess.run([sys.executable, "-c", FAULTS], capture_output=True, text=True, check=True)
    assert int(said.stdout) <= 2 * pages_a_file
