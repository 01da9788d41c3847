"""Are items and labels what they seem: weights no goods have, texts and pictures copied down."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf, prod
from statistics import median

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.contract.values import plain_form
from workbook_tools.program.checks_twice import doubled_texts
from workbook_tools.program.exact import exact, plain
from workbook_tools.program.view import DENSITY, View, count, figure, size, text, texts

_LIGHTEST, _HEAVIEST = 0.004, 8.0
"""Grams in a cubic centimetre: expanded foam has 0.01 and more, iron 7.9 (MEM); goods in packages lie between."""
_LIKELY_LIGHTEST, _LIKELY_HEAVIEST = 0.03, 6.0
"""The same for the middle one of many items; light ones are doubted only when they are large as well."""
_LARGE = 10.0
"""The longest side, in whatever unit, from which on goods are large for a display of cardboard."""
_ENOUGH_ITEMS = 5
"""Items from which on their middle one says something of the units."""
_SIDES = ("width", "depth", "height")
_HEAVIEST_CASE = {"cm, kg": 40, "in, lb": 88}
"""A case of goods for stores is lighter: common practice, no source (twice what two people lift, or nearly)."""


def check_items(view: View) -> Iterator[Finding]:
    """What looks mistyped or copied down among items and labels."""
    yield from _weights(view)
    yield from _heavy_cases(view)
    for row in view.rows("items"):
        if text(row, "item") in texts(row, "substitutes"):
            yield view.at("items", "substitute_itself", row, "substitutes", item=text(row, "item"))
    for first, row in doubled_texts(view, "items", "description"):
        yield view.at("items", "description_twice", row, "description", first=view.cell("items", first, "description"))
    for first, row in doubled_texts(view, "items", "picture"):
        if text(first, "brand") != text(row, "brand"):
            yield view.at("items", "picture_twice", row, "picture", first=view.cell("items", first, "picture"))
    for first, row in doubled_texts(view, "labels", "wording"):
        yield view.at("labels", "wording_twice", row, "wording", first=view.cell("labels", first, "wording"))
    yield from _wordings(view)


def _weights(view: View) -> Iterator[Finding]:
    """Items heavier than iron or lighter than foam; one finding when it is nearly all of them: the units are wrong."""
    densities = [(value, row) for row in view.rows("items") if (value := _density(view, row)) is not None]
    if len(densities) >= _ENOUGH_ITEMS:
        middle = median(value for value, _ in densities)
        longest = median(max(size(row, key) or 0 for key in _SIDES) for _, row in densities)
        is_light = middle < _LIKELY_LIGHTEST and longest >= _LARGE
        row = view.setting_row("units")
        if row and (is_light or middle > _LIKELY_HEAVIEST):
            rule = "units_too_light" if is_light else "units_too_heavy"
            yield view.at("program", rule, row, "units", length=view.length, weight=view.weight)
            return
    for value, row in densities:
        if not _LIGHTEST <= value <= _HEAVIEST:
            rule = "item_too_heavy" if value > _HEAVIEST else "item_too_light"
            fields = {"item": text(row, "item"), "unit": view.weight, "density": f"{value:.2g}"}
            yield view.at("items", rule, row, "weight", **fields)


def _density(view: View, row: Row) -> float | None:
    """Grams in a cubic centimetre of the box around an item; None where its weight or a size is not told."""
    sides = [size(row, key) for key in _SIDES]
    weight = size(row, "weight")
    known = [side for side in sides if side]
    if not weight or len(known) < len(sides) or view.units not in DENSITY:
        return None
    return weight / prod(known) * DENSITY[view.units]


def _heavy_cases(view: View) -> Iterator[Finding]:
    """Cases that nobody could carry: the number in a case, or the weight of one, is likely mistyped."""
    for row in view.rows("items"):
        pack, weight = count(row, "case_pack"), size(row, "weight")
        if (_density(view, row) or 0) > _HEAVIEST:
            continue
        if pack and weight and pack > 1 and exact(weight) * pack > _HEAVIEST_CASE.get(view.units, inf):
            fields = {"item": text(row, "item"), "one": weight, "total": figure(plain(exact(weight) * pack))}
            yield view.at("items", "case_heavy", row, "case_pack", unit=view.weight, **fields)


def _wordings(view: View) -> Iterator[Finding]:
    """A label on which another brand's name is printed and not its own."""
    names = {text(row, "brand"): plain_form(text(row, "brand")) for row in view.rows("labels")}
    for row in view.rows("labels"):
        brand, wording = text(row, "brand"), plain_form(text(row, "wording"))
        if not brand or not wording or names[brand] in wording:
            continue
        others = [other for other, plain in names.items() if plain and other != brand and _has(wording, plain)]
        if others:
            yield view.at("labels", "wording_of_another", row, "wording", brand=brand, other=others[0])


def _has(wording: str, name: str) -> bool:
    """Whether a name stands in a wording as words of its own."""
    return f" {name} " in f" {' '.join(wording.split())} "
