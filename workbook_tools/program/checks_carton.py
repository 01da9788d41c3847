"""Moving the carton: what its size and weight say to the office, by the lifting equation and with its limits of use."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.program.lifting import CartonLift, ReasonKey, carton_lift
from workbook_tools.program.niosh import Units
from workbook_tools.program.view import View, figure, number

_RULES: dict[ReasonKey, str] = {
    "too_wide": "carton_too_wide",
    "index_above_3": "carton_too_heavy",
    "heavy": "carton_heavy",
    "index_above_1": "carton_help",
}
"""Reasons for a caution, gravest first, and the rule that tells each."""


def check_carton(view: View) -> Iterator[Finding]:
    """A carton that one person should not lift, and one of which only some sizes are told."""
    keys = [f"carton_{side}" for side in ("length", "width", "height", "weight")]
    rows = {key: row for key in keys if (row := view.setting_row(key))}
    told = {key: value for key, row in rows.items() if (value := number(row, key)) is not None and value > 0}
    missing = [key for key, row in rows.items() if key not in told and key not in row.broken and not row.values]
    if told and missing:
        names = [Phrase(f"setup.program.{key}.heading") for key in missing]
        yield view.at("program", "carton_in_part", rows[missing[0]], missing[0], what=names[0])
    if len(told) == len(keys) and view.units:
        yield from _lift(view, *told.values())


def _lift(view: View, length: float, width: float, height: float, weight: float) -> Iterator[Finding]:
    units: Units = "in, lb" if view.units == "in, lb" else "cm, kg"
    lift = carton_lift(length, width, height, weight, units)
    row = view.setting_row("carton_weight")
    if row and lift.reasons:
        reasons = {reason.key for reason in lift.reasons}
        rule = next(rule for key, rule in _RULES.items() if key in reasons)
        yield view.at("program", rule, row, "carton_weight", **_inputs(view, lift, (length, width, height)))


def _inputs(view: View, lift: CartonLift, sides: tuple[float, float, float]) -> dict[str, object]:
    """What was reckoned with and what came of it, for the sentences."""
    return {
        "size": " × ".join(str(figure(side)) for side in sides),
        "length": view.length,
        "weight": figure(float(lift.lift.load)),
        "unit": view.weight,
        "hands": lift.lift.hands.h,
        "far": lift.reasons[0].limit,
        "rise": lift.lift.travel,
        "limit": round(float(lift.rwl), 1),
        "index": "" if lift.li is None else round(float(lift.li), 1),
        "limits": Phrase("messages.lifting_limits"),
    }
