"""The sheet “To put right” of a return that is sent back: what is wrong, what to do, and a link to every cell."""

from __future__ import annotations

from collections.abc import Iterator

from xlsxwriter.format import Format

from workbook_tools.contract.lettering import Fit, fit, lines
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import INDENT, Canvas, cell_in
from workbook_tools.field_book.particulars import Slip

COLUMNS = (("number", 44), ("where", 220), ("given", 150), ("problem", 260), ("todo", 270))
"""Column and its width in pixels, from column B on."""
SIDES = INDENT + 4
"""Pixels that a cell's text leaves free."""
_MARGIN, _PADDING, _TITLE, _HEADING, _LEAST = 8, 12, 44, 30, 48
_POINTS = 12
LINK_POINTS = (12, 11, 10, 9)
"""Sizes of a link, which is kept on one line: not every program breaks one."""


def write_put_right(canvas: Canvas, sheet: SheetWriter) -> None:
    """Write the sheet, a row for each thing to put right."""
    _PutRight(canvas, sheet).write()


class _PutRight:
    def __init__(self, canvas: Canvas, sheet: SheetWriter) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.columns = {key: number for number, (key, _) in enumerate(COLUMNS, start=1)}
        self.widths = dict(COLUMNS)
        self.last = len(COLUMNS)
        grid = {"border": 1, "border_color": "grid", "text_wrap": True, "indent": 1, "font_size": _POINTS}
        self.text = canvas.style(**grid)
        self.strong = canvas.style(bold=True, **grid)
        self.given = canvas.style(bg_color="again", **grid)
        self.link = {**grid, "bold": True, "underline": 1, "font_color": "link_ink"}

    def write(self) -> None:
        canvas, sheet = self.canvas, self.sheet
        sheet.set_column_pixels(0, 0, _MARGIN)
        for key, width in COLUMNS:
            sheet.set_column_pixels(self.columns[key], self.columns[key], width)
        row = self._head()
        for number, slip in enumerate(canvas.particulars.slips, start=1):
            row += 1
            self._slip(row, number, slip)
        canvas.page(sheet, repeat=(2, 2))

    def _head(self) -> int:
        """Title, what to do with the sheet, headings; returns the row of the headings."""
        canvas, sheet = self.canvas, self.sheet
        title = canvas.style(bold=True, font_size=canvas.look.type_sizes["title"], indent=1)
        sheet.set_row_pixels(0, _TITLE)
        sheet.merged_text((0, 1, 0, self.last), canvas.words("correct.title"), title)
        about = canvas.words("correct.about")
        self._height(1, [(about, sum(self.widths.values()))])
        sheet.merged_text((1, 1, 1, self.last), about, canvas.style(text_wrap=True, indent=1, font_size=_POINTS))
        paint = {"bg_color": "heading", "font_color": "heading_ink", "border": 1, "border_color": "frame"}
        heading = canvas.style(bold=True, indent=1, shrink=True, **paint)
        sheet.set_row_pixels(2, _HEADING)
        for key, _ in COLUMNS:
            sheet.text(2, self.columns[key], canvas.words(f"correct.columns.{key}"), heading)
        sheet.freeze_panes(3, 0)
        return 2

    def _slip(self, row: int, number: int, slip: Slip) -> None:
        canvas, sheet = self.canvas, self.sheet
        told = {
            "where": self._where(slip),
            "given": slip.finding.value,
            "problem": slip.finding.problem(canvas.words),
            "todo": self._todo(slip),
        }
        self._height(row, [(text, self.widths[key]) for key, text in told.items()])
        sheet.write_number(row, self.columns["number"], number, self.strong)
        styles: dict[str, Format] = {"given": self.given, "problem": self.text, "todo": self.strong}
        for key, style in styles.items():
            sheet.text(row, self.columns[key], told[key], style)
        target = next(self._targets(slip), None)
        if target:
            size = fit(told["where"], self.widths["where"] - SIDES, LINK_POINTS, 1, bold=True).points
            style = canvas.style(**{**self.link, "font_size": size})
            canvas.link(sheet, row, self.columns["where"], target, told["where"], style)
        else:
            sheet.text(row, self.columns["where"], told["where"], self.strong)

    def _where(self, slip: Slip) -> str:
        """The tray, the part or the question, and which of a tray's answers."""
        if not slip.cells:
            return self.canvas.words("correct.whole_book")
        block, key, field = slip.cells[0]
        heading = self.canvas.words(f"field_book.{block}.{field}.heading")
        return heading if key == field else f"{key} · {heading}"

    def _todo(self, slip: Slip) -> str:
        """What to do; where the rule's own words speak of a fresh copy: this book is that copy."""
        key = f"correct.todo.{slip.finding.rule}"
        return self.canvas.words(key) if key in self.canvas.words else slip.finding.todo(self.canvas.words)

    def _targets(self, slip: Slip) -> Iterator[str]:
        for cell in slip.cells:
            place = self.canvas.layout.answer_place(cell)
            if place:
                yield cell_in(self.canvas.layout.sheet, *place)

    def _height(self, row: int, texts: list[tuple[str, int]]) -> None:
        taken = max(lines(text, room - SIDES, _POINTS, bold=True) for text, room in texts)
        self.sheet.set_row_pixels(row, max(_LEAST, Fit(_POINTS, taken).height + _PADDING))
