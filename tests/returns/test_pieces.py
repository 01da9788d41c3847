"""A table kept in pieces is the table."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.returns.pieces import Pieces

SCHEMA = {"store": pl.String, "units": pl.Int64, "right": pl.Boolean, "visited": pl.Date, "at": pl.Time}
ROWS = st.tuples(
    st.none() | st.text(max_size=20),
    st.none() | st.integers(-(2**63), 2**63 - 1),
    st.none() | st.booleans(),
    st.none() | st.dates(dt.date(1900, 1, 1), dt.date(2100, 1, 1)),
    st.none() | st.times().map(lambda time: time.replace(microsecond=0)),
)
FRAMES = st.lists(st.lists(ROWS, max_size=5), min_size=1, max_size=4)


def frames_of(pieces: list[list[tuple[object, ...]]]) -> list[pl.DataFrame]:
    """Frames of some rows each."""
    return [pl.DataFrame(rows, schema=SCHEMA, orient="row") for rows in pieces]


@given(FRAMES)
def test_what_is_packed_is_unpacked_as_it_was(rows: list[list[tuple[object, ...]]]) -> None:
    """Every frame comes back in its turn, with its types, as often as it is looked at; so does the whole."""
    frames = frames_of(rows)
    pieces = Pieces(frames)
    for _ in range(2):
        assert [frame.rows() for frame in pieces] == [frame.rows() for frame in frames]
        assert all(frame.schema == SCHEMA for frame in pieces)
    assert pieces.whole.equals(pl.concat(frames))
    twice = Pieces(frames)
    twice.extend(pieces)
    assert twice.whole.equals(pl.concat([*frames, *frames]))
    chosen = [frame.select("right", "store") for frame in frames]
    assert [frame.rows() for frame in pieces.select("right", "store")] == [frame.rows() for frame in chosen]


@given(FRAMES)
def test_a_parquet_file_has_all_rows_in_order(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[object]]
) -> None:
    """In groups of the size asked for, without the columns that are left out."""
    path = tmp_path_factory.mktemp("pieces") / "table.parquet"
    frames = frames_of(rows)  # type: ignore[arg-type]
    Pieces(frames).write_parquet(path, pl.exclude("right"), 2)
    assert pl.read_parquet(path).equals(pl.concat(frames).drop("right"))


def test_the_same_rows_give_the_same_file(tmp_path: Path) -> None:
    """Byte for byte, however the rows are dealt over pieces."""
    rows = pl.DataFrame({"store": [f"{number // 36:05}" for number in range(36_000)], "place": [*range(36)] * 1_000})
    for name, step in (("a", 36_000), ("b", 7_000), ("c", 36)):
        pieces = Pieces(rows[start : start + step] for start in range(0, rows.height, step))
        pieces.write_parquet(tmp_path / name, pl.all(), 10_000)
    assert len({(tmp_path / name).read_bytes() for name in "abc"}) == 1
