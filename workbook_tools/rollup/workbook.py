"""The roll-up workbook: one look first, then a sheet for everyone who acts, then the facts behind them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from workbook_tools.contract.look import default_look
from workbook_tools.contract.words import Words
from workbook_tools.rollup.curve import curve
from workbook_tools.rollup.foresight import foresee
from workbook_tools.rollup.happened import Happening, happenings
from workbook_tools.rollup.history import HistoryRow
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.notes import Kept
from workbook_tools.rollup.often import PERSON, POSITION, often_wrong
from workbook_tools.rollup.rates import store_facts
from workbook_tools.rollup.rightness import rightness
from workbook_tools.rollup.sheets import lists
from workbook_tools.rollup.sheets.act import write_go_back, write_not_back, write_to_correct
from workbook_tools.rollup.sheets.ask import write_ask
from workbook_tools.rollup.sheets.flags import write_about, write_curve, write_flags, write_past
from workbook_tools.rollup.sheets.happened import write_happened
from workbook_tools.rollup.sheets.maps import write_maps
from workbook_tools.rollup.sheets.numbers import write_numbers
from workbook_tools.rollup.sheets.office import write_office
from workbook_tools.rollup.sheets.often import named, write_often
from workbook_tools.rollup.sheets.page import Page
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.sheets.today import Today, write_today
from workbook_tools.rollup.todo import KitFault, five_things
from workbook_tools.rollup.totals import totals
from workbook_tools.rollup.work import Work

SHEETS: tuple[str, ...] = ("today", "go_back", "ask", "office", "to_correct", "not_back", "flags", "maps", "happened")
SHEETS += ("often", "numbers", "labels", "tags", "stores", "findings", "files", "history", "past", "book")


@dataclass(frozen=True)
class Told:
    """What the workbook tells beside today's facts: the office's notes as carried over, and every merge so far,
    today's included.
    """

    notes: Kept = field(default_factory=Kept)
    history: Sequence[HistoryRow] = ()


def rollup_workbook(facts: Facts, told: Told, words: Words) -> bytes:
    """The roll-up of a program as the bytes of an .xlsx file; the same facts and notes give the same bytes."""
    settings = facts.program.settings
    page = Page(facts.program, words, default_look(), title=f"{settings.name} · {words('rollup.title')}")
    page.add(*SHEETS)
    work, figures = Work(facts, told.notes), totals(facts)
    found = list(happenings(facts))
    places = _by_who_acts(page, work, found)
    places |= _facts(page, facts, told)
    places["pace"] = write_about(page, facts, figures.stores)
    places["curve"] = write_curve(page, curve(facts, told.history))
    write_happened(page, facts, found)
    write_numbers(page, facts, store_facts(facts))
    often = often_wrong(facts)
    places["often"] = write_often(page, often)
    write_maps(page, rightness(facts), frozenset(one.name for one in often if one.about == POSITION))
    ahead = foresee(facts)
    wrong = [one for one in often if one.about != PERSON]
    faults = [KitFault(named(page, one), one.found.wrong, one.found.total, one.about) for one in wrong]
    said = (tuple(ahead.say(words)), tuple(ahead.say_late(words)))
    today = Today(facts, figures, told.history, five_things(work, faults), *said)
    write_today(page, today, places)
    return page.book.close()


def _by_who_acts(page: Page, work: Work, found: Sequence[Happening]) -> dict[str, Place]:
    said: dict[str, list[str]] = {}
    for one in found:
        if one.is_explained:
            said.setdefault(one.store, []).append(one.say(page.words, page.program))
    return {
        "go_back": write_go_back(page, work, said),
        "ask": write_ask(page, work),
        "office": write_office(page, work),
        "to_correct": write_to_correct(page, work),
        "not_back": write_not_back(page, work),
    }


def _facts(page: Page, facts: Facts, told: Told) -> dict[str, Place]:
    places = write_flags(page, facts, told.notes)
    places["labels"] = lists.write_labels(page, facts)
    places["tags"] = lists.write_tags(page, facts)
    places |= lists.write_stores(page, facts)
    places["findings"] = lists.write_findings(page, facts)
    places |= lists.write_files(page, facts)
    places["history"] = lists.write_history(page, told.history)
    places["past"] = write_past(page, facts, told.notes.past)
    return places
