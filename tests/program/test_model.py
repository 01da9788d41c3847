"""What a program tells of its people and stores beyond the rows of the setup."""

from __future__ import annotations

from tests.rollup.invented import Told, facts_of
from workbook_tools.program.model import Merchandiser


def test_everyone_has_a_name_to_print() -> None:
    """The full name where it is known; the short one of somebody whom the setup lacks."""
    program = facts_of([Told()]).program
    assert program.person("Kim").full_name == "Kim Full"
    assert program.person("Robin") == Merchandiser(merchandiser="Robin")
    assert program.person("Robin").full_name == "Robin"
