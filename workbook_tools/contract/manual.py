"""The manual page of rules, from rules.toml and the words: `python -m workbook_tools.contract.manual` rewrites it."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

from workbook_tools.contract.load import default_contract, templates_folder
from workbook_tools.contract.words import Words, words_for
from workbook_tools.errors import DefinitionError

BEGIN, END = "<!-- rules -->", "<!-- /rules -->"
"""Between these two lines of DEVELOPERS.md stands the page."""
_HEADING = re.compile(r"# -- (.+)")
_FIELD = re.compile(r"\{(\w+)\}")


def manual_file() -> Path:
    """DEVELOPERS.md of the source tree."""
    return templates_folder().parent / "DEVELOPERS.md"


def rules_page(words: Words) -> str:
    """The page as Markdown: a table for each group of rules.toml, in its order, with a line for every rule."""
    lines = []
    for title, rules in _groups():
        lines += [f"#### {title[0].upper()}{title[1:]}", "", "| rule | severity | what is wrong | what to do |"]
        lines.append("| --- | --- | --- | --- |")
        lines += [_line(rule, words) for rule in rules]
        lines.append("")
    return "\n".join(lines)


def with_page(text: str, page: str) -> str:
    """A text with the page in its place. Raises DefinitionError when the two marks are not there once each."""
    if text.count(BEGIN) != 1 or text.count(END) != 1 or text.index(BEGIN) > text.index(END):
        raise DefinitionError(f"needs one line {BEGIN} and, after it, one line {END}")
    before, _, rest = text.partition(BEGIN)
    return f"{before}{BEGIN}\n\n{page}\n{END}{rest.partition(END)[2]}"


def _groups() -> Iterator[tuple[str, list[str]]]:
    """The groups of rules.toml by the headings (`# -- …`) over them."""
    known = default_contract().rules
    title, rules = "", list[str]()
    for line in (templates_folder() / "rules.toml").read_text(encoding="utf-8").splitlines():
        if heading := _HEADING.fullmatch(line):
            if rules:
                yield title, rules
            title, rules = heading[1], []
        elif (name := line.partition("=")[0].strip()) in known:
            rules.append(name)
    yield title, rules


def _line(rule: str, words: Words) -> str:
    severity = words(f"severity.{default_contract().rules[rule]}")
    problem, todo = (_cell(words.table[f"rules.{rule}.{part}"]) for part in ("problem", "todo"))
    return f"| `{rule}` | {severity} | {problem} | {todo} |"


def _cell(text: str) -> str:
    """A sentence as a table's cell: what is filled in is set in italics."""
    return _FIELD.sub(r"*\1*", text).replace("|", "\\|").replace("_", "\\_").replace("\n", " ")


def main() -> None:
    """Rewrite the page in DEVELOPERS.md."""
    path = manual_file()
    path.write_text(with_page(path.read_text(encoding="utf-8"), rules_page(words_for("en"))), encoding="utf-8")
    sys.stdout.write(f"{path}\n")


if __name__ == "__main__":
    main()
