"""Findings: what is not as it should be in a workbook, each at its cell and under the name of its rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from dataclasses import field as member

from workbook_tools.contract.model import Contract, Field, Severity
from workbook_tools.contract.values import CONTROLS
from workbook_tools.contract.words import Words

SHOWN_VALUE_LENGTH = 200
_SPACES = dict.fromkeys(CONTROLS, " ")
_RANGE_WORDS = {
    ("minimum", "maximum"): "from_to",
    ("minimum",): "from",
    ("maximum",): "to",
    ("above",): "above",
    ("above", "maximum"): "above_to",
}


@dataclass(frozen=True, slots=True)
class Phrase:
    """A piece of a sentence, put into words only when the sentence is said."""

    key: str
    values: Mapping[str, object] = member(default_factory=dict)

    def say(self, words: Words) -> str:
        """The phrase in a language."""
        return words(self.key, **self.values)


@dataclass(frozen=True, slots=True)
class Offered:
    """What a drop-down offers, put into words like a Phrase: the `entries` of the program, which stand for themselves,
    and the fixed `keys` of its list, `choices`.
    """

    choices: str
    entries: tuple[str, ...]
    keys: tuple[str, ...]

    def say(self, words: Words) -> str:
        """All of them in a language."""
        return " · ".join((*self.entries, *(words.choice(self.choices, key) for key in self.keys)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to mend, look at or note. `cell` is an address such as "C7", or "" for a whole sheet or file.

    `about` is the words key of the field it is about ("setup.items.gtin"), whose heading and prompt the sentence
    may use; `fields` fill the rest of the rule's words.
    """

    rule: str
    severity: Severity
    file: str = ""
    store: str = ""
    sheet: str = ""
    cell: str = ""
    column: str = ""
    value: str = ""
    about: str = ""
    fields: Mapping[str, object] = member(default_factory=dict)

    def problem(self, words: Words) -> str:
        """What is wrong, as a sentence."""
        return self._say(words, "problem")[0]

    def todo(self, words: Words) -> str:
        """What to do next, as a sentence."""
        return self._say(words, "todo")[0]

    def _say(self, words: Words, *parts: str) -> list[str]:
        """Some of the rule's sentences."""
        named = self._named(words)
        return [words(f"rules.{self.rule}.{part}", **named) for part in parts]

    def _named(self, words: Words) -> dict[str, object]:
        named: dict[str, object] = {name: getattr(self, name) for name in ("file", "sheet", "cell", "column", "value")}
        if self.about:
            named["column"] = words(f"{self.about}.heading")
            prompt = f"{self.about}.prompt"
            named["prompt"] = words(prompt) if prompt in words else ""
        for name, value in self.fields.items():
            named[name] = value.say(words) if isinstance(value, Phrase | Offered) else value
        return named

    def row(self, words: Words) -> dict[str, str]:
        """The finding as a row of findings.csv."""
        problem, todo = self._say(words, "problem", "todo")
        return {
            "file": self.file,
            "store": self.store,
            "sheet": self.sheet,
            "cell": self.cell,
            "column": self.column,
            "value": self.value,
            "problem": problem,
            "todo": todo,
            "severity": self.severity,
            "rule": self.rule,
        }


def limits(contract: Contract, field: Field, sources: Mapping[str, tuple[str, ...]]) -> dict[str, object]:
    """What a field allows, for the words of `not_a_choice`, `out_of_range` and `too_long`."""
    named = {"minimum": field.minimum, "above": field.above, "maximum": field.maximum}
    bounds = {name: shown(bound) for name, bound in named.items() if bound is not None}
    kind = _RANGE_WORDS.get(tuple(bounds))
    offered = contract.choices[field.choices] if field.choices else None
    return {
        "maximum": bounds.get("maximum", ""),
        "choices": Offered(offered.key, sources.get(offered.source, ()), offered.keys) if offered else "",
        "range": Phrase(f"messages.range_{kind}", bounds) if kind else "",
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
    text = " ".join(str(raw).translate(_SPACES).split())
    return text if len(text) <= SHOWN_VALUE_LENGTH else f"{text[: SHOWN_VALUE_LENGTH - 1]}…"
