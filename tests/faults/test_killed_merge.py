"""A merge that is killed leaves every file of the roll-up whole, old or new, and the next merge does it all."""

from __future__ import annotations

import csv
import datetime as dt
import multiprocessing
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import polars as pl
import psutil
import pytest

from tests.faults.test_merge_faults import merge_and_die, rollup_files, write
from tests.processes import reading_workers
from tests.returns.scene import Scene
from workbook_tools.folder import ProgramFolder, sweep_unfinished

pytestmark = pytest.mark.processes

ROOT = Path(__file__).resolve().parents[2]
TABLES = ("status.csv", "flags.csv", "findings.csv", "files.csv", "history.csv")


@pytest.fixture
def scene(tmp_path: Path) -> Scene:
    """The small program, merged once with one return; a second one has come since."""
    scene = Scene(tmp_path)
    scene.put(one=scene.filled("001"))
    write(scene)
    scene.put(two=scene.filled("002"))
    return scene


def assert_whole(folder: ProgramFolder) -> None:
    """Every file of the roll-up can be read to its end."""
    for name in ("rollup.xlsx", "client.xlsx"):
        with zipfile.ZipFile(folder.rollup / name) as archive:
            assert archive.testzip() is None
        openpyxl.load_workbook(folder.rollup / name, read_only=True).close()
    for name in TABLES:
        with (folder.rollup / name).open(encoding="utf-8-sig", newline="") as stream:
            heading, *rows = csv.reader(stream)
        assert {len(row) for row in rows} <= {len(heading)}, name
    assert pl.read_parquet(folder.rollup / "positions.parquet").width


def figures(folder: ProgramFolder) -> list[list[str]]:
    """What the table of files says."""
    with (folder.rollup / "files.csv").open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.reader(stream))


@pytest.mark.parametrize("nth", (1, 2, 4, 7))
def test_a_merge_killed_between_two_files_leaves_each_whole(nth: int, scene: Scene) -> None:
    """Killed when the nth file is put into its place: those before it are new, all others as they were; the next merge
    writes what a merge that nobody killed writes.
    """
    old = rollup_files(scene.folder)
    process = multiprocessing.get_context("spawn").Process(target=merge_and_die, args=(str(scene.folder.root), nth))
    process.start()
    process.join(60)
    assert process.exitcode == 9
    found = rollup_files(scene.folder)
    assert found.keys() == old.keys()
    assert len([name for name in found if found[name] != old[name]]) <= nth
    assert_whole(scene.folder)
    write(scene)
    assert_whole(scene.folder)
    found = [(row[0], row[4]) for row in figures(scene.folder)[1:]]
    assert found == [("returns/one.xlsx", "merged"), ("returns/two.xlsx", "merged")]


def test_a_merge_killed_while_it_reads_leaves_everything_and_no_process(scene: Scene) -> None:
    """The process alone is killed, as from a task list: the roll-up is as it was, and its workers end by themselves."""
    old = rollup_files(scene.folder)
    for number in range(600):
        shutil.copyfile(scene.folder.returns / "two.xlsx", scene.folder.returns / f"copy {number}.xlsx")
    command = [sys.executable, "-c", "from workbook_tools.cli import main; main()", "merge", str(scene.folder.root)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as merging:
        workers = reading_workers(psutil.Process(merging.pid))
        merging.kill()
        merging.wait(30)
    assert not psutil.wait_procs(workers, timeout=30)[1]
    assert rollup_files(scene.folder) == old
    for path in scene.folder.returns.glob("copy *.xlsx"):
        path.unlink()
    write(scene)
    assert len(figures(scene.folder)) == 3


def test_what_a_killed_merge_left_half_written_is_swept_away_later(tmp_path: Path) -> None:
    """A day later: what another merge is writing at this moment, and everything else, stays."""
    names = (".rollup-abcd1234.xlsx", ".files-x_y12345.csv", "rollup.xlsx", ".DS_Store", ".rollup-abcd1234")
    now = dt.datetime.now(dt.UTC).timestamp()
    for name in names:
        (tmp_path / name).write_bytes(b"x")
        os.utime(tmp_path / name, (now - 90_000, now - 90_000))
    (tmp_path / ".rollup-now_1234.xlsx").write_bytes(b"x")
    sweep_unfinished(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {*names[2:], ".rollup-now_1234.xlsx"}
    sweep_unfinished(tmp_path / "nowhere")
