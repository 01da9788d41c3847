"""What is packed against what is needed: brand labels in the carton, goods by the case."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.program.checks_fit import counts_of
from workbook_tools.program.fit import units_of
from workbook_tools.program.label_kit import LabelCount, cases, label_kit, units_needed
from workbook_tools.program.view import View, count, listed, text

_SPARES, _SPARES_SHARE = 2, 2
"""Labels beyond the needed ones of which nothing is said: as many as are needed divided by this, and no fewer."""


def check_kit(view: View) -> Iterator[Finding]:
    """Labels that are short, far too many or not told, and items of which whole cases leave a surplus."""
    if view.standing and view.items:
        yield from _labels(view)
        yield from _cases(view)


def brands_of_trays(view: View) -> Iterator[str]:
    """The brand of each tray whose item and brand are known: one label each."""
    for rows in view.standing.values():
        for row in rows:
            if brand := text(view.item_of(row), "brand"):
                yield brand


def _labels(view: View) -> Iterator[Finding]:
    rows = {text(row, "brand"): row for row in reversed(view.rows("labels")) if text(row, "brand")}
    packed = {brand: _packed(row) for brand, row in rows.items()}
    is_told = any(number is not None for number in packed.values())
    silent: list[str] = []
    for one in label_kit(brands_of_trays(view), packed):
        if one.brand not in rows or "packed" in rows[one.brand].broken:
            continue
        if one.verdict == "short":
            short = -(one.spare or 0)
            total = short * len(view.rows("stores"))
            fields = {"brand": one.brand, "needed": one.needed, "packed": one.packed, "short": short, "total": total}
            yield view.at("labels", "labels_short", rows[one.brand], "packed", **fields)
        elif one.packed is None and is_told and one.needed:
            silent.append(one.brand)
        elif _is_surplus(one):
            fields = {"brand": one.brand, "needed": one.needed, "packed": one.packed}
            yield view.at("labels", "labels_surplus", rows[one.brand], "packed", **fields)
    if silent:
        yield view.at("labels", "labels_not_told", rows[silent[0]], "packed", brands=listed(silent))


def _packed(row: Row) -> int | None:
    value = row.values.get("packed")
    return value if isinstance(value, int) and value >= 0 else None


def _is_surplus(one: LabelCount) -> bool:
    return bool(one.needed and one.spare and one.spare > max(_SPARES, one.needed // _SPARES_SHARE))


def units_by_item(view: View) -> dict[str, int]:
    """Units on one display by item, of the trays that tell how many they hold."""
    told = ((text(row, "item"), units_of(counts_of(row))) for rows in view.standing.values() for row in rows)
    return units_needed((item, units) for item, units in told if item in view.items and units is not None)


def _cases(view: View) -> Iterator[Finding]:
    """One note on the items whose units on a display are not whole cases."""
    packs = {item: count(row, "case_pack") for item, row in view.items.items()}
    over = [one for one in cases(units_by_item(view), packs, 1) if one.display_surplus]
    if over:
        surplus = sum(one.display_surplus or 0 for one in over)
        fields = {"count": len(over), "items": listed([one.item for one in over]), "surplus": surplus}
        yield view.at("items", "cases_not_whole", view.items[over[0].item], "case_pack", **fields)
