"""Findings: what is not as it should be in a workbook, each at its cell and under the name of its rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from workbook_tools.contract.model import Severity
from workbook_tools.contract.words import Words

SHOWN_VALUE_LENGTH = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to mend, look at or note. `cell` is an address such as "C7", or "" for a whole sheet or file.

    `fields` fill the rule's words; file, sheet, cell, column and value are always given to them too.
    """

    rule: str
    severity: Severity
    file: str = ""
    store: str = ""
    sheet: str = ""
    cell: str = ""
    column: str = ""
    value: str = ""
    fields: Mapping[str, object] = field(default_factory=dict)

    def problem(self, words: Words) -> str:
        """What is wrong, as a sentence."""
        return words(f"rules.{self.rule}.problem", **self._named())

    def todo(self, words: Words) -> str:
        """What to do next, as a sentence."""
        return words(f"rules.{self.rule}.todo", **self._named())

    def _named(self) -> dict[str, object]:
        own = {
            "file": self.file,
            "sheet": self.sheet,
            "cell": self.cell,
            "column": self.column,
            "value": self.value,
        }
        return {**own, **self.fields}

    def row(self, words: Words) -> dict[str, str]:
        """The finding as a row of findings.csv."""
        return {
            "file": self.file,
            "store": self.store,
            "sheet": self.sheet,
            "cell": self.cell,
            "column": self.column,
            "value": self.value,
            "problem": self.problem(words),
            "todo": self.todo(words),
            "severity": self.severity,
            "rule": self.rule,
        }


def must_mend(findings: Iterable[Finding]) -> bool:
    """True when any of the findings has to be mended."""
    return any(finding.severity == "must mend" for finding in findings)


def shown(raw: object) -> str:
    """A raw value as a finding shows it: one line, cut at 200 characters, whole numbers without `.0`."""
    if raw is None:
        return ""
    if isinstance(raw, float) and raw.is_integer():
        raw = int(raw)
    text = " ".join(str(raw).split())
    return text if len(text) <= SHOWN_VALUE_LENGTH else f"{text[: SHOWN_VALUE_LENGTH - 1]}…"
