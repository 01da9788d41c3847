"""What a setup comes to, in a few lines: the kit of a display, the window and its pace, the time that visits take."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.contract.findings import Phrase
from workbook_tools.program.calendar import stores_a_day
from workbook_tools.program.checks_kit import brands_of_trays, units_by_item
from workbook_tools.program.checks_people import minutes_of_visit
from workbook_tools.program.checks_window import LONGEST_DAYS, days_left, window_of
from workbook_tools.program.hours import decimal_hours
from workbook_tools.program.view import View, text


def summary(view: View) -> Iterator[Phrase]:
    """The lines, as far as the setup tells what they need."""
    stores = len(view.rows("stores"))
    labels = sum(1 for _ in brands_of_trays(view))
    if labels and stores:
        kit = {"trays": len(view.rows("positions")), "labels": labels, "all_labels": labels * stores, "stores": stores}
        codes = [text(view.item_of(row), "item_code") for rows in view.standing.values() for row in rows]
        tags = sum(map(bool, codes))
        units = sum(units_by_item(view).values())
        yield Phrase("check.kit", {**kit, "tags": tags, "all_tags": tags * stores, "units": units})
    starts, due = view.date("starts"), view.date("due")
    if starts and due and 0 <= (due - starts).days <= LONGEST_DAYS and stores:
        yield _window(view, stores)
    minutes, _ = minutes_of_visit(view)
    if minutes and stores:
        hours = f"{decimal_hours(minutes * stores):g}"
        yield Phrase("check.hours", {"stores": stores, "minutes": f"{minutes:g}", "hours": hours})


def _window(view: View, stores: int) -> Phrase:
    starts, due = view.date("starts"), view.date("due")
    assert starts and due
    seen = window_of(view, starts, due)
    left = days_left(view, seen)
    fields: dict[str, object] = {"starts": starts, "due": due, "days": len(seen.working), "stores": stores}
    a_day = stores_a_day(stores, len(left))
    if a_day is None:
        return Phrase("check.window_over", fields)
    begun = len(left) < len(seen.working)
    return Phrase("check.window_begun" if begun else "check.window", {**fields, "a_day": a_day, "left": len(left)})
