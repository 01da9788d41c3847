"""Colours and sizes of everything we draw, from look.toml."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from workbook_tools.contract.load import read_toml, templates_folder
from workbook_tools.errors import DefinitionError

_COLOUR = re.compile(r"[0-9A-F]{6}")


@dataclass(frozen=True, slots=True)
class Paint:
    """A fill and the colour of the text on it, as RRGGBB."""

    fill: str
    ink: str


@dataclass(frozen=True)
class Look:
    """`colours` are RRGGBB, `type_sizes` points, `sizes` pixels; `brands` are the fills of brand labels."""

    colours: dict[str, str]
    brands: tuple[Paint, ...]
    font: str
    type_sizes: dict[str, int]
    sizes: dict[str, int]

    def colour(self, name: str) -> str:
        """A colour as spreadsheets write it, `#RRGGBB`."""
        return f"#{self.colours[name]}"

    def brand(self, number: int) -> Paint:
        """The paint of the brand at a 0-based place in the label list; paints repeat when brands outnumber them."""
        return self.brands[number % len(self.brands)]


def default_look() -> Look:
    """The look in `templates_folder()`. Raises DefinitionError as `load_look` does."""
    return _loaded(templates_folder())


@lru_cache(maxsize=8)
def _loaded(folder: Path) -> Look:
    return load_look(folder)


def load_look(folder: Path) -> Look:
    """Read look.toml. Raises DefinitionError when a colour is not RRGGBB or a section is missing."""
    table = read_toml(folder / "look.toml")
    try:
        sizes = dict(table["type"])
        look = Look(
            colours=dict(table["colours"]),
            brands=tuple(Paint(**paint) for paint in table["brands"]),
            font=sizes.pop("font"),
            type_sizes=sizes,
            sizes=dict(table["sizes"]),
        )
    except (KeyError, TypeError) as slip:
        raise DefinitionError(f"look.toml: {slip} is missing or unknown") from None
    painted = [("colours", colour) for colour in look.colours.values()]
    painted += [("brands", colour) for paint in look.brands for colour in (paint.fill, paint.ink)]
    for place, colour in painted:
        if not isinstance(colour, str) or not _COLOUR.fullmatch(colour):
            raise DefinitionError(f"look.toml, {place}: {colour!r} is not a colour written RRGGBB")
    return look
