"""Books that are each written for themselves are the same wherever they are built."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from tests.field_book.programs import made_program
from workbook_tools.errors import BuildError
from workbook_tools.field_book import own_books
from workbook_tools.field_book.build import stamp_values
from workbook_tools.field_book.own_books import OwnBook, built
from workbook_tools.field_book.particulars import Particulars
from workbook_tools.program.asked import Asked, Told
from workbook_tools.program.model import Program

PROGRAM = made_program()


def asking(program: Program, count: int) -> list[OwnBook]:
    """Books of a second visit, each of which asks about another tray; every third one goes back with an answer."""
    made = []
    for number in range(count):
        tray = program.walk[number % len(program.walk)].key
        given = {("positions", tray, "as_planned"): "yes"} if number % 3 == 0 else {}
        asked = Asked((Told("positions", tray), Told("visit", "visit_date")))
        particulars = Particulars(visit=2, asked=asked, given=given, correction=bool(given))
        values = stamp_values(program.stores[0], program, token=f"{number:032x}", revision=1, visit=2)
        made.append(OwnBook(1, "en", False, particulars, values))
    return made


def built_with(processors: int, books: Sequence[OwnBook], patch: pytest.MonkeyPatch) -> list[bytes]:
    """The books as a machine with so many processors builds them."""
    patch.setattr(own_books.os, "cpu_count", lambda: processors)
    return list(built(books, {1: (PROGRAM, {})}))


def test_books_are_the_same_from_other_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Byte for byte, in the order in which they were asked for."""
    books = asking(PROGRAM, own_books.ENOUGH + 3)
    apart = built_with(2, books, monkeypatch)
    assert apart == built_with(1, books, monkeypatch)
    assert len(set(apart)) == len(books)


def test_few_books_start_no_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Starting them would take longer."""
    monkeypatch.setattr(own_books, "ProcessPoolExecutor", None)
    assert len(built_with(8, asking(PROGRAM, own_books.ENOUGH - 1), monkeypatch)) == own_books.ENOUGH - 1


def test_a_book_that_cannot_be_written_ends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """What it fails with comes from the other process as it would from this one."""
    books = asking(PROGRAM, own_books.ENOUGH)
    incomplete = OwnBook(1, "en", False, books[-1].particulars, {})
    for processors in (1, 2):
        with pytest.raises(BuildError):
            built_with(processors, [*books[:-1], incomplete], monkeypatch)
