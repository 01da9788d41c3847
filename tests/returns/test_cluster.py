"""Reading on a Dask cluster: what a merge says does not depend on where the files were read."""

from __future__ import annotations

import datetime as dt
import logging
import os
import shutil
import time
from collections.abc import Collection, Iterable, Iterator, Sequence
from pathlib import Path

import psutil
import pytest
from click.testing import CliRunner
from distributed import Client, LocalCluster

from tests.small_program import (
    ALL_AS_PLANNED,
    GOOD_VISIT,
    SECOND_STORE,
    SECOND_VISIT,
    WORDS,
    fill_in,
    issued_folder,
)
from workbook_tools.cli import main
from workbook_tools.contract.guard import Refusal
from workbook_tools.errors import ClusterError
from workbook_tools.folder import ProgramFolder
from workbook_tools.returns import cluster, workers
from workbook_tools.returns.cluster import on_cluster, read_there
from workbook_tools.returns.intake import take_in
from workbook_tools.returns.read import ReadReturn
from workbook_tools.returns.workers import Chunk, Reading, Said
from workbook_tools.rollup.write import write_rollup

pytestmark = [
    pytest.mark.processes,
    pytest.mark.filterwarnings("ignore"),  # the cluster's own, about ports and sockets
]
FILES = 60


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """A cluster of two worker processes on this machine."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=logging.CRITICAL
    ) as running:
        yield running.scheduler_address


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> ProgramFolder:
    """The small program, with many files that came back: returns, copies of them, and what is none."""
    folder, books = issued_folder(tmp_path_factory.mktemp("small"))
    fill_in(books["001"], folder.returns / "first.xlsx", GOOD_VISIT, ALL_AS_PLANNED)
    fill_in(books["002"], folder.returns / "second.xlsx", SECOND_VISIT, SECOND_STORE, [("P2", "missing", 1)])
    (folder.returns / "cut.xlsx").write_bytes((folder.returns / "first.xlsx").read_bytes()[:5_000])
    (folder.returns / "text.xlsx").write_bytes(b"none")
    made = sorted(folder.returns.iterdir())
    for number in range(FILES - len(made)):
        shutil.copy2(made[number % len(made)], folder.returns / f"copy {number}.xlsx")
    return folder


def written(folder: ProgramFolder, how: Reading) -> dict[str, bytes]:
    """What a merge writes, file by file."""
    shutil.rmtree(folder.rollup, ignore_errors=True)
    write_rollup(folder, take_in(folder, [folder.returns], WORDS, how), dt.date(2026, 3, 9))
    return {path.name: path.read_bytes() for path in folder.rollup.iterdir() if path.is_file()}


def test_a_cluster_that_loses_a_worker_midway_gives_the_same_bytes(
    address: str, folder: ProgramFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One of two workers is killed while chunks lie with it; every file of the roll-up equals the local one."""
    monkeypatch.setattr(workers, "CHUNK", 4)
    monkeypatch.setattr(cluster, "read_there", read_slowly)
    killed: list[int] = []

    def watch(done: Iterable[Sequence[Said]], total: int) -> Iterator[Sequence[Said]]:
        assert total == FILES / 4
        for number, chunk in enumerate(done):
            if number == 1:
                killed.append(kill_a_busy_worker(address))
            yield chunk

    local = written(folder, Reading())
    assert "rollup.xlsx" in local
    assert written(folder, Reading(on_cluster(address, WORDS), watch=watch)) == local
    assert len(killed) == 1
    assert not psutil.pid_exists(killed[0])


def read_slowly(chunk: Chunk, known: Collection[str], rules: str) -> list[Said] | None:
    """What a worker does, at a pace at which there is always one to catch at it."""
    time.sleep(0.2)
    return read_there(chunk, known, rules)


def kill_a_busy_worker(address: str) -> int:
    """End the worker with most chunks before it, without any warning; returns its process id."""
    with Client(address, set_as_default=False) as client:
        waiting = client.processing()
        busiest = max(waiting, key=lambda worker: len(waiting[worker]))
        assert waiting[busiest], "the worker is killed while it has work"
        process = psutil.Process(client.run(os.getpid, workers=[busiest])[busiest])
        process.kill()
        process.wait(10)
        return process.pid


def test_what_is_known_is_not_read_on_the_cluster(address: str, folder: ProgramFolder) -> None:
    """Results that an earlier merge kept are used wherever the rest is read."""
    shutil.rmtree(folder.rollup, ignore_errors=True)
    how = Reading(on_cluster(address, WORDS), keep=True)
    assert [take_in(folder, [folder.returns], WORDS, how).fresh for _ in range(2)] == [FILES, 0]


def test_files_a_worker_cannot_open_are_read_here(
    address: str, folder: ProgramFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a folder is not shared, the merge is slower and says the same."""
    local = written(folder, Reading())
    monkeypatch.setattr(cluster, "read_there", unshared)
    assert written(folder, Reading(on_cluster(address, WORDS))) == local


def unshared(chunk: Sequence[object], known: object, rules: str) -> list[Said]:
    """What a worker says that does not see the folder."""
    return [ReadReturn("", Refusal("unreadable", "No such file or directory")) for _ in chunk]


def test_a_worker_with_other_rules_is_not_listened_to(
    address: str, folder: ProgramFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Workers that run another version of the program stop the merge before anything is written."""
    monkeypatch.setattr(cluster, "rules_digest", lambda: "other rules")
    with pytest.raises(ClusterError, match="another version"):
        take_in(folder, [folder.returns], WORDS, Reading(on_cluster(address, WORDS)))


def test_a_cluster_that_is_not_there_is_said_in_one_sentence(
    folder: ProgramFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody listens at the address: exit status 2, a sentence, and nothing is written."""
    monkeypatch.setattr(cluster, "SECONDS_TO_CONNECT", 1)
    shutil.rmtree(folder.rollup, ignore_errors=True)
    result = CliRunner().invoke(main, ["merge", str(folder.root), "--scheduler", "tcp://127.0.0.1:9"])
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert "tcp://127.0.0.1:9" in result.stderr
    assert not folder.rollup.exists()


def test_the_command_reads_on_the_cluster(address: str, folder: ProgramFolder) -> None:
    """`merge --scheduler` says what `merge` says."""
    arguments = ["merge", str(folder.root), "--as-of", "2026-03-09"]
    here = CliRunner().invoke(main, arguments)
    shutil.rmtree(folder.rollup)
    there = CliRunner().invoke(main, [*arguments, "--scheduler", address])
    assert (there.exit_code, there.stdout) == (0, here.stdout)
    assert Path(folder.rollup / "rollup.xlsx").is_file()
