"""Where everything stands on the Return sheet: rows of positions, visit questions and parts, before any is written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from workbook_tools.contract.model import Block, Contract
from workbook_tools.contract.names import a1, quoted
from workbook_tools.field_book.particulars import PLAIN, Cell, Particulars
from workbook_tools.program.asked import POSITIONS
from workbook_tools.program.model import Position, Program

TITLE_ROW, GROUP_ROW, HEADING_ROW, KEY_ROW = 0, 1, 2, 3
"""0-based rows above the positions; the first three stay in sight, the last is hidden."""
_CHECK_FIRST = "units"
"""The visit's live checks stand under this column of the positions and those right of it."""


@dataclass(frozen=True)
class ReturnLayout:
    """0-based rows of the Return sheet. `bars` are (row, face, shelf) of the breaks between shelves.

    `before_rows` are those above positions that tell what was reported before; a first visit's book has none.
    """

    sheet: str
    positions: Block
    visit: Block
    parts: Block
    bars: tuple[tuple[int, str, int], ...]
    position_rows: dict[str, int]
    visit_title_row: int
    visit_rows: dict[str, int]
    parts_title_row: int
    part_rows: dict[str, int]
    before_rows: dict[str, int]

    @property
    def last_column(self) -> int:
        """The 0-based last column of the sheet."""
        return max(self.positions.columns.values())

    @property
    def check_column(self) -> int:
        """The 0-based column in which the checks of visit and parts begin; they reach to the last one."""
        return self.positions.columns[_CHECK_FIRST]

    @property
    def parts_check_column(self) -> int:
        """The 0-based column in which the checks of the parts begin."""
        return max(self.parts.columns.values()) + 1

    def width(self, first: int, last: int) -> int:
        """Pixels from a 0-based column to another, both included."""
        return sum(field.width for field in self.positions.fields if first <= field.index <= last)

    def position_cell(self, position: Position, column: str) -> str:
        """The absolute address of a position's cell, with the sheet's name."""
        return self._absolute(self.position_rows[position.key], self.positions.columns[column], True)

    def visit_cell(self, key: str, *, sheet: bool = False) -> str:
        """The absolute address of an answer of the visit, with the sheet's name when asked for."""
        return self._absolute(self.visit_rows[key], self.visit.value_index, sheet)

    def answer_place(self, cell: Cell) -> tuple[int, int] | None:
        """The 0-based row and column of an answer; None when the book does not ask for it."""
        block, key, field = cell
        if block == self.visit.key:
            return (self.visit_rows[key], self.visit.value_index) if key in self.visit_rows else None
        rows, columns = (
            (self.position_rows, self.positions.columns) if block == POSITIONS else (self.part_rows, self.parts.columns)
        )
        return (rows[key], columns[field]) if key in rows and field in columns else None

    def column_range(self, column: str, *, sheet: bool = False) -> str:
        """A column of all positions, the bars between them included."""
        return self._range(self.position_rows.values(), self.positions.columns[column], sheet)

    def checks_range(self) -> str:
        """The live checks of the visit questions, with the sheet's name."""
        return self._range(self.visit_rows.values(), self.check_column, True)

    def part_checks_range(self) -> str:
        """The live checks of the parts, with the sheet's name."""
        return self._range(self.part_rows.values(), self.parts_check_column, True)

    def _range(self, rows: Iterable[int], column: int, sheet: bool) -> str:
        rows = list(rows) or [KEY_ROW + 1]
        last = self._absolute(max(rows), column, False)
        return f"{self._absolute(min(rows), column, sheet)}:{last}"

    def _absolute(self, row: int, column: int, sheet: bool) -> str:
        letters = a1(row, column).rstrip("0123456789")
        return f"{quoted(self.sheet)}!${letters}${row + 1}" if sheet else f"${letters}${row + 1}"


def plan_return(program: Program, contract: Contract, sheet: str, particulars: Particulars = PLAIN) -> ReturnLayout:
    """Lay out the Return sheet: positions in the order of the walk, then the visit questions, then the parts."""
    row = KEY_ROW + 1
    bars, position_rows, before_rows = [], {}, {}
    shelf = None
    for position in particulars.walk(program):
        if (position.face, position.shelf) != shelf:
            shelf = (position.face, position.shelf)
            bars.append((row, *shelf))
            row += 1
        if particulars.before(POSITIONS, position.key):
            before_rows[position.key] = row
            row += 1
        position_rows[position.key] = row
        row += 1
    visit, parts = contract.field_book.block("visit"), contract.field_book.block("parts")
    visit_title = row + 1
    first = visit_title + 2
    visit_rows = {field.key: first + number for number, field in enumerate(visit.fields)}
    parts_title = first + len(visit_rows) + 1
    first = parts_title + 3
    return ReturnLayout(
        sheet=sheet,
        positions=contract.field_book.block("positions"),
        visit=visit,
        parts=parts,
        bars=tuple(bars),
        position_rows=position_rows,
        visit_title_row=visit_title,
        visit_rows=visit_rows,
        parts_title_row=parts_title,
        part_rows={part.part: first + number for number, part in enumerate(particulars.parts(program))},
        before_rows=before_rows,
    )
