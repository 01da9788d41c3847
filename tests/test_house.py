"""The house rules on size: functions and files stay small enough to be read in one go."""

from __future__ import annotations

import ast

import pytest

from tests.contract.source import PACKAGE, modules

LONGEST_FUNCTION, LONGEST_FILE = 50, 400
"""Lines, docstrings and blank ones counted."""


@pytest.mark.parametrize("path", modules())
def test_a_file_is_short(path: str) -> None:
    """No file of the package has more than 400 lines, and each says in its first line what it does."""
    lines = (PACKAGE / path).read_text(encoding="utf-8").splitlines()
    assert len(lines) <= LONGEST_FILE
    assert ast.get_docstring(modules()[path]), "a module begins with a sentence about itself"


@pytest.mark.parametrize("path", modules())
def test_a_function_is_short(path: str) -> None:
    """No function of the package has more than 50 lines."""
    found = [node for node in ast.walk(modules()[path]) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    lengths = {f"{node.name}, line {node.lineno}": (node.end_lineno or 0) - node.lineno + 1 for node in found}
    assert {name: length for name, length in lengths.items() if length > LONGEST_FUNCTION} == {}
