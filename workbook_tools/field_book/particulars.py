"""What makes one store's book differ from the program's: what it asks for, answers given before, what to put right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from workbook_tools.contract.findings import Finding
from workbook_tools.program.asked import PARTS, POSITIONS, Asked
from workbook_tools.program.model import Part, Position, Program

Cell: TypeAlias = tuple[str, str, str]
"""(block, row key, field key) of an answer; for the visit, row key and field key are both the question's key."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One thing to put right in a return: what was found, where it stands, and the answers to look at."""

    finding: Finding
    cells: tuple[Cell, ...] = ()


@dataclass(frozen=True)
class Particulars:
    """A book without any is the program's own: all is asked, nothing is filled in.

    `shared` says that the store is picked in the book; `asked` is what is open in the store, None when all is asked.
    `given` holds answers as they were typed, `slips` what to put right in them; `correction` counts how often this
    visit's return was sent back (0: never), `corrects` is the SHA-256 of the file that is sent back ("": none).
    """

    shared: bool = False
    visit: int = 1
    asked: Asked | None = None
    given: Mapping[Cell, object] = field(default_factory=dict)
    slips: tuple[Slip, ...] = ()
    correction: int = 0
    corrects: str = ""

    def asks(self, block: str, key: str) -> bool:
        """True when a position, part or question of the visit is asked."""
        return self.asked is None or key in self.asked.keys(block)

    def before(self, block: str, key: str) -> Asked | None:
        """What is asked, if it tells something of a position or part that was reported before; else None."""
        return self.asked if self.asked and self.asked.tells(block, key) else None

    def walk(self, program: Program) -> tuple[Position, ...]:
        """The positions that are asked, in the order of the walk."""
        return tuple(one for one in program.walk if self.asks(POSITIONS, one.key))

    def parts(self, program: Program) -> tuple[Part, ...]:
        """The parts that are asked, in the order of the setup."""
        return tuple(one for one in program.parts if self.asks(PARTS, one.part))

    @property
    def marked(self) -> frozenset[Cell]:
        """The answers to look at again."""
        return frozenset(cell for slip in self.slips for cell in slip.cells)


PLAIN = Particulars()
