"""Is the store list what it seems: places that cannot be, names spelled in two ways, one store under two numbers."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from statistics import median

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.contract.values import plain_form
from workbook_tools.program.slips import one_slip
from workbook_tools.program.store_places import flat_km
from workbook_tools.program.view import View, number, text
from workbook_tools.program.ways import Point

_RARE, _COMMON = 2, 5
"""Stores that have a rare spelling and a common one."""
_SOUTHERNMOST, _NORTHERNMOST = -56.0, 79.0
"""Degrees of latitude beyond which there are no towns: Puerto Williams lies at 54.9° S, Longyearbyen at 78.2° N (from
memory)."""
_ENOUGH_OF_DISTRICT, _HARDLY_FARTHER = 3, 2.0
"""Stores beyond which a district, and a person, have enough to say where they are at home; so many times as far from
someone's own stores as from those of its district, a store lies hardly farther (our own choice).
"""


def check_stores(view: View) -> Iterator[Finding]:
    """What looks mistyped or copied down in the store list."""
    yield from _coordinates(view)
    yield from _same_address(view)
    for key in ("region", "district"):
        yield from _spelled_otherwise(view, key)
    yield from _of_another_district(view)


def _coordinates(view: View) -> Iterator[Finding]:
    for row in view.rows("stores"):
        if row.number in view.store_places.told:
            continue
        told = [key for key in ("latitude", "longitude") if key in row.values]
        if len(told) == 1 and not row.broken & {"latitude", "longitude"}:
            other = "longitude" if told[0] == "latitude" else "latitude"
            yield view.at("stores", "coordinate_alone", row, other)
        elif number(row, "latitude") == 0 == number(row, "longitude"):
            yield view.at("stores", "coordinates_zero", row, "latitude")
    for row in view.rows("stores") if view.store_places.far else ():
        if distance := view.store_places.far.get(row.number):
            yield view.at("stores", "store_far_off", row, "latitude", distance=f"{round(distance, -1):g}")
    yield from _exchanged(view)
    yield from _same_place(view)


def _exchanged(view: View) -> Iterator[Finding]:
    """One finding where the columns of most stores are exchanged, as far as that can be seen."""
    told = view.store_places.told
    if not told:
        return
    first, second = (median(column) for column in zip(*told.values(), strict=True))
    if not _has_towns(first) and _has_towns(second):
        rows = (row for row in view.rows("stores") if row.number in told)
        row = next(row for row in rows if not _has_towns(told[row.number][0]))
        yield view.at("stores", "coordinates_exchanged", row, "latitude", latitude=f"{told[row.number][0]:g}")


def _has_towns(latitude: float) -> bool:
    return _SOUTHERNMOST <= latitude <= _NORTHERNMOST


def _same_place(view: View) -> Iterator[Finding]:
    """One note on stores that stand at the very same point although their streets differ."""
    first: dict[Point, Row] = {}
    same = []
    for row in view.rows("stores"):
        where = view.store_places.told.get(row.number)
        if where is None:
            continue
        if where not in first:
            first[where] = row
        elif plain_form(text(first[where], "street")) != plain_form(text(row, "street")):
            same.append((row, first[where]))
    if same:
        row, other = same[0]
        fields = {"count": len(same), "store": text(row, "store"), "other": text(other, "store")}
        yield view.at("stores", "same_point", row, "latitude", **fields)


def _same_address(view: View) -> Iterator[Finding]:
    """One address under two store numbers."""
    seen: dict[str, Row] = {}
    for row in view.rows("stores"):
        street, city = text(row, "street"), text(row, "city")
        if not street or not any(map(str.isdigit, street)):
            continue
        address = plain_form(f"{street}|{city}|{text(row, 'postcode')}")
        if address in seen:
            yield view.at("stores", "address_twice", row, "street", first=view.cell("stores", seen[address], "street"))
        else:
            seen[address] = row


def _spelled_otherwise(view: View, key: str) -> Iterator[Finding]:
    """A name in another spelling than most stores have it: cases, spaces and dashes differ, or one slip of the hand."""
    counts = Counter(value for row in view.rows("stores") if (value := text(row, key)))
    usual: dict[str, str] = {}
    by_form: defaultdict[str, list[str]] = defaultdict(list)
    for value in counts:
        by_form["".join(filter(str.isalnum, plain_form(value)))].append(value)
    for values in by_form.values():
        most = max(values, key=lambda value: counts[value])
        usual |= {value: most for value in values if value != most and counts[value] < counts[most]}
    common = [value for value, often in counts.items() if often >= _COMMON]
    for value, often in counts.items():
        if value not in usual and often <= _RARE:
            usual.update((value, other) for other in common if one_slip(value, other))
    for row in view.rows("stores") if usual else ():
        if (value := text(row, key)) in usual:
            yield view.at("stores", "spelled_otherwise", row, key, usual=usual[value], count=counts[usual[value]])


def _of_another_district(view: View) -> Iterator[Finding]:
    """A store whose merchandiser has all other stores elsewhere, while others have all the rest of its district."""
    stores = [(text(row, "district"), text(row, "merchandiser"), row) for row in view.rows("stores")]
    told = [one for one in stores if one[0] and one[1]]
    both = Counter((district, person) for district, person, _ in told)
    districts = Counter(district for district, _, _ in told)
    people = Counter(person for _, person, _ in told)
    homes: defaultdict[str, set[str]] = defaultdict(set)
    for district, person in both:
        homes[person].add(district)
    for district, person, row in told:
        is_alone = both[district, person] == 1 and len(homes[person]) == 2
        if not is_alone or min(districts[district], people[person]) <= _ENOUGH_OF_DISTRICT:
            continue
        theirs = [other for _, who, other in told if who == person and other is not row]
        if not _is_near(
            view, row, theirs, [other for where, _, other in told if where == district and other is not row]
        ):
            (home,) = homes[person] - {district}
            fields = {"person": person, "home": home, "district": district}
            yield view.at("stores", "district_of_another", row, "merchandiser", **fields)


def _is_near(view: View, row: Row, own: Sequence[Row], others: Sequence[Row]) -> bool:
    """Whether a store lies hardly farther from someone's own stores than from the others of its district."""
    told = view.store_places.told
    where = told.get(row.number)
    ways = [[flat_km(where, told[one.number]) for one in rows if one.number in told] for rows in (own, others) if where]
    return len(ways) == 2 and all(ways) and min(ways[0]) <= _HARDLY_FARTHER * min(ways[1])
