"""Is the store list what it seems: places that cannot be, names spelled in two ways, one store under two numbers."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from math import cos, hypot, radians
from statistics import median

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.tables import Row
from workbook_tools.contract.values import plain_form
from workbook_tools.program.checks_items import lost_zeros
from workbook_tools.program.view import View, number, text

Point = tuple[float, float]

_KM_A_DEGREE = 111.2
"""Of a great circle (pi x 6371 / 180); far stores are measured on the flat, which is enough to tell the far ones."""
_FAR_KM, _FAR_TIMES, _ENOUGH_STORES = 500.0, 8.0, 4
"""A store is far off when it lies so far from the middle of all, and so many times as far as the middle one does."""
_RARE, _COMMON = 2, 5
_ENOUGH_OF_DISTRICT, _HARDLY_FARTHER = 3, 2.0


def check_stores(view: View) -> Iterator[Finding]:
    """What looks mistyped or copied down in the store list."""
    yield from lost_zeros(view, "stores", "store")
    yield from lost_zeros(view, "stores", "postcode")
    yield from _coordinates(view)
    yield from _same_address(view)
    for key in ("region", "district"):
        yield from _spelled_otherwise(view, key)
    yield from _of_another_district(view)


def place_of(row: Row) -> Point | None:
    """A store's latitude and longitude; None when one of them is not told or can be none."""
    where = number(row, "latitude"), number(row, "longitude")
    if where[0] is None or where[1] is None or abs(where[0]) > 90 or abs(where[1]) > 180 or where == (0, 0):
        return None
    return where[0], where[1]


def trusted_places(view: View) -> dict[int, Point]:
    """The places of all stores that lie where a store of this program may be, by 0-based row."""
    placed = [(where, row) for row in view.rows("stores") if (where := place_of(row))]
    far = {row.number for _, row in _far_off(placed)}
    return {row.number: where for where, row in placed if row.number not in far}


def _coordinates(view: View) -> Iterator[Finding]:
    placed: list[tuple[Point, Row]] = []
    for row in view.rows("stores"):
        told = [key for key in ("latitude", "longitude") if key in row.values]
        if len(told) == 1 and not row.broken & {"latitude", "longitude"}:
            other = "longitude" if told[0] == "latitude" else "latitude"
            yield view.at("stores", "coordinate_alone", row, other)
        elif number(row, "latitude") == 0 == number(row, "longitude"):
            yield view.at("stores", "coordinates_zero", row, "latitude")
        elif where := place_of(row):
            placed.append((where, row))
    for distance, row in _far_off(placed):
        yield view.at("stores", "store_far_off", row, "latitude", distance=f"{round(distance, -1):g}")
    yield from _same_place(view, placed)


def _far_off(placed: Sequence[tuple[Point, Row]]) -> Iterator[tuple[float, Row]]:
    """Stores far from all others, with their km: a sign was lost, or latitude and longitude were exchanged."""
    if len(placed) < _ENOUGH_STORES:
        return
    middle = (median(where[0] for where, _ in placed), median(where[1] for where, _ in placed))
    distances = [_flat_km(where, middle) for where, _ in placed]
    far = max(_FAR_KM, _FAR_TIMES * median(distances))
    for distance, (_, row) in zip(distances, placed, strict=True):
        if distance > far:
            yield distance, row


def _flat_km(a: Point, b: Point) -> float:
    east = abs(a[1] - b[1])
    return _KM_A_DEGREE * hypot(a[0] - b[0], min(east, 360 - east) * cos(radians((a[0] + b[0]) / 2)))


def _same_place(view: View, placed: Sequence[tuple[Point, Row]]) -> Iterator[Finding]:
    """One note on stores that stand at the very same point although their streets differ."""
    first: dict[Point, Row] = {}
    same = []
    for where, row in placed:
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
    seen: dict[tuple[str, ...], Row] = {}
    for row in view.rows("stores"):
        street, city = text(row, "street"), text(row, "city")
        if not street or not any(map(str.isdigit, street)):
            continue
        address = tuple(plain_form(one) for one in (street, city, text(row, "postcode")))
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


def one_slip(a: str, b: str) -> bool:
    """Whether one letter more, less, other or exchanged with its neighbour makes one text of the other.

    Texts that differ in a digit do not count, nor short ones: District 1 is not District 2, East is not Eats.
    """
    if a == b or max(len(a), len(b)) < 5 or abs(len(a) - len(b)) > 1:
        return False
    start = 0
    while start < min(len(a), len(b)) and a[start] == b[start]:
        start += 1
    rest_a, rest_b = a[start:], b[start:]
    if any(map(str.isdigit, rest_a[:2] + rest_b[:2])):
        return False
    swapped = len(rest_a) > 1 and rest_a[1::-1] == rest_b[:2] and rest_a[2:] == rest_b[2:]
    return swapped or rest_a[1:] == rest_b[1:] or rest_a[1:] == rest_b or rest_a == rest_b[1:]


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
        if not _is_near(row, theirs, [other for where, _, other in told if where == district and other is not row]):
            (home,) = homes[person] - {district}
            fields = {"person": person, "home": home, "district": district}
            yield view.at("stores", "district_of_another", row, "merchandiser", **fields)


def _is_near(row: Row, own: Sequence[Row], others: Sequence[Row]) -> bool:
    """Whether a store lies hardly farther from someone's own stores than from the others of its district."""
    where = place_of(row)
    ways = [[_flat_km(where, there) for one in rows if (there := place_of(one))] for rows in (own, others) if where]
    return len(ways) == 2 and all(ways) and min(ways[0]) <= _HARDLY_FARTHER * min(ways[1])
