"""Answers that a book holds when it is written: those of a return that is sent back, what to put right marked."""

from __future__ import annotations

import datetime as dt
from typing import TypeGuard

from xlsxwriter.format import Format

from workbook_tools.contract.model import Field
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import Canvas
from workbook_tools.field_book.particulars import Cell
from workbook_tools.field_book.return_styles import ReturnStyles

_MOMENT = "yyyy-mm-dd"
_HOURS = "[h]:mm"
_FIRST_DAY = dt.date(1900, 3, 1)
"""From here on all programs count days alike."""


def write_answer(
    sheet: SheetWriter, place: tuple[int, int], cell: Cell, field: Field, styles: ReturnStyles, **look: bool
) -> None:
    """Write an open cell, at a 0-based row and column: blank, or with the answer given.

    What a spreadsheet program took for a date or a time stays one, so that it is read again as it was.
    """
    particulars = styles.canvas.particulars
    value = particulars.given.get(cell)
    more: dict[str, object] = {"bg_color": "again"} if cell in particulars.marked else {}
    if _is_moment(value) and field.type not in ("date", "time"):
        more["num_format"] = _MOMENT if isinstance(value, dt.date) else _HOURS
    if _is_early(value) and field.type != "time":
        value = value.isoformat()
    _write(sheet, place, value, styles.answer(field, **look, more=more))


def _is_moment(value: object) -> bool:
    return isinstance(value, dt.date | dt.time | dt.timedelta)


def _write(sheet: SheetWriter, place: tuple[int, int], value: object, style: Format) -> None:
    if value is None:
        sheet.write_blank(*place, None, style)
    elif isinstance(value, bool):
        sheet.write_boolean(*place, value, style)
    elif isinstance(value, int | float):
        sheet.write_number(*place, value, style)
    elif _is_moment(value):
        sheet.write_datetime(*place, value, style)
    else:
        sheet.text(*place, str(value), style)


def _is_early(value: object) -> TypeGuard[dt.date]:
    """Whether it is a day that not all programs count alike; of a time typed with a point, 9.40, only the cell's format
    made one.
    """
    day = value.date() if isinstance(value, dt.datetime) else value
    return isinstance(day, dt.date) and day < _FIRST_DAY


def mark_cells(canvas: Canvas, sheet: SheetWriter) -> None:
    """Keep the marks in sight whatever colours the other rules would give: rules that come first win."""
    style = canvas.book.format(bg_color=canvas.look.colour("again"))
    for cell in sorted(canvas.particulars.marked):
        place = canvas.layout.answer_place(cell)
        if place:
            options = {"type": "formula", "criteria": "=TRUE", "format": style}
            sheet.conditional_format(*place, *place, options)
