"""Colours of the positions that lead the eye: states, and yellow for the answers that are wanted next."""

from __future__ import annotations

from workbook_tools.contract.names import column_letters
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import Canvas
from workbook_tools.program.formula_texts import quoted_text


def lead_the_eye(canvas: Canvas, sheet: SheetWriter) -> None:
    """Give the positions of the Return sheet their conditional formats.

    What is asked of every tray is yellow until it is answered, or the display is said not to be built; details turn
    yellow where another answer asks for them.
    """
    layout = canvas.layout
    rows = layout.position_rows.values()
    first, last = min(rows), max(rows)
    columns = layout.positions.columns
    cell = {key: f"${column_letters(column)}{first + 1}" for key, column in columns.items()}
    canvas.state_colours(sheet, (first, 1, last, columns["state"]), cell["state"])
    no = _is(canvas, cell, "as_planned", "no")
    not_asked = quoted_text(canvas.words("state.not_asked")[:1])
    rules = [("as_planned", f'OR({cell["as_planned"]}<>"",LEFT({cell["state"]},1)={not_asked})', "settled")]
    asked_by = {
        "label": no,
        "tag": no,
        "product": no,
        "units": _is(canvas, cell, "product", "short"),
        "other_item": _is(canvas, cell, "product", "other item"),
    }
    rules += [(key, f'AND({cell[key]}="",{test})', "waiting") for key, test in asked_by.items()]
    for key, test, colour in rules:
        style = canvas.book.format(bg_color=canvas.look.colour(colour))
        options = {"type": "formula", "criteria": f"={test}", "format": style}
        sheet.conditional_format(first, columns[key], last, columns[key], options)


def _is(canvas: Canvas, cell: dict[str, str], field: str, choice: str) -> str:
    """The test whether an answer is a choice, given by its key."""
    choices = canvas.layout.positions.by_key[field].choices
    return f"{cell[field]}={quoted_text(canvas.words.choice(choices, choice))}"
