"""The house rules on size: functions and files stay small enough to be read in one go."""

from __future__ import annotations

import ast

from tests.contract.source import PACKAGE, modules

LONGEST_FUNCTION, LONGEST_FILE = 50, 400
"""Lines, docstrings and blank ones counted."""


def test_files_are_short() -> None:
    """No file of the package has more than 400 lines."""
    lengths = {path: len((PACKAGE / path).read_text(encoding="utf-8").splitlines()) for path in modules()}
    assert {path: length for path, length in lengths.items() if length > LONGEST_FILE} == {}


def test_files_begin_with_a_sentence_about_themselves() -> None:
    """Every module says in its first line what it does."""
    assert [path for path, tree in modules().items() if not ast.get_docstring(tree)] == []


def test_functions_are_short() -> None:
    """No function of the package has more than 50 lines."""
    found = [
        (path, node.name, (node.end_lineno or 0) - node.lineno + 1)
        for path, tree in modules().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    assert len(found) > 300
    assert [one for one in found if one[2] > LONGEST_FUNCTION] == []
