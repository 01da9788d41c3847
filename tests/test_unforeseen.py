"""What nobody foresaw: one sentence, what a maintainer needs in a file, and never a traceback."""

from __future__ import annotations

import errno
import subprocess
import sys
import tempfile
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from tests.small_program import WORDS
from workbook_tools import cli
from workbook_tools.errors import FolderError


class Panic(BaseException):
    """As native code of a library panics: no Exception."""


def failing(monkeypatch: pytest.MonkeyPatch, slip: BaseException, *options: str) -> Result:
    """What `check` ends with when something below it raises `slip`."""

    def fail(*_: object) -> None:
        raise slip

    monkeypatch.setattr(cli, "_open", fail)
    return CliRunner().invoke(cli.main, [*options, "check", "somewhere"])


@pytest.mark.parametrize(
    "slip", [ValueError("two\nlines " + "x" * 500), KeyError("k"), MemoryError(), Panic("panicked")]
)
def test_what_nobody_foresaw_is_one_sentence(
    slip: BaseException, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It says what, where the details are and what to do next; exit status 2, as for all that stops a command."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    result = failing(monkeypatch, slip)
    assert result.exit_code == 2
    (details,) = tmp_path.iterdir()
    (line,) = result.stderr.strip().splitlines()
    assert f"({type(slip).__name__}" in line
    assert line.endswith(WORDS("messages.unforeseen", what="", path=details).partition("()")[2])
    assert len(line) < 700
    written = details.read_text(encoding="utf-8")
    assert "Traceback" in written
    assert type(slip).__name__ in written
    assert "in fail" in written
    assert result.stdout == ""


def test_it_is_said_even_where_no_file_can_be_written(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The sentence is all there is to send, then."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    result = failing(monkeypatch, ZeroDivisionError("by zero"))
    assert result.exit_code == 2
    assert result.stderr.strip() == WORDS("messages.unforeseen_alone", what="ZeroDivisionError: by zero")


@pytest.mark.parametrize(
    ("slip", "status", "said"),
    [
        (FolderError("No such folder."), 2, "No such folder.\n"),
        (KeyboardInterrupt(), 130, f"\n{WORDS('messages.stopped')}\n"),
        (click.Abort(), 1, "Aborted!\n"),
        (click.ClickException("no"), 1, "Error: no\n"),
        (click.exceptions.Exit(3), 3, ""),
        (SystemExit(4), 4, ""),
        (BrokenPipeError(errno.EPIPE, "closed"), 1, ""),
    ],
)
def test_what_was_foreseen_ends_as_before(
    slip: BaseException, status: int, said: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Our own errors, a stop and what click ends commands with write no file."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    result = failing(monkeypatch, slip)
    assert (result.exit_code, result.stderr) == (status, said)
    assert list(tmp_path.iterdir()) == []


def test_a_maintainer_can_have_it_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    """--traceback lets it through."""
    slip = ValueError("odd")
    assert failing(monkeypatch, slip, "--traceback").exception is slip


def test_a_process_ends_so(tmp_path: Path) -> None:
    """As somebody runs it: nothing but the sentence on stderr, and the details in the temporary folder."""
    run = """
import sys, tempfile
from workbook_tools import cli
tempfile.tempdir = sys.argv.pop(1)
cli._open = lambda *_: {}["missing"]
cli.main()
"""
    command = [sys.executable, "-c", run, str(tmp_path), "check", "somewhere"]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (ended.returncode, ended.stdout) == (2, "")
    (details,) = tmp_path.iterdir()
    assert ended.stderr.strip() == WORDS("messages.unforeseen", what="KeyError: 'missing'", path=details)
