"""What to ask of stores: shelf tags to print and goods to find, one block a store, to be printed and handed over."""

from __future__ import annotations

from collections.abc import Sequence

from workbook_tools.contract.writing import TEXT_FORMAT, SheetWriter
from workbook_tools.program.model import Store
from workbook_tools.rollup.sheets.act import short_list
from workbook_tools.rollup.sheets.columns import LINE, PADDING, lines_of
from workbook_tools.rollup.sheets.page import HEADING_ROW, Page, join_words
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.work import Ask, Work

MOST_BREAKS = 1000
"""Page breaks a sheet can hold: 1,023 (Excel specifications and limits), less a few."""
PRINT_SCALE = 68
"""Per cent: the blocks fit a page's width, also where columns come out wider than they were made. A sheet that is
fitted to a page's width instead would lose its page breaks.
"""
_ITEM_WIDTH = 310
_COLUMNS = (("done", 55), ("what", 170), ("item_code", 100), ("item", _ITEM_WIDTH), ("count", 75), ("trays", 150))


def write_ask(page: Page, work: Work) -> Place:
    """The blocks, in the order of the stores; gives the place of all of them."""
    asks = list(work.asks())
    tags = sum(one.count or 0 for _, asked in asks for one in asked if one.what == "print")
    goods = sum(one.what == "find" for _, asked in asks for one in asked)
    about = page.words("rollup.counted.ask", count=len(asks), tags=tags, goods=goods)
    sheet = page.head("ask", about)
    for column, (_, width) in enumerate(_COLUMNS):
        page.widen(sheet, column, width)
    row = HEADING_ROW + 1
    breaks = []
    for store, asked in asks:
        row = _block(page, sheet, row, store, asked)
        breaks.append(row)
    if not asks:
        sheet.text(row, 0, page.words("rollup.empty"), page.quiet)
    if len(breaks) <= MOST_BREAKS:
        sheet.set_h_pagebreaks(breaks[:-1])
    sheet.freeze_panes(HEADING_ROW, 0)
    page.paper(sheet)
    sheet.set_print_scale(PRINT_SCALE)
    return Place(sheet.name, (HEADING_ROW + 1, 0, row - 2, len(_COLUMNS) - 1) if asks else None)


def _block(page: Page, sheet: SheetWriter, row: int, store: Store, asked: Sequence[Ask]) -> int:
    """One store's block; gives the row after it and a blank one."""
    words, settings = page.words, page.program.settings
    last = len(_COLUMNS) - 1
    bar = page.style(
        bold=True, font_size=page.look.type_sizes["subtitle"], bg_color="shelf_bar", num_format=TEXT_FORMAT
    )
    sheet.merged_text((row, 0, row, last), join_words([store.store, store.name, store.city, store.phone]), bar)
    sheet.set_row_pixels(row, 30)
    please = words("rollup.ask_store", program=settings.name)
    sheet.text(row + 1, 0, please, page.style())
    sheet.set_row_pixels(row + 1, 26)
    for column, (name, _) in enumerate(_COLUMNS):
        heading = settings.item_code_name if name == "item_code" else ""
        sheet.text(row + 2, column, heading or words(f"rollup.columns.{name}"), page.heading)
    row += 3
    line = page.style(num_format=TEXT_FORMAT, border=1, border_color="grid", text_wrap=True)
    number = page.style(border=1, border_color="grid", align="center")
    for one in asked:
        item = page.program.item_by_code.get(one.item_code)
        name = (item.description or item.item) if item else ""
        texts = ("☐", words(f"rollup.ask_{one.what}"), one.item_code, name, None, short_list(one.trays))
        for column, text in enumerate(texts):
            if text is not None:
                sheet.text(row, column, text, line)
        if one.count is None:
            sheet.text(row, 4, words("rollup.ask_some"), line)
        else:
            sheet.write_number(row, 4, one.count, number)
        sheet.set_row_pixels(row, LINE * lines_of(name, _ITEM_WIDTH) + PADDING + 4)
        row += 1
    return row + 1
