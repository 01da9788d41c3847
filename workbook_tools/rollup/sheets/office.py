"""What the office sends: labels and parts, counted by brand and part, then store by store."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workbook_tools.rollup.sheets.act import part_name
from workbook_tools.rollup.sheets.page import HEADING_ROW, Page
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.sheets.tables import TableOptions, write_table
from workbook_tools.rollup.short_list import short_list
from workbook_tools.rollup.todo import say_things, sent_things
from workbook_tools.rollup.work import Parcel, Work

_WHAT = ("what", "count", "stores", "where")
_STORES = ("what", "count", "store", "address", "name", "by", "merchandiser", "phone")
_CUT = ("facts", "flags.csv")


def write_office(page: Page, work: Work) -> Place:
    """Write the two tables; gives the place of the second, a row for each thing and store."""
    parcels = work.parcels()
    stores = len({one.store.store for one in parcels})
    about = page.words("rollup.counted.office", what=say_things(page.words, sent_things(parcels)), stores=stores)
    sheet = page.head("office", about if parcels else "")
    place = write_table(page, sheet, _WHAT, _by_thing(page, parcels), TableOptions(cut=_CUT))
    top = (place.area[2] if place.area else HEADING_ROW + 1) + 3
    page.section_line(sheet, top - 1, page.words("rollup.titles.office_stores"), len(_STORES))
    place = write_table(page, sheet, _STORES, _by_store(page, parcels), TableOptions(top=top, cut=_CUT))
    page.finish(sheet)
    return place


def _by_thing(page: Page, parcels: Sequence[Parcel]) -> Iterator[dict[str, object]]:
    things: dict[tuple[str, str], list[Parcel]] = {}
    for one in parcels:
        things.setdefault((one.what, one.key), []).append(one)
    for same in things.values():
        where = short_list([f"{one.store.store} ({one.count})" for one in same], 20)
        yield {
            "what": _named(page, same[0]),
            "count": sum(one.count for one in same),
            "stores": len(same),
            "where": where,
        }


def _by_store(page: Page, parcels: Sequence[Parcel]) -> Iterator[dict[str, object]]:
    for one in parcels:
        person = page.program.person(one.store.merchandiser)
        yield {
            "what": _named(page, one),
            "count": one.count,
            "store": one.store.store,
            "name": one.store.name,
            "address": one.store.address,
            "by": page.words(f"rollup.by_{one.by}"),
            "merchandiser": person.full_name,
            "phone": person.phone,
        }


def _named(page: Page, one: Parcel) -> str:
    if one.what == "label":
        return page.words("rollup.send_label", brand=one.key)
    return page.words("rollup.send_part", part=part_name(page, one.key))
