"""The days of a program's window: which can be worked, and how many stores a day that asks for.

Weekends and public holidays are those of the `holidays` package, by country and, where it knows them, by state or
province; days that a country works on in exchange for another are working days. Stores may well be open on a day off;
whether to visit then is the office's to say.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from holidays import HolidayBase

SATURDAY, SUNDAY = 5, 6
DAY = dt.timedelta(days=1)
_CODE_LENGTH = 2
"""Letters of an ISO 3166-1 alpha-2 code; the package takes other names of countries too."""


@dataclass(frozen=True, slots=True)
class Holiday:
    """A public holiday, with the name that the `holidays` package gives it in the country's own language."""

    day: dt.date
    name: str


@dataclass(frozen=True, slots=True)
class Window:
    """A program's window, its first and last day included; all days in order.

    weekend: days of the weekend that are not worked. holidays: public holidays, also those on a weekend.
    working: all other days.
    """

    starts: dt.date
    due: dt.date
    working: tuple[dt.date, ...]
    weekend: tuple[dt.date, ...]
    holidays: tuple[Holiday, ...]

    def left(self, today: dt.date) -> tuple[dt.date, ...]:
        """The working days from `today` on, today included."""
        return tuple(day for day in self.working if day >= today)


def knows(country: str, region: str = "") -> bool:
    """Whether the public holidays of a country (ISO 3166-1 alpha-2) and of a state or province in it are known."""
    if len(country) != _CODE_LENGTH or not country.isupper():
        return False
    import holidays  # noqa: PLC0415 - only where a country is told

    try:
        holidays.country_holidays(country, subdiv=region or None)
    except NotImplementedError:
        return False
    return True


def window(starts: dt.date, due: dt.date, country: str = "", region: str = "") -> Window:
    """Sort the days from `starts` to `due` into working days, weekends and holidays; due before starts has none.

    Without a country, Saturdays and Sundays are off and no holidays are known. A region that is not known counts as
    none: its country's holidays hold.

    Raises:
        ValueError: the country is not known.
    """
    if country and not knows(country):
        raise ValueError(f"expected an ISO 3166-1 country code with known holidays, got {country!r}")
    days = [starts + DAY * number for number in range((due - starts).days + 1)]
    known = _holidays(country, region if country and region and knows(country, region) else "", days)
    working = tuple(day for day in days if _is_working(day, known))
    off = set(days) - set(working)
    return Window(
        starts=starts,
        due=due,
        working=working,
        weekend=tuple(day for day in days if day in off and _is_weekend(day, known)),
        holidays=tuple(Holiday(day, known[day]) for day in days if known is not None and day in known),
    )


def window_of_stores(starts: dt.date, due: dt.date, country: str, regions: Iterable[str]) -> Window:
    """The same for stores in some regions ("" where one is not told): a region's own holidays hold where all stores lie
    in it. A country that is not known counts as none.
    """
    where = set(regions)
    return window(starts, due, country if knows(country) else "", where.pop() if len(where) == 1 else "")


def stores_a_day(stores: int, days: int) -> int | None:
    """The stores to be done on each of so many days that all are done by the last, rounded up.

    None when stores are left and no day is.
    """
    if not days:
        return None if stores else 0
    return -(-stores // days)


def _holidays(country: str, region: str, days: list[dt.date]) -> HolidayBase | None:
    if not country or not days:
        return None
    import holidays  # noqa: PLC0415 - only where a country is told

    years = range(days[0].year, days[-1].year + 1)
    return holidays.country_holidays(country, subdiv=region or None, years=years)


def _is_working(day: dt.date, known: HolidayBase | None) -> bool:
    return day.weekday() not in (SATURDAY, SUNDAY) if known is None else known.is_working_day(day)


def _is_weekend(day: dt.date, known: HolidayBase | None) -> bool:
    return day.weekday() in (SATURDAY, SUNDAY) if known is None else known.is_weekend(day)
