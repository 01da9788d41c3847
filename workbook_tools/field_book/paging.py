"""Paper: how many pixels of a sheet a page holds, and where a page may end so that what belongs together stays so."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

A4, LETTER = 9, 1
"""Paper numbers of the file format."""
PAPER_INCHES = {A4: (8.27, 11.69), LETTER: (8.5, 11.0)}
LEFT_RIGHT, TOP, BOTTOM = 0.5, 0.45, 0.6
"""Margins in inches; the footer stands in the one at the bottom."""
_PX_AN_INCH = 96
_SLACK = 0.98
"""Spreadsheet programs round row heights up to what their screen or printer can show."""


def page_height(sheet_width: int, *, landscape: bool = False) -> int:
    """Pixels of a sheet, fitted to the page's width, that both A4 and Letter hold."""
    heights = []
    for paper in PAPER_INCHES.values():
        across, down = reversed(paper) if landscape else paper
        scale = min((across - 2 * LEFT_RIGHT) * _PX_AN_INCH / sheet_width, 1)
        heights.append((down - TOP - BOTTOM) * _PX_AN_INCH / scale)
    return int(min(heights) * _SLACK)


def page_breaks(blocks: Iterable[tuple[int, int]], room: int, repeated: int = 0) -> list[int]:
    """The 0-based rows before which a page has to end, so that no block is split that fits on a page.

    `blocks` are (first row, height in pixels) in order, the first one at the top of the first page; `room` is a
    page's height, `repeated` what repeated heading rows take of every later page.
    """
    found: list[int] = []
    used = 0
    for first_row, height in blocks:
        if used and used + height > room:
            found.append(first_row)
            used = repeated
        used += height
        while used > room:
            used = repeated + used - room
    return found


def blocks_of(heights: Sequence[int], starts: Sequence[int]) -> list[tuple[int, int]]:
    """Rows as blocks: `heights` of all rows from row 0, `starts` the 0-based rows at which a block begins."""
    edges = [*starts, len(heights)]
    return [(start, sum(heights[start:end])) for start, end in itertools.pairwise(edges)]
