"""Books of later visits: for each store the one that asks for what is open, as visit 2, 3, …"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workbook_tools.contract.words import Words
from workbook_tools.field_book.issue import Desk, Issued, Job, Order, program_to_issue
from workbook_tools.field_book.particulars import Particulars
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.asked import Asked
from workbook_tools.program.register import Register


@dataclass(frozen=True)
class Revisit:
    """A store that needs another visit: what its book asks for, and the last visit of which a return stands."""

    store: str
    asked: Asked
    last_visit: int


def issue_revisits(folder: ProgramFolder, revisits: Sequence[Revisit], order: Order, words: Words) -> Issued:
    """Issue a book for the next visit of each of some stores; stores that are not in the setup any more are left out.

    A book that is still out is no visit yet: it is issued again, and anew only if something else is open now.
    Raises as `issue` does.
    """
    program = program_to_issue(folder, words)
    desk = Desk(folder, program, order, words)
    jobs = [
        Job(program.store[one.store], Particulars(visit=next_visit(desk.register, one), asked=one.asked))
        for one in revisits
        if one.store in program.store
    ]
    return desk.issue(jobs)


def next_visit(register: Register, one: Revisit) -> int:
    """The visit after the last one that came back; the one whose book is still out, if there is one."""
    return max(register.last_visit(one.store), one.last_visit + 1)
