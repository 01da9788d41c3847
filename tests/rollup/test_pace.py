"""The pace so far: held against paces that are known."""

import numpy as np
import pytest

from workbook_tools.rollup.pace import pace_of


def test_a_pace_is_held_against_who_was_at_work() -> None:
    """Ann begins on the second day, Bo is ready after the fourth; both do two a day, so the pace is four throughout."""
    done = np.array([[0, 2, 2, 2, 2, 2, 2], [2, 2, 2, 2, 0, 0, 0]])
    pace = pace_of(done, np.array([0.5, 0.5]), np.array([False, True]))
    assert pace.daily == pytest.approx([4, 4, 4, 4, 4, 4], rel=0.02)
    assert pace.own.tolist() == [10, 4]
