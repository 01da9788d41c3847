"""The manual of rules is what the rules are: made from them, complete, and rewritten by one command."""

from __future__ import annotations

import pytest

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.manual import BEGIN, END, manual_file, rules_page, with_page
from workbook_tools.contract.words import words_for
from workbook_tools.errors import DefinitionError

ENGLISH = words_for("en")
PAGE = rules_page(ENGLISH)


def test_the_manual_is_current() -> None:
    """DEVELOPERS.md holds the page as it is made now; `python -m workbook_tools.contract.manual` rewrites it."""
    text = manual_file().read_text(encoding="utf-8")
    assert with_page(text, PAGE) == text


@pytest.mark.parametrize("rule", default_contract().rules)
def test_every_rule_is_in_it_once(rule: str) -> None:
    """Under its name, with how serious it is."""
    (line,) = [line for line in PAGE.splitlines() if line.startswith(f"| `{rule}` |")]
    assert line.split(" | ")[1] == ENGLISH(f"severity.{default_contract().rules[rule]}")
    assert len(line.replace("\\|", "").split("|")) == 6


def test_the_groups_are_those_of_the_definition() -> None:
    """Every heading of rules.toml is a heading of the page, and no table is empty."""
    parts = PAGE.split("#### ")[1:]
    assert len(parts) > 5
    assert all("\n| `" in part for part in parts)


def test_text_around_the_page_is_left_alone() -> None:
    """Only what stands between the two marks changes; without them nothing is written."""
    assert with_page(f"a\n{BEGIN}\nold\n{END}\nb\n", "new\n") == f"a\n{BEGIN}\n\nnew\n\n{END}\nb\n"
    for text in ("", BEGIN, f"{END} {BEGIN}", f"{BEGIN}{END}{END}"):
        with pytest.raises(DefinitionError):
            with_page(text, "new")
