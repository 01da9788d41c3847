"""The live state of a position as a formula: to do, right, or look again and why; the program's own flags agree.

A position is right exactly when the program would raise no flag for it; then the text begins with the mark of
"right". What is not right begins with "!", what is not told with "○". Slips that raise no flag (a code where none was
asked for, units that do not fit) are added as a question after the state.

Only functions that every spreadsheet program has: AND, COUNTA, EXACT, IF, IFERROR, INDEX, ISNUMBER,
MATCH, NOT, OR, TRIM.
"""

from __future__ import annotations

from dataclasses import dataclass

from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import ListSheet
from workbook_tools.field_book.layout import ReturnLayout
from workbook_tools.program.model import Position

FIRST_ANSWER, LAST_ANSWER = "as_planned", "note"
_NOT_ON_TRAY = ("asked store", "store cannot print", "no tag")


@dataclass(frozen=True)
class StateFormula:
    """Makes the state formula of each position of one book."""

    layout: ReturnLayout
    words: Words
    lists: ListSheet

    def of(self, position: Position) -> str:
        """The formula of a position's state cell; its result in a blank book is the words for "to do"."""
        cell = self._cells(position)
        bad = self._bad(cell, position.units)
        yes, other = self._is_yes(cell), self._is_other(cell)
        any_bad = f"OR({','.join(bad.values())})"
        reasons = self._named(bad)
        untold = {kind: f'{cell[field]}=""' for kind, field in _TOLD.items()}
        which = f'AND({other},{cell["other_item"]}="")'
        not_built = f"{self.layout.visit_cell('built')}={self._choice('built', 'no')}"
        judged = _first(
            (f"AND({yes},{any_bad})", f"{self._text('state.clash')}&{reasons}"),
            (which, self._text("state.which")),
            (any_bad, f"{self._text('state.again')}&{reasons}"),
            (f"OR({yes},NOT(OR({','.join(untold.values())})))", self._text("state.right")),
            otherwise=f"{self._text('state.told_in_part')}&{self._named(untold)}",
        )
        blank = f"IF({not_built},{self._text('state.not_asked')},{self._text('state.todo')})"
        answers = f"{cell[FIRST_ANSWER]}:{cell[LAST_ANSWER]}".replace("$", "")
        return f"=IF(COUNTA({answers})=0,{blank},{judged}&{self._questions(cell, position.units)})"

    def _cells(self, position: Position) -> dict[str, str]:
        return {key: self.layout.position_cell(position, key) for key in self.layout.positions.columns}

    def _is_yes(self, cell: dict[str, str]) -> str:
        return f"{cell['as_planned']}={self._choice('yes_no', 'yes')}"

    def _is_other(self, cell: dict[str, str]) -> str:
        return f"{cell['product']}={self._choice('product', 'other item')}"

    def _bad(self, cell: dict[str, str], planned: int | None) -> dict[str, str]:
        """What is flagged, by reason: a test that is true when it is so."""
        other, brands = self._is_other(cell), self.lists.ranges["item_brands"][1:]
        due_brand = f'IF({other},IFERROR(INDEX({brands},{self._row_of_other(cell)}),""),{cell["brand"]})'
        due_code = f'IF({other},TRIM({cell["other_item"]}),{cell["item_code"]}&"")'
        label, tag, product = cell["label"], cell["tag"], cell["product"]
        told_label = f'IF(AND({label}="",{self._is_yes(cell)}),{cell["brand"]},{label})'
        no_label = self._choice("label", "no label")
        typed = f"TRIM({cell['tag_code']})"
        wrong_code = f'AND({typed}<>"",{due_code}<>"",NOT(EXACT({typed},{due_code})))'
        return {
            "label": f'OR({label}={no_label},AND({told_label}<>"",{due_brand}<>"",{told_label}<>{due_brand}))',
            "tag": f"OR({self._no_tag(tag)},{wrong_code})",
            "item": f"OR({self._is_short(cell, planned)}"
            f'AND({product}<>"",{product}<>{self._choice("product", "set")}))',
        }

    def _no_tag(self, tag: str) -> str:
        return ",".join(f"{tag}={self._choice('tag', key)}" for key in _NOT_ON_TRAY)

    def _is_short(self, cell: dict[str, str], planned: int | None) -> str:
        """`test,` for fewer units than planned where the item is said to be set in full."""
        if not planned:
            return ""
        product, units = cell["product"], cell["units"]
        full = f'OR({product}={self._choice("product", "set")},AND({product}="",{self._is_yes(cell)}))'
        return f'AND({units}<>"",{units}<{planned},{full}),'

    def _row_of_other(self, cell: dict[str, str]) -> str:
        return f"MATCH(TRIM({cell['other_item']}),{self.lists.ranges['item_codes'][1:]},0)"

    def _questions(self, cell: dict[str, str], planned: int | None) -> str:
        """What contradicts itself without being a flag, as text after the state."""
        other, units = cell["other_item"], cell["units"]
        is_other, known = self._is_other(cell), f"ISNUMBER({self._row_of_other(cell)})"
        same = f'EXACT(TRIM({other}),{cell["item_code"]}&"")'
        strange = f'AND({other}<>"",OR(NOT({is_other}),NOT({known}),{same}))'
        asked = {"other": strange, "tag_code": f'AND({cell["tag_code"]}<>"",OR({self._no_tag(cell["tag"])}))'}
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


def quoted_text(text: str) -> str:
    """A text as formulas write it."""
    return '"' + text.replace('"', '""') + '"'
