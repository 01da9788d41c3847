"""What holds for all tests: where files are read, and how examples are drawn.

Files are read in the tests' own process, unless a module asks for worker processes.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.processes import ReadingHere
from workbook_tools.returns import workers

# What holds a change back must hold it back again when it is looked into; elsewhere every run draws other examples.
settings.register_profile("here", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("here")


@pytest.fixture(scope="module", autouse=True)
def _where_files_are_read(request: pytest.FixtureRequest) -> Iterator[None]:
    """Starting processes takes most of a small merge; tests marked `processes` start them as the program does."""
    if request.node.get_closest_marker("processes"):
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(workers, "_pool", lambda _, known: ReadingHere(known))
        yield
