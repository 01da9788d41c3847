"""The live state of a position as a formula: to do, right, or look again and why; the program's own flags agree.

Only functions that every spreadsheet program has: AND, IF, IFERROR, INDEX, LEFT, MATCH, OR, COUNTA, COUNTIF.
"""

from __future__ import annotations

from dataclasses import dataclass

from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import ListSheet
from workbook_tools.field_book.layout import ReturnLayout
from workbook_tools.program.model import Position


@dataclass(frozen=True)
class StateFormula:
    """Makes the state formula of each position of one book."""

    layout: ReturnLayout
    words: Words
    lists: ListSheet

    def of(self, position: Position) -> str:
        """The formula of a position's state cell; its result in a blank book is the words for "to do"."""
        cell = {key: self.layout.position_cell(position, key) for key in self.layout.positions.columns}
        bad = self._bad(cell, position.units)
        reasons = "&".join(f'IF({test},"{self._reason(kind)}","")' for kind, test in bad.items())
        any_bad = f"OR({','.join(bad.values())})"
        told = f'AND({cell["label"]}<>"",{cell["tag"]}<>"",{cell["product"]}<>"")'
        yes, other = self._choice("yes_no", "yes"), self._choice("product", "other item")
        answers = f"{cell['as_planned']}:{cell['other_item']}"
        blank = f"COUNTA({answers.replace('$', '')})=0"
        not_built = f"{self.layout.visit_cell('built')}={self._choice('built', 'no')}"
        which = f'AND({cell["product"]}={other},{cell["other_item"]}="")'
        clash = f"AND({cell['as_planned']}={yes},{any_bad})"
        return (
            f"=IF({blank},IF({not_built},{self._text('state.not_asked')},{self._text('state.todo')}),"
            f"IF({clash},{self._text('state.clash')}&{reasons},"
            f"IF({which},{self._text('state.which')},"
            f"IF({any_bad},{self._text('state.again')}&{reasons},"
            f"IF(OR({cell['as_planned']}={yes},{told}),{self._text('state.right')},{self._text('state.told_in_part')})))))"
        )

    def _bad(self, cell: dict[str, str], planned: int | None) -> dict[str, str]:
        """What is not right, by reason: a test that is true when it is so."""
        other = f"{cell['product']}={self._choice('product', 'other item')}"
        codes, brands = (self.lists.ranges[key][1:] for key in ("item_codes", "item_brands"))
        found = f'IFERROR(INDEX({brands},MATCH({cell["other_item"]}&"",{codes},0)),"")'
        due = f"IF({other},{found},{cell['brand']})"
        code = f'IF({other},{cell["other_item"]},{cell["item_code"]})&""'
        label, tag, tag_code = cell["label"], cell["tag"], cell["tag_code"]
        no_label = self._choice("label", "no label")
        short = f',AND({cell["units"]}<>"",{cell["units"]}<{planned})' if planned else ""
        return {
            "label": f'OR({label}={no_label},AND({label}<>"",{due}<>"",{label}<>{due}))',
            "tag": (
                f'OR(AND({tag}<>"",{tag}<>{self._choice("tag", "on tray")}),AND({tag_code}<>"",{tag_code}&""<>{code}))'
            ),
            "item": f'OR(AND({cell["product"]}<>"",{cell["product"]}<>{self._choice("product", "set")}){short})',
        }

    def _reason(self, kind: str) -> str:
        return f" {self.words(f'state.reason_{kind}')}".replace('"', '""')

    def _choice(self, choices: str, key: str) -> str:
        return _quoted_text(self.words.choice(choices, key))

    def _text(self, key: str) -> str:
        return _quoted_text(self.words(key))


def _quoted_text(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'
