"""Files in = the sum of the outcomes, whatever comes together in one night."""

from __future__ import annotations

import datetime as dt
from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.returns.scene import SAVED, Scene, changed
from tests.small_program import WORDS
from workbook_tools.returns.intake import count_outcomes
from workbook_tools.returns.settle import STANDING

STORES = ("001", "002", "003")
KINDS = ("good", "again", "later", "blank", "to correct", "cut", "text", "foreign", "unknown token", "nothing")
AWAY = frozenset(("cut", "text", "foreign", "unknown token", "nothing"))
"""What is no return of this program."""


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    """The small program, issued."""
    return Scene(tmp_path_factory.mktemp("outcomes"))


class Files(dict[tuple[str, str], bytes]):
    """Files by kind and store, shown by that alone."""

    def __repr__(self) -> str:
        return f"{len(self)} files"


@pytest.fixture(scope="module")
def made(scene: Scene) -> Files:
    """One file of each kind for each store."""
    files = Files()
    for number, store in enumerate(STORES):
        day = {"visit_date": dt.date(2026, 3, 3 + number)}
        good = scene.filled(store, day)
        token = next(one.token for one in scene.take_in().register.books if one.store == store)
        files |= {
            ("good", store): good,
            ("again", store): scene.filled(store, day, saved=SAVED + dt.timedelta(hours=3)),
            ("later", store): scene.filled(store, {**day, "time_out": dt.time(11, number)}),
            ("blank", store): scene.books[store],
            ("to correct", store): scene.filled(store, {**day, "time_out": dt.time(8, number), "built": None}),
            ("cut", store): good[: len(good) // (number + 2)],
            ("text", store): f"Store {store} is closed.\n".encode(),
            ("foreign", store): renamed(good, "SMALL", "OTHER"),
            ("unknown token", store): renamed(good, token, f"{number:032x}"),
            ("nothing", store): b"",
        }
    return files


def renamed(data: bytes, old: str, new: str) -> bytes:
    """A book with a word replaced wherever it stands."""
    return changed(data, lambda name, part: part.replace(old.encode(), new.encode()))


def kinds_of(store: str, mix: list[tuple[str, str]]) -> set[str]:
    """The different answers that came from a store; the same ones saved again are no others."""
    return {"good" if kind == "again" else kind for kind, of in mix if of == store and kind not in AWAY}


@given(mix=st.lists(st.tuples(st.sampled_from(KINDS), st.sampled_from(STORES)), max_size=10))
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_every_file_of_any_mix_has_exactly_one_outcome(scene: Scene, made: Files, mix: list[tuple[str, str]]) -> None:
    """Each file once, each visit at most one that stands, nothing foreign taken in and nothing of ours left out."""
    scene.clear()
    for number, one in enumerate(mix):
        scene.put(**{f"{number:02d}": made[one]})
    results = scene.take_in().results
    counted = count_outcomes(results)
    assert sorted(one.file for one in results) == [f"returns/{number:02d}.xlsx" for number in range(len(mix))]
    assert sum(counted.values()) == len(mix)
    assert counted["set aside"] == sum(kind in AWAY for kind, _ in mix)
    told = {store: kinds_of(store, mix) for store in STORES}
    standing = Counter(one.store for one in results if one.outcome in STANDING)
    assert standing == Counter({store: 1 for store in STORES if told[store]})
    ours = [(kind, store) for kind, store in mix if kind not in AWAY]
    assert counted["duplicate"] == len(ours) - sum(map(len, told.values()))
    assert counted["superseded"] == sum(max(0, len(kinds) - 1) for kinds in told.values())
    assert all(one.row(WORDS)["reason"] for one in results if one.outcome != "merged")


def test_answers_that_cannot_be_read_are_answers_too(scene: Scene) -> None:
    """Two returns that differ in nothing else are no duplicates, or the sender were shown what they changed already."""
    scene.clear()
    scene.put(a=scene.filled(visit={"time_in": "noonish"}), b=scene.filled(visit={"time_in": "after lunch"}))
    outcomes = sorted(one.outcome for one in scene.take_in().results)
    assert outcomes == ["superseded", "to correct"]
