"""What is wrong more often than the rest, in sentences: positions, brands, people."""

from __future__ import annotations

from collections.abc import Sequence

from workbook_tools.rollup.often import PERSON, POSITION, Often
from workbook_tools.rollup.sheets.page import Page
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.sheets.tables import TableOptions, write_table
from workbook_tools.rollup.statistics import LEAST_MORE

_COLUMNS = ("about", "named", "wrong_count", "of_count", "share", "rest", "chance", "said")


def write_often(page: Page, found: Sequence[Often]) -> Place:
    """A row for each; none is good news."""
    key = "rollup.counted.often" if found else "rollup.counted.often_none"
    sheet = page.head("often", page.words(key, count=len(found), least=round(100 * LEAST_MORE)))
    shares = {
        "share": page.share,
        "rest": page.share,
        "chance": page.style(num_format="0.0000%", valign="top", align="right", indent=1),
    }
    place = write_table(page, sheet, _COLUMNS, (_row(page, one) for one in found), TableOptions(formats=shares))
    page.widen(sheet, 1, 260)
    page.finish(sheet)
    return place


def _row(page: Page, one: Often) -> dict[str, object]:
    found = one.found
    return {
        "about": page.words(f"rollup.often.{one.about}_name"),
        "named": named(page, one),
        "wrong_count": found.wrong,
        "of_count": found.total,
        "share": found.wrong / found.total,
        "rest": found.rest_rate,
        "chance": found.p,
        "said": say(page, one),
    }


def named(page: Page, one: Often) -> str:
    """How people call it: a position with its item, a brand, a person's full name."""
    if one.about == POSITION:
        position = next((tray for tray in page.program.walk if tray.key == one.name), None)
        return f"{one.name} · {position.item}" if position else one.name
    return page.program.person(one.name).full_name if one.about == PERSON else one.name


def say(page: Page, one: Often) -> str:
    """The sentence, with the counts."""
    found = one.found
    counts = {"wrong": found.wrong, "total": found.total, "rest": page.words.number(found.rest_rate, ".1%")}
    return page.words(f"rollup.often.{one.about}", name=named(page, one), **counts)
