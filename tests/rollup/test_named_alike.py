"""A part that is called like a position is not taken for it."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import polars as pl

from tests.returns.scene import SAVED, Scene
from tests.rollup.invented import Told, facts_of
from tests.small_program import ALL_AS_PLANNED, CONTENT, GOOD_VISIT, answers_of, differs
from workbook_tools.demo.fill import fill
from workbook_tools.program.asked import PARTS, POSITIONS
from workbook_tools.rollup.merge import Facts, merge
from workbook_tools.rollup.notes import Kept
from workbook_tools.rollup.often import often_wrong
from workbook_tools.rollup.revisits import Plan, plan_revisits

TRAY = "A-1-2"
"""A tray that is right in store 002, which lacks a part."""


def with_part_called(name: str, facts: Facts) -> Facts:
    """The same facts, the part of which some are missing having another name."""
    missing = set(facts.flags.filter(kind="part_missing")["position"])
    parts = tuple(dataclasses.replace(one, part=name) if one.part in missing else one for one in facts.program.parts)
    called = pl.when(kind="part_missing").then(pl.lit(name)).otherwise("position").alias("position")
    program = dataclasses.replace(facts.program, parts=parts)
    return dataclasses.replace(facts, program=program, flags=facts.flags.with_columns(called))


def asked(plan: Plan, block: str) -> tuple[str, ...]:
    """What the book of store 002 asks for."""
    (found,) = (one for one in plan.revisits if one.store == "002")
    return found.asked.keys(block)


def test_the_next_book_does_not_ask_for_the_tray(facts: Facts) -> None:
    """Only the part is asked for, under its name."""
    plain, alike = (plan_revisits(one, Kept()) for one in (facts, with_part_called(TRAY, facts)))
    assert asked(alike, PARTS) == (TRAY,)
    assert TRAY not in asked(plain, POSITIONS)
    assert asked(alike, POSITIONS) == asked(plain, POSITIONS)


def test_the_tray_is_not_known_because_the_part_is_missing(tmp_path: Path) -> None:
    """A tray whose answers cannot be read is neither right nor wrong, so its store waits for a correction, whatever
    came of it later.
    """
    parts = [{"part": name, "name": name, "quantity": 1} for name in ("A-1-1", "P2")]
    scene = Scene(tmp_path, {**CONTENT, "parts": parts})
    told = answers_of(
        GOOD_VISIT,
        {**ALL_AS_PLANNED, "A-1-1": differs(label="???", tag="on tray", product="set")},
        [("A-1-1", "missing", 1)],
    )
    scene.put(first=fill(scene.books["001"], told, SAVED))
    taken = scene.take_in()
    later = dataclasses.replace(taken.results[0], number=1, visit=2, outcome="merged")
    facts = merge(dataclasses.replace(taken, results=(*taken.results, later)), dt.date(2026, 3, 4))
    assert set(facts.flags.select("position", "kind").iter_rows()) == {("A-1-1", "part_missing")}
    assert dict(facts.status.select("store", "state").iter_rows())["001"] == "to correct"


def test_the_tray_does_not_count_as_wrong() -> None:
    """A part that is missing in half of the stores says nothing of the tray."""
    facts = facts_of([Told(asked=["A-1-1"] if number % 2 else []) for number in range(60)])
    missing = facts.flags.with_columns(kind=pl.lit("part_missing"))
    assert "A-1-1" in {one.name for one in often_wrong(facts)}
    assert often_wrong(dataclasses.replace(facts, flags=missing)) == []
