"""Which store, visit and revision a return belongs to: said by the file's inside, held against the register."""

from __future__ import annotations

from dataclasses import dataclass

from workbook_tools.contract.findings import Finding, shown
from workbook_tools.contract.load import default_contract
from workbook_tools.program.model import Program
from workbook_tools.program.register import IssuedBook, Register
from workbook_tools.returns.answers import Source
from workbook_tools.returns.read import ReadReturn
from workbook_tools.returns.repair import Repairs

TO_PUT_RIGHT = frozenset(("store_not_picked", "store_unknown"))
"""Rules a sender can put right alone; every other reason for not knowing a return needs a person in the office."""


@dataclass(frozen=True, slots=True)
class Identifier:
    """Knows the program and every book that was issued for it."""

    program: Program
    register: Register
    repairs: Repairs

    def identify(self, number: int, file: str, read: ReadReturn) -> Source | Finding:
        """The return's place in the program, or the finding that says why it has none."""
        if read.refusal:
            return self._finding(read.refusal.rule, file, detail=read.refusal.detail, reason=read.refusal.detail)
        code, token = (str(read.identity.get(key, "")) for key in ("program", "token"))
        if not token:
            return self._finding("not_a_return", file)
        if code and code.casefold() != self.program.settings.code.casefold():
            return self._finding("other_program", file, value=code, program=self.program.settings.code)
        book = self.register.by_token.get(token)
        if book is None:
            return self._finding("token_unknown", file, value=token)
        return self._placed(number, file, read, book)

    def _placed(self, number: int, file: str, read: ReadReturn, book: IssuedBook) -> Source | Finding:
        picked = _picked(read)
        if not book.store:
            if not picked:
                return self._finding("store_not_picked", file)
            store = self.repairs.store(picked)
            if store not in self.program.store:
                return self._finding("store_unknown", file, value=picked)
            return Source(number, file, store, book.visit, book.revision, read)
        for said in (str(read.identity.get("store", "")), picked):
            if said and said != book.store and self.repairs.store(said) != book.store:
                about = {"value": said, "what": "store", "expected": book.store}
                return self._finding("identity_differs", file, **about)
        asked = self.register.asked.get(book.token)
        return Source(number, file, book.store, book.visit, book.revision, read, asked)

    def _finding(self, rule: str, file: str, *, value: object = "", **fields: object) -> Finding:
        return Finding(
            rule=rule, severity=default_contract().rules[rule], file=file, value=shown(value), fields={**fields}
        )


def _picked(read: ReadReturn) -> str:
    """The store the visit block names."""
    visit = read.blocks.get("visit")
    if visit is None:
        return ""
    answers = visit.values[default_contract().field_book.block("visit").value_column]
    return str(dict(zip(visit.keys, answers, strict=True)).get("store") or "")
