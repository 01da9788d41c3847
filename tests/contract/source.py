"""What the package's source says: the texts in it, for tests about where keys may stand."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import workbook_tools

PACKAGE = Path(workbook_tools.__file__).parent


@cache
def modules() -> dict[str, ast.Module]:
    """Every module of the package, by its path from the package."""
    found = sorted(PACKAGE.rglob("*.py"))
    assert len(found) > 30
    return {path.relative_to(PACKAGE).as_posix(): ast.parse(path.read_text(encoding="utf-8")) for path in found}


@cache
def literals() -> frozenset[str]:
    """Every text in the package, docstrings and pieces of f-strings too."""
    nodes = [node for tree in modules().values() for node in ast.walk(tree)]
    return frozenset(node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str))


@cache
def composed() -> dict[str, tuple[re.Pattern[str], ...]]:
    """Module → its texts with holes, written as f-strings or as `"text" + …`; each hole is a group."""
    return {path: tuple(_composed(tree)) for path, tree in modules().items()}


def _composed(tree: ast.AST) -> Iterator[re.Pattern[str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = [re.escape(one.value) if isinstance(one, ast.Constant) else "(.+)" for one in node.values]
            yield re.compile("".join(map(str, parts)))
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add) and isinstance(node.left, ast.Constant):
            yield re.compile(re.escape(str(node.left.value)) + "(.+)")
