"""How high a row must be for the texts that wrap in it: not every program makes rows grow by itself."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

_LETTER, _PADDING = 7.4, 10
"""Pixels that a letter takes at the size of a table's text, more rather than less, and that a cell leaves free."""


def letters_in(width: float) -> int:
    """How many letters go into a line of a column of so many pixels."""
    return max(int((width - _PADDING) / _LETTER), 1)


def most_lines(texts: Iterable[tuple[str, float]]) -> int:
    """The lines that the longest of some texts takes; each text with the pixels of its column's width."""
    return max((_lines(text, width) for text, width in texts), default=1)


def _lines(text: str, width: float) -> int:
    letters = letters_in(width)
    return sum(len(textwrap.wrap(line, letters)) or 1 for line in text.split("\n"))
