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
        return BlockRead(
            block.sheet,
            self._same(tuple(block.columns.items()), block.columns),
            self._column(block.keys),
            self._column(block.rows),
            {name: self._column(column) for name, column in block.values.items()},
            block.broken,
        )

    def _column(self, column: tuple[_Value, ...]) -> tuple[_Value, ...]:
        """Types are part of what must be equal: 1 and 1.0 are not the same answer."""
        return self._same((column, *map(type, column)), column)

    def _same(self, key: Hashable, value: _Value) -> _Value:
        return self._known.setdefault(key, value)  # type: ignore[return-value]
