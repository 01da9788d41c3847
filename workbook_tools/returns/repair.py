"""Repairs that need the program: choices and codes put right where that is provable, each with a notice."""

from __future__ import annotations

from typing import NamedTuple

from workbook_tools.contract.choice_words import fixed_choices, offered_choices
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.values import only_meanings, plain_form
from workbook_tools.program.model import Program
from workbook_tools.returns.codes import CodeList

_ENDS = " .!,;:"
"""What a keyboard or a person sets behind a word."""


class Meant(NamedTuple):
    """What a typed text stands for: `rule` names the repair, or, where `codes` are given or it cannot be known, what
    is wrong; "" when the text stands as it was typed.
    """

    value: str
    rule: str = ""
    codes: tuple[str, ...] = ()


class Repairs:
    """What one program allows to be put right. Answers are cached: most cells say what another said before."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self._choices: dict[str, dict[str, str]] = {}
        self._codes = CodeList(item.item_code for item in program.items)
        self._stores = CodeList(program.store)

    def choice(self, choices: str, typed: str) -> Meant:
        """The key a typed choice stands for, or the text itself when it stands for none.

        What a drop-down offers, in whatever language, needs no repair.
        """
        form = default_contract().choices[choices]
        options = form.options(self.program.sources)
        if typed in options:
            return Meant(typed)
        if choices not in self._choices:
            listed = only_meanings((plain_form(one), one) for one in self.program.sources.get(form.source, ()))
            self._choices[choices] = {**listed, **fixed_choices(choices)}
        meanings, form_typed = self._choices[choices], plain_form(typed)
        key = meanings.get(form_typed) or meanings.get(form_typed.rstrip(_ENDS), typed)
        return Meant(key, "" if key == typed or typed in offered_choices(choices) else "choice_recognised")

    def item_code(self, typed: str) -> Meant:
        """An item code as the program has it, when exactly one fits what a spreadsheet program left of it.

        code_two_ways: several fit. code_shortened: digits are lost, and none fits. Any other text is as typed.
        """
        if self._codes.has(typed):
            return Meant(typed)
        fitting = self._codes.fitting(typed)
        if len(fitting) > 1:
            return Meant(typed, "code_two_ways", fitting)
        shortened = self._codes.is_shortened(typed)
        if fitting:
            return Meant(fitting[0], "code_restored" if shortened else "zeros_restored")
        return Meant(typed, "code_shortened" if shortened else "")

    def store(self, typed: str) -> str:
        """A store's number as the program has it, when exactly one fits, else as typed."""
        fitting = () if self._stores.has(typed) else self._stores.fitting(typed)
        return fitting[0] if len(fitting) == 1 else typed
