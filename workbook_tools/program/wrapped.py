"""How high a row must be for the texts that wrap in it: not every program makes rows grow by itself."""

from __future__ import annotations

from collections.abc import Iterable

_LETTER, _PADDING = 7.4, 10
"""Pixels that a letter takes at the size of a table's text, more rather than less, and that a cell leaves free."""


def letters_in(width: float) -> int:
    """How many letters go into a line of a column of so many pixels."""
    return max(int((width - _PADDING) / _LETTER), 1)


def lines_of(text: str, width: float) -> int:
    """How many lines a text takes in a column of so many pixels, broken between words."""
    letters = letters_in(width)
    return sum(_lines(line, letters) for line in text.split("\n"))


def most_lines(texts: Iterable[tuple[str, float]]) -> int:
    """The lines that the longest of some texts takes; each text with the pixels of its column's width."""
    return max((lines_of(text, width) for text, width in texts), default=1)


def _lines(text: str, letters: int) -> int:
    """A word that is longer than a line is broken anywhere."""
    if len(text) <= letters:
        return 1
    lines, used = 0, letters
    for word in text.split():
        size = len(word)
        if used + 1 + size <= letters:
            used += 1 + size
        else:
            lines += -(-size // letters)
            used = (size - 1) % letters + 1
    return max(lines, 1)
