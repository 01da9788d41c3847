"""Returns dealt into batches of stores, each settled as soon as no more of its returns seem to come.

Returns mostly lie in the order of their stores; while the last ones are read, all others can be settled.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from workbook_tools.program.model import Program
from workbook_tools.returns.answers import Answers, Source
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.pieces import Pieces
from workbook_tools.returns.repair import Repairs
from workbook_tools.returns.settle import TABLES, settle

STORES_A_BATCH = 1_000
"""Enough that what a batch costs beside its rows does not count, few enough that its tables are small."""
QUIET = 100
"""A batch of which half the stores came, and nothing among so many returns since, is settled."""


@dataclass
class _Batch:
    """Some stores with all their returns so far; `seen` is how many returns had come, of all, with the last of these.
    `tables` hold something once it is settled; one that was settled too early waits for the end.
    """

    sources: list[Source] = field(default_factory=list)
    seen: int = 0
    was_early: bool = False
    tables: dict[str, Pieces] = field(default_factory=dict)
    visits: list[Answers] = field(default_factory=list)


class Batches:
    """All returns that have a place in a program, by the stores of its newest revision, in their order.

    `programs` are the revisions as issued, `results` what is said of each file by its number; settling changes those.
    `renew` puts the result of a file back as it was before. Unless `early`, nothing is settled before the end.
    """

    def __init__(
        self,
        programs: Mapping[int, Program],
        results: list[FileResult],
        renew: Callable[[int], object],
        *,
        early: bool = True,
    ) -> None:
        self._repairs = {number: Repairs(program) for number, program in programs.items()}
        self._results, self._renew = results, renew
        stores = (store.store for store in programs[max(programs)].stores)
        self._places = {store: number for number, store in enumerate(stores)}
        self._batches = {0: _Batch()}
        self._early = early
        self._seen = 0

    def add(self, source: Source) -> None:
        """Take a return in; stores that are not of the newest revision come after all others, in the order met."""
        place = self._places.setdefault(source.store, len(self._places))
        batch = self._batches.setdefault(place // STORES_A_BATCH, _Batch())
        if batch.tables:
            self._undo(batch)
        self._seen += 1
        batch.sources.append(source)
        batch.seen = self._seen
        if self._early and self._seen % QUIET == 0:
            for one in filter(self._seems_whole, self._batches.values()):
                self._settle(one)

    def settled(self) -> Iterator[tuple[dict[str, Pieces], list[Answers]]]:
        """Every batch in the order of its stores: its tables, each in one piece, and its visits alone as answers.

        At least one batch, which may be empty.
        """
        for _, batch in sorted(self._batches.items()):
            if not batch.tables:
                self._settle(batch)
            yield batch.tables, batch.visits

    def _seems_whole(self, batch: _Batch) -> bool:
        is_quiet = self._seen - batch.seen >= QUIET and 2 * len(batch.sources) >= STORES_A_BATCH
        return is_quiet and not batch.tables and not batch.was_early

    def _settle(self, batch: _Batch) -> None:
        batch.sources.sort(key=lambda source: self._places[source.store])
        answers, frames = settle(batch.sources, self._repairs, self._results)
        batch.tables = {key: Pieces([frames[key]]) for key in TABLES}
        batch.visits = [one.visits_only() for one in answers]

    def _undo(self, batch: _Batch) -> None:
        """Forget that a batch was settled: another return of its stores has come."""
        batch.tables, batch.visits, batch.was_early = {}, [], True
        for source in batch.sources:
            self._renew(source.number)
