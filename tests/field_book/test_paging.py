"""Pages end where a block ends."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.field_book.paging import blocks_of, page_breaks, page_height

HEIGHTS = st.lists(st.integers(10, 840), min_size=1, max_size=40)
"""Of blocks that fit on a page, repeated headings and all."""


def test_a_page_holds_what_both_papers_hold() -> None:
    """1000 px across 7.5 in (Letter) is 133.3 px to the inch: 9.95 in of height hold 1326 px, less a little slack."""
    assert 1290 < page_height(1000) <= 1326
    assert page_height(1000, landscape=True) < page_height(1000)
    assert page_height(2000) > page_height(1000)


@given(HEIGHTS, st.integers(900, 1400), st.integers(0, 60))
def test_no_block_that_fits_is_split(heights: list[int], room: int, repeated: int) -> None:
    """Between two breaks stand whole blocks that together fit on a page."""
    blocks = list(enumerate(heights))
    breaks = page_breaks(blocks, room, repeated)
    assert breaks == sorted(set(breaks))
    for number, (first, last) in enumerate(pairwise([0, *breaks, len(heights)])):
        page = heights[first:last]
        used = sum(page) + (repeated if number else 0)
        assert used <= room or len(page) == 1


@given(HEIGHTS, st.integers(900, 1400))
def test_a_page_is_left_only_when_the_next_block_does_not_fit(heights: list[int], room: int) -> None:
    """No break comes early."""
    breaks = page_breaks(list(enumerate(heights)), room)
    for before, here in pairwise([0, *breaks]):
        assert sum(heights[before : here + 1]) > room


def test_rows_are_gathered_into_blocks() -> None:
    """A block holds the rows from its start to the next one's."""
    assert blocks_of([1, 2, 3, 4, 5], [0, 2, 4]) == [(0, 3), (2, 7), (4, 5)]
