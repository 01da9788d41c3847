"""No command loads what it does not use: what is slow to load is loaded by the commands that need it. Nor does one look
through all it made before it ends.
"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

from workbook_tools.cli import main

WATCHED = frozenset(
    (
        *("PIL", "barcode", "biip", "distributed", "fsspec", "holidays", "numpy", "openpyxl", "pandera", "pebble"),
        *("polars", "python_calamine", "rich", "scipy", "xlsxwriter"),
    )
)
PARTS = frozenset(f"workbook_tools.{part}" for part in ("program", "field_book", "returns", "rollup", "demo"))
READS_SETUP = {"python_calamine", "workbook_tools.program"}
READS = {*READS_SETUP, "pebble", "polars", "pandera", "numpy", "workbook_tools.returns"}
WRITES_BOOKS = {*READS_SETUP, "xlsxwriter", "PIL", "barcode", "biip", "workbook_tools.field_book"}
ALLOWED = {
    "--help": set(),
    "--version": set(),
    "new {new}": {"xlsxwriter", "workbook_tools.program"},
    "new {new} --from {folder}": {*READS_SETUP, "xlsxwriter", "PIL"},
    "check {folder}": {*READS_SETUP, "PIL", "holidays"},
    "issue {folder}": WRITES_BOOKS,
    "validate {folder} {folder}/returns": READS,
    "merge {folder}": {*READS, "xlsxwriter", "holidays", "workbook_tools.rollup"},
    "revisit {folder}": {*READS, *WRITES_BOOKS, "workbook_tools.rollup"},
    "correct {folder}": {*READS, *WRITES_BOOKS, "workbook_tools.rollup"},
}
"""Command → what of the libraries and of our own parts it may load."""
_SAY = """
import sys
from workbook_tools.cli import main
try:
    main({arguments!r}, standalone_mode=False)
except SystemExit:
    pass
print(sorted(set(sys.modules) & {watched!r}))
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's folder, with returns, corrections to send and stores to visit again."""
    folder = tmp_path_factory.mktemp("imports") / "demo"
    main(["demo", str(folder)], standalone_mode=False)
    return folder


@pytest.mark.parametrize("command", ALLOWED)
def test_a_command_loads_what_it_uses(command: str, folder: Path, tmp_path: Path) -> None:
    """Nothing beyond its list; and the list is not longer than what some run of the command needs."""
    arguments = command.format(folder=folder, new=tmp_path / "new").split()
    code = _SAY.format(arguments=arguments, watched=set(WATCHED | PARTS))
    done = subprocess.run([sys.executable, "-W", "ignore", "-c", code], capture_output=True, text=True, check=True)
    loaded = set(ast.literal_eval(done.stdout.splitlines()[-1]))
    assert loaded <= ALLOWED[command]
    assert ALLOWED[command] - loaded <= {"holidays"}, "a demo without a country needs no holidays"


def test_every_command_is_watched() -> None:
    """A new command has to say what it loads; the demo is made of the others."""
    assert {command.split()[0] for command in ALLOWED} - {"--help", "--version"} == set(main.commands) - {"demo"}


@pytest.mark.parametrize(("told", "threads"), [("", 2), ("3", 3)])
def test_polars_takes_few_threads_unless_told_otherwise(told: str, threads: int) -> None:
    """However many processors there are: each thread takes memory."""
    code = """
import os
from workbook_tools.cli import main
main(["new", "--help"], standalone_mode=False)
import polars
print(polars.thread_pool_size(), os.environ["POLARS_MAX_THREADS"])
"""
    environment = {key: value for key, value in os.environ.items() if key != "POLARS_MAX_THREADS"}
    told_so = {"POLARS_MAX_THREADS": told} if told else {}
    arguments = [sys.executable, "-c", code]
    done = subprocess.run(arguments, capture_output=True, text=True, check=True, env={**environment, **told_so})
    assert done.stdout.splitlines()[-1] == f"{threads} {threads}"


def test_a_command_ends_without_looking_for_garbage(folder: Path) -> None:
    """What there is at the end is put out of reach of the search that Python ends with."""
    code = """
import atexit, gc
atexit.register(lambda: print(gc.get_freeze_count(), len(gc.get_objects())))
from workbook_tools.cli import main
main()
"""
    arguments = [sys.executable, "-c", code, "merge", str(folder)]
    done = subprocess.run(arguments, capture_output=True, text=True, check=True)
    frozen, looked_at = map(int, done.stdout.splitlines()[-1].split())
    assert frozen > 100 * looked_at
