"""Returns are settled while others are read, and nothing shows when: a late one makes its batch be settled anew."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from types import SimpleNamespace

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.returns.scene import SAVED, Scene
from tests.returns.test_kept import said_by
from tests.small_program import CONTENT, WORDS
from workbook_tools.returns import batches, intake
from workbook_tools.returns.answers import Source
from workbook_tools.returns.batches import Batches
from workbook_tools.returns.intake import Intake, take_in
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.read import ReadReturn
from workbook_tools.returns.settle import TABLES
from workbook_tools.returns.workers import Chunk, Reading, Said, read_chunk

STORES = ("001", "002", "003")
KINDS = ("good", "again", "later", "blank", "to correct", "text")


class Settled:
    """Batches over returns of which only the store is told, with a note of all that is done to them."""

    def __init__(self, stores: Sequence[str], known: Sequence[str]) -> None:
        self.done: list[tuple[str, list[int]]] = []
        sources = [Source(number, f"{number}.xlsx", store, 1, 1, ReadReturn("")) for number, store in enumerate(stores)]
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(batches, "settle", self._settle)
            program = SimpleNamespace(stores=[SimpleNamespace(store=one) for one in known], items=(), store=())
            dealt = Batches({1: program}, [], lambda number: self.done.append(("renewed", [number])))  # type: ignore[dict-item]
            for source in sources:
                dealt.add(source)
            self.early = len(self.done)
            frames = [tables["visit"].whole["number"].to_list() for tables, _ in dealt.settled()]
        self.batches = [[sources[number] for number in numbers] for numbers in frames]

    def _settle(self, found: Sequence[Source], *_: object) -> tuple[list[object], dict[str, pl.DataFrame]]:
        numbers = [source.number for source in found]
        self.done.append(("settled", numbers))
        return [], dict.fromkeys(TABLES, pl.DataFrame({"number": numbers}, schema={"number": pl.Int64}))


@contextmanager
def dealt(stores_a_batch: int, quiet: int) -> Iterator[None]:
    """Batches of so many stores, settled when nothing came to them among so many returns."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(batches, "STORES_A_BATCH", stores_a_batch)
        patch.setattr(batches, "QUIET", quiet)
        yield


@given(st.lists(st.integers(0, 9).map(str), max_size=40), st.integers(1, 4), st.integers(1, 50))
def test_a_store_is_in_one_batch_with_all_its_returns(stores: list[str], size: int, quiet: int) -> None:
    """Every return once, its store's others beside it in their order; known stores first, in the setup's order."""
    known = ["7", "3", "1"]
    with dealt(size, quiet):
        found = Settled(stores, known).batches
    in_order = [source for batch in found for source in batch]
    assert sorted(source.number for source in in_order) == list(range(len(stores)))
    homes = [{source.store for source in batch} for batch in found]
    assert sum(map(len, homes)) == len(set().union(*homes))
    for store in set(stores):
        numbers = [source.number for source in in_order if source.store == store]
        assert numbers == sorted(numbers)
    met = list(dict.fromkeys(source.store for source in in_order))
    assert met == [
        *(one for one in known if one in stores),
        *(one for one in dict.fromkeys(stores) if one not in known),
    ]
    assert all(len(home) <= size for home in homes)


@given(st.lists(st.integers(0, 5).map(str), max_size=30), st.integers(1, 3), st.integers(1, 10))
def test_a_return_is_renewed_before_it_is_settled_again(stores: list[str], size: int, quiet: int) -> None:
    """Each is settled twice at most, and what was said of it the first time is taken back in between."""
    with dealt(size, quiet):
        done = Settled(stores, list("012345")).done
    for number in range(len(stores)):
        happened = [what for what, numbers in done if number in numbers]
        assert happened in (["settled"], ["settled", "renewed", "settled"])


def test_returns_in_the_order_of_their_stores_are_settled_as_they_come() -> None:
    """Batch by batch, once the next one has begun; only the last ones wait for the end."""
    stores = [f"{number // 2:03}" for number in range(200)]
    with dealt(10, 5):
        settled = Settled(stores, sorted(set(stores)))
    assert [what for what, _ in settled.done] == ["settled"] * 10
    assert settled.early == 9


def test_few_returns_of_a_batch_wait_for_the_others() -> None:
    """While less than half the stores came, more are on their way."""
    stores = [f"{number:03}" for number in range(0, 100, 3)]
    with dealt(10, 1):
        assert Settled(stores, [f"{number:03}" for number in range(100)]).early == 0


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    """The small program with a return of each kind for each store; one was issued before a change."""
    scene = Scene(tmp_path_factory.mktemp("batches"))
    first = dict(scene.books)
    scene.issue({**CONTENT, "steps": [{"step": 1, "do": "Unfold the base slowly."}]})
    for number, store in enumerate(STORES):
        day = {"visit_date": dt.date(2026, 3, 3 + number), "merchandiser": "Somebody Else" if number == 1 else None}
        later = {**day, "time_out": dt.time(11, number)}
        made = {
            "good": scene.filled(store, day),
            "again": scene.filled(store, day, saved=SAVED + dt.timedelta(hours=3)),
            "later": scene.filled(store, {**later, "merchandiser": "Nobody"}, saved=SAVED + dt.timedelta(hours=4)),
            "blank": first[store],
            "to correct": scene.filled(store, {**day, "time_out": dt.time(8, number), "built": None}),
            "text": f"Store {store} is closed.\n".encode(),
        }
        for kind, data in made.items():
            (scene.folder.root / f"{kind}-{store}.xlsx").write_bytes(data)
    return scene


@contextmanager
def in_this_process(chunks: Iterable[Chunk], known: Collection[str]) -> Iterator[Iterator[Sequence[Said]]]:
    """Read without workers."""
    yield (read_chunk(chunk, known) for chunk in chunks)


def taken_in(scene: Scene, names: Sequence[tuple[str, str]]) -> Intake:
    """Take files in, in this order."""
    paths = [scene.folder.root / f"{kind}-{store}.xlsx" for kind, store in names]
    return take_in(scene.folder, paths, WORDS, Reading(in_this_process, keep=True))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.sampled_from(KINDS), st.sampled_from(STORES)), unique=True, max_size=14))
def test_nothing_shows_when_a_return_was_settled(scene: Scene, names: list[tuple[str, str]]) -> None:
    """Outcomes, findings and tables are those of settling everything at the end, whatever comes after what."""
    with pytest.MonkeyPatch.context() as patch, dealt(1, 1):
        patch.setattr(intake, "FEW_WORKERS", 0)
        expected = taken_in(scene, names)
    with pytest.MonkeyPatch.context() as patch, dealt(1, 1):
        patch.setattr(intake, "FEW_WORKERS", 100)
        found = taken_in(scene, names)
    assert said_by(found) == said_by(expected)
    assert list(found.findings) == list(expected.findings)
    assert all(isinstance(one, FileResult) and one.outcome for one in found.results)
