"""Books of later visits and books that go back, each written for itself alone: built on several processors."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import TypeAlias

from workbook_tools.field_book.build import build
from workbook_tools.field_book.particulars import Particulars
from workbook_tools.field_book.recalculate import recalculated
from workbook_tools.program.model import Program
from workbook_tools.program.pictures import Picture

ENOUGH = 16
"""Books for which it pays to start processes: one takes a third of a second, a process one second to start."""
MOST_WORKERS = 4
"""Each takes 85 MB."""
_AT_A_TIME = 4

Sources: TypeAlias = Mapping[int, tuple[Program, Mapping[str, Picture]]]
"""The programs as issued and their pictures, by revision."""
_sources: dict[int, tuple[Program, Mapping[str, Picture]]] = {}
"""In a worker: the same."""


@dataclass(frozen=True, slots=True)
class OwnBook:
    """One book to build: the revision it is of, its language, what makes it differ, and what is stamped into it."""

    revision: int
    language: str
    shared: bool
    particulars: Particulars
    values: Mapping[str, str]


def built(books: Sequence[OwnBook], sources: Sources) -> Iterator[bytes]:
    """The bytes of each book, in order. Raises BuildError when one cannot be written as described."""
    workers = min(os.cpu_count() or 1, MOST_WORKERS)
    if workers < 2 or len(books) < ENOUGH:
        yield from (_build(one, sources) for one in books)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, _begin, (dict(sources),)) as pool:
        yield from pool.map(_build_here, books, chunksize=_AT_A_TIME)


def _build(book: OwnBook, sources: Sources) -> bytes:
    program, pictures = sources[book.revision]
    stamp = build(program, book.language, pictures, shared=book.shared, particulars=book.particulars)
    data = stamp.render(book.values)
    return recalculated(data) if book.particulars.correction else data


def _begin(sources: Sources) -> None:
    """What a worker does first. Ctrl-C is for the process that started it, which then ends it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _sources.update(sources)


def _build_here(book: OwnBook) -> bytes:
    return _build(book, _sources)
