"""Exactly one outcome for every file: merged, to correct, superseded, duplicate or set aside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from workbook_tools.contract.findings import Finding, Phrase, must_mend
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words


@dataclass(slots=True)
class FileResult:
    """One file that came back. `number` is its place in the order of collecting; `correction` is 0 in a book as it was
    issued, else how often it was sent back; `order` sorts a visit's returns.
    """

    number: int
    file: str
    sha256: str
    received: str
    sender: str = ""
    store: str = ""
    visit: int | None = None
    revision: int | None = None
    answers: str = ""
    correction: int = 0
    order: tuple[object, ...] = ()
    findings: list[Finding] = field(default_factory=list)
    outcome: str = ""
    reason: Finding | Phrase | None = None

    def finding(self, rule: str, value: str = "", /, **fields: object) -> Finding:
        """A finding about the file as a whole."""
        severity = default_contract().rules[rule]
        return Finding(rule=rule, severity=severity, file=self.file, store=self.store, value=value, fields=fields)

    def row(self, words: Words) -> dict[str, object]:
        """The result as a row of files.csv."""
        return {
            "file": self.file,
            "sha256": self.sha256,
            "store": self.store,
            "visit": self.visit,
            "outcome": self.outcome,
            "reason": self._reason(words),
            "received": self.received,
            "sender": self.sender,
        }

    def _reason(self, words: Words) -> str:
        if isinstance(self.reason, Phrase):
            return self.reason.say(words)
        return f"{self.reason.problem(words)} {self.reason.todo(words)}" if self.reason else ""


def order_of(
    visit: Mapping[str, object], *, told: int, correction: int, saved: str, received: str, file: str
) -> tuple[object, ...]:
    """Sorts the returns of one visit from the earliest to the one that stands: by visit date and time out, then by
    saved and received time. A return in which nothing is filled in never takes the place of one that tells something.
    A corrected return (`correction` 1, 2, …) comes after those it corrects, whatever its date: it may have been wrong.
    """
    date, out = visit.get("visit_date"), visit.get("time_out")
    return (
        told > 0,
        correction,
        date if isinstance(date, dt.date) else dt.date.min,
        out if isinstance(out, dt.time) else dt.time.min,
        saved,
        received,
        file,
    )


def judge(results: Iterable[FileResult]) -> None:
    """Give every result that has no outcome yet its outcome and reason, visit by visit."""
    visits: dict[tuple[str, int | None], list[FileResult]] = {}
    for result in results:
        if not result.outcome:
            visits.setdefault((result.store, result.visit), []).append(result)
    for returns in visits.values():
        _judge_visit(returns)


def _takes_back(result: FileResult, same: FileResult, returns: Iterable[FileResult]) -> bool:
    """True for a corrected return that says again what was said before another correction: it is no mere copy."""
    between = range(same.correction + 1, result.correction + 1)
    return any(one.correction in between and one.answers != result.answers for one in returns)


def _judge_visit(returns: list[FileResult]) -> None:
    first: dict[str, FileResult] = {}
    kept = []
    for result in sorted(returns, key=lambda one: (one.received, one.number)):
        same = first.get(result.answers)
        if same and not _takes_back(result, same, returns):
            result.outcome = "duplicate"
            result.reason = Phrase("rules.same_answers.problem", {"first": same.file})
        else:
            first[result.answers] = result
            kept.append(result)
    *earlier, last = sorted(kept, key=lambda one: one.order)
    for result in earlier:
        result.outcome = "superseded"
        result.reason = Phrase("rules.later_return.problem", {"later": last.file})
    last.outcome = "to correct" if must_mend(last.findings) else "merged"
    if last.outcome == "to correct":
        count = sum(finding.severity == "must mend" for finding in last.findings)
        last.reason = Phrase("reasons.to_correct", {"count": count})
