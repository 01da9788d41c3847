"""Simulated merchandisers: what they find in each store and answer in its field book, seeded and repeatable."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from workbook_tools.program.model import Position, Program, Store

STORES_NOT_BACK = 10
"""How many of the stores have not reported yet."""

Answer = tuple[str, str, str]
"""(block, row key, field key), as `fill` takes it."""


@dataclass(slots=True)
class Visit:
    """One field book as it will be sent back: which file name, when, with which answers."""

    store: str
    file: str
    saved: dt.datetime
    answers: dict[Answer, object] = field(default_factory=dict)

    def say(self, key: str, value: object) -> None:
        """Answer a question of the visit."""
        self.answers["visit", key, key] = value

    def tell(self, position: str, **values: object) -> None:
        """Answer for a position."""
        for key, value in values.items():
            self.answers["positions", position, key] = value


def visits(program: Program, seed: int) -> list[Visit]:
    """All field books that come back, in the order in which they were saved."""
    return list(_Season(program, random.Random(seed)).all())


class _Season:
    """One run of the whole program: every store gets a story, dealt so that everything the trade knows occurs."""

    def __init__(self, program: Program, rng: random.Random) -> None:
        self.program = program
        self.rng = rng
        self.walk = program.walk
        self.brands = [label.brand for label in program.labels]

    def all(self) -> Iterator[Visit]:
        stories = list(_STORIES)
        stores = list(self.program.stores)
        self.rng.shuffle(stores)
        for number, store in enumerate(stores[:-STORES_NOT_BACK]):
            visit = self._good_visit(store, number)
            story = stories[number] if number < len(stories) else _as_planned
            yield from story(self, visit)

    def _good_visit(self, store: Store, number: int) -> Visit:
        """A visit on which all is as planned."""
        days = (self.program.settings.due - self.program.settings.starts).days
        day = self.program.settings.starts + dt.timedelta(days=min(1 + number * 20 // 50, days))
        came = dt.datetime.combine(day, dt.time(8 + number % 7, 5 * (number % 12)))
        left = came + dt.timedelta(minutes=70 + self.rng.randrange(0, 40))
        visit = Visit(store.store, f"{store.store} {self.rng.choice(_FILE_NAMES)}.xlsx", left + dt.timedelta(minutes=4))
        told = {
            "visit_date": day,
            "time_in": came.time(),
            "time_out": left.time(),
            "spoke_to": self.rng.choice(("manager on duty", "receiving", "front desk")),
            "place": self.program.settings.place,
            "carton": "found",
            "built": "yes",
            "tags_asked": "no",
            "photo": "yes" if self.program.settings.photos != "none" else "no",
        }
        for key, value in told.items():
            visit.say(key, value)
        for position in self.walk:
            visit.tell(position.key, as_planned="yes")
        return visit

    def differs(self, visit: Visit, position: Position, **values: object) -> None:
        """Report a position in detail: as planned but for what is given."""
        visit.answers.pop(("positions", position.key, "as_planned"), None)
        told = {"as_planned": "no", "label": self.brand(position), "tag": "on tray", "product": "set", **values}
        visit.tell(position.key, **{key: value for key, value in told.items() if value is not None})

    def brand(self, position: Position) -> str:
        """The brand whose label is due at a position."""
        return self.program.item_at(position).brand

    def other_brand(self, position: Position) -> str:
        """A brand whose label would be wrong at a position."""
        return self.rng.choice([brand for brand in self.brands if brand != self.brand(position)])

    def some(self, count: int) -> list[Position]:
        """Some positions, in the order of the walk."""
        return sorted(self.rng.sample(self.walk, count), key=lambda position: position.order)

    def ask_for_tags(self, visit: Visit, positions: list[Position]) -> None:
        """The store was asked to print the tags of some positions."""
        visit.say("tags_asked", "yes")
        for position in positions:
            self.differs(visit, position, tag="asked store")


Story = Callable[[_Season, Visit], Iterator[Visit]]


def _as_planned(season: _Season, visit: Visit) -> Iterator[Visit]:
    yield visit


def _labels_swapped(season: _Season, visit: Visit) -> Iterator[Visit]:
    for first, second in zip(season.walk, season.walk[1:], strict=False):
        if season.brand(first) != season.brand(second):
            season.differs(visit, first, label=season.brand(second))
            season.differs(visit, second, label=season.brand(first))
            break
    yield visit


def _wrong_labels(season: _Season, visit: Visit) -> Iterator[Visit]:
    for position in season.some(2):
        season.differs(visit, position, label=season.other_brand(position))
    yield visit


def _same_tray_wrong(season: _Season, visit: Visit) -> Iterator[Visit]:
    """The tray that many stores get wrong: the kit or the planogram is likely at fault."""
    position = season.walk[len(season.walk) // 3]
    wrong = next(brand for brand in season.brands if brand != season.brand(position))
    season.differs(visit, position, label=wrong)
    yield visit


def _labels_missing(season: _Season, visit: Visit) -> Iterator[Visit]:
    for position in season.some(2):
        season.differs(visit, position, label="no label")
    yield visit


def _tags_asked(season: _Season, visit: Visit) -> Iterator[Visit]:
    season.ask_for_tags(visit, season.some(5))
    yield visit


def _tags_missing(season: _Season, visit: Visit) -> Iterator[Visit]:
    first, second = season.some(2)
    season.differs(visit, first, tag="no tag")
    season.differs(visit, second, tag="store cannot print", note="printer is broken")
    yield visit


def _tag_of_another_item(season: _Season, visit: Visit) -> Iterator[Visit]:
    first, second = season.some(2)
    code = season.program.item_at(second).item_code
    if code != season.program.item_at(first).item_code:
        season.differs(visit, first, tag_code=code)
    yield visit


def _items_missing(season: _Season, visit: Visit) -> Iterator[Visit]:
    first, second = season.some(2)
    season.differs(visit, first, product="none")
    season.differs(visit, second, product="short", units=max((second.units or 4) // 2, 1))
    yield visit


def _another_item(season: _Season, visit: Visit) -> Iterator[Visit]:
    position = season.some(1)[0]
    planned = season.program.item_at(position)
    other = season.rng.choice([item for item in season.program.items if item.item != planned.item])
    season.differs(visit, position, product="other item", other_item=other.item_code, label=other.brand)
    yield visit


def _substitute(season: _Season, visit: Visit) -> Iterator[Visit]:
    for position in season.walk:
        item = season.program.item_at(position)
        if item.substitutes:
            other = season.program.item[item.substitutes[0]]
            season.differs(visit, position, product="other item", other_item=other.item_code, label=other.brand)
            break
    yield visit


def _left_blank(season: _Season, visit: Visit) -> Iterator[Visit]:
    for position in season.some(3):
        visit.answers.pop(("positions", position.key, "as_planned"))
    half = next(p for p in season.walk if ("positions", p.key, "as_planned") in visit.answers)
    season.differs(visit, half, tag=None)
    yield visit


def _parts_missing(season: _Season, visit: Visit) -> Iterator[Visit]:
    part = season.rng.choice(season.program.parts)
    visit.answers["parts", part.part, "missing"] = 1
    visit.say("carton", "damaged")
    yield visit


def _parts_damaged(season: _Season, visit: Visit) -> Iterator[Visit]:
    visit.answers["parts", season.program.parts[0].part, "damaged"] = 1
    yield visit


def _no_photo(season: _Season, visit: Visit) -> Iterator[Visit]:
    visit.say("photo", "no")
    yield visit


def _not_built(season: _Season, visit: Visit) -> Iterator[Visit]:
    for position in season.walk:
        visit.answers.pop(("positions", position.key, "as_planned"))
    visit.say("carton", "not found")
    visit.say("built", "no")
    visit.say("photo", "no")
    visit.say("why_not", "The carton is not in the back room.")
    visit.answers.pop(("visit", "place", "place"))
    yield visit


def _partly_built(season: _Season, visit: Visit) -> Iterator[Visit]:
    visit.say("built", "partly")
    visit.say("why_not", "One side panel is torn.")
    yield visit


def _stands_elsewhere(season: _Season, visit: Visit) -> Iterator[Visit]:
    visit.say("place", "elsewhere")
    visit.say("note", "By the entrance: the planned place was taken.")
    yield visit


def _allowed_place(season: _Season, visit: Visit) -> Iterator[Visit]:
    if season.program.settings.other_places:
        visit.say("place", season.program.settings.other_places[0])
    yield visit


def _says_yes_but(season: _Season, visit: Visit) -> Iterator[Visit]:
    position = season.some(1)[0]
    visit.tell(position.key, label=season.other_brand(position))
    yield visit


def _times_reversed(season: _Season, visit: Visit) -> Iterator[Visit]:
    visit.say("time_in", "14:10")
    visit.say("time_out", "13.05")
    yield visit


def _other_item_without_code(season: _Season, visit: Visit) -> Iterator[Visit]:
    season.differs(visit, season.some(1)[0], product="other item")
    yield visit


def _corrected_later(season: _Season, visit: Visit) -> Iterator[Visit]:
    """The first return has wrong labels; the same evening a corrected one follows."""
    first = Visit(visit.store, f"{visit.store} first try.xlsx", visit.saved, dict(visit.answers))
    for position in season.some(2):
        season.differs(first, position, label="no label")
    yield first
    visit.file = f"{visit.store} corrected.xlsx"
    visit.saved += dt.timedelta(hours=2)
    visit.say("time_out", (dt.datetime.combine(dt.date.min, _time(visit)) + dt.timedelta(minutes=20)).time())
    yield visit


def _sent_twice(season: _Season, visit: Visit) -> Iterator[Visit]:
    yield visit
    again = Visit(visit.store, f"{visit.store} again.xlsx", visit.saved + dt.timedelta(hours=1), dict(visit.answers))
    yield again


def _sent_blank(season: _Season, visit: Visit) -> Iterator[Visit]:
    visit.answers.clear()
    yield visit


def _time(visit: Visit) -> dt.time:
    time = visit.answers["visit", "time_out", "time_out"]
    assert isinstance(time, dt.time)
    return time


_FILE_NAMES = ("return", "done", "Copy of book", "FINAL", "book (1)")
_STORIES: tuple[Story, ...] = (
    _labels_swapped,
    _wrong_labels,
    _same_tray_wrong,
    _same_tray_wrong,
    _same_tray_wrong,
    _same_tray_wrong,
    _labels_missing,
    _tags_asked,
    _tags_asked,
    _tags_missing,
    _tag_of_another_item,
    _items_missing,
    _another_item,
    _substitute,
    _left_blank,
    _parts_missing,
    _parts_damaged,
    _no_photo,
    _not_built,
    _partly_built,
    _stands_elsewhere,
    _allowed_place,
    _says_yes_but,
    _times_reversed,
    _other_item_without_code,
    _corrected_later,
    _sent_twice,
    _sent_blank,
)
