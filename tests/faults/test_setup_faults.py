"""A damaged or hostile program.xlsx ends in a sentence that says what to do: no traceback, no hang, bounded memory."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.faults.hostile import HOSTILE
from tests.returns.scene import changed
from tests.small_program import CONTENT, WORDS
from workbook_tools.cli import main
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import Setup, check_setup
from workbook_tools.program.setup_book import LAST_ROW, setup_workbook
from workbook_tools.program.setup_file import UNREADABLE

SETUP = setup_workbook(WORDS, CONTENT)
STORES = b"Hill Street"


def checked(data: bytes) -> Setup:
    """A setup checked; every finding is said once, so that no field of its words can be missing."""
    setup = check_setup(data, ProgramFolder(Path("nowhere")))
    for finding in setup.findings:
        said = f"{finding.problem(WORDS)} {finding.todo(WORDS)}"
        assert said.endswith(".")
        assert "{" not in said
    return setup


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_in_the_place_of_the_setup_is_a_finding(name: str) -> None:
    """Whatever aborts, hangs or misleads a reader of returns is refused here too, or is no setup."""
    setup = checked(HOSTILE[name][0]())
    assert setup.program is None
    assert {one.rule for one in setup.findings} <= {*UNREADABLE, "block_missing"}


def test_a_setup_cut_anywhere_is_a_finding() -> None:
    """Cut at each per cent of its length; the whole one is a program."""
    found = [checked(SETUP[: len(SETUP) * percent // 100]) for percent in range(100)]
    assert [one.findings[0].rule for one in found] == ["setup_refused"] * 100
    assert checked(SETUP).program is not None


def test_a_changed_byte_never_changes_a_setup() -> None:
    """At 100 places: it is refused, or says what it said."""
    rng, whole = random.Random(4), checked(SETUP)
    for place in rng.sample(range(len(SETUP)), 100):
        damaged = bytearray(SETUP)
        damaged[place] ^= rng.randrange(1, 256)
        setup = checked(bytes(damaged))
        assert setup.program in (None, whole.program), place


def in_sheet(old: bytes, new: bytes) -> bytes:
    """The setup with something put into each of its sheets."""
    return changed(SETUP, lambda name, part: part.replace(old, new, 1) if "worksheets/sheet" in name else part)


FAR = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
CELLS = b'<row r="30000">%s</row></sheetData>' % (b'<c r="A30000"/>' * 1_000_001)
GIANTS: dict[str, tuple[bytes, bytes, str]] = {
    "a cell in the last corner": (b"</sheetData>", FAR, "XFD1048576"),
    "a million blank cells on every sheet": (b"</sheetData>", CELLS, r"\d+ MB"),
    "the whole sheet merged": (
        b"</sheetData>",
        b'</sheetData><mergeCells count="1"><mergeCell ref="A1:XFD1048576"/></mergeCells>',
        "A1:XFD1048576",
    ),
}


@pytest.mark.parametrize("name", GIANTS)
def test_a_giant_grid_is_a_finding_that_says_where(name: str) -> None:
    """One cell far away makes a reader room for the whole rectangle: the address is told, and what to delete."""
    old, new, detail = GIANTS[name]
    (found,) = checked(in_sheet(old, new)).findings
    assert found.rule == "setup_too_large"
    assert re.search(rf"holds far more than a setup \({detail}\)\.", found.problem(WORDS))
    assert found.todo(WORDS).startswith("Delete the rows below and the columns to the right")


HARMLESS: dict[str, Callable[[], bytes]] = {
    "a title merged across the whole row": lambda: in_sheet(
        b"</sheetData>", b'</sheetData><mergeCells count="1"><mergeCell ref="A1:XFD1"/></mergeCells>'
    ),
    "blank rows down to the last one": lambda: in_sheet(b"</sheetData>", b'<row r="1048576" ht="12.8"/></sheetData>'),
    "a remark below all prepared rows": lambda: in_sheet(
        b"</sheetData>", b'<row r="30000"><c r="P30000"><v>1</v></c></row></sheetData>'
    ),
    "a link to another workbook": lambda: changed(
        SETUP,
        lambda name, part: (
            part.replace(
                b"</Relationships>",
                b'<Relationship Id="rX" Type="http://x/externalLink" Target="externalLinks/a.xml"/></Relationships>',
            )
            if name == "xl/_rels/workbook.xml.rels"
            else part
        ),
    ),
}


@pytest.mark.parametrize("name", HARMLESS)
def test_what_people_do_to_a_setup_is_let_through(name: str) -> None:
    """The office's own workbook may hold more than a field book may."""
    assert checked(HARMLESS[name]()).program == checked(SETUP).program


def test_a_setup_filled_to_its_last_prepared_row_is_read() -> None:
    """As many stores as the sheet has rows for."""
    stores = [{"store": str(number), "name": "Hill Street", "merchandiser": "Kim"} for number in range(5, LAST_ROW + 1)]
    program = checked(setup_workbook(WORDS, {**CONTENT, "stores": stores})).program
    assert program is not None
    assert len(program.stores) == LAST_ROW - 4


@pytest.mark.parametrize(
    "command", [["check"], ["check", "--mark", "--draw", "--orders"], ["issue"], ["check", "--json"]]
)
def test_every_command_that_reads_the_setup_ends_with_a_sentence(command: list[str], tmp_path: Path) -> None:
    """check says what is wrong and ends with 1, issue refuses with 2; nothing is written beside the setup."""
    (tmp_path / "program.xlsx").write_bytes(in_sheet(b"</sheetData>", FAR))
    found = CliRunner().invoke(main, [*command, str(tmp_path)])
    assert found.exit_code == (2 if command == ["issue"] else 1)
    assert "Traceback" not in found.output
    assert not list(tmp_path.glob("*-checked.xlsx"))
