"""The numbers with their certainty: displays and stores, districts, brands, weeks, and what the visits took."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from workbook_tools.contract.writing import SheetWriter
from workbook_tools.program.exact import exact
from workbook_tools.program.hours import decimal_hours
from workbook_tools.program.wrapped import lines_of
from workbook_tools.rollup.labour import Labour, everyone, labour, planned_minutes
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.rates import RIGHT, STAND, Rate, StoreFact, by_brand, by_district, by_week, rates_of
from workbook_tools.rollup.sheets.columns import LINE, PADDING
from workbook_tools.rollup.sheets.page import ABOUT_ROW, HEADING_ROW, Page
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.sheets.tables import TableOptions, write_table

_RATE = ("measure", "hits", "trials", "share", "low", "high", "population")
_DISTRICT = ("district", "population", "trials", "stand", "whole", "share", "low", "high")
_BRAND = ("brand", "trays_right", "trays_seen", "trays_share", "hits", "trials", "share", "low", "high")
_WEEK = ("week", "visited", "stand", "whole", "stand_in_all")
_LABOUR = ("merchandiser", "visits", "untimed", "minutes_spent", "hours_spent", "minutes_planned", "minutes_over")
_FIRST_WIDTH, _WIDTH = 200, 100
"""Pixels; all columns together fit a screen of 1,024."""
_LAST = len(_BRAND) - 1


class Blocks:
    """Tables under one another on one sheet, each under its heading."""

    def __init__(self, page: Page, sheet: SheetWriter, top: int = HEADING_ROW) -> None:
        self.page = page
        self.sheet = sheet
        self.top = top
        self.formats: dict[str, object] = dict.fromkeys(("share", "low", "high", "trays_share"), page.share)
        self.formats["hours_spent"] = page.style(valign="top", num_format="0.00", align="right", indent=1)

    def add(self, title: str, columns: Sequence[str], rows: Iterable[Mapping[str, object]], note: str = "") -> Place:
        """Write a table under a heading, with a sentence that explains it."""
        row = (self.top, 0, self.top, _LAST)
        self.sheet.merged_text(row, self.page.words(f"rollup.numbers.{title}"), self.page.section)
        self.sheet.set_row_pixels(self.top, 30)
        if note:
            self.sentence(self.top + 1, note)
        options = TableOptions(top=self.top + 2, formats=self.formats, widths=(_FIRST_WIDTH, _WIDTH), charted=True)
        place = write_table(self.page, self.sheet, columns, rows, options)
        self.top = (place.area[2] if place.area else self.top + 3) + 2
        return place

    def sentence(self, row: int, said: str) -> None:
        """A sentence across the sheet, over as many lines as it takes."""
        style = self.page.style(font_color="quiet_ink", text_wrap=True, valign="top")
        self.sheet.merged_text((row, 0, row, _LAST), said, style)
        lines = lines_of(said, _FIRST_WIDTH + _LAST * _WIDTH)
        self.sheet.set_row_pixels(row, lines * LINE + PADDING)


def write_numbers(page: Page, facts: Facts, stores: Sequence[StoreFact]) -> None:
    """The office's sheet of numbers."""
    said = sure(page, stores)
    sheet = page.head("numbers", said)
    blocks = Blocks(page, sheet)
    blocks.sentence(ABOUT_ROW, said)
    add_rates(blocks, stores)
    add_districts(blocks, stores)
    add_brands(blocks, facts)
    add_weeks(blocks, stores)
    _add_labour(blocks, facts)
    set_widths(page, sheet)
    page.finish(sheet, freeze=(HEADING_ROW, 1), repeat=0)


def set_widths(page: Page, sheet: SheetWriter) -> None:
    """The first column for names, the others alike."""
    page.widen(sheet, 0, _FIRST_WIDTH)
    for column in range(1, len(_BRAND)):
        page.widen(sheet, column, _WIDTH)


def sure(page: Page, stores: Sequence[StoreFact]) -> str:
    """How sure the share of displays that stand right is, in a sentence."""
    rate = next(one for one in rates_of(stores) if one.name == RIGHT)
    interval = rate.interval
    if interval is None or rate.share is None:
        return page.words("rollup.numbers.nothing_back", stores=rate.population)
    share = page.words.number(rate.share, ".0%")
    about = {"right": rate.hits, "back": rate.trials, "stores": rate.population, "share": share}
    if rate.trials == rate.population:
        return page.words("rollup.numbers.all_back", **about)
    low, high = (page.words.number(bound, ".0%") for bound in (interval.low, interval.high))
    return page.words("rollup.numbers.sure", **about, low=low, high=high)


def add_rates(blocks: Blocks, stores: Sequence[StoreFact], *names: str) -> Place:
    """The rates of all stores; only the named ones when any are."""
    words = blocks.page.words
    chosen = [one for one in rates_of(stores) if one.name in names or not names]
    rows = ({"measure": words(f"rollup.numbers.measure_{one.name}"), **_rate(one)} for one in chosen)
    return blocks.add("rates", _RATE, rows, words("rollup.numbers.about_rates"))


def _rate(one: Rate) -> dict[str, object]:
    interval = one.interval
    return {
        "hits": one.hits,
        "trials": one.trials,
        "population": one.population,
        "share": one.share,
        "low": interval.low if interval else None,
        "high": interval.high if interval else None,
    }


def add_districts(blocks: Blocks, stores: Sequence[StoreFact]) -> Place:
    """Displays that stand and stand right, by district; the share is of those that stand right."""
    return blocks.add("districts", _DISTRICT, _districts(stores), blocks.page.words("rollup.numbers.about_districts"))


def _districts(stores: Sequence[StoreFact]) -> Iterator[dict[str, object]]:
    for district, rates in by_district(stores):
        named = {one.name: one for one in rates}
        whole = named[RIGHT]
        yield {**_rate(whole), "district": district or "–", "stand": named[STAND].hits, "whole": whole.hits}


def add_brands(blocks: Blocks, facts: Facts) -> Place:
    """Trays that are right, by the brand planned there, and stores in which all of a brand's trays are."""
    rows = (
        {
            **_rate(one.stores),
            "brand": one.brand,
            "trays_right": one.right,
            "trays_seen": one.trays,
            "trays_share": one.right / one.trays,
        }
        for one in by_brand(facts)
    )
    return blocks.add("brands", _BRAND, rows, blocks.page.words("rollup.numbers.about_brands"))


def add_weeks(blocks: Blocks, stores: Sequence[StoreFact]) -> Place:
    """Stores by the week of their last visit."""
    rows = (
        {
            "week": one.monday,
            "visited": one.visited,
            "stand": one.stand,
            "whole": one.whole,
            "stand_in_all": one.stand_in_all,
        }
        for one in by_week(stores)
    )
    return blocks.add("weeks", _WEEK, rows, blocks.page.words("rollup.numbers.about_weeks"))


def _add_labour(blocks: Blocks, facts: Facts) -> Place:
    plan = planned_minutes(facts.program)
    people = labour(facts)
    whole = everyone(people)
    lines = [(facts.program.person(one.merchandiser).full_name, one) for one in people]
    if people:
        lines.append((blocks.page.words("rollup.numbers.everyone"), whole))
    note = "about_labour" if plan else "about_labour_no_plan"
    said = blocks.page.words(f"rollup.numbers.{note}", plan=plan or "")
    return blocks.add("labour", _LABOUR, (_labour(name, one, plan) for name, one in lines), said)


def _labour(name: str, one: Labour, plan: float | None) -> dict[str, object]:
    """Exact minutes are summed first and shown as whole ones; hours come from the exact sum."""
    planned = exact(plan) * one.timed if plan else None
    return {
        "merchandiser": name,
        "visits": one.visits,
        "untimed": one.untimed,
        "minutes_spent": float(one.total),
        "hours_spent": decimal_hours(one.total),
        "minutes_planned": None if planned is None else float(planned),
        "minutes_over": None if planned is None else float(one.total - planned),
    }
