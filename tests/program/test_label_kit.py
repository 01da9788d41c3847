"""Labels, tags, cases and parts: what is packed and what is ordered."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.program.label_kit import (
    cases,
    for_program,
    label_kit,
    labels_needed,
    parts_to_make,
    tags_needed,
    units_needed,
    with_spares,
)

RATES = st.integers(0, 99).map(lambda percent: percent / 100)


def test_four_units_in_two_pairs_back_to_back_take_sixteen_labels():
    """Two faces of two units, each with three shelves and a top tray: 16 trays, 16 labels, up to 16 tags.

    Common practice, no source.
    """
    trays = [(face, unit, shelf) for face in "AB" for unit in (1, 2) for shelf in ("top", 1, 2, 3)]
    brands = [("Alder", "Birch", "Cedar", "Dogwood")[index % 4] for index in range(len(trays))]
    assert len(trays) == 16
    assert sum(labels_needed(brands).values()) == 16
    assert sum(tags_needed([f"{1000 + index}" for index in range(len(trays))]).values()) == 16
    assert sum(tags_needed(["1000", *[""] * 15]).values()) == 1


def test_labels_are_counted_by_brand_one_a_tray():
    """Needed against packed, with the spares; a brand that no tray holds and one not counted are told apart."""
    kit = label_kit(
        ["Alder", "Birch", "Alder", "Cedar"], {"Alder": 3, "Birch": 0, "Dogwood": 2, "Elm": 0, "Cedar": None}
    )
    assert [(one.brand, one.needed, one.packed, one.spare, one.verdict) for one in kit] == [
        ("Alder", 2, 3, 1, "enough"),
        ("Birch", 1, 0, -1, "short"),
        ("Cedar", 1, None, None, "unknown"),
        ("Dogwood", 0, 2, 2, "not_needed"),
        ("Elm", 0, 0, 0, "enough"),
    ]


def test_a_brand_that_is_not_on_the_label_list_is_unknown():
    """A tray whose brand has no row among the labels is not passed over."""
    assert [(one.brand, one.verdict) for one in label_kit(["Alder"], {})] == [("Alder", "unknown")]


def test_two_items_of_one_brand_share_labels_but_not_tags():
    """Labels go by brand, tags by item code."""
    trays = [("Alder", "001"), ("Alder", "002"), ("Birch", "001")]
    assert labels_needed(brand for brand, _ in trays) == {"Alder": 2, "Birch": 1}
    assert tags_needed(code for _, code in trays) == {"001": 2, "002": 1}


STORES = [("North", "ada"), ("North", "ben"), ("South", "ada"), ("", "ben")]


def test_the_program_takes_one_display_a_store():
    """Counts for all stores, by district and by merchandiser."""
    count = for_program({"Alder": 2, "Birch": 1}, STORES)
    assert count.total == {"Alder": 8, "Birch": 4}
    assert count.by_district == {
        "": {"Alder": 2, "Birch": 1},
        "North": {"Alder": 4, "Birch": 2},
        "South": {"Alder": 2, "Birch": 1},
    }
    assert count.by_merchandiser == {"ada": {"Alder": 4, "Birch": 2}, "ben": {"Alder": 4, "Birch": 2}}


@given(
    st.dictionaries(st.sampled_from("abc"), st.integers(0, 9)),
    st.lists(st.tuples(st.sampled_from(["", "N", "S"]), st.sampled_from("xyz"))),
)
def test_shares_add_up_to_the_whole(per_display, stores):
    """Nothing is lost or counted twice, whichever way it is shared out."""
    count = for_program(per_display, stores)
    for shares in (count.by_district, count.by_merchandiser):
        assert {key: sum(share[key] for share in shares.values()) for key in per_display} == count.total


def test_whole_cases_for_the_program_and_for_each_store():
    """30 units in cases of 12 for 100 stores: 250 cases from one stock, or 3 to each store with 6 left over in each."""
    (goods,) = cases({"jar": 30}, {"jar": 12}, 100)
    assert (goods.program_units, goods.program_cases, goods.program_surplus) == (3000, 250, 0)
    assert (goods.display_cases, goods.display_surplus, goods.total_cases, goods.total_surplus) == (3, 6, 300, 600)


@pytest.mark.parametrize(
    ("units", "displays", "program_cases", "surplus"), [(30, 1, 3, 6), (36, 1, 3, 0), (0, 5, 0, 0), (7, 0, 0, 0)]
)
def test_cases_are_rounded_up_and_the_rest_is_surplus(units, displays, program_cases, surplus):
    """A begun case is a whole one."""
    (goods,) = cases({"jar": units}, {"jar": 12}, displays)
    assert (goods.program_cases, goods.program_surplus) == (program_cases, surplus)


def test_without_a_case_pack_only_units_are_known():
    """No case pack is made up."""
    (goods,) = cases({"jar": 30}, {"jar": None}, 10)
    assert (goods.program_units, goods.program_cases, goods.total_surplus) == (300, None, None)


def test_units_of_an_item_are_summed_over_its_positions():
    """An item may stand at several positions."""
    assert units_needed([("jar", 24), ("lid", 6), ("jar", 12)]) == {"jar": 36, "lid": 6}


@pytest.mark.parametrize(
    ("needed", "rate", "to_make"),
    [(100, 0.02, 103), (100, 0, 100), (9, 0.1, 10), (98, "0.02", 100), (465, 0.07, 500), (0, 0.5, 0), (1, 0.99, 100)],
)
def test_spares_cover_the_loss_exactly(needed, rate, to_make):
    """465 needed at a loss of 0.07 take 500, and not 501 as binary numbers would have it."""
    assert with_spares(needed, rate) == to_make


@given(st.integers(0, 10_000), RATES)
def test_spares_are_the_least_that_leave_enough(needed, rate):
    """After the expected loss enough is left, and with one made less it would not be."""
    made = with_spares(needed, rate)
    kept = 1 - Fraction(str(rate))
    assert made * kept >= needed
    assert made == 0 or (made - 1) * kept < needed
    assert made == math.ceil(needed / kept)


def test_parts_are_made_for_all_displays():
    """Quantity times displays, and the spares beyond that."""
    shelf, clip = parts_to_make({"shelf": 4, "clip": 10}, 50, 0.05)
    assert (shelf.needed, shelf.to_make, shelf.spares) == (200, 211, 11)
    assert (clip.part, clip.needed, clip.spares) == ("clip", 500, 27)


@pytest.mark.parametrize("rate", [1, -0.1, 1.5, "all"])
def test_a_loss_of_everything_is_refused(rate):
    """A loss rate is from 0 to below 1."""
    with pytest.raises(ValueError, match="expected"):
        with_spares(10, rate)


def test_counts_that_cannot_be_are_refused():
    """A case pack of 0 and labels packed below 0 have no answer."""
    with pytest.raises(ValueError, match="case pack"):
        cases({"jar": 1}, {"jar": 0}, 1)
    with pytest.raises(ValueError, match="0 or more"):
        label_kit(["Alder"], {"Alder": -1})
