"""Pictures named in the setup: whether they can be used, and whether they are likely the right ones."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.model import Contract
from workbook_tools.contract.tables import Row, did_you_mean
from workbook_tools.folder import ProgramFolder, is_plain_name
from workbook_tools.program.checks import TableChecker, Tables

_SMALL = 60
"""Pixels of the longer side below which nobody would recognise an item: its place in a book is 96 by 72."""
_LONG = 2
"""So many times as high as wide, or as wide as high: a long item, a long picture."""


def check_pictures(contract: Contract, file: str, tables: Tables, folder: ProgramFolder) -> Iterator[Finding]:
    """A finding for every picture named in the setup that is not a usable file in the images folder."""
    if not any(row.values.get("picture") for table in tables.values() for row in table.rows):
        return
    from workbook_tools.program.pictures import probe, upright_size  # noqa: PLC0415 - loads a library of its own

    for table in tables.values():
        checker = TableChecker(contract, file, table)
        for row in table.rows if "picture" in table.block.by_key else ():
            name = str(row.values.get("picture", ""))
            if name and not is_plain_name(name):
                yield checker.at("picture_name", row, "picture")
            elif name and (slip := probe(folder.images / name)):
                near = did_you_mean(name, _there(folder)) if slip.rule == "picture_missing" else ""
                yield checker.at(slip.rule, row, "picture", detail=slip.detail, did_you_mean=near)
            elif name and (size := upright_size(folder.images / name)):
                yield from _likely(checker, row, size)


def _there(folder: ProgramFolder) -> list[str]:
    """The names of the files in the images folder, in alphabetical order."""
    return sorted(path.name for path in folder.images.iterdir()) if folder.images.is_dir() else []


def _likely(checker: TableChecker, row: Row, size: tuple[int, int]) -> Iterator[Finding]:
    """A picture too small to recognise, and a long item that lies on its side in it."""
    wide, high = size
    if max(size) < _SMALL:
        yield checker.at("picture_small", row, "picture", wide=wide, high=high)
    width, height = (row.values.get(key) for key in ("width", "height"))
    if not isinstance(width, int | float) or not isinstance(height, int | float) or width <= 0 or height <= 0:
        return
    if (wide >= _LONG * high and height >= _LONG * width) or (high >= _LONG * wide and width >= _LONG * height):
        yield checker.at("picture_turned", row, "picture", wide=wide, high=high)
