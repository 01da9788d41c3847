"""Texts as the formulas of a workbook write them."""

from __future__ import annotations


def quoted_text(text: str) -> str:
    """A text in a formula."""
    return '"' + text.replace('"', '""') + '"'


def sought(cell: str) -> str:
    """The text of a cell as MATCH looks for it: * and ? stand for themselves."""
    return f'SUBSTITUTE(SUBSTITUTE(SUBSTITUTE({cell},"~","~~"),"*","~*"),"?","~?")'
