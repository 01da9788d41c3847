"""Equal columns of many returns, kept once: most returns say the same about most positions."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace
from typing import TypeVar

from workbook_tools.returns.read import BlockRead, ReadReturn

_Value = TypeVar("_Value")


class Sharing:
    """Gives results that hold what earlier results of this sharing hold, wherever that is equal."""

    def __init__(self) -> None:
        self._known: dict[Hashable, object] = {}

    def share(self, read: ReadReturn) -> ReadReturn:
        """The same result, its columns and layouts those of earlier results."""
        return replace(read, blocks={key: self._block(block) for key, block in read.blocks.items()})

    def _block(self, block: BlockRead) -> BlockRead:
        if len(block.values) == 1:  # a form: its one column holds fields of many types, and hardly any two are equal
            values = block.values
        else:
            values = {name: self._same((name, column), column) for name, column in block.values.items()}
        return BlockRead(
            block.sheet,
            self._same(tuple(block.columns.items()), block.columns),
            self._same(block.keys, block.keys),
            self._same(block.rows, block.rows),
            values,
            block.broken,
        )

    def _same(self, key: Hashable, value: _Value) -> _Value:
        """The first value with this key. A column's name is part of its key: 1 and 1.0 are equal, and not the same."""
        return self._known.setdefault(key, value)  # type: ignore[return-value]
