"""The revised NIOSH lifting equation for single two-handed lifts.

Source: Waters, Putz-Anderson, Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH)
Publication 94-110, revised 9/2021 (doi 10.26616/NIOSHPUB94110revised092021); the pages named below are its pages.
The equation compares lifts; it does not say what a given person can lift, and it does not reach every lift:
LIMITS_OF_USE go with every result. US and metric constants are the manual's two sets, which are no exact conversions of
each other. Lengths are inches or centimetres, weights pounds or kilograms, as `units` says; angles are degrees,
frequencies lifts a minute. Calculated exactly, where the manual rounds in its examples.
"""

from __future__ import annotations

import math
from dataclasses import astuple, dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from workbook_tools.program.exact import Number, not_negative, plain, positive

Units = Literal["in, lb", "cm, kg"]
Coupling = Literal["good", "fair", "poor"]
Duration = Literal["short", "moderate", "long"]

LIMITS_OF_USE = (
    "one_hand",
    "over_eight_hours",
    "seated_or_kneeling",
    "restricted_space",
    "unstable_object",
    "carrying_pushing_pulling",
    "wheelbarrow_or_shovel",
    "faster_than_30_inches_a_second",
    "floor_friction_below_0_4",
    "outside_19_to_26_celsius_or_35_to_50_percent_humidity",
)
"""Keys of the lifts for which the equation says nothing (p. 6)."""

RISK_FOR_SOME_ABOVE = 1
"""Lifting index above which the manual sees increased risk for some workers (p. 20; exactly 1.0 is its design goal)."""

RISK_FOR_NEARLY_ALL_ABOVE = 3
"""Lifting index above which nearly all workers are at increased risk (p. 20)."""


@dataclass(frozen=True, slots=True)
class Constants:
    """The manual's numbers in one system of units (pp. 7-18)."""

    load: int
    near: int
    """H up to this is taken as this; also the least D, and the V that parts the two ways to estimate H."""
    far: int
    """H beyond this: no load."""
    best_v: int
    """The V of the least strain; below it the stricter column of Tables 5 and 7 holds."""
    v_slope: Fraction
    d_rate: Fraction
    reach: int
    """V or D beyond this: no load."""
    arms: tuple[int, int]
    """What H has beyond half of the container, for V from `near` up and for V below it (p. 8)."""


CONSTANTS: dict[str, Constants] = {
    "in, lb": Constants(51, 10, 25, 30, Fraction("0.0075"), Fraction("1.8"), 70, (8, 10)),
    "cm, kg": Constants(23, 25, 63, 75, Fraction("0.003"), Fraction("4.5"), 175, (20, 25)),
}

_D_BASE = Fraction("0.82")
_A_SLOPE = Fraction("0.0032")
_LARGEST_ANGLE = 135

FREQUENCY_TABLE: dict[Duration, tuple[tuple[str, str, str], ...]] = {
    "short": (
        ("0.2", "1.00", "1.00"),
        ("0.5", ".97", ".97"),
        ("1", ".94", ".94"),
        ("2", ".91", ".91"),
        ("3", ".88", ".88"),
        ("4", ".84", ".84"),
        ("5", ".80", ".80"),
        ("6", ".75", ".75"),
        ("7", ".70", ".70"),
        ("8", ".60", ".60"),
        ("9", ".52", ".52"),
        ("10", ".45", ".45"),
        ("11", ".41", ".41"),
        ("12", ".37", ".37"),
        ("13", ".00", ".34"),
        ("14", ".00", ".31"),
        ("15", ".00", ".28"),
    ),
    "moderate": (
        ("0.2", ".95", ".95"),
        ("0.5", ".92", ".92"),
        ("1", ".88", ".88"),
        ("2", ".84", ".84"),
        ("3", ".79", ".79"),
        ("4", ".72", ".72"),
        ("5", ".60", ".60"),
        ("6", ".50", ".50"),
        ("7", ".42", ".42"),
        ("8", ".35", ".35"),
        ("9", ".30", ".30"),
        ("10", ".26", ".26"),
        ("11", ".00", ".23"),
        ("12", ".00", ".21"),
    ),
    "long": (
        ("0.2", ".85", ".85"),
        ("0.5", ".81", ".81"),
        ("1", ".75", ".75"),
        ("2", ".65", ".65"),
        ("3", ".55", ".55"),
        ("4", ".45", ".45"),
        ("5", ".35", ".35"),
        ("6", ".27", ".27"),
        ("7", ".22", ".22"),
        ("8", ".18", ".18"),
        ("9", ".00", ".15"),
        ("10", ".00", ".13"),
    ),
}
"""Table 5 (p. 15): F, FM for V below 30 in (75 cm), FM from there up; rows that hold only .00 are left out."""

_COUPLING_TABLE: dict[Coupling, tuple[str, str]] = {"good": ("1", "1"), "fair": (".95", "1"), "poor": (".90", ".90")}
"""Table 7 (p. 18): CM for V below 30 in (75 cm), and from there up."""


@dataclass(frozen=True, slots=True)
class Hands:
    """Where the hands are at one end of a lift.

    h: from the ankles forward to the hands. v: from the floor up to the hands. a: the angle from straight ahead.
    """

    h: Number
    v: Number
    a: Number = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """One kind of lift, seen at its origin; `travel` is how far the hands move up or down (D)."""

    units: Units
    load: Number
    hands: Hands
    travel: Number
    frequency: Number = Fraction("0.2")
    duration: Duration = "short"
    coupling: Coupling = "fair"


@dataclass(frozen=True, slots=True)
class Multipliers:
    """The six multipliers of the equation, each from 0 to 1."""

    hm: Fraction
    vm: Fraction
    dm: Fraction
    am: Fraction
    fm: Fraction
    cm: Fraction


@dataclass(frozen=True, slots=True)
class LiftResult:
    """What the equation gives at one end of a lift.

    rwl: the recommended weight limit, in the lift's units; 0 means that no load is recommended.
    li: the lifting index, load / RWL; None where RWL is 0, for which the manual gives no index.
    """

    multipliers: Multipliers
    rwl: Fraction
    li: Fraction | None


def horizontal_multiplier(units: Units, h: Number) -> Fraction:
    """HM (p. 8); `h` below 10 in (25 cm) counts as that, beyond 25 in (63 cm) it is 0."""
    constants, value = CONSTANTS[units], not_negative(h)
    return Fraction(0) if value > constants.far else constants.near / max(value, Fraction(constants.near))


def vertical_multiplier(units: Units, v: Number) -> Fraction:
    """VM (p. 9); 0 beyond 70 in (175 cm)."""
    constants, value = CONSTANTS[units], not_negative(v)
    return Fraction(0) if value > constants.reach else 1 - constants.v_slope * abs(value - constants.best_v)


def distance_multiplier(units: Units, travel: Number) -> Fraction:
    """DM (p. 10); a travel below 10 in (25 cm) counts as that (DM = 1), beyond 70 in (175 cm) it is 0."""
    constants, value = CONSTANTS[units], not_negative(travel)
    if value <= constants.near:
        return Fraction(1)
    return Fraction(0) if value > constants.reach else _D_BASE + constants.d_rate / value


def asymmetric_multiplier(a: Number) -> Fraction:
    """AM (p. 12); 0 beyond 135 degrees."""
    value = not_negative(a)
    return Fraction(0) if value > _LARGEST_ANGLE else 1 - _A_SLOPE * value


def frequency_multiplier(units: Units, frequency: Number, duration: Duration, v_at_origin: Number) -> Fraction:
    """FM from Table 5 (p. 15), linear between its rows (p. 7).

    Below 0.2 lifts a minute the row of 0.2 holds (p. 14). Above the last row of the column that is not .00 it is 0:
    the manual allows no lifting above the highest frequency, and does not say how to go down to .00 between two rows.
    """
    f, column = not_negative(frequency), 2 if _is_high(units, v_at_origin) else 1
    rows = [(Fraction(row[0]), Fraction(row[column])) for row in FREQUENCY_TABLE[duration]]
    rows = [(at, fm) for at, fm in rows if fm]
    if f <= rows[0][0]:
        return rows[0][1]
    for (low, fm_low), (high, fm_high) in pairwise(rows):
        if f <= high:
            return fm_low + (fm_high - fm_low) * (f - low) / (high - low)
    return Fraction(0)


def coupling_multiplier(units: Units, coupling: Coupling, v: Number) -> Fraction:
    """CM from Table 7 (p. 18); `v` is that of the end of the lift which is looked at, as in Example 4 (p. 46)."""
    return Fraction(_COUPLING_TABLE[coupling][1 if _is_high(units, v) else 0])


def estimated_h(units: Units, container_width: Number, v: Number) -> int | float:
    """H where it cannot be measured (p. 8); `container_width` is the container's size away from the body."""
    constants = CONSTANTS[units]
    arms = constants.arms[0 if not_negative(v) >= constants.near else 1]
    return plain(arms + positive(container_width) / 2)


def at_origin(lift: Lift) -> LiftResult:
    """RWL and LI where the load is taken up."""
    return _evaluated(lift, lift.hands)


def at_destination(lift: Lift, hands: Hands) -> LiftResult:
    """RWL and LI where the load is put down with care; Table 5 still goes by the origin's V (p. 15)."""
    return _evaluated(lift, hands)


def recommended_weight(units: Units, multipliers: Multipliers) -> Fraction:
    """RWL = LC x HM x VM x DM x AM x FM x CM (p. 1)."""
    return CONSTANTS[units].load * math.prod(astuple(multipliers), start=Fraction(1))


def _evaluated(lift: Lift, hands: Hands) -> LiftResult:
    multipliers = Multipliers(
        horizontal_multiplier(lift.units, hands.h),
        vertical_multiplier(lift.units, hands.v),
        distance_multiplier(lift.units, lift.travel),
        asymmetric_multiplier(hands.a),
        frequency_multiplier(lift.units, lift.frequency, lift.duration, lift.hands.v),
        coupling_multiplier(lift.units, lift.coupling, hands.v),
    )
    rwl = recommended_weight(lift.units, multipliers)
    return LiftResult(multipliers, rwl, _index(lift, rwl))


def _index(lift: Lift, rwl: Fraction) -> Fraction | None:
    return not_negative(lift.load) / rwl if rwl else None


def _is_high(units: Units, v: Number) -> bool:
    return not_negative(v) >= CONSTANTS[units].best_v
