"""Native tables: headings, filters and stripes over rows that are told by column."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import islice
from typing import NamedTuple

from workbook_tools.contract.writing import SheetWriter
from workbook_tools.program.wrapped import letters_in, lines_of
from workbook_tools.rollup.sheets.bulk import Column
from workbook_tools.rollup.sheets.columns import (
    DEFAULT_WIDTH,
    LINE,
    PADDING,
    RIGHT,
    TRANSLATED,
    WIDTHS,
    WRAPPED,
    width_for,
)
from workbook_tools.rollup.sheets.page import HEADING_ROW, CellFormat, Page
from workbook_tools.rollup.sheets.place import Place

TABLE_STYLE = "Table Style Light 15"
MOST_SHOWN = 100_000
"""Rows that a table shows, of however many: more can hardly be worked with, and take 3 MB of memory a thousand while
they are written. Two such tables, the most on one sheet, fit in its 1,048,576 rows (Excel specifications and limits).
"""
ROWS_AT_ONCE = 1_000
"""Rows that are turned into cells together."""


@dataclass(frozen=True)
class TableOptions:
    """How a table is laid out. `headings` are texts for columns whose heading is not `rollup.columns.<column>`;
    `formats` are for columns that differ from what their values ask for; `open` columns are for people to fill in,
    the first `hidden` ones are not seen. Only a `charted` table can be drawn by a chart; such tables hold sums, and
    are never cut short. With `widths` of its own a table sets none: a pixel width for the first column and one for all
    others. `cut` says how it is told that not all rows are shown, as a key of `rollup.cut`, and in which file beside
    the workbook to look for them; `total` is how many rows there are where those to be shown were chosen already.
    """

    top: int = HEADING_ROW
    left: int = 0
    headings: Mapping[str, str] | None = None
    formats: Mapping[str, CellFormat] | None = None
    open: Sequence[str] = ()
    hidden: int = 0
    charted: bool = False
    widths: tuple[int, int] | None = None
    cut: tuple[str, str] = ("facts", "status.csv")
    total: int | None = None


class _Kind(NamedTuple):
    """A table's column: where the words of its keys stand ("" for none), its width if it wraps and how many letters
    fit into it, the formats of its texts, numbers and dates.
    """

    name: str
    words: str
    width: int
    letters: int
    text: CellFormat
    number: CellFormat
    date: CellFormat


def write_table(
    page: Page,
    sheet: SheetWriter,
    columns: Sequence[str],
    rows: Iterable[Mapping[str, object]],
    options: TableOptions | None = None,
) -> Place:
    """A native table with filters; gives the place of its rows. Blank values leave their cells empty.

    Of more than MOST_SHOWN rows the first ones are shown, and the sheet says so.
    """
    options = options or TableOptions()
    top, left = options.top, options.left
    kinds = _kinds(page, columns, options)
    last = top
    write = sheet.write_bulk_rows if not options.charted else partial(_write_singly, sheet)
    coming = iter(rows)
    shown = islice(coming, None if options.charted or options.total is not None else MOST_SHOWN)
    while some := list(islice(shown, ROWS_AT_ONCE)):
        write(last + 1, *_told(page.words.table, kinds, some, left))
        last += len(some)
    _frame(page, sheet, columns, options, last)
    say_cut(page, sheet, last - top, options.total or last - top + sum(1 for _ in coming), options.cut)
    if last == top:
        sheet.text(top + 1, left + options.hidden, page.words("rollup.empty"), page.quiet)
    return Place(sheet.name, (top + 1, left, last, left + len(columns) - 1) if last > top else None)


def say_cut(page: Page, sheet: SheetWriter, shown: int, total: int, cut: tuple[str, str]) -> None:
    """Say at the top of a sheet how many of its rows are shown, unless all are, and where the others stand."""
    if shown < total:
        key, file = cut
        page.warn(sheet, page.words(f"rollup.cut.{key}", shown=shown, total=total, file=file))


def _told(
    said: Mapping[str, str], kinds: Sequence[_Kind], records: Sequence[Mapping[str, object]], left: int
) -> tuple[list[Column], list[int | None]]:
    """Some rows by columns, keys that people read as words said, and the height of each that is higher than a line."""
    lines = [1] * len(records)
    columns = []
    for place, kind in enumerate(kinds, start=left):
        values = [record.get(kind.name) for record in records]
        if kind.words:
            values = [said.get(f"{kind.words}.{value}", value) for value in values]
        if kind.width and (long := _long_ones(values, kind)):
            lines = [max(count, long.get(value, 1)) for count, value in zip(lines, values, strict=True)]
        columns.append(Column(place, values, kind.text, kind.number, kind.date))
    return columns, [count * LINE + PADDING if count > 1 else None for count in lines]


def _long_ones(values: Iterable[object], kind: _Kind) -> dict[object, int]:
    """The texts that may not go into one line of a column → the lines they take."""
    return {
        value: lines_of(value, kind.width)
        for value in set(values)
        if isinstance(value, str) and (len(value) > kind.letters or "\n" in value)
    }


def _frame(page: Page, sheet: SheetWriter, columns: Sequence[str], options: TableOptions, last_row: int) -> None:
    """Headings, filters, stripes and widths of a table whose cells are written."""
    said = options.headings or {}
    headings = [
        {
            "header": said.get(name) or page.words(f"rollup.columns.{name}"),
            "header_format": page.heading_right if name in RIGHT else page.heading,
        }
        for name in columns
    ]
    page.tables += 1
    about = {"columns": headings, "style": TABLE_STYLE, "name": f"table_{page.tables}"}
    top, left = options.top, options.left
    sheet.add_table(top, left, max(last_row, top + 1), left + len(columns) - 1, about)
    sheet.set_row_pixels(top, 40)
    if options.widths is None:
        points = page.look.type_sizes["text"]
        for column, name in enumerate(columns, start=left):
            blank = page.wrapped if name in options.open else None
            page.widen(sheet, column, width_for(headings[column - left]["header"], name, points), blank)


def _kinds(page: Page, columns: Sequence[str], options: TableOptions) -> list[_Kind]:
    formats = options.formats or {}
    made = []
    for number, name in enumerate(columns):
        own = options.widths[min(number, 1)] if options.widths else WIDTHS.get(name, DEFAULT_WIDTH)
        width = own if name in WRAPPED else 0
        given = formats.get(name)
        text = given or (page.wrapped if width or name in options.open else page.text)
        formats_of = (text, given or page.number, given or page.date)
        made.append(_Kind(name, TRANSLATED.get(name, ""), width, letters_in(width), *formats_of))
    return made


def _write_singly(sheet: SheetWriter, first_row: int, columns: Iterable[Column], heights: Iterable[int | None]) -> None:
    """Rows cell by cell, as charts want them."""
    for place, values, text, number, date in columns:
        for row, value in enumerate(values, start=first_row):
            if isinstance(value, str) and value:
                sheet.text(row, place, value, text)
            elif isinstance(value, dt.date):
                sheet.write_datetime(row, place, value, date)
            elif isinstance(value, int | float):
                sheet.write_number(row, place, value, number)
    for row, height in enumerate(heights, start=first_row):
        if height:
            sheet.set_row_pixels(row, height)
