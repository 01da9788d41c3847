"""What holds for all tests: files are read in the tests' own process, unless a module asks for worker processes."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.processes import ReadingHere
from workbook_tools.returns import workers


@pytest.fixture(scope="module", autouse=True)
def _where_files_are_read(request: pytest.FixtureRequest) -> Iterator[None]:
    """Starting processes takes most of a small merge; tests marked `processes` start them as the program does."""
    if request.node.get_closest_marker("processes"):
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(workers, "_pool", lambda _, known: ReadingHere(known))
        yield
