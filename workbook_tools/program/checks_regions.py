"""Do postcode, region and city of a store go together, judged by the stores around it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.contract.values import letters_of
from workbook_tools.program.slips import one_slip
from workbook_tools.program.view import View, text

_AREA, _POSTCODE = 3, 5
"""The first digits of a postcode of at least so many digits name an area that lies in one region, nearly always."""
_ENOUGH_OTHERS = 2


def check_regions(view: View) -> Iterator[Finding]:
    """A region that is not that of the postcode, a city spelled otherwise than by the other stores of its area."""
    areas: defaultdict[str, list[Row]] = defaultdict(list)
    for postcode, row in view.told("stores", "postcode"):
        if len(postcode) >= _POSTCODE and postcode[:_POSTCODE].isdecimal():
            areas[postcode[:_AREA]].append(row)
    has_regions = len({region for region, _ in view.told("stores", "region")}) > 1
    for area, rows in areas.items():
        if has_regions:
            yield from _of_another_region(view, area, rows)
        if len({row.values.get("city") for row in rows}) > 1:
            yield from _spelled_otherwise(view, rows)


def _of_another_region(view: View, area: str, rows: Sequence[Row]) -> Iterator[Finding]:
    """One store of an area in another region than all the others in it."""
    counts = Counter(region for row in rows if (region := text(row, "region")))
    (usual, often), *rest = counts.most_common() or [("", 0)]
    if often < _ENOUGH_OTHERS or sum(number for _, number in rest) != 1:
        return
    row = next(row for row in rows if text(row, "region") == rest[0][0])
    fields = {"postcode": text(row, "postcode"), "area": area, "usual": usual, "count": often}
    yield view.at("stores", "region_of_another", row, "region", **fields)


def _spelled_otherwise(view: View, rows: Sequence[Row]) -> Iterator[Finding]:
    counts = Counter(city for row in rows if (city := text(row, "city")))
    usual = [city for city, often in counts.items() if often >= _ENOUGH_OTHERS]
    for row in rows if usual else ():
        city = text(row, "city")
        meant = next((other for other in usual if counts[city] == 1 and _is_same(city, other)), "")
        if meant:
            yield view.at("stores", "spelled_otherwise", row, "city", usual=meant, count=counts[meant])


def _is_same(a: str, b: str) -> bool:
    return one_slip(a, b) or letters_of(a) == letters_of(b)
