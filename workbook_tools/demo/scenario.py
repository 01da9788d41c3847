"""The invented program of the demo: what a coordinator would have filled in, as rows of the setup blocks.

display.toml holds what is the same for every seed (program, planogram, items, parts, steps), region.toml the region and
the merchandisers. The 60 stores are made from the region by the seed. Nothing in it exists: see the heads of
both files for how names, numbers and coordinates were chosen so that they cannot be taken for real ones.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from workbook_tools.contract.load import read_toml
from workbook_tools.contract.words import languages

_HERE = Path(__file__).resolve().parent
_STORE_NUMBERS = range(104, 3000)
_STORE_PHONES = range(110, 200)
_SPREAD_DEGREES = 0.035
"""How far a store may lie from the middle of its town, north or east (about 4 km)."""


@dataclass(frozen=True)
class Scenario:
    """One whole setup: block key (program, shelves, positions, …, without `#`) → its rows, in order.

    Each row maps the block's column keys to plain values: text, numbers, dates; lists are text with `; ` between.
    `program` has one row, which maps each key of that block to its value.
    """

    blocks: dict[str, list[dict[str, object]]]


def scenario(seed: int = 1) -> Scenario:
    """The demo program; the same seed gives the same rows.

    The seed decides the stores' numbers, addresses, phones and coordinates, not how many there are or whose they are
    in each district. A merchandiser whose language has no words file yet gets a blank one, that is the program's.
    """
    display = read_toml(_HERE / "display.toml")
    region = read_toml(_HERE / "region.toml")
    stores = sorted(_stores(random.Random(seed), region), key=lambda row: str(row["store"]))
    for person in region["blocks"]["merchandisers"]:
        person["language"] = person["language"] if person["language"] in languages() else ""
    return Scenario({"program": display["program"], **display["blocks"], "stores": stores, **region["blocks"]})


def _stores(rng: random.Random, region: Mapping[str, Any]) -> Iterator[dict[str, object]]:
    """All stores, district by district; store numbers and phones are dealt at random."""
    count = sum(town["stores"] for district in region["districts"] for town in district["towns"])
    numbers = iter(rng.sample(_STORE_NUMBERS, count))
    phones = iter(rng.sample(_STORE_PHONES, count))
    streets = iter(rng.sample(_street_names(region["words"]), count))
    for district in region["districts"]:
        owners = _owners(district)
        for town in district["towns"]:
            for quarter in rng.sample(region["words"]["quarters"], town["stores"]):
                yield {
                    "store": f"{next(numbers):05d}",
                    "name": f"{town['city']} {quarter}",
                    "street": f"{rng.randrange(2, 400)} {next(streets)}",
                    "city": town["city"],
                    "region": district["region"],
                    "postcode": f"Q{rng.randrange(100):02d}-{town['letter']}{rng.randrange(100):02d}",
                    "district": district["district"],
                    "phone": f"555-0{next(phones)}",
                    "merchandiser": next(owners),
                    "latitude": _near(rng, town["latitude"]),
                    "longitude": _near(rng, town["longitude"]),
                }


def _street_names(words: Mapping[str, list[str]]) -> list[str]:
    return [f"{name} {kind}" for name in words["streets"] for kind in words["street_kinds"]]


def _owners(district: Mapping[str, Any]) -> Iterator[str]:
    """Who serves each store of a district, in order: equal shares, so that a person's towns lie together."""
    people: list[str] = district["merchandisers"]
    count = sum(town["stores"] for town in district["towns"])
    return (people[number * len(people) // count] for number in range(count))


def _near(rng: random.Random, middle: float) -> float:
    """A latitude or longitude in or around a town, in degrees to 4 decimals (about 10 m)."""
    return round(middle + rng.uniform(-_SPREAD_DEGREES, _SPREAD_DEGREES), 4)
