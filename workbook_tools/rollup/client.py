"""The client's copy: how many displays stand, how many stand right and how sure that is, without names of people."""

from __future__ import annotations

from workbook_tools.contract.look import default_look
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.program.joined import joined
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.rates import RIGHT, STAND, StoreFact, store_facts
from workbook_tools.rollup.rightness import rightness
from workbook_tools.rollup.sheets.maps import write_maps
from workbook_tools.rollup.sheets.numbers import (
    Blocks,
    add_brands,
    add_districts,
    add_rates,
    add_weeks,
    set_widths,
    sure,
)
from workbook_tools.rollup.sheets.page import HEADING_ROW, Page, day, title_height
from workbook_tools.rollup.sheets.place import Place

_CARDS_ROW, _CHART_ROW, _LAST = 4, 8, 8
_MANY = 2
"""A count whose words are those of many."""
_STAND_COLOUR, _RIGHT_COLOUR = "#0072B2", "#009E73"


def client_workbook(facts: Facts, words: Words) -> bytes:
    """The client's copy as the bytes of an .xlsx file: numbers and maps, no stores, no people, no remarks."""
    title = f"{facts.program.settings.name} · {words('rollup.client.title')}"
    page = Page(facts.program, words, default_look(), title=title)
    page.add("client", "maps")
    stores = store_facts(facts)
    _summary(page, facts, stores)
    write_maps(page, rightness(facts), frozenset())
    return page.book.close()


def _summary(page: Page, facts: Facts, stores: list[StoreFact]) -> None:
    sheet, settings = page.sheets["client"], facts.program.settings
    sheet.set_row_pixels(0, title_height(settings.name))
    wrapped = page.style(bold=True, font_size=page.look.type_sizes["title"], text_wrap=True)
    sheet.merged_text((0, 0, 0, _LAST), settings.name, wrapped)
    window = {"as_of": day(facts.as_of), "starts": day(settings.starts), "due": day(settings.due)}
    sheet.text(1, 0, page.words("rollup.client.about", **window), page.style(bold=True))
    blocks = Blocks(page, sheet, top=_CHART_ROW + 2)
    blocks.sentence(2, joined([settings.display, settings.client, settings.chain]))
    _cards(page, sheet, stores)
    sheet.merged_text((_CARDS_ROW + 2, 0, _CARDS_ROW + 2, 7), sure(page, stores), page.style(text_wrap=True))
    sheet.set_row_pixels(_CARDS_ROW + 2, 48)
    add_rates(blocks, stores, STAND, RIGHT)
    add_districts(blocks, stores)
    weeks = add_weeks(blocks, stores)
    add_brands(blocks, facts)
    _chart(page, sheet, weeks)
    set_widths(page, sheet)
    sheet.freeze_panes(HEADING_ROW, 0)
    page.paper(sheet)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)


def _cards(page: Page, sheet: SheetWriter, stores: list[StoreFact]) -> None:
    """Four numbers: stores, those that are back, displays that stand, displays that stand right."""
    counts = (
        ("stores", len(stores)),
        ("back", sum(one.back for one in stores)),
        ("stand", sum(one.stand for one in stores)),
        ("whole", sum(one.whole for one in stores)),
    )
    sheet.set_row_pixels(_CARDS_ROW, 50)
    for number, (key, count) in enumerate(counts):
        column = 2 * number - 1 if number else 0
        big = page.style(bold=True, font_size=28, align="center")
        name = page.style(align="center", font_color="quiet_ink")
        if number:
            sheet.merge_range(_CARDS_ROW, column, _CARDS_ROW, column + 1, "", big)
        sheet.write_number(_CARDS_ROW, column, count, big)
        last = column + 1 if number else column
        said = page.words(f"rollup.client.{key}", count=count)
        sheet.merged_text((_CARDS_ROW + 1, column, _CARDS_ROW + 1, last), said, name)


def _chart(page: Page, sheet: SheetWriter, weeks: Place) -> None:
    """Displays visited week by week: those that stand, and those of them that stand right."""
    if weeks.area is None:
        return
    first, left, last, _ = weeks.area
    chart = page.book.chart({"type": "column"})
    for key, offset, colour in (("stand", 2, _STAND_COLOUR), ("whole", 3, _RIGHT_COLOUR)):
        column = left + offset
        chart.add_series(
            {
                "name": page.words(f"rollup.client.{key}", count=_MANY),
                "categories": [weeks.sheet, first, left, last, left],
                "values": [weeks.sheet, first, column, last, column],
                "fill": {"color": colour},
                "data_labels": {"value": True},
                "gap": 80,
            }
        )
    chart.set_title({"name": page.words("rollup.client.by_week"), "name_font": {"size": 12}})
    chart.set_legend({"position": "bottom"})
    chart.set_x_axis({"text_axis": True, "num_format": "d mmm"})
    chart.set_y_axis({"visible": False, "major_gridlines": {"visible": False}})
    chart.set_chartarea({"border": {"none": True}})
    chart.set_size({"width": 980, "height": 250})
    sheet.set_row_pixels(_CHART_ROW, 258)
    sheet.insert_chart(_CHART_ROW, 0, chart, {"description": page.words("rollup.client.by_week"), "object_position": 1})
