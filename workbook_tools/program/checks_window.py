"""Is there time enough: working days of the window, holidays in it, visits a day."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

from workbook_tools.contract.findings import Finding
from workbook_tools.program.calendar import Window, knows, stores_a_day, window_of_stores
from workbook_tools.program.checks_people import minutes_of_visit
from workbook_tools.program.exact import exact
from workbook_tools.program.view import View, listed, number, text

DAY_MINUTES = 8 * 60
"""A working day: what is taken as the most that a person spends in stores; an assumption, no source."""
LONGEST_DAYS = 366
"""A window longer than this is likely a year mistyped."""
_FEW_DAYS = 3
"""Working days left up to which they are few: our own choice."""


def check_window(view: View) -> Iterator[Finding]:
    """What the calendar says about the window, as seen today."""
    starts, due = view.date("starts"), view.date("due")
    if starts is None or due is None or due < starts:
        return
    last = view.setting_row("due")
    if (due - starts).days > LONGEST_DAYS and last:
        yield view.at("program", "window_long", last, "due", days=(due - starts).days + 1)
        return
    seen = window_of(view, starts, due)
    yield from _country(view, seen)
    yield from _dates(view, seen)
    if view.today <= due or view.is_issued:
        yield from _pace(view, seen)


def window_of(view: View, starts: dt.date, due: dt.date) -> Window:
    """The days of the window, with the holidays of the country if it is told and known."""
    country = text(view.setting_row("country"), "country")
    return window_of_stores(starts, due, country, (text(row, "region") for row in view.rows("stores")))


def days_left(view: View, seen: Window) -> tuple[dt.date, ...]:
    """The working days in which the visits are to be made: from today on, unless books are out already."""
    return seen.working if view.is_issued else seen.left(view.today)


def _country(view: View, seen: Window) -> Iterator[Finding]:
    row = view.setting_row("country")
    country = text(row, "country")
    if row and country and not knows(country):
        yield view.at("program", "country_unknown", row, "country")
    days = [f"{one.day.isoformat()} {one.name}" for one in seen.holidays if one.day.weekday() < 5]
    if days and (row := view.setting_row("starts")):
        yield view.at("program", "holidays_inside", row, "starts", count=len(days), days=listed(days))


def _dates(view: View, seen: Window) -> Iterator[Finding]:
    first, last = view.setting_row("starts"), view.setting_row("due")
    if not first or not last:
        return
    if view.today > seen.due and not view.is_issued:
        yield view.at("program", "window_over", last, "due", due=seen.due, today=view.today)
    elif not seen.working:
        yield view.at("program", "no_working_day", first, "starts", starts=seen.starts, due=seen.due)
    elif seen.starts < view.today and not view.is_issued:
        left = len(seen.left(view.today))
        rule, row, key = ("few_days_left", last, "due") if left <= _FEW_DAYS else ("starts_over", first, "starts")
        yield view.at("program", rule, row, key, days=left, today=view.today)
    if seen.starts not in seen.working and seen.working and view.today <= seen.due and not view.is_issued:
        yield view.at("program", "day_off", first, "starts", day=seen.starts)


def _pace(view: View, seen: Window) -> Iterator[Finding]:
    """People with more visits a day than a working day holds."""
    minutes, _ = minutes_of_visit(view)
    days = days_left(view, seen)
    if not minutes or not days:
        return
    visits = Counter(text(row, "merchandiser") for row in view.rows("stores"))
    for row in view.rows("merchandisers"):
        person = text(row, "merchandiser")
        needed = Fraction(visits[person], len(days)) * exact(minutes)
        if needed > DAY_MINUTES and not _has_no_time(view, visits[person], minutes, number(row, "hours")):
            fields = {"person": person, "visits": visits[person], "days": len(days), "minutes": f"{minutes:g}"}
            fields["a_day"] = str(stores_a_day(visits[person], len(days)))
            yield view.at("merchandisers", "pace_high", row, "merchandiser", hours=DAY_MINUTES // 60, **fields)


def _has_no_time(view: View, visits: int, minutes: float, hours: float | None) -> bool:
    """Whether the visits alone are over the hours, which has been said already."""
    return hours is not None and visits * exact(minutes) > exact(hours) * 60
