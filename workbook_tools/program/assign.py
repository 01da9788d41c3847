"""assign.xlsx: a proposal to move stores between merchandisers so that all visits fit the hours.

It is for the office to accept: nothing here changes the setup.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workbook_tools.contract.words import Words
from workbook_tools.program.balance import Balance, balance
from workbook_tools.program.hours import Hours, Visit, Workload, decimal_hours, visit_minutes
from workbook_tools.program.model import Program
from workbook_tools.program.table_book import Column, TableBook

_NAME, _CODE, _COUNT = 220, 110, 100


@dataclass(frozen=True)
class Proposal:
    """A proposal and its workbook; `balance` is None when the minutes of a visit or everyone's hours are not told."""

    balance: Balance | None
    book: bytes = b""


def propose(program: Program, words: Words) -> Proposal:
    """Work out the fewest moves that make all visits fit, and write them down."""
    minutes, _ = visit_minutes(program.settings.visit_minutes, [step.minutes for step in program.steps])
    people = [Hours(one.merchandiser, one.hours) for one in program.merchandisers]
    if minutes is None or not any(person.hours is not None for person in people):
        return Proposal(None)
    found = balance(_visits(program, minutes), people)
    return Proposal(found, _Book(program, found, minutes, words).write())


def _visits(program: Program, minutes: float) -> list[Visit]:
    return [
        Visit(
            store=store.store,
            merchandiser=store.merchandiser,
            minutes=minutes,
            point=program.store_places.trusted(store.store),
            district=store.district,
        )
        for store in program.stores
    ]


class _Book:
    def __init__(self, program: Program, found: Balance, minutes: float, words: Words) -> None:
        self.program = program
        self.found = found
        self.minutes = minutes
        self.words = words
        self.book = TableBook(words("assign.title", program=program.settings.name), words)

    def write(self) -> bytes:
        """The moves, everyone before and after, and the whole store list as it would be."""
        self._moves()
        self._people()
        self._stores()
        return self.book.close()

    def _sheet(self, key: str, columns: Sequence[Column], rows: Sequence[Sequence[object]], about: str) -> None:
        name = self.words(f"assign.sheets.{key}")
        self.book.sheet(name, f"{self.program.settings.name} · {name}", about, columns, rows)

    def _column(self, key: str, width: int = _COUNT, *, is_summed: bool = False) -> Column:
        return Column(self.words(f"assign.columns.{key}"), width, is_summed)

    def _moves(self) -> None:
        stores = self.program.store
        rows = []
        for move in self.found.moves:
            store = stores[move.store]
            rows.append(
                (move.store, store.name, store.city, store.district, move.giver, move.taker, move.detour_minutes)
            )
        columns = [self._column("store", _CODE), self._column("name", _NAME), self._column("city", _CODE)]
        columns += [self._column("district", _CODE), self._column("giver", _NAME), self._column("taker", _NAME)]
        columns.append(self._column("detour"))
        fields = {"moves": len(rows), "short": f"{decimal_hours(self.found.short_minutes):g}"}
        about = [self.words(f"assign.verdict.{self.found.verdict}", **fields)]
        if not self.found.finished:
            about.append(self.words("assign.not_finished"))
        about.append(self.words("assign.about_moves"))
        self._sheet("moves", columns, rows, " ".join(about))

    def _people(self) -> None:
        rows = [
            (*_told(before), *_told(after)[1:])
            for before, after in zip(self.found.before, self.found.after, strict=True)
        ]
        keys = ("visits", "travel", "need", "have", "over")
        columns = [self._column("merchandiser", _NAME)]
        columns += [self._column(f"{key}_before") for key in keys] + [self._column(f"{key}_after") for key in keys]
        self._sheet("people", columns, rows, self.words("assign.about_people", minutes=f"{self.minutes:g}"))

    def _stores(self) -> None:
        takers = {move.store: move.taker for move in self.found.moves}
        rows = [(store.store, store.name, takers.get(store.store, store.merchandiser)) for store in self.program.stores]
        columns = [self._column("store", _CODE), self._column("name", _NAME), self._column("merchandiser", _NAME)]
        self._sheet("stores", columns, rows, self.words("assign.about_stores"))


def _told(load: Workload) -> tuple[object, ...]:
    """Name, visits, hours on the way, needed, there and over; blank where hours are not told."""
    have = None if load.have_minutes is None else decimal_hours(load.have_minutes)
    over = None if load.over_minutes is None else decimal_hours(load.over_minutes)
    hours = (decimal_hours(load.travel_minutes), decimal_hours(load.need_minutes))
    return (load.merchandiser, load.visits, *hours, have, over)
