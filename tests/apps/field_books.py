"""The demo program's book, made once for the tests that look at it in real programs."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

from workbook_tools.contract.words import words_for
from workbook_tools.demo.pictures import draw_pictures
from workbook_tools.demo.scenario import scenario
from workbook_tools.field_book.build import build, stamp_values
from workbook_tools.field_book.issue import prepare_pictures
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import read_setup
from workbook_tools.program.model import Program
from workbook_tools.program.pictures import Picture
from workbook_tools.program.setup_book import setup_workbook

WORDS = words_for("en")


@cache
def demo_program() -> tuple[Program, dict[str, Picture]]:
    """The demo program and its pictures, ready for the sheets."""
    with tempfile.TemporaryDirectory() as place:
        folder, story = ProgramFolder(Path(place)), scenario(1)
        draw_pictures(story, folder.images)
        folder.setup.write_bytes(setup_workbook(WORDS, story.blocks))
        program = read_setup(folder, WORDS).program
        assert program is not None
        return program, prepare_pictures(folder, program)


@cache
def demo_book(units: str = "in, lb") -> bytes:
    """The book of the demo program's first store; its units decide the paper, Letter or A4."""
    program, pictures = demo_program()
    program = replace(program, settings=replace(program.settings, units=units))
    values = stamp_values(program.stores[0], program, token="0" * 32, revision=1, visit=1)
    return build(program, "en", pictures).render(values)
