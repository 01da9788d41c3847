"""Long tables in pieces, each packed until it is looked at: what a program of any size says fits into little memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from io import BytesIO
from pathlib import Path

import polars as pl


class Pieces:
    """A table too long to lie open: frames of one schema, in the order in which they were added.

    At least one frame, be it empty, must be added before the table is looked at. Rows of answers are much alike, so
    that a packed frame takes a hundredth of its memory.
    """

    def __init__(self, frames: Iterable[pl.DataFrame] = ()) -> None:
        self._packed: list[bytes] = []
        for frame in frames:
            self.add(frame)

    def add(self, frame: pl.DataFrame) -> None:
        """Add a frame below those that are there."""
        self._packed.append(frame.write_ipc(None, compression="zstd").getvalue())

    def extend(self, other: Pieces) -> None:
        """Add the frames of another table below those that are there."""
        self._packed += other._packed

    def __iter__(self) -> Iterator[pl.DataFrame]:
        """The frames, one after another, each unpacked when its turn comes."""
        return (pl.read_ipc(BytesIO(packed)) for packed in self._packed)

    def select(self, *columns: str) -> Iterator[pl.DataFrame]:
        """The frames with these columns alone; no other is unpacked."""
        return (pl.read_ipc(BytesIO(packed), columns=list(columns)) for packed in self._packed)

    @property
    def whole(self) -> pl.DataFrame:
        """All rows as one frame."""
        return pl.concat(self)

    def write_parquet(self, path: Path, columns: pl.Expr, rows_a_group: int) -> None:
        """Write some columns as Parquet in row groups, never holding all rows at once. Raises OSError."""
        frames = [pl.scan_ipc(BytesIO(packed)).select(columns) for packed in self._packed]
        pl.concat(frames).sink_parquet(path, row_group_size=rows_a_group, maintain_order=True)
