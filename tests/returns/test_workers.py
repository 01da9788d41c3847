"""Worker processes: one that dies costs nothing but time, and a merge that is stopped leaves everything as it was."""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Collection, Iterable, Iterator, Sequence
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import psutil
import pytest

from tests.processes import read_all, reading_workers
from tests.small_program import ALL_AS_PLANNED, GOOD_VISIT, WORDS, fill_in, issued_folder
from workbook_tools.contract.guard import Refusal
from workbook_tools.folder import ProgramFolder
from workbook_tools.returns import workers
from workbook_tools.returns.candidate import Candidate
from workbook_tools.returns.collect import collect
from workbook_tools.returns.workers import Reading, Said, read_candidate

pytestmark = pytest.mark.processes

ROOT = Path(__file__).resolve().parents[2]
FILES = 800
"""So many that reading them takes seconds."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> ProgramFolder:
    """The small program with one return, merged once."""
    folder, books = issued_folder(tmp_path_factory.mktemp("small"))
    first, second = list(books.values())[:2]
    fill_in(first, folder.returns / "first.xlsx", GOOD_VISIT, ALL_AS_PLANNED)
    fill_in(second, folder.root / "second.xlsx", GOOD_VISIT, ALL_AS_PLANNED)
    with start(folder) as merging:
        merging.communicate(timeout=60)
    assert merging.returncode == 0
    return folder


def start(folder: ProgramFolder) -> subprocess.Popen[str]:
    """`workbook-tools merge` as a process that a Ctrl-C of its own terminal would reach."""
    command = [sys.executable, "-c", "from workbook_tools.cli import main; main()", "merge", str(folder.root)]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    return subprocess.Popen(command, cwd=ROOT, start_new_session=True, **pipes)


def digests(folder: Path) -> dict[str, str]:
    """Every file under a folder by its content."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.mark.skipif(sys.platform == "win32", reason="another process cannot send Ctrl-C to just one console there")
def test_ctrl_c_while_reading_leaves_the_roll_up_as_it_was(folder: ProgramFolder) -> None:
    """The whole process group is told to stop: one sentence, exit status 130, no worker left, no file changed."""
    before = digests(folder.rollup)
    assert "rollup.xlsx" in before
    for number in range(FILES):
        shutil.copyfile(folder.root / "second.xlsx", folder.returns / f"second {number}.xlsx")
    with start(folder) as merging:
        workers_seen = reading_workers(psutil.Process(merging.pid))
        os.killpg(merging.pid, signal.SIGINT)
        _, said = merging.communicate(timeout=30)
    assert merging.returncode == 130
    assert said.strip() == WORDS("messages.stopped")
    assert not psutil.wait_procs(workers_seen, timeout=5)[1]
    assert digests(folder.rollup) == before


def test_a_worker_that_is_killed_costs_nothing_but_time(folder: ProgramFolder) -> None:
    """A worker is killed while it reads; every file gets the result it gets when nothing happens."""
    (candidate,) = collect([folder.returns / "first.xlsx"], folder.root)
    killed = []

    def watch(done: Iterable[Sequence[Said]], total: int) -> Iterator[Sequence[Said]]:
        for number, chunk in enumerate(done):
            if number == total // 4:
                children = psutil.Process().children(recursive=True)
                busiest = max(children, key=lambda child: sum(child.cpu_times()[:2]))
                busiest.kill()
                killed.append(busiest)
            yield chunk

    expected = read_candidate(candidate)
    reads = read_all([candidate] * FILES, Reading(watch=watch))
    assert len(killed) == 1
    assert reads == [expected] * FILES


@pytest.mark.parametrize("broken", [None, BrokenProcessPool("All workers expired")], ids=["stuck", "broken"])
def test_a_pool_that_is_stuck_is_left_for_another(
    folder: ProgramFolder, monkeypatch: pytest.MonkeyPatch, broken: Exception | None
) -> None:
    """When no result comes for longer than reading can take, or none can come, the rest is read by new workers."""
    (candidate,) = collect([folder.returns / "first.xlsx"], folder.root)
    pools: list[int] = []
    original = workers._pool

    def first_one_stuck(count: int, known: Collection[str]) -> object:
        pools.append(count)
        return Stuck(broken) if len(pools) == 1 else original(count, known)

    monkeypatch.setattr(workers, "_pool", first_one_stuck)
    monkeypatch.setattr(workers, "SECONDS_A_CHUNK", 0.01)
    monkeypatch.setattr(workers, "read_singly", lambda chunk: [read_candidate(one) for one in chunk])
    reads = read_all([candidate] * (2 * workers.CHUNK))
    assert reads == [read_candidate(candidate)] * (2 * workers.CHUNK)
    assert len(pools) > 1


class Stuck:
    """A pool whose workers never answer, or that broke."""

    def __init__(self, broken: Exception | None) -> None:
        self.broken = broken

    def schedule(self, *_: object, **__: object) -> Future[object]:
        future: Future[object] = Future()
        if self.broken:
            future.set_exception(self.broken)
        return future

    def stop(self) -> None: ...

    def join(self) -> None: ...


def test_what_cannot_be_opened_has_a_reason(tmp_path: Path) -> None:
    """A file that is gone when it is read, and one that was refused before, each keep one result."""
    gone = Candidate(origin="gone.xlsx", received="", path=tmp_path / "gone.xlsx")
    refused = Candidate(origin="x", received="", kind="other", refusal=Refusal("nothing_attached"), data=b"text")
    first, second = read_all([gone, refused])
    assert (first.refusal and first.refusal.rule, first.sha256) == ("unreadable", "")
    assert (second.refusal, second.sha256) == (refused.refusal, hashlib.sha256(b"text").hexdigest())


def test_no_files_need_no_workers() -> None:
    """Nothing is started for nothing."""
    assert read_all([]) == []
