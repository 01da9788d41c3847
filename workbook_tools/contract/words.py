"""Every word a person reads: one TOML file a language, looked up by dotted key."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from string import Formatter
from typing import Any

from workbook_tools.contract.load import read_toml, templates_folder
from workbook_tools.contract.model import Block, Contract, WorkbookForm
from workbook_tools.errors import DefinitionError

DEFAULT_LANGUAGE = "en"


@dataclass(frozen=True)
class Words:
    """One language's words. `words("cover.title", program="Spring")` fills the named fields.

    `{count:store|stores}` in a text becomes the first word after the counts that `language.one` lists, else the second.
    """

    language: str
    table: Mapping[str, str]

    def __call__(self, key: str, /, **values: object) -> str:
        """The text under a dotted key. Raises DefinitionError when there is none or a field is not given."""
        text = self.table.get(key)
        if text is None:
            raise DefinitionError(f"words/{self.language}.toml has no {key!r}")
        try:
            return _Counting(self.table).vformat(text, (), values) if "|" in text else text.format_map(values)
        except (KeyError, IndexError, ValueError) as slip:
            raise DefinitionError(f"words/{self.language}.toml, {key!r}: field {slip} is not given") from None

    def __contains__(self, key: str) -> bool:
        return key in self.table

    def choice(self, choices: str, key: str) -> str:
        """What people read for a choice; an entry that comes from the program stands for itself."""
        return self.table.get(f"choices.{choices}.{key}", key)

    def number(self, number: float, form: str) -> str:
        """A number as people write it, in a form such as `.1f` or `.0%`."""
        digits = format(number, form).replace(".", self("language.decimal"))
        return self("language.percent", number=digits.removesuffix("%")) if form.endswith("%") else digits

    def fields_of(self, key: str) -> frozenset[str]:
        """The names of the fields in a text."""
        return frozenset(name for _, name, _, _ in Formatter().parse(self.table[key]) if name)


class _Counting(Formatter):
    """Fills in fields, with words that go by a count."""

    def __init__(self, table: Mapping[str, str]) -> None:
        self._one = table["language.one"].split()

    def format_field(self, value: object, format_spec: str) -> str:
        one, bar, many = format_spec.partition("|")
        if not bar:
            return str(super().format_field(value, format_spec))
        return one if str(value) in self._one else many


def languages(folder: Path | None = None) -> tuple[str, ...]:
    """The languages there is a words file for, the default one first."""
    found = sorted(path.stem for path in ((folder or templates_folder()) / "words").glob("*.toml"))
    return tuple(sorted(found, key=lambda code: (code != DEFAULT_LANGUAGE, code)))


def words_for(language: str) -> Words:
    """The words of a language in `templates_folder()`; the default language when it has no such file."""
    return _loaded(templates_folder(), language)


@lru_cache(maxsize=16)
def _loaded(folder: Path, language: str) -> Words:
    return load_words(folder, language if language in languages(folder) else DEFAULT_LANGUAGE)


def load_words(folder: Path, language: str) -> Words:
    """Read words/<language>.toml. Raises DefinitionError when it is missing or holds anything but texts."""
    path = folder / "words" / f"{language}.toml"
    return Words(language, dict(_flatten(path.name, "", read_toml(path))))


def missing_words(contract: Contract, words: Words) -> list[str]:
    """The keys the contract needs and the words lack, in the contract's order."""
    return [key for key in contract_word_keys(contract) if key not in words]


def contract_word_keys(contract: Contract) -> Iterator[str]:
    """Every key that follows from the contract: sheet names, headings, prompts, choices, rules, flags, tables."""
    for workbook in (contract.setup, contract.field_book):
        yield from _workbook_keys(workbook)
    for choices in contract.choices.values():
        yield from (f"choices.{choices.key}.{key}" for key in choices.keys)
    for rule in contract.rules:
        yield from (f"rules.{rule}.problem", f"rules.{rule}.todo")
    for name, columns in contract.tables.items():
        yield from (f"tables.{name}.{column}" for column in columns)
    yield from (f"flags.{kind}" for kind in contract.flag_owners)
    yield from (f"owners.{owner}" for owner in dict.fromkeys(contract.flag_owners.values()))
    yield from (f"states.{state}" for state in contract.states)
    yield from (f"outcomes.{outcome}" for outcome in contract.outcomes)


def _workbook_keys(workbook: WorkbookForm) -> Iterator[str]:
    for sheet in workbook.sheets:
        yield f"{workbook.key}.sheets.{sheet.key}"
        for block in sheet.blocks:
            yield f"{workbook.key}.{block.key}.title"
            yield from _field_keys(workbook, block)


def _field_keys(workbook: WorkbookForm, block: Block) -> Iterator[str]:
    for one in block.fields:
        yield f"{workbook.key}.{block.key}.{one.key}.heading"
        if one.open or workbook.key == "setup":
            yield f"{workbook.key}.{block.key}.{one.key}.prompt"


def _flatten(file: str, prefix: str, table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for name, value in table.items():
        key = f"{prefix}{name}"
        if isinstance(value, Mapping):
            yield from _flatten(file, f"{key}.", value)
        elif isinstance(value, str):
            yield key, value
        else:
            raise DefinitionError(f"words/{file}, {key!r}: every word is a text in quotes, not {value!r}")
