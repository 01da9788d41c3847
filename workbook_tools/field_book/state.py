"""The live state of a position as formulas: to do, right, or look again and why; the program's own flags agree.

A position is right exactly when the program would raise no flag for it; then the text begins with the mark of
"right". What is not right begins with "!", what is not told with "○". Slips that raise no flag (a code where none was
asked for, units that do not fit) are added as a question after the state.

The steps towards a state stand in cells of a hidden sheet, a row a position, each step once: in one formula they would
take three and a half thousand characters a position, three quarters of the sheet that everyone must read.
Only functions that every spreadsheet program has: AND, COUNTA, EXACT, IF, IFERROR, INDEX, MATCH, NOT, OR,
SUBSTITUTE, TRIM.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import ListSheet
from workbook_tools.field_book.canvas import cell_in
from workbook_tools.field_book.layout import ReturnLayout
from workbook_tools.program.formula_texts import quoted_text, sought
from workbook_tools.program.model import Item, Position

FIRST_ANSWER, LAST_ANSWER = "as_planned", "note"
STEPS = (
    *("is_yes", "is_other", "other_place", "due_brand", "due_code", "told_label", "no_tag"),
    *("bad_label", "bad_tag", "bad_item", "state"),
)
"""The columns of the hidden sheet, from column A."""
_NOT_ON_TRAY = ("asked store", "store cannot print", "no tag")
_REASONS = {"label": "bad_label", "tag": "bad_tag", "item": "bad_item"}


class Step(NamedTuple):
    """A formula, and its result while nothing is filled in."""

    formula: str
    blank: str | float | bool


@dataclass(frozen=True)
class StateFormulas:
    """Makes the formulas for the state of each position of one book; `sheet` is the hidden one that holds them."""

    layout: ReturnLayout
    words: Words
    lists: ListSheet
    sheet: str

    def shown(self, row: int) -> str:
        """The formula of the state cell of the position whose steps stand in a 0-based row of the hidden sheet."""
        return f"={self._step(row)['state']}"

    def steps(self, position: Position, item: Item, row: int) -> dict[str, Step]:
        """The formulas of one position, for a 0-based row of the hidden sheet: one for each of STEPS.

        The state of a blank position is the words for "to do".
        """
        cell, step, planned = self._cells(position), self._step(row), position.units
        label, other_item, product = cell["label"], cell["other_item"], cell["product"]
        codes, brands = (self.lists.ranges[key][1:] for key in ("item_codes", "item_brands"))
        listed_brand = f'IF({step["other_place"]}>0,INDEX({brands},{step["other_place"]}),"")'
        told, due = step["told_label"], step["due_brand"]
        no_label = self._choice("label", "no label")
        typed, code = f"TRIM({cell['tag_code']})", step["due_code"]
        wrong_code = f'AND({typed}<>"",{code}<>"",NOT(EXACT({typed},{code})))'
        another = f'AND({product}<>"",{product}<>{self._choice("product", "set")})'
        no_tag = ",".join(f"{cell['tag']}={self._choice('tag', key)}" for key in _NOT_ON_TRAY)
        made = (
            Step(f"{cell['as_planned']}={self._choice('yes_no', 'yes')}", False),
            Step(f"{product}={self._choice('product', 'other item')}", False),
            Step(f"IFERROR(MATCH({sought(f'TRIM({other_item})')},{codes},0),0)", 0),
            Step(f'IF({step["is_other"]},{listed_brand},{cell["brand"]})&""', item.brand),
            Step(f'IF({step["is_other"]},TRIM({other_item}),{cell["item_code"]}&"")', item.item_code),
            Step(f'IF(AND({label}="",{step["is_yes"]}),{cell["brand"]},{label})&""', ""),
            Step(f"OR({no_tag})", False),
            Step(f'OR({label}={no_label},AND({told}<>"",{due}<>"",{told}<>{due}))', False),
            Step(f"OR({step['no_tag']},{wrong_code})", False),
            Step(f"OR({self._is_short(cell, step, planned)}{another})", False),
            Step(self._state(cell, step, planned), self.words("state.todo")),
        )
        return dict(zip(STEPS, made, strict=True))

    def _cells(self, position: Position) -> dict[str, str]:
        columns = self.layout.positions.columns
        return {key: self.layout.position_cell(position, key) for key in columns}

    def _step(self, row: int) -> dict[str, str]:
        return {key: cell_in(self.sheet, row, column) for column, key in enumerate(STEPS)}

    def _is_short(self, cell: dict[str, str], step: dict[str, str], planned: int | None) -> str:
        """`test,` for fewer units than planned where the item is said to be set in full."""
        if not planned:
            return ""
        product, units = cell["product"], cell["units"]
        full = f'OR({product}={self._choice("product", "set")},AND({product}="",{step["is_yes"]}))'
        return f'AND({units}<>"",{units}<{planned},{full}),'

    def _state(self, cell: dict[str, str], step: dict[str, str], planned: int | None) -> str:
        bad = {kind: step[name] for kind, name in _REASONS.items()}
        any_bad = f"OR({','.join(bad.values())})"
        reasons = self._named(bad)
        untold = {kind: f'{cell[field]}=""' for kind, field in _TOLD.items()}
        judged = _first(
            (f"AND({step['is_yes']},{any_bad})", f"{self._text('state.clash')}&{reasons}"),
            (f'AND({step["is_other"]},{cell["other_item"]}="")', self._text("state.which")),
            (any_bad, f"{self._text('state.again')}&{reasons}"),
            (f"OR({step['is_yes']},NOT(OR({','.join(untold.values())})))", self._text("state.right")),
            otherwise=f"{self._text('state.told_in_part')}&{self._named(untold)}",
        )
        not_built = f"{self.layout.visit_cell('built', sheet=True)}={self._choice('built', 'no')}"
        blank = f"IF({not_built},{self._text('state.not_asked')},{self._text('state.todo')})"
        answers = f"{cell[FIRST_ANSWER]}:{cell[LAST_ANSWER].rpartition('!')[2]}"
        return f"IF(COUNTA({answers})=0,{blank},{judged}&{self._questions(cell, step, planned)})"

    def _questions(self, cell: dict[str, str], step: dict[str, str], planned: int | None) -> str:
        """What contradicts itself without being a flag, as text after the state."""
        other, units = cell["other_item"], cell["units"]
        same = f'EXACT(TRIM({other}),{cell["item_code"]}&"")'
        strange = f'AND({other}<>"",OR(NOT({step["is_other"]}),{step["other_place"]}=0,{same}))'
        asked = {"other": strange, "tag_code": f'AND({cell["tag_code"]}<>"",{step["no_tag"]})'}
        if planned:
            short = f"{cell['product']}={self._choice('product', 'short')}"
            asked["units"] = f'AND({units}<>"",OR({units}>{planned},AND({short},{units}>={planned})))'
        return "&".join(f'IF({test},{self._text(f"state.check_{kind}", " ")},"")' for kind, test in asked.items())

    def _named(self, tests: dict[str, str]) -> str:
        return "&".join(f'IF({test},{self._text(f"state.reason_{kind}", " ")},"")' for kind, test in tests.items())

    def _choice(self, choices: str, key: str) -> str:
        return quoted_text(self.words.choice(choices, key))

    def _text(self, key: str, before: str = "") -> str:
        return quoted_text(before + self.words(key))


def longest_states(words: Words) -> list[str]:
    """The longest texts that a state cell can show, but for several questions after one another."""
    reasons = " ".join(words(f"state.reason_{kind}") for kind in _TOLD)
    named = [f"{words(f'state.{state}')} {reasons}" for state in ("again", "clash", "told_in_part")]
    asked = [f"{words('state.right')} {words(f'state.check_{kind}')}" for kind in ("other", "tag_code", "units")]
    return [*named, *asked, words("state.which"), words("state.not_asked")]


_TOLD = {"label": "label", "tag": "tag", "item": "product"}
"""Reason → the answer that tells of it."""


def _first(*cases: tuple[str, str], otherwise: str) -> str:
    """Nested IFs: the value of the first test that is true."""
    opened = "".join(f"IF({test},{value}," for test, value in cases)
    return f"{opened}{otherwise}{')' * len(cases)}"
