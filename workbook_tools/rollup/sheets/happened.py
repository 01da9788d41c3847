"""What happened in each store, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from workbook_tools.rollup.happened import Happening
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.sheets.page import Page
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.sheets.tables import TableOptions, write_table
from workbook_tools.rollup.short_list import short_list

_COLUMNS = ("store", "name", "merchandiser", "about", "said", "trays", "count")


def write_happened(page: Page, facts: Facts, found: Sequence[Happening]) -> Place:
    """A row a pattern, those that explain several trays first."""
    ordered = sorted(found, key=lambda one: (not one.is_explained, -len(one.pattern.positions)))
    explained = sum(one.is_explained for one in found)
    about = page.words("rollup.counted.happened", count=explained, single=len(found) - explained)
    sheet = page.head("happened", about if found else "")
    program = facts.program
    rows = (
        {
            "store": one.store,
            "name": program.store[one.store].name,
            "merchandiser": program.person(program.store[one.store].merchandiser).full_name,
            "about": page.words(f"patterns.{one.about}.name"),
            "said": one.say(page.words, program),
            "trays": short_list(one.pattern.positions, 8),
            "count": len(one.pattern.positions),
        }
        for one in ordered
    )
    place = write_table(page, sheet, _COLUMNS, rows, TableOptions(cut=("facts", "flags.csv")))
    page.finish(sheet, freeze=(4, 2))
    return place
