"""Rates with their certainty, labour in exact minutes, history, and what is wrong more often than the rest."""

from __future__ import annotations

import dataclasses
import datetime as dt
from fractions import Fraction
from pathlib import Path

import polars as pl
import pytest

from tests.rollup.invented import BRAND, BRANDS, POSITIONS, Told, facts_of
from tests.small_program import WORDS
from workbook_tools.errors import FolderError
from workbook_tools.program.hours import decimal_hours
from workbook_tools.returns.pieces import Pieces
from workbook_tools.rollup.history import HistoryRow, before, history_bytes, read_history, with_today
from workbook_tools.rollup.labour import everyone, labour
from workbook_tools.rollup.merge import TOLD
from workbook_tools.rollup.often import BRAND as OF_BRAND
from workbook_tools.rollup.often import PERSON, POSITION, often_wrong
from workbook_tools.rollup.rates import RIGHT, STAND, by_brand, by_district, by_week, rates_of, store_facts
from workbook_tools.rollup.rightness import Rightness, rightness
from workbook_tools.rollup.statistics import wilson

DAY = dt.date(2026, 3, 3)


def test_rates_are_of_the_stores_that_are_back() -> None:
    """Of five stores four are back: three displays stand, two of them right; the range is for all five."""
    told = [Told(), Told(), Told(wrong={"A-1-1": "Quarnby"}), Told(built="no"), Told(None)]
    rates = {one.name: one for one in rates_of(store_facts(facts_of(told)))}
    assert (rates[STAND].hits, rates[STAND].trials, rates[STAND].population) == (3, 4, 5)
    assert (rates[RIGHT].hits, rates[RIGHT].share) == (2, 0.5)
    assert rates[RIGHT].interval == wilson(2, 4, population=5)
    low, high = rates[RIGHT].interval or (0, 0)
    assert 2 / 5 <= low < 0.5 < high <= 3 / 5


def test_a_display_that_is_built_in_part_does_not_stand_right() -> None:
    """Whatever is right on it: a part of it is missing."""
    rates = {one.name: one.hits for one in rates_of(store_facts(facts_of([Told(), Told(built="partly")])))}
    assert (rates[STAND], rates[RIGHT]) == (2, 1)


def test_when_all_are_back_the_number_is_exact() -> None:
    """Nothing is estimated once every store has reported."""
    rate = next(one for one in rates_of(store_facts(facts_of([Told(), Told(built="no")]))) if one.name == STAND)
    assert rate.interval == (0.5, 0.5)


def test_districts_add_up_to_the_whole() -> None:
    """Every store is counted in its district once."""
    told = [Told(district=name, wrong={"A-1-1": NO} if number % 3 else {}) for number, name in enumerate("NNSWNS")]
    stores = store_facts(facts_of(told))
    found = dict(by_district(stores))
    assert list(found) == ["N", "S", "W"]
    whole = rates_of(stores)
    for number, rate in enumerate(whole):
        assert sum(rates[number].hits for rates in found.values()) == rate.hits
        assert sum(rates[number].population for rates in found.values()) == rate.population


NO = "no label"


def test_weeks_begin_on_monday_and_displays_add_up() -> None:
    """Visits of Sunday 8 and Monday 9 March are in two weeks; the last week holds all displays that stand."""
    told = [Told(dt.date(2026, 3, day)) for day in (2, 8, 9)] + [Told(dt.date(2026, 3, 10), built="no"), Told(None)]
    weeks = list(by_week(store_facts(facts_of(told))))
    assert [(week.monday.day, week.visited, week.stand, week.stand_in_all) for week in weeks] == [
        (2, 2, 2, 2),
        (9, 2, 1, 3),
    ]


def test_brands_count_trays_and_the_stores_in_which_all_are_right() -> None:
    """Two stores, three trays a brand in each: one wrong Pellwood label leaves 5 of 6 trays and 1 of 2 stores."""
    found = {one.brand: one for one in by_brand(facts_of([Told(), Told(wrong={"A-1-1": "Quarnby"})]))}
    assert list(found) == list(BRANDS)
    assert (found["Pellwood"].right, found["Pellwood"].trays) == (5, 6)
    assert (found["Pellwood"].stores.hits, found["Pellwood"].stores.trials) == (1, 2)
    assert (found["Quarnby"].right, found["Quarnby"].stores.hits) == (6, 2)


def test_maps_count_only_what_was_reported() -> None:
    """A tray nobody told anything of is neither right nor wrong."""
    facts = facts_of([Told(), Told(wrong={"A-1-1": NO}), Told(), Told(built="no")])
    blank = Pieces(rows.with_columns(pl.lit(None, pl.String).alias(name) for name in TOLD) for rows in facts.positions)
    assert rightness(facts)["A-1-1"] == Rightness(2, 3)
    assert rightness(facts)["B-2-3"] == Rightness(3, 3)
    assert rightness(dataclasses.replace(facts, positions=blank)) == {}


def test_minutes_are_summed_before_they_become_hours() -> None:
    """Three visits of 20 minutes are 1.00 hour, not 0.99 (29 CFR 785.48 lets rounding average out; this does not need
    to).
    """
    (kim,) = labour(facts_of([Told(minutes=20), Told(minutes=20), Told(minutes=20)]))
    assert kim.total == Fraction(60)
    assert decimal_hours(kim.total) == 1.0


def test_visits_without_usable_times_are_counted_apart() -> None:
    """No time out, or one that is not later than the time in, adds no minutes and is not lost."""
    found = labour(facts_of([Told(minutes=45), Told(minutes=None), Told(minutes=0), Told(merchandiser="Lee")]))
    assert [(one.merchandiser, one.visits, one.untimed, int(one.total)) for one in found] == [
        ("Kim", 3, 2, 45),
        ("Lee", 1, 0, 60),
    ]
    assert (everyone(found).visits, everyone(found).total) == (4, 105)


def test_a_tray_that_is_wrong_in_many_stores_is_named_and_its_brand_only_if_all_of_it_is() -> None:
    """In 12 of 60 stores the label of one tray is wrong, and one other error a store elsewhere."""
    told = [
        Told(wrong={"A-1-1": NO} if number < 12 else {POSITIONS[number % 11 + 1].key: NO} if number % 4 == 0 else {})
        for number in range(60)
    ]
    found = often_wrong(facts_of(told))
    assert (POSITION, "A-1-1") in {(one.about, one.name) for one in found}
    assert {one.name for one in found if one.about == POSITION} == {"A-1-1"}
    first = next(one for one in found if one.about == POSITION).found
    assert (first.wrong, first.total) == (12, 60)


def test_nothing_is_named_when_errors_are_spread_evenly() -> None:
    """Each tray wrong in as many stores as any other: nobody is blamed."""
    told = [Told(wrong={POSITIONS[number % 12].key: NO}) for number in range(120)]
    assert often_wrong(facts_of(told)) == []


def test_one_store_alone_puts_no_brand_under_suspicion() -> None:
    """A store in which every Pellwood label is missing says something of that store, not of the kit."""
    pellwood = {key: NO for key, brand in BRAND.items() if brand == "Pellwood"}
    told = [Told(wrong=pellwood), *(Told() for _ in range(59))]
    assert [one for one in often_wrong(facts_of(told)) if one.about == OF_BRAND] == []


def test_a_person_whose_stores_are_wrong_more_often_is_worth_a_call() -> None:
    """Ten of Lee's twenty stores, four of the other eighty; nobody is named on small numbers."""
    told = [
        Told(merchandiser="Lee", wrong={POSITIONS[number % 12].key: NO} if number < 10 else {}) for number in range(20)
    ]
    told += [Told(wrong={POSITIONS[number % 12].key: NO} if number < 4 else {}) for number in range(80)]
    assert [
        (one.name, one.found.wrong, one.found.total) for one in often_wrong(facts_of(told)) if one.about == PERSON
    ] == [("Lee", 10, 20)]
    few = [
        Told(merchandiser="Lee", wrong={"A-1-1": NO}),
        Told(merchandiser="Lee", wrong={"A-1-1": NO}),
        *(Told() for _ in range(9)),
    ]
    assert often_wrong(facts_of(few)) == []


ROW = HistoryRow(DAY, {"stores": 3, "done": 1, "not_back": 2})


def test_history_reads_back_as_it_was_written(tmp_path: Path) -> None:
    """Days in order, blank where a merge did not know a count, a day merged again replaced."""
    path = tmp_path / "history.csv"
    later = HistoryRow(dt.date(2026, 3, 10), {"stores": 3, "done": 3})
    history = with_today(with_today((later,), HistoryRow(DAY, {"done": 0})), ROW)
    path.write_bytes(history_bytes(history))
    assert read_history(path, WORDS) == (ROW, later)
    assert read_history(tmp_path / "none.csv", WORDS) == ()
    assert before(history, dt.date(2026, 3, 10)) == ROW
    assert before(history, DAY) is None
    assert later.change(ROW, "done") == 2
    assert later.change(ROW, "not_back") is None


@pytest.mark.parametrize("text", ["as_of,done\nyesterday,1\n", "as_of,done\n2026-03-03,many\n", "done\n1\n", "\xff"])
def test_a_damaged_history_stops_the_merge(tmp_path: Path, text: str) -> None:
    """It cannot be made again from the returns, so it is not overwritten."""
    path = tmp_path / "history.csv"
    path.write_bytes(text.encode("latin-1"))
    with pytest.raises(FolderError, match=r"damaged .*nothing was changed"):
        read_history(path, WORDS)
