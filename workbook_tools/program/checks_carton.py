"""Moving the carton and the built display: what size and weight say to the office, by the lifting equation and with
its limits of use.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workbook_tools.contract.findings import Finding, Phrase
from workbook_tools.program.lifting import Caution, ReasonKey, carton_lift, display_lift
from workbook_tools.program.niosh import Units
from workbook_tools.program.view import DENSITY, View, figure, size

_RULES: dict[ReasonKey, str] = {
    "too_wide": "carton_too_wide",
    "index_above_3": "carton_too_heavy",
    "heavy": "carton_heavy",
    "index_above_1": "carton_help",
}
"""Reasons for a caution about a carton, gravest first, and the rule that tells each."""

_LIGHTEST, _HEAVIEST, _SIDES = 0.01, 1.3, 3
"""Grams in a cubic centimetre: expanded foam has 0.01 and more, paper up to 1.2 (MEM)."""


def check_carton(view: View) -> Iterator[Finding]:
    """A carton that one person should not lift, and one of which only some sizes are told."""
    keys = [f"carton_{side}" for side in ("length", "width", "height", "weight")]
    told = _told(view, keys)
    yield from _in_part(view, "carton_in_part", keys)
    if len(told) == len(keys) and view.units:
        yield from _lift(view, *told.values())
        yield from _weight(view, *told.values())
    yield from _too_small(view, [told[key] for key in keys[:-1] if key in told])


def check_display(view: View) -> Iterator[Finding]:
    """A built display that one person should not lift, and one of which only some sizes are told."""
    keys = [f"display_{side}" for side in ("width", "depth", "height")]
    told = _told(view, [*keys, "carton_weight"])
    yield from _in_part(view, "display_in_part", keys)
    row = view.setting_row(keys[0])
    if row and len(told) > len(keys) and view.units:
        width, depth, height, weight = told.values()
        caution = display_lift(width, depth, height, weight, _units(view))
        if caution.reasons:
            rule = "display_too_wide" if caution.reasons[0].key == "too_wide" else "display_lift"
            yield view.at("program", rule, row, keys[0], **_inputs(view, caution, (width, depth, height)))


def _told(view: View, keys: Sequence[str]) -> dict[str, float]:
    """The settings of these keys that hold a number above 0, in the order of the keys."""
    return {key: value for key in keys if (value := size(view.setting_row(key), key)) is not None}


def _in_part(view: View, rule: str, keys: Sequence[str]) -> Iterator[Finding]:
    """The first of these settings that is blank where others are told."""
    rows = {key: row for key in keys if (row := view.setting_row(key))}
    missing = [key for key, row in rows.items() if not row.broken and not row.values]
    if missing and _told(view, keys):
        yield view.at("program", rule, rows[missing[0]], missing[0], what=Phrase(f"setup.program.{missing[0]}.heading"))


def _units(view: View) -> Units:
    return "in, lb" if view.units == "in, lb" else "cm, kg"


def _lift(view: View, length: float, width: float, height: float, weight: float) -> Iterator[Finding]:
    lift = carton_lift(length, width, height, weight, _units(view))
    row = view.setting_row("carton_weight")
    if row and lift.reasons:
        reasons = {reason.key for reason in lift.reasons}
        rule = next(rule for key, rule in _RULES.items() if key in reasons)
        rule = "carton_wide_heavy" if {"too_wide", "heavy"} <= reasons else rule
        yield view.at("program", rule, row, "carton_weight", **_inputs(view, lift, (length, width, height)))


def _weight(view: View, length: float, width: float, height: float, weight: float) -> Iterator[Finding]:
    """A carton heavier than a stack of paper or lighter than foam."""
    density = weight / (length * width * height) * DENSITY[view.units]
    row = view.setting_row("carton_weight")
    if row and not _LIGHTEST <= density <= _HEAVIEST:
        fields = {"size": _sides(length, width, height), "length": view.length, "unit": view.weight}
        yield view.at("program", "carton_odd", row, "carton_weight", density=f"{density:.2g}", **fields)


def _too_small(view: View, sides: Sequence[float]) -> Iterator[Finding]:
    """A carton in which not even a shelf folded in half would lie."""
    widths = [width for row in view.rows("shelves") if (width := size(row, "width"))]
    row = view.setting_row("carton_length")
    if row and len(sides) == _SIDES and widths and 2 * max(sides) < min(widths):
        fields = {"size": _sides(*sides), "unit": view.length, "shelf": figure(min(widths))}
        yield view.at("program", "carton_small", row, "carton_length", **fields)


def _sides(*sides: float) -> str:
    return " × ".join(str(figure(side)) for side in sides)


def _inputs(view: View, lift: Caution, sides: tuple[float, float, float]) -> dict[str, object]:
    """What was reckoned with and what came of it, for the sentences."""
    return {
        "size": _sides(*sides),
        "length": view.length,
        "weight": figure(float(lift.lift.load)),
        "unit": view.weight,
        "hands": lift.lift.hands.h,
        "high": figure(float(lift.lift.hands.v)),
        "far": lift.reasons[0].limit,
        "rise": lift.lift.travel,
        "limit": round(float(lift.rwl), 1),
        "index": "" if lift.li is None else round(float(lift.li), 1),
        "limits": Phrase("messages.lifting_limits"),
    }
