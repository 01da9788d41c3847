"""The caution about a carton or a built display, and the arithmetic under it."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.program.exact import exact, half_up, plain
from workbook_tools.program.lifting import TEAM_LIFT_ABOVE, carton_lift, display_lift
from workbook_tools.program.niosh import Hands, Lift, at_destination, at_origin, frequency_multiplier

US, METRIC = "in, lb", "cm, kg"
SIZES = st.integers(1, 80)


@pytest.mark.parametrize(
    ("length", "width", "height", "weight", "units"),
    [(46, 32, 6, 30, US), (6, 46, 32, 30, US), (117, 81, 15, 13.6, METRIC), (46, 32, 6, 2, US)],
)
def test_a_carton_too_wide_to_hold_close_is_slid(length, width, height, weight, units):
    """A flat carton of about 46 x 32 in and 30 lb is slid, not carried, by one person (common practice, no source).

    The equation agrees: taken up flat, its H is beyond 25 in (63 cm), so no load is recommended, however light.
    """
    caution = carton_lift(length, width, height, weight, units)
    assert caution.advice == "do_not_lift"
    assert [(reason.key, reason.source) for reason in caution.reasons] == [("too_wide", "niosh_94_110")]
    assert (caution.rwl, caution.li) == (0, None)


@pytest.mark.parametrize(
    ("sizes", "weight", "units", "advice", "reasons"),
    [
        ((20, 14, 10), 15, US, "one_person", []),
        ((16, 12, 12), 20.6518125, US, "one_person", []),
        ((16, 12, 12), 20.66, US, "get_help", ["index_above_1"]),
        ((16, 12, 12), 61, US, "get_help", ["index_above_1", "heavy"]),
        ((16, 12, 12), 62, US, "do_not_lift", ["index_above_3", "heavy"]),
        ((50, 35, 25), 7, METRIC, "one_person", []),
        ((50, 35, 25), 10, METRIC, "get_help", ["index_above_1"]),
        ((46, 30, 6), 30, US, "get_help", ["index_above_1"]),
    ],
)
def test_advice_follows_the_index_and_the_weight(sizes, weight, units, advice, reasons):
    """LI up to 1 is for one person, up to 3 for help, beyond for no one; the gravest reason stands first."""
    caution = carton_lift(*sizes, weight, units)
    assert (caution.advice, [reason.key for reason in caution.reasons]) == (advice, reasons)


def test_the_weight_for_two_people_is_marked_as_common_practice():
    """50 lb (23 kg) has no source, and the reason says so."""
    assert TEAM_LIFT_ABOVE == {US: 50, METRIC: 23}
    heavy = carton_lift(16, 12, 12, 50.1, US).reasons[-1]
    assert (heavy.key, heavy.source, heavy.value, heavy.limit) == ("heavy", "common_practice", 50.1, 50)
    assert "heavy" not in [reason.key for reason in carton_lift(16, 12, 12, 50, US).reasons]


def test_the_inputs_assumed_for_a_carton_are_shown():
    """It lies flat on the floor, its middle size towards the body, and goes up to 30 in; large boxes couple poorly."""
    caution = carton_lift(30, 8, 20, 25, US)
    lift = caution.lift
    assert (lift.hands, caution.down) == (Hands(20, 0), Hands(18, 30))
    assert (lift.travel, lift.coupling, lift.duration, lift.frequency) == (30, "poor", "short", Fraction(1, 5))
    assert caution.rwl == plain(min(caution.origin.rwl, caution.destination.rwl))
    assert len(caution.limits) == 10


@pytest.mark.parametrize(
    ("sizes", "coupling"), [((16, 12, 12), "fair"), ((16.1, 12, 12), "poor"), ((16, 12.1, 12.1), "poor")]
)
def test_a_box_that_hands_can_clasp_couples_fairly(sizes, coupling):
    """At most 16 in across and 12 in high (94-110, p. 17, notes 3 and 5)."""
    assert carton_lift(*sizes, 10, US).lift.coupling == coupling


def test_a_low_display_is_clasped_at_half_its_height():
    """Hands at half the height, at most 30 in; the lift clears the floor by the least travel, so DM is 1."""
    assert display_lift(24, 20, 20, 20, US).lift.hands == Hands(18, 10)
    assert display_lift(24, 20, 90, 20, US).lift.hands == Hands(18, 30)
    assert display_lift(24, 20, 90, 20, US).origin.multipliers.dm == 1


@pytest.mark.parametrize(
    ("sizes", "weight", "units", "advice"),
    [
        ((24, 20, 60), 20, US, "one_person"),
        ((24, 20, 60), 30, US, "get_help"),
        ((36, 36, 60), 20, US, "do_not_lift"),
        ((60, 50, 150), 9, METRIC, "one_person"),
        ((60, 50, 150), 14, METRIC, "get_help"),
    ],
)
def test_a_built_display_is_moved_by_its_size_and_weight(sizes, weight, units, advice):
    """20 in deep: H 18, so 51 lb x 10/18 x 0.9 = 25.5 lb at V 30 in, less where it is put down (COMP)."""
    assert display_lift(*sizes, weight, units).advice == advice


@given(SIZES, SIZES, SIZES, st.integers(1, 200))
def test_heavier_never_means_less_caution(length, width, height, weight):
    """A pound more never turns the advice the other way, and the order of the sizes does not matter."""
    order = ["one_person", "get_help", "do_not_lift"]
    lighter = carton_lift(length, width, height, weight, US)
    heavier = carton_lift(height, length, width, weight + 1, US)
    assert order.index(lighter.advice) <= order.index(heavier.advice)
    assert lighter.rwl == heavier.rwl


@pytest.mark.parametrize("bad", [0, -1, "nan", float("inf"), "wide", True])
def test_sizes_and_weights_must_be_above_nought(bad):
    """A size of zero, below it or none at all is refused, not reckoned with."""
    with pytest.raises(ValueError, match="expected"):
        carton_lift(bad, 10, 10, 10, US)
    with pytest.raises(ValueError, match="expected"):
        carton_lift(10, 10, 10, bad, US)


def test_no_lifting_above_the_highest_frequency_of_a_column():
    """Between the last row with a value and the first of .00 there is nothing to go down to: FM is 0."""
    assert frequency_multiplier(US, 12, "short", 0) == Fraction("0.37")
    assert frequency_multiplier(US, 12.1, "short", 0) == 0


def test_where_no_load_is_recommended_there_is_no_index():
    """RWL 0 leaves LI undefined."""
    far = Lift(units=US, load=10, hands=Hands(26, 30), travel=10)
    assert (at_origin(far).rwl, at_origin(far).li) == (0, None)


def test_frequency_goes_by_the_origin_and_coupling_by_the_end_looked_at():
    """FM of 13 lifts a minute is 0 for an origin below 30 in wherever the load goes; CM is that of the destination."""
    lift = Lift(units=US, load=10, hands=Hands(10, 20), travel=20, frequency=13)
    assert at_destination(lift, Hands(10, 40)).multipliers.fm == 0
    assert [at_origin(lift).multipliers.cm, at_destination(lift, Hands(10, 40)).multipliers.cm] == [Fraction("0.95"), 1]


@pytest.mark.parametrize("number", [50.1, "50.1", Decimal("50.1"), Fraction(501, 10), " 50.1 "])
def test_numbers_are_read_as_they_were_typed(number):
    """50.1 is 501/10 in whatever form it comes."""
    assert exact(number) == Fraction(501, 10)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_float_that_is_read_and_shown_is_the_same_float(number):
    """Reading by the shortest form and showing lose nothing."""
    assert float(plain(exact(number))) == number


@pytest.mark.parametrize(
    ("value", "places", "rounded"), [("0.925", 2, 0.93), ("-0.925", 2, -0.93), ("2.5", 0, 3), ("0.0049", 2, 0)]
)
def test_halves_are_rounded_away_from_nought(value, places, rounded):
    """As a person rounds by hand, and not to the even neighbour."""
    assert float(half_up(Fraction(value), places)) == rounded
