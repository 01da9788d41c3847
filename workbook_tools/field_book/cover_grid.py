"""The cover's grid: narrow columns of one width, rows added from the top, sections that are not split on paper."""

from __future__ import annotations

from collections.abc import Sequence

from xlsxwriter.format import Format

from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import Canvas
from workbook_tools.field_book.paging import blocks_of, page_breaks, page_height

COLUMNS, FIRST = 24, 1
LAST = FIRST + COLUMNS - 1
"""0-based columns of the grid; column A is a margin."""
COLUMN_PX = 40
_SPACE = 12


class CoverGrid:
    """Rows are 0-based; heights in pixels."""

    def __init__(self, canvas: Canvas, sheet: SheetWriter) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.heights: list[int] = []
        self._blocks = [0]
        margin = canvas.look.sizes["margin"]
        sheet.set_column_pixels(0, 0, margin)
        sheet.set_column_pixels(FIRST, LAST, COLUMN_PX)
        sizes, style = canvas.look.type_sizes, canvas.style
        line = {"bottom": 1, "border_color": "grid"}
        self.heading = style(
            bold=True, font_size=sizes["subtitle"], bg_color="heading", font_color="heading_ink", indent=1
        )
        self.label = style(font_color="quiet_ink", font_size=sizes["small"], text_wrap=True, **line)
        self.plain = style(text_wrap=True, indent=1, **line)

    def row(self, height: int) -> int:
        """Add a row; returns its number."""
        self.sheet.set_row_pixels(len(self.heights), height)
        self.heights.append(height)
        return len(self.heights) - 1

    def space(self) -> None:
        """Add a blank row between sections."""
        self.row(_SPACE)

    def block(self) -> None:
        """What follows begins something that a page may begin with; what went before is not split if it need not be."""
        self._blocks.append(len(self.heights))

    def text(self, row: int, first: int, last: int, text: str, style: Format) -> None:
        """A text across columns."""
        self.sheet.merged_text((row, first, row, last), text, style)

    def section(self, title: str, first: int = FIRST, last: int = LAST, *, row: int | None = None) -> int:
        """A section's heading across columns, on a new row unless one is given; returns its row."""
        if row is None:
            self.block()
            self.space()
            row = self.row(28)
        self.text(row, first, last, title, self.heading)
        return row

    def finish(self) -> None:
        """Page set-up with the breaks between blocks."""
        width = self.canvas.look.sizes["sheet_width"]
        starts: Sequence[int] = sorted(set(self._blocks))
        breaks = page_breaks(blocks_of(self.heights, starts), page_height(width))
        self.canvas.page(self.sheet, breaks=breaks, tab="heading")
