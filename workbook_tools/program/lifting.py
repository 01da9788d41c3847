"""The caution to print about moving a carton or a built display: one person, get help, or slide it.

It is a caution, not advice on what a person can lift. It rests on the revised NIOSH lifting equation (niosh.py, where
the source is named) with the assumptions below, and on one threshold of common practice; each reason given says which.

Assumed for a carton: it lies flat, its smallest size upright, on the floor (hands at V = 0), long side across the body;
it is taken up once, straight ahead (A = 0, F at most 0.2 a minute for at most an hour), and put down with care at
30 in (75 cm), the height at which the equation finds the least strain, such as on a cart; so D is 30 in (75 cm).
Assumed for a built display: it stands, empty (goods on it make it an unstable object, which the equation excludes, pp.
5-6); it is clasped at half its height, at most 30 in (75 cm), its smaller side towards the body, and lifted clear of
the floor by no more than the least D that the equation knows, 10 in (25 cm).
For both: H from the size (p. 8); coupling fair where the hands can clasp a box of at most 16 in (40 cm) across and
12 in (30 cm) high, else poor (p. 17, note 5; no handles). Carrying it further is outside the equation.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from workbook_tools.program.exact import Number, exact, plain, positive
from workbook_tools.program.niosh import (
    CONSTANTS,
    LIMITS_OF_USE,
    RISK_FOR_NEARLY_ALL_ABOVE,
    RISK_FOR_SOME_ABOVE,
    Coupling,
    Hands,
    Lift,
    LiftResult,
    Units,
    at_destination,
    at_origin,
    estimated_h,
)

Advice = Literal["one_person", "get_help", "do_not_lift"]
Source = Literal["niosh_94_110", "common_practice"]
ReasonKey = Literal["too_wide", "index_above_3", "index_above_1", "heavy"]

TEAM_LIFT_ABOVE: dict[str, int] = {"in, lb": 50, "cm, kg": 23}
"""Weight above which two people lift: common practice, no source (50 lb, and 50 lb to the nearest kilogram)."""

_CLASPED: dict[str, tuple[int, int]] = {"in, lb": (16, 12), "cm, kg": (40, 30)}
"""Largest length across the body and largest height of a container of optimal design (94-110, p. 17, notes 3 and 5)."""

_ADVICE: dict[ReasonKey, Advice] = {
    "too_wide": "do_not_lift",
    "index_above_3": "do_not_lift",
    "index_above_1": "get_help",
    "heavy": "get_help",
}


@dataclass(frozen=True, slots=True)
class Reason:
    """One threshold that was passed.

    key: 'too_wide' H is beyond 25 in (63 cm), so no load is recommended (p. 8); 'index_above_3', 'index_above_1' the
        lifting index (p. 20); 'heavy' the weight that common practice gives to two people.
    value, limit: what was compared, in the lift's units (H, an index, a weight).
    """

    key: ReasonKey
    source: Source
    value: int | float
    limit: int | float


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A caution with everything it was made from.

    reasons: gravest first; empty for 'one_person'.
    lift: the inputs at the origin. down: the hands where it is put down.
    origin, destination: the equation's results; the lower RWL counts (p. 26).
    rwl: in `lift.units`; 0 where no load is recommended. li: None where RWL is 0.
    limits: keys of the lifts for which the equation says nothing, to be shown beside the result.
    """

    advice: Advice
    reasons: tuple[Reason, ...]
    lift: Lift
    down: Hands
    origin: LiftResult
    destination: LiftResult
    rwl: int | float
    li: int | float | None
    limits: tuple[str, ...] = LIMITS_OF_USE


def carton_lift(length: Number, width: Number, height: Number, weight: Number, units: Units) -> Caution:
    """The caution for one closed carton that lies on the floor, its three sizes in any order.

    A carton whose second size is above 30 in (76 cm) is too wide to be held close when it is taken up flat, so it is
    slid or rolled whatever it weighs: a flat carton of about 46 x 32 in and 30 lb is one (common practice, no source).

    Raises:
        ValueError: a size or the weight is not above 0.
    """
    thickness, deep, across = sorted(map(positive, (length, width, height)))
    rise = CONSTANTS[units].best_v
    return _judged(
        Lift(
            units=units,
            load=positive(weight),
            hands=Hands(estimated_h(units, deep, 0), 0),
            travel=rise,
            coupling=_coupling(units, across, thickness),
        ),
        Hands(estimated_h(units, deep, rise), rise),
    )


def display_lift(width: Number, depth: Number, height: Number, weight: Number, units: Units) -> Caution:
    """The caution for a built display that stands and is empty, its width and depth in any order.

    Raises:
        ValueError: a size or the weight is not above 0.
    """
    deep, across = sorted(map(positive, (width, depth)))
    constants = CONSTANTS[units]
    v = min(positive(height) / 2, Fraction(constants.best_v))
    lift = Lift(
        units=units,
        load=positive(weight),
        hands=Hands(estimated_h(units, deep, v), v),
        travel=constants.near,
        coupling=_coupling(units, across, positive(height)),
    )
    return _judged(lift, Hands(estimated_h(units, deep, v + constants.near), v + constants.near))


def _coupling(units: Units, across: Fraction, high: Fraction) -> Coupling:
    largest_across, largest_high = _CLASPED[units]
    return "fair" if across <= largest_across and high <= largest_high else "poor"


def _judged(lift: Lift, down: Hands) -> Caution:
    origin, destination = at_origin(lift), at_destination(lift, down)
    lower = min(origin, destination, key=lambda end: end.rwl)
    reasons = tuple(_reasons(lift, lower.li, max(exact(lift.hands.h), exact(down.h))))
    return Caution(
        advice=_ADVICE[reasons[0].key] if reasons else "one_person",
        reasons=reasons,
        lift=lift,
        down=down,
        origin=origin,
        destination=destination,
        rwl=plain(lower.rwl),
        li=None if lower.li is None else plain(lower.li),
    )


def _reasons(lift: Lift, li: Fraction | None, h: Fraction) -> Iterator[Reason]:
    """The thresholds passed, gravest first."""
    if li is None:
        yield Reason("too_wide", "niosh_94_110", plain(h), CONSTANTS[lift.units].far)
    elif li > RISK_FOR_NEARLY_ALL_ABOVE:
        yield Reason("index_above_3", "niosh_94_110", plain(li), RISK_FOR_NEARLY_ALL_ABOVE)
    elif li > RISK_FOR_SOME_ABOVE:
        yield Reason("index_above_1", "niosh_94_110", plain(li), RISK_FOR_SOME_ABOVE)
    load, team = exact(lift.load), TEAM_LIFT_ABOVE[lift.units]
    if load > team:
        yield Reason("heavy", "common_practice", plain(load), team)
