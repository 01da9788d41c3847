"""The README cannot lie: every command in it is run."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.small_program import ALL_AS_PLANNED, CONTENT, GOOD_VISIT, WORDS, fill_in
from workbook_tools.cli import main
from workbook_tools.program.setup_book import setup_workbook

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = dict(re.findall(r"<!-- ([^>]*) -->\n```\n(.*?)\n```", README, re.DOTALL))


def typed(command: str) -> list[str]:
    """The arguments of a workbook-tools command as the README shows it."""
    program, *arguments = shlex.split(command)
    assert Path(program).name == "workbook-tools"
    return arguments


def test_every_command_block_has_a_name() -> None:
    """No block of commands can hide from these tests."""
    assert README.count("```") == 2 * len(BLOCKS)


def test_the_way_through_works_as_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """new, check, issue, validate, merge, in the order in which the README names them; the office fills in between."""
    monkeypatch.chdir(tmp_path)
    steps = {name.partition(": ")[2]: block for name, block in BLOCKS.items() if name.startswith("way through")}
    assert list(steps) == ["new", "check", "issue", "validate", "merge"]
    for name, command in steps.items():
        result = CliRunner().invoke(main, typed(command))
        assert result.exit_code == 0, (name, result.output)
        if name == "new":
            Path("spring-tower/program.xlsx").write_bytes(setup_workbook(WORDS, CONTENT))
        if name == "issue":
            book = next(Path("spring-tower/issued").glob("*.xlsx"))
            fill_in(book, Path("spring-tower/returns/one.xlsx"), GOOD_VISIT, ALL_AS_PLANNED)
    assert Path("spring-tower/rollup/rollup.xlsx").is_file()


def test_the_demo_command_does_the_whole_job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its last part is run here; the set-up before it, by the continuous integration, word for word."""
    monkeypatch.chdir(tmp_path)
    *setup, demo = BLOCKS["demo command"].split(" && ")
    assert setup == ["python3 -m venv .venv", ".venv/bin/python -m pip install --quiet ."]
    result = CliRunner().invoke(main, typed(demo))
    assert result.exit_code == 0
    assert (tmp_path / "demo" / "rollup" / "rollup.xlsx").is_file()


def test_the_test_command_installs_what_the_tests_need() -> None:
    """The extra it names exists, and it ends with the runner of these tests."""
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    command = BLOCKS["test command"]
    assert re.search(r"'\.\[(\w+)\]'", command)[1] in extras
    assert command.endswith("python -m pytest")


def test_the_commands_named_in_a_sentence_exist() -> None:
    """Inline commands are real commands."""
    for command in re.findall(r"`workbook-tools ([^`]*)`", README):
        result = CliRunner().invoke(main, command.split())
        assert result.exit_code == 0


@pytest.mark.parametrize("link", re.findall(r"\]\((?!http)([^)]*)\)", README))
def test_everything_it_points_at_is_there(link: str) -> None:
    """Pictures and folders."""
    assert (ROOT / link).exists()
