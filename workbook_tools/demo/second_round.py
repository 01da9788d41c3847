"""The demo to the end: what was sent back is corrected, what is open is put right, the stores not back report."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.demo.merchandisers import Visit
from workbook_tools.field_book.corrections import Correction, Sender
from workbook_tools.field_book.issue import Order
from workbook_tools.field_book.particulars import Cell, Slip
from workbook_tools.field_book.revisit import issue_revisits
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.asked import PARTS, POSITIONS, VISIT, Asked
from workbook_tools.program.model import Program
from workbook_tools.program.register import read_register
from workbook_tools.returns.intake import take_in
from workbook_tools.rollup.merge import merge
from workbook_tools.rollup.notes import Kept
from workbook_tools.rollup.revisits import plan_revisits
from workbook_tools.rollup.send_back import corrections
from workbook_tools.rollup.write import write_rollup

AS_OF = dt.date(2026, 11, 28)
"""The day on which the office looks again, the last but one of the window."""
_SECOND_ISSUED = dt.datetime(2026, 11, 25, 18, tzinfo=dt.UTC)
_FIRST_DAY = dt.date(2026, 11, 26)
_FIRST_HOUR, _A_DAY = 8, 5
"""Visits begin at 8 and every two hours, five a day."""

Send = Callable[[Visit, bytes, str], None]
"""Fills in a book in a language and puts it into returns/."""


@dataclass
class Diary:
    """Gives every merchandiser one visit after the other."""

    taken: Counter[str] = field(default_factory=Counter)

    def next(self, merchandiser: str) -> dt.datetime:
        """When the next visit of somebody begins."""
        number = self.taken[merchandiser]
        self.taken[merchandiser] += 1
        day = _FIRST_DAY + dt.timedelta(days=number // _A_DAY)
        return dt.datetime.combine(day, dt.time(_FIRST_HOUR + 2 * (number % _A_DAY)))


def second_round(
    folder: ProgramFolder, program: Program, make_token: Callable[[], str], send: Send, words: Words
) -> Iterator[str]:
    """Bring every store to the end, through the same commands that the office uses, and say what was written."""
    intake = take_in(folder, [folder.returns], words)
    back = corrections(folder, intake, [folder.returns])
    Sender(folder, intake.programs, words).send_back(back)
    for one in back:
        _send_corrected(folder, one, program, send, words)
    yield words("messages.corrections", count=len(back), folder=folder.corrections)

    facts = merge(take_in(folder, [folder.returns], words), AS_OF)
    plan = plan_revisits(facts, Kept())
    issued = issue_revisits(folder, plan.revisits, Order(now=_SECOND_ISSUED, make_token=make_token), words)
    yield words("messages.revisits", count=len(issued.books), folder=folder.issued)
    diary = Diary()
    for book, revisit in zip(issued.books, plan.revisits, strict=True):
        visit = _visit(program, book.store, diary.next(book.merchandiser), revisit.asked)
        visit.file = f"{book.store} visit {book.visit}.xlsx"
        send(visit, (folder.root / book.file).read_bytes(), _language(program, book.store))
    register = read_register(folder.register, words)
    for store in facts.status.filter(state="not back")["store"]:
        first = register.find(store, 1, issued.revision)
        assert first is not None
        visit = _visit(program, store, diary.next(first.merchandiser), None)
        send(visit, (folder.root / first.file).read_bytes(), _language(program, store))
    yield from write_rollup(folder, take_in(folder, [folder.returns], words), AS_OF).lines(words)


def _language(program: Program, store: str) -> str:
    return program.language_of(program.store[store])


def _visit(program: Program, store: str, came: dt.datetime, asked: Asked | None) -> Visit:
    """A visit after which all stands as planned, answering what its book asks for."""
    left = came + dt.timedelta(minutes=30 if asked else 90)
    visit = Visit(store, f"{store} late.xlsx", left + dt.timedelta(minutes=5))
    told: dict[str, object] = {
        "visit_date": came.date(),
        "time_in": came.time(),
        "time_out": left.time(),
        "place": program.settings.place,
        "carton": "found",
        "built": "yes",
        "tags_asked": "no",
        "photo": "yes",
    }
    for key, value in told.items():
        if asked is None or key in asked.keys(VISIT):
            visit.say(key, value)
    for position in program.walk:
        if asked is None or position.key in asked.keys(POSITIONS):
            visit.tell(position.key, as_planned="yes")
    for part in asked.keys(PARTS) if asked else ():
        visit.answers[PARTS, part, "missing"] = visit.answers[PARTS, part, "damaged"] = 0
    return visit


def _send_corrected(folder: ProgramFolder, one: Correction, program: Program, send: Send, words: Words) -> None:
    """What the sender makes of a return that came back, the same evening."""
    saved = _SECOND_ISSUED.replace(tzinfo=None) + dt.timedelta(hours=2)
    visit = Visit(one.store, f"{one.store} corrected.xlsx", saved)
    for slip in one.particulars.slips:
        if slip.finding.rule == "blank_return":
            came = dt.datetime.combine(program.settings.starts, dt.time(9))
            visit.answers |= _visit(program, one.store, came, None).answers
        else:
            visit.answers |= _put_right(slip, one.particulars.given, program)
    send(visit, Sender(folder, {one.book.revision: program}, words).path(one).read_bytes(), one.language)


def _put_right(slip: Slip, given: Mapping[Cell, object], program: Program) -> dict[Cell, object]:
    """The answers that put one thing right, as somebody would who was there."""
    named = slip.cells[0]
    if slip.finding.rule == "out_before_in":
        time_in, time_out = (VISIT, "time_in", "time_in"), (VISIT, "time_out", "time_out")
        return {time_in: given[time_out], time_out: given[time_in]}
    if slip.finding.rule == "other_item_missing":
        planned = next(program.item_at(position) for position in program.walk if position.key == named[1])
        other = next(item for item in program.items if item.brand == planned.brand and item.item != planned.item)
        return {named: other.item_code}
    assert default_contract().field_book.block(named[0]).by_key[named[2]].open
    return {named: None}
