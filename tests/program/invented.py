"""Programs in order, as varied as real ones: one seed, one program, as the rows of its setup.

They differ in units, faces, shelves, trays, in what is told at all, in how codes, places and streets are written, in
stores and people. Nothing in them is wrong: what is planned fits, what is packed suffices, people have the hours.
"""

from __future__ import annotations

import datetime as dt
import random
from fractions import Fraction
from typing import Any

from workbook_tools.program.gtin import check_digit

Row = dict[str, Any]
Blocks = dict[str, list[Row]]

_FIRST = (
    "Bra",
    "Col",
    "Den",
    "Fer",
    "Gla",
    "Hol",
    "Jun",
    "Kel",
    "Lor",
    "Mar",
    "Nor",
    "Pel",
    "Qua",
    "Ros",
    "Sel",
    "Tor",
)
_LAST = ("ton", "wick", "mere", "low", "by", "dale", "ford", "den", "well", "stow", "beck", "combe")
_GOODS = ("Jam", "Té", "Soap", "Bougie", "Honey", "Galletas", "Sauce", "Chips", "Coffee", "Piles", "Socks", "Mugs")
_KINDS = ("original", "dark", "mild", "family size", "mini", "set of 2", "red", "azul", "for two", "100 g", "citron")
_PEOPLE = ("Ada", "Ben", "Cleo", "Dov", "Eli", "Fay", "Gus", "Hana", "Ivo", "June", "Kai", "Lena", "Milo", "Nia")
_STREETS = ("{n} {x} Street", "Calle {x} {n}", "{n} bis rue {x}", "Unit {n}, {x} Park")
_PARTS = ("Base", "Side wall", "Back", "Shelf", "Clip", "Header", "Rail")
_STEPS = ("Open the carton", "Unfold the base", "Set the shelves", "Fill the trays", "Put on labels", "Take the photo")
_CM, _KG = 2.54, 0.45359237


class Invented:
    """One program: `blocks` are its rows, `today` a day on which it is looked at."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.seed = seed
        self.is_metric = self.random.random() < 0.5
        self.openness = self.random.random()
        self.today = dt.date(2027, 1, 11) + dt.timedelta(days=self.random.randint(0, 200))
        self.blocks: Blocks = {}
        self._goods()
        self._planogram()
        self._kit()
        self._people()
        self._program()

    def _tells(self, chance: float = 0.7) -> bool:
        """Whether something optional is told in this program."""
        return self.random.random() < chance * (0.5 + 0.6 * self.openness)

    def _length(self, inches: float) -> float:
        return round(inches * _CM, 1) if self.is_metric else round(inches, 2)

    def _weight(self, pounds: float) -> float:
        return round(pounds * _KG, 3) if self.is_metric else round(pounds, 2)

    def _names(self, count: int) -> list[str]:
        """Different names, any two of them more than a slip of the hand apart."""
        lasts = self.random.sample(_LAST, len(_LAST))
        return [
            f"{self.random.choice(_FIRST)}{lasts[n % len(lasts)]}{'' if n < len(lasts) else f' {n}'}"
            for n in range(count)
        ]

    def _goods(self) -> None:
        pick = self.random
        brands = self._names(pick.randint(2, 6))
        names = pick.sample(
            [f"{good} {kind}" for good in _GOODS for kind in _KINDS], pick.randint(max(4, len(brands)), 24)
        )
        length = pick.choice((5, 6, 8))
        first = pick.randint(0 if pick.random() < 0.5 else 10 ** (length - 1), 10 ** (length - 1) * 9)
        told = {key: self._tells(0.85) for key in ("size", "gtin", "case_pack", "description")}
        items = []
        for number, name in enumerate(names):
            body = f"952{self.seed * 100 + number:09}"
            brand = brands[number] if number < len(brands) else pick.choice(brands)
            item: Row = {"item": name, "item_code": f"{first + number * 9:0{length}}", "brand": brand}
            sides = [pick.uniform(1.5, 4.4) for _ in range(3)]
            if told["size"]:
                item |= dict(zip(("width", "depth", "height"), map(self._length, sides), strict=True))
                item["weight"] = self._weight(sides[0] * sides[1] * sides[2] * 0.0361 * pick.uniform(0.15, 1.1))
            more = {
                "gtin": body + check_digit(body),
                "case_pack": pick.choice((4, 6, 12, 24)),
                "description": f"{name} {number}",
            }
            items.append(item | {key: value for key, value in more.items() if told[key]})
        self.blocks["items"] = items

    def _planogram(self) -> None:
        pick, items = self.random, self.blocks["items"]
        self.blocks |= {"shelves": [], "positions": []}
        width, depth, is_even = pick.choice((18, 20, 24, 36)), pick.choice((10, 12, 16)), pick.random() < 0.6
        most, counts = pick.randint(1, 4), self._tells(0.9)
        order = pick.sample(items, len(items))
        for face in "ABCD"[: pick.randint(1, 4)]:
            for shelf in range(1, pick.randint(2, 6) + 1):
                row: Row = {"face": face, "shelf": shelf, "width": self._length(width), "depth": self._length(depth)}
                row |= {} if shelf == 1 and pick.random() < 0.4 else {"height": self._length(pick.choice((8, 10, 14)))}
                self.blocks["shelves"].append(row)
                places = most if is_even else pick.randint(1, 4)
                for place in range(1, places + 1):
                    order.append(order.pop(0))
                    tray = {"face": face, "shelf": shelf, "place": place, "item": order[-1]["item"]}
                    self.blocks["positions"].append(tray | (self._counts(row, order[-1], places) if counts else {}))
        standing = {row["item"] for row in self.blocks["positions"]}
        self.blocks["items"] = [item for item in items if item["item"] in standing]
        if not self._tells(0.9):
            self.blocks["shelves"] = []

    def _counts(self, shelf: Row, item: Row, places: int) -> Row:
        """As many as stand in an equal share of the shelf, without and often with the units that come of it."""
        if "width" not in item:
            return {"facings": self.random.randint(1, 4), "deep": self.random.randint(1, 5), "high": 1}
        share = Fraction(str(shelf["width"])) / places
        facings, deep = int(share / Fraction(str(item["width"]))), int(shelf["depth"] / item["depth"])
        high = min(3, int(shelf["height"] / item["height"])) if "height" in shelf else 1
        units = {"units": facings * deep * high} if self.random.random() < 0.8 else {}
        return {"facings": facings, "deep": deep, "high": high, **units}

    def _kit(self) -> None:
        pick = self.random
        brand_of = {item["item"]: item["brand"] for item in self.blocks["items"]}
        standing = [brand_of[row["item"]] for row in self.blocks["positions"]]
        told, spare, worded = self._tells(0.85), pick.choice((0, 0, 1, 2)), self._tells(0.5)
        self.blocks["labels"] = [
            {"brand": brand}
            | ({"packed": standing.count(brand) + spare} if told else {})
            | ({"wording": f"{brand}, since {1900 + number}"} if worded else {})
            for number, brand in enumerate(dict.fromkeys(standing))
        ]
        names = _PARTS[: pick.randint(3, 7)] if self._tells(0.9) else ()
        self.blocks["parts"] = [
            {"part": f"P{n}", "name": name, "quantity": pick.choice((1, 2, 16))} for n, name in enumerate(names, 1)
        ]
        minutes = {"minutes": pick.choice((5, 10, 15))} if self._tells() else {}
        told_steps = _STEPS[: pick.randint(3, 6)] if self._tells(0.9) else ()
        self.blocks["steps"] = [{"step": n, "do": text} | minutes for n, text in enumerate(told_steps, 1)]

    def _people(self) -> None:
        pick = self.random
        count = pick.choice((3, 8, 20, 75, 200))
        people = pick.sample(_PEOPLE, max(1, min(pick.randint(1, 12), count // 2)))
        cities, regions = self._names(max(3, count // 3)), self._names(pick.randint(1, 4))
        told = {key: self._tells(0.8) for key in ("address", "district", "place", "phone")}
        digits = pick.choice((4, 5))
        first = pick.randint(1, 3000)
        stores = []
        for number in range(count):
            city = number * len(cities) // count
            region = city * len(regions) // len(cities)
            person = number * len(people) // count
            store: Row = {"store": f"{first + 3 * number:0{digits}}", "merchandiser": people[person]}
            store["name"] = f"{cities[city]} {number + 1}"
            street = pick.choice(_STREETS).format(n=number + 1, x=pick.choice(_FIRST))
            postcode = f"{11 + region * 13}{city % 10}{pick.randint(0, 99):02}"
            address = {"street": street, "city": cities[city], "region": regions[region], "postcode": postcode}
            where = {
                "latitude": 40 + region + city / 50 + pick.uniform(0, 0.1),
                "longitude": -90 + region + pick.uniform(0, 1),
            }
            store |= address if told["address"] else {}
            store |= {"district": f"District {person // 2 + 1}"} if told["district"] else {}
            store |= {"phone": f"555 {pick.randint(100, 9999):04}"} if told["phone"] else {}
            stores.append(store | (where if told["place"] else {}))
        self.blocks["stores"] = stores
        mail, hours = self._tells(0.8), self._tells(0.6)
        self.blocks["merchandisers"] = [
            {"merchandiser": person}
            | ({"email": f"{person.lower()}@example.com"} if mail else {})
            | ({"hours": 30 + 4 * sum(store["merchandiser"] == person for store in stores)} if hours else {})
            for person in people
        ]

    def _program(self) -> None:
        pick = self.random
        starts = self.today + dt.timedelta(days=pick.randint(7, 40))
        starts += dt.timedelta(days=max(0, 7 - starts.weekday()) if starts.weekday() > 4 else 0)
        busiest = max(
            sum(store["merchandiser"] == row["merchandiser"] for store in self.blocks["stores"])
            for row in self.blocks["merchandisers"]
        )
        settings: Row = {
            "name": f"{pick.choice(_FIRST)} tower", "code": f"T{self.seed}", "contact": "Robin", "place": "Front end",
            "units": "cm, kg" if self.is_metric else "in, lb", "photos": pick.choice(("none", "one", "one a face")),
            "starts": starts, "due": starts + dt.timedelta(days=13 + busiest),
        }  # fmt: skip
        settings |= {"visit_minutes": 90} if self._tells() else {}
        settings |= {"other_places": "Front of store; By the tills"} if self._tells(0.5) else {}
        settings |= {"country": pick.choice(("US", "GB", "ES", "FR"))} if self._tells(0.3) else {}
        if self._tells(0.6):
            sides = dict(
                zip(("carton_length", "carton_width", "carton_height"), (46, 32, pick.choice((5, 8))), strict=True)
            )
            settings |= {key: self._length(side) for key, side in sides.items()}
            settings["carton_weight"] = self._weight(pick.choice((18, 25, 30)))
        self.blocks["program"] = [settings]
