"""Sheets by who acts: merchandisers who go back, senders who must correct, people to call."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from workbook_tools.contract.findings import Finding
from workbook_tools.program.hours import clock_hours
from workbook_tools.program.joined import joined
from workbook_tools.program.model import Program, Store
from workbook_tools.returns.judge import FileResult
from workbook_tools.rollup.between import between
from workbook_tools.rollup.sheets.page import HEADING_ROW, Page
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.sheets.tables import TableOptions, write_table
from workbook_tools.rollup.short_list import short_list
from workbook_tools.rollup.work import StoreWork, Work

_GO_BACK = ("merchandiser", "store", "name", "city", "wrong", "happened", "bring", "minutes", "visit_date", "phone")
_CORRECT = ("merchandiser", "phone", "email", "store", "name", "file", "sheet", "cell", "problem", "todo")
_NOT_BACK = ("merchandiser", "phone", "email", "store", "name", "city", "store_phone", "days_left")
_CALLS = ("merchandiser", "phone", "email", "stores", "where")


def write_go_back(page: Page, work: Work, happened: Mapping[str, Sequence[str]]) -> Place:
    """Stores to visit again: what to bring, which trays, how long; `happened` says of each store what went wrong."""
    stores = work.go_back()
    sheet = page.head("go_back", _time_of(page, work, stores) if stores else "")
    visited = dict(zip(work.facts.status["store"], work.facts.status["visit_date"], strict=True))
    rows = (
        {
            **_person(work.program, one.store),
            **_store(one.store),
            "wrong": what_is_wrong(page, one),
            "happened": "\n".join(happened.get(one.store.store, ())),
            "bring": bring(page, one),
            "minutes": work.minutes(one),
            "visit_date": visited.get(one.store.store),
        }
        for one in stores
    )
    place = write_table(page, sheet, _GO_BACK, rows, TableOptions(cut=("facts", "flags.csv")))
    page.finish(sheet)
    return place


def _time_of(page: Page, work: Work, stores: Sequence[StoreWork]) -> str:
    """What going back takes at the displays and, where it can be told, on the road between them."""
    at_displays = {"count": len(stores), "hours": clock_hours(sum(map(work.minutes, stores)))}
    ways = between(work.program, (one.store for one in stores))
    if not ways.legs:
        return page.words("rollup.counted.go_back", **at_displays)
    said = page.words("rollup.counted.go_back_road", **at_displays, road=clock_hours(ways.minutes))
    unplaced = page.words("rollup.counted.unplaced", count=ways.unplaced) if ways.unplaced else ""
    return joined([said, unplaced], " ")


def what_is_wrong(page: Page, work: StoreWork) -> str:
    """A store's flags for a merchandiser, a line a kind: "Wrong brand label: A-1-1, A-2-3"."""
    trays: dict[str, list[str]] = {}
    for flag in work.by("merchandiser"):
        trays.setdefault(flag["kind"], []).append(flag["position"])
    lines = (joined([page.words(f"flags.{kind}"), short_list(names)], ": ") for kind, names in trays.items())
    return "\n".join(lines)


def bring(page: Page, work: StoreWork) -> str:
    """Labels and parts to bring, a line each."""
    labels = (page.words("rollup.bring_label", count=count, brand=brand) for brand, count in work.labels.items())
    parts = (
        page.words("rollup.bring_part", count=count, part=part_name(page, key)) for key, count in work.parts.items()
    )
    return "\n".join((*labels, *parts))


def part_name(page: Page, key: str) -> str:
    """A part's mark and name."""
    name = next((part.name for part in page.program.parts if part.part == key), "")
    return joined([key, name], " ")


def write_to_correct(page: Page, work: Work) -> Place:
    """Returns that wait for their sender, a row a cell to put right."""
    found = list(work.to_correct())
    returns = len({result.number for result, _ in found})
    about = page.words("rollup.counted.to_correct", count=len(found), returns=returns)
    sheet = page.head("to_correct", about if found else "")
    rows = _corrections(page, work.program, found)
    place = write_table(page, sheet, _CORRECT, rows, TableOptions(cut=("rows", "findings.csv")))
    page.finish(sheet)
    return place


def _corrections(
    page: Page, program: Program, found: Iterable[tuple[FileResult, Finding]]
) -> Iterator[dict[str, object]]:
    for result, finding in found:
        store = program.store.get(result.store)
        person = _person(program, store) if store else {"email": result.sender}
        yield {**finding.row(page.words), **person, **(_store(store) if store else {}), "file": result.file}


def write_not_back(page: Page, work: Work) -> Place:
    """Whom to call first, then every store that is not back."""
    stores = work.not_back()
    key = "rollup.counted.not_back" if work.days_left else "rollup.counted.not_back_closed"
    about = page.words(key, count=len(stores), days=work.days_left)
    sheet = page.head("not_back", about if stores else "")
    by_person: dict[str, list[Store]] = {}
    for store in stores:
        by_person.setdefault(store.merchandiser, []).append(store)
    calls = sorted(by_person.items(), key=lambda one: -len(one[1]))
    people = (
        {
            **_person(work.program, theirs[0]),
            "stores": len(theirs),
            "where": short_list([one.store for one in theirs], 20),
        }
        for _, theirs in calls
    )
    place = write_table(page, sheet, _CALLS, people)
    top = (place.area[2] if place.area else HEADING_ROW + 1) + 3
    page.section_line(sheet, top - 1, page.words("rollup.titles.not_back_stores"), len(_NOT_BACK))
    rows = ({**_person(work.program, one), **_store(one), "days_left": work.days_left} for one in stores)
    place = write_table(page, sheet, _NOT_BACK, rows, TableOptions(top=top, cut=("rows", "status.csv")))
    page.finish(sheet)
    return place


def _person(program: Program, store: Store) -> dict[str, object]:
    person = program.person(store.merchandiser)
    return {"merchandiser": person.full_name, "phone": person.phone, "email": person.email}


def _store(store: Store) -> dict[str, object]:
    return {"store": store.store, "name": store.name, "city": store.city, "store_phone": store.phone}
