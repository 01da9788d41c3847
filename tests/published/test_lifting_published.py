"""The lifting equation against the manual's tables and worked examples, and against pages that use it.

Manual: DHHS (NIOSH) Publication 94-110, revised 9/2021, a work of the US government. Marks:
READ: the number was read in a transcription of the manual, made twice and compared, that names its pages
(github.com/nbarr1/ErgonomicTool, methods/rnle/transcription and docs/methods/rnle.md), or on the page named.
COMP: recomputed with code of our own. MEM: from memory. TRAP: printed, and wrong or in dispute; negative tests only.
What is not READ is a reproducible value, not a published one.
"""

from dataclasses import astuple
from fractions import Fraction
from typing import NamedTuple

import pytest

from workbook_tools.program.exact import exact, half_up
from workbook_tools.program.niosh import (
    CONSTANTS,
    LIMITS_OF_USE,
    RISK_FOR_NEARLY_ALL_ABOVE,
    RISK_FOR_SOME_ABOVE,
    Hands,
    Lift,
    LiftResult,
    Multipliers,
    asymmetric_multiplier,
    at_destination,
    at_origin,
    coupling_multiplier,
    distance_multiplier,
    estimated_h,
    frequency_multiplier,
    horizontal_multiplier,
    recommended_weight,
    vertical_multiplier,
)

US, METRIC = "in, lb", "cm, kg"


def _two(value: Fraction) -> float:
    return float(half_up(value, 2))


# Tables 1-4 (pp. 8-13). READ, COMP.
HM = {
    US: "10 1.00, 11 .91, 12 .83, 13 .77, 14 .71, 15 .67, 16 .63, 17 .59, 18 .56, 19 .53, 20 .50, 21 .48, 24 .42, "
    "25 .40",
    METRIC: "25 1.00, 28 .89, 30 .83, 32 .78, 34 .74, 36 .69, 38 .66, 40 .63, 42 .60, 44 .57, 46 .54, 48 .52, 50 .50, "
    "52 .48, 54 .46, 56 .45, 58 .43, 60 .42, 63 .40",
}
VM = {
    US: "0 .78, 5 .81, 10 .85, 15 .89, 20 .93, 25 .96, 30 1.00, 35 .96, 40 .93, 45 .89, 50 .85, 55 .81, 60 .78, "
    "65 .74, 70 .70",
    METRIC: "0 .78, 10 .81, 20 .84, 30 .87, 40 .90, 50 .93, 60 .96, 70 .99, 80 .99, 90 .96, 100 .93, 110 .90, 120 .87, "
    "130 .84, 140 .81, 150 .78, 160 .75, 170 .72, 175 .70",
}
DM = {
    US: "10 1.00, 15 .94, 20 .91, 25 .89, 30 .88, 35 .87, 40 .87, 45 .86, 50 .86, 55 .85, 60 .85, 70 .85",
    METRIC: "25 1.00, 40 .93, 55 .90, 70 .88, 85 .87, 100 .87, 115 .86, 145 .85, 160 .85, 175 .85",
}
AM = "0 1.00, 15 .95, 30 .90, 45 .86, 60 .81, 75 .76, 90 .71, 105 .66, 120 .62, 135 .57"


def _cells(table: str) -> list[tuple[int, float]]:
    return [(int(cell.split()[0]), float(cell.split()[1])) for cell in table.split(", ")]


@pytest.mark.parametrize(
    ("function", "tables"), [(horizontal_multiplier, HM), (vertical_multiplier, VM), (distance_multiplier, DM)]
)
@pytest.mark.parametrize("units", [US, METRIC])
def test_formulas_give_the_cells_of_tables_1_to_3(function, tables, units):
    """HM, VM and DM, rounded half up, are what Tables 1-3 print (READ), save for the three cells in dispute."""
    for value, printed in _cells(tables[units]):
        assert _two(function(units, value)) == printed, value


def test_formula_gives_the_cells_of_table_4():
    """AM, rounded half up, is what Table 4 prints (READ)."""
    assert [(a, _two(asymmetric_multiplier(a))) for a, _ in _cells(AM)] == _cells(AM)


@pytest.mark.parametrize(
    ("value", "printed", "by_formula"),
    [
        (horizontal_multiplier(US, 22), 0.46, 0.45),
        (horizontal_multiplier(US, 23), 0.44, 0.43),
        (distance_multiplier(METRIC, 130), 0.86, 0.85),
    ],
)
def test_where_a_table_disputes_its_formula_the_formula_holds(value, printed, by_formula):
    """TRAP: three printed cells are not what the formula of the same page gives; they differ by 0.01."""
    assert _two(value) == by_formula != printed
    assert printed - by_formula == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (horizontal_multiplier(US, 9), 1),
        (horizontal_multiplier(US, 25.1), 0),
        (horizontal_multiplier(METRIC, 63.1), 0),
        (vertical_multiplier(US, 70.1), 0),
        (vertical_multiplier(METRIC, 175.1), 0),
        (distance_multiplier(US, 9), 1),
        (distance_multiplier(US, 70.1), 0),
        (distance_multiplier(METRIC, 175.1), 0),
        (asymmetric_multiplier(135.1), 0),
    ],
)
def test_beyond_its_range_a_multiplier_is_one_or_nought(value, expected):
    """Less than the least counts as the least; farther, higher or more turned than the most is 0 (READ, pp. 8-12)."""
    assert value == expected


# Table 5 (p. 15): F, then <= 1 h, > 1-2 h, > 2-8 h, each for V < 30 in / V >= 30 in. READ, all cells.
TABLE_5 = """
0.2 1.00 1.00 .95 .95 .85 .85
0.5 .97 .97 .92 .92 .81 .81
1 .94 .94 .88 .88 .75 .75
2 .91 .91 .84 .84 .65 .65
3 .88 .88 .79 .79 .55 .55
4 .84 .84 .72 .72 .45 .45
5 .80 .80 .60 .60 .35 .35
6 .75 .75 .50 .50 .27 .27
7 .70 .70 .42 .42 .22 .22
8 .60 .60 .35 .35 .18 .18
9 .52 .52 .30 .30 .00 .15
10 .45 .45 .26 .26 .00 .13
11 .41 .41 .00 .23 .00 .00
12 .37 .37 .00 .21 .00 .00
13 .00 .34 .00 .00 .00 .00
14 .00 .31 .00 .00 .00 .00
15 .00 .28 .00 .00 .00 .00
15.1 .00 .00 .00 .00 .00 .00
"""


@pytest.mark.parametrize("row", TABLE_5.split("\n")[1:-1])
@pytest.mark.parametrize(("units", "low", "high"), [(US, 29.9, 30), (METRIC, 74.9, 75)])
def test_frequency_multiplier_is_table_5(row, units, low, high):
    """Every cell of Table 5 comes back, in both systems of units (READ)."""
    frequency, *cells = row.split()
    found = [
        float(frequency_multiplier(units, frequency, duration, v))
        for duration in ("short", "moderate", "long")
        for v in (low, high)
    ]
    assert found == [float(cell) for cell in cells]


def test_the_lowest_frequency_counts_as_a_lift_in_five_minutes():
    """Less than 0.2 lifts a minute are 0.2 (READ, p. 14)."""
    assert frequency_multiplier(US, 0.01, "long", 30) == Fraction("0.85")


def test_frequencies_between_two_rows_are_interpolated():
    """Example 7 interpolates for F = 2.4 between the rows of 2 and 3 (READ, pp. 56-57; the value COMP)."""
    assert frequency_multiplier(US, 2.4, "short", 30) == Fraction("0.91") - Fraction("0.03") * Fraction("0.4")


@pytest.mark.parametrize(("coupling", "low", "high"), [("good", 1.0, 1.0), ("fair", 0.95, 1.0), ("poor", 0.90, 0.90)])
def test_coupling_multiplier_is_table_7(coupling, low, high):
    """Table 7 (READ, p. 18): below 30 in (75 cm), and from there up."""
    assert [float(coupling_multiplier(US, coupling, v)) for v in (29.9, 30)] == [low, high]
    assert [float(coupling_multiplier(METRIC, coupling, v)) for v in (74.9, 75)] == [low, high]


@pytest.mark.parametrize(("units", "v", "added"), [(US, 10, 8), (US, 9.9, 10), (METRIC, 25, 20), (METRIC, 24.9, 25)])
def test_h_is_estimated_from_the_container(units, v, added):
    """H = 8 + W/2 in (20 + W/2 cm), with hands below 10 in (25 cm) 10 + W/2 in (25 + W/2 cm) (READ, p. 8)."""
    assert estimated_h(units, 12, v) == added + 6


class Example(NamedTuple):
    """Lift at its origin; the end looked at; RWL and LI as printed; multipliers as printed, where known."""

    name: str
    lift: Lift
    destination: Hands | None
    rwl: float
    li: float
    multipliers: list[float] | None
    mark: str

    def result(self) -> LiftResult:
        return at_destination(self.lift, self.destination) if self.destination else at_origin(self.lift)


def _lift(load, h, v, travel, a=0, frequency=0.2, coupling="fair") -> Lift:
    return Lift(units=US, load=load, hands=Hands(h, v, a), travel=travel, frequency=frequency, coupling=coupling)


INSPECTION = _lift(26, 10, 22, 37, frequency=3)
ROLLS = _lift(35, 20, 27, 17, coupling="poor")
# Good coupling: with any other, the destination's 13.3 lb would not come out.
DISHES = _lift(20, 20, 44, 37, a=30, frequency=5, coupling="good")
EXAMPLES = [
    Example("4, origin", INSPECTION, None, 34.9, 0.7, [1, 0.94, 0.87, 1, 0.88, 0.95], "READ (Fig. 14, p. 46), COMP"),
    Example("4, destination", INSPECTION, Hands(20, 59), 15.2, 1.7, None, "READ, COMP"),
    Example("2, origin", ROLLS, None, 20.9, 1.7, None, "MEM+COMP"),
    Example("2, destination", ROLLS, Hands(20, 10), 18.1, 1.9, None, "MEM+COMP"),
    Example("3", _lift(40, 18, 15, 21, a=45), None, 18.9, 2.1, None, "MEM+COMP"),
    Example("5, origin", DISHES, None, 14.4, 1.4, None, "MEM+COMP"),
    Example("5, destination", DISHES, Hands(20, 7, 30), 13.3, 1.5, None, "MEM+COMP"),
]


def as_printed(lift: Lift, result: LiftResult) -> LiftResult:
    """The same result as a person gets by hand: multipliers to 2 decimals, then RWL and LI to 1 (p. 29)."""
    multipliers = Multipliers(*(half_up(value, 2) for value in astuple(result.multipliers)))
    rwl = recommended_weight(lift.units, multipliers)
    return LiftResult(multipliers, half_up(rwl, 1), half_up(exact(lift.load) / rwl, 1))


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: f"{example.name} ({example.mark})")
def test_worked_examples_as_printed(example):
    """RWL and LI of the manual's examples, with its rounding (p. 29); only Example 4 is READ."""
    printed = as_printed(example.lift, example.result())
    assert (float(printed.rwl), float(printed.li)) == (example.rwl, example.li)
    if example.multipliers:
        shown = printed.multipliers
        assert [float(m) for m in (shown.hm, shown.vm, shown.dm, shown.am, shown.fm, shown.cm)] == example.multipliers


def test_without_rounding_example_4_is_a_little_lighter():
    """Full precision gives 34.81 lb and LI 0.747 at the origin, 15.25 lb and 1.705 at the destination (COMP)."""
    origin, destination = at_origin(INSPECTION), at_destination(INSPECTION, Hands(20, 59))
    assert [round(float(x), 2) for x in (origin.rwl, destination.rwl)] == [34.81, 15.25]
    assert [round(float(x), 3) for x in (origin.li, destination.li)] == [0.747, 1.705]


def test_example_1_is_printed_with_a_cell_that_its_formula_does_not_give():
    """TRAP: 16.3 and 14.5 lb (MEM) need the table's HM .44 for H = 23; the formula gives 16.0 and 14.2 (COMP)."""
    press = _lift(44, 23, 15, 49)
    ends = [at_origin(press), at_destination(press, Hands(23, 64))]
    assert [(round(float(end.rwl), 1), round(float(end.li), 1)) for end in ends] == [(16.0, 2.7), (14.2, 3.1)]
    with_cell = [Multipliers(Fraction("0.44"), *_after_hm(as_printed(press, end).multipliers)) for end in ends]
    assert [float(half_up(recommended_weight(US, multipliers), 1)) for multipliers in with_cell] == [16.3, 14.5]


def _after_hm(m: Multipliers) -> tuple[Fraction, ...]:
    return (m.vm, m.dm, m.am, m.fm, m.cm)


def test_frequencies_of_a_composite_index_add_up():
    """The example of p. 28 (MEM+COMP): FM at 2, 3 and 7 lifts a minute are .91, .88, .70, and the CLI is 1.8."""
    first, second, third = (frequency_multiplier(US, f, "short", 30) for f in (2, 3, 7))
    assert [float(fm) for fm in (first, second, third)] == [0.91, 0.88, 0.70]
    cli = Fraction("1.6") + (1 / second - 1 / first) + Fraction("0.67") * (1 / third - 1 / second)
    assert round(float(cli), 3) == 1.833
    assert float(half_up(cli, 1)) == 1.8


CCOHS = "ccohs.ca/oshanswers/ergonomics/niosh/"


@pytest.mark.parametrize(
    ("factors", "kg", "source"),
    [
        ("0.50 1 0.95", 10.9, CCOHS + "horizontal.html"),
        ("0.80 0.95", 17.5, CCOHS + "horizontal.html"),
        (".80 .80 .86 .90", 11.4, CCOHS + "vertical.html"),
        (".8 1 .95 .9", 15.7, CCOHS + "vertical.html"),
    ],
)
def test_products_printed_by_a_national_centre(factors, kg, source):
    """23 kg times the factors printed there gives the kilograms printed there (READ, COMP)."""
    assert float(half_up(_product(factors), 1)) == kg, source


def test_a_product_printed_to_two_decimals():
    """23 x 1.00 x 0.93 x 1.00 x 0.71 x 0.13 x 1.00 = 1.97 kg (READ ccohs.ca .../niosh/frequency.html, COMP)."""
    assert float(half_up(_product("1.00 0.93 1.00 0.71 0.13 1.00"), 2)) == 1.97


def _product(factors: str) -> Fraction:
    """RWL in kg; which factor is which multiplier makes no difference to it."""
    given = [Fraction(factor) for factor in factors.split()]
    return recommended_weight(METRIC, Multipliers(*given, *[Fraction(1)] * (6 - len(given))))


def test_index_of_a_very_heavy_load_in_the_ideal_position():
    """160 lb in the ideal position: LI 3.1 (READ osha.gov standard interpretation 2004-03-29-1, COMP 3.137)."""
    ideal = _lift(160, 10, 30, 10, coupling="good")
    assert at_origin(ideal).rwl == CONSTANTS[US].load == 51
    assert float(as_printed(ideal, at_origin(ideal)).li) == 3.1


@pytest.mark.parametrize(
    ("h", "rwl", "li"), [(25, 16.65, 0.90), (30, 13.88, 1.08), (35, 11.89, 1.26), (40, 10.41, 1.44)]
)
def test_metric_lifts_that_were_only_computed(h, rwl, li):
    """15 kg, V 75, D 50, A 30, 3 a minute for up to an hour, fair coupling (COMP only)."""
    lift = Lift(units=METRIC, load=15, hands=Hands(h, 75, 30), travel=50, frequency=3)
    assert (_two(at_origin(lift).rwl), _two(at_origin(lift).li)) == (rwl, li)


def test_risk_begins_above_an_index_of_one():
    """Above 1.0 for some, above 3.0 for nearly all (READ, p. 20).

    TRAP: the glossary (p. 74) says "1.0 or more"; the text makes 1.0 the goal, and that is followed: `lifting` compares
    with "above".
    """
    assert (RISK_FOR_SOME_ABOVE, RISK_FOR_NEARLY_ALL_ABOVE) == (1, 3)


def test_every_limit_of_use_has_a_key():
    """The ten kinds of lifts to which the equation does not apply (READ, p. 6)."""
    assert len(set(LIMITS_OF_USE)) == 10
