"""What to ask of stores: shelf tags to print and goods to find, one block a store, to be printed and handed over."""

from __future__ import annotations

from collections.abc import Sequence

from workbook_tools.contract.writing import TEXT_FORMAT, SheetWriter
from workbook_tools.program.joined import joined
from workbook_tools.program.model import Store
from workbook_tools.program.wrapped import lines_of
from workbook_tools.rollup.sheets import tables
from workbook_tools.rollup.sheets.columns import LINE, PADDING
from workbook_tools.rollup.sheets.page import HEADING_ROW, Page, shortened
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.short_list import short_list
from workbook_tools.rollup.todo import asked_things, say_things
from workbook_tools.rollup.work import Ask, Work

MOST_BREAKS = 1000
"""Page breaks a sheet can hold: 1,023 (Excel specifications and limits), less a few."""
PRINT_SCALE = 68
"""Per cent: the blocks fit a page's width, also where columns come out wider than they were made. A sheet that is
fitted to a page's width instead would lose its page breaks.
"""
MOST_LETTERS, PROGRAM_LETTERS = 110, 35
"""So many letters of the line that names a store, and of the program's name in the line below, stay inside a block."""
_COLUMNS = (("done", 60), ("what", 170), ("item_code", 100), ("item", 310), ("count", 90), ("trays", 150))


def write_ask(page: Page, work: Work) -> Place:
    """The blocks, in the order of the stores; gives the place of all of them."""
    asks = list(work.asks())
    things = say_things(page.words, asked_things(asked for _, asked in asks))
    about = page.words("rollup.counted.ask", count=len(asks), what=things)
    sheet = page.head("ask", about if asks else "")
    for column, (_, width) in enumerate(_COLUMNS):
        page.widen(sheet, column, width)
    row = HEADING_ROW + 1
    breaks = []
    block = _Block(page, sheet)
    for store, asked in asks:
        if row + block.height(asked) > tables.MOST_SHOWN:
            break
        row = block.write(row, store, asked)
        breaks.append(row)
    tables.say_cut(page, sheet, len(breaks), len(asks), ("stores", "flags.csv"))
    if not asks:
        sheet.text(row, 0, page.words("rollup.empty"), page.quiet)
    if len(breaks) <= MOST_BREAKS:
        sheet.set_h_pagebreaks(breaks[:-1])
    sheet.freeze_panes(HEADING_ROW, 0)
    page.paper(sheet)
    sheet.set_print_scale(PRINT_SCALE)
    return Place(sheet.name, (HEADING_ROW + 1, 0, row - 2, len(_COLUMNS) - 1) if asks else None)


class _Block:
    """Writes one store's block after another."""

    def __init__(self, page: Page, sheet: SheetWriter) -> None:
        self.page = page
        self.write_row = sheet.write_bulk_row
        words, settings = page.words, page.program.settings
        self.plain = page.style()
        size = page.look.type_sizes["subtitle"]
        self.bar = page.style(bold=True, font_size=size, bg_color="shelf_bar", num_format=TEXT_FORMAT)
        self.line = page.style(num_format=TEXT_FORMAT, border=1, border_color="grid", text_wrap=True)
        self.number = page.style(border=1, border_color="grid", align="center")
        self.please = words("rollup.ask_store", program=shortened(settings.name, PROGRAM_LETTERS))
        said = {name: words(f"rollup.columns.{name}") for name, _ in _COLUMNS}
        said["item_code"] = settings.item_code_name or said["item_code"]
        self.headings = [(column, text, page.heading) for column, text in enumerate(said.values())]

    def height(self, asked: Sequence[Ask]) -> int:
        """How many rows a block takes: the store, the request, the headings, what is asked, and a blank one."""
        return 3 + len(asked) + 1

    def write(self, row: int, store: Store, asked: Sequence[Ask]) -> int:
        """Write a block from a row on; gives the row after it and a blank one."""
        name = shortened(joined([store.store, store.name, store.city, store.phone]), MOST_LETTERS)
        self.write_row(
            row, [(0, name, self.bar), *((column, None, self.bar) for column in range(1, len(_COLUMNS)))], 30
        )
        self.write_row(row + 1, [(0, self.please, self.plain)], 26)
        self.write_row(row + 2, self.headings, LINE + PADDING + 4)
        for number, one in enumerate(asked, start=row + 3):
            self._line(number, one)
        return row + self.height(asked)

    def _line(self, row: int, one: Ask) -> None:
        words, item = self.page.words, self.page.program.item_by_code.get(one.item_code)
        some = (words("rollup.ask_some"), self.line) if one.count is None else (one.count, self.number)
        cells = [
            (0, "☐", self.line),
            (1, words(f"rollup.ask_{one.what}"), self.line),
            (2, one.item_code, self.line),
            (3, item.described if item else "", self.line),
            (4, *some),
            (5, short_list(one.trays), self.line),
        ]
        widths = [width for _, width in _COLUMNS]
        lines = max(lines_of(str(value), width) for (_, value, _), width in zip(cells, widths, strict=True))
        self.write_row(row, cells, LINE * lines + PADDING + 4)
