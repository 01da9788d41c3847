"""The spreadsheet programs as fixtures; `needed.missing` says what happens where one is not installed."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.apps.gnumeric import Gnumeric, find_gnumeric
from tests.apps.needed import missing
from tests.apps.office import Office, find_office


@pytest.fixture(scope="session")
def office() -> Iterator[Office]:
    """LibreOffice, started by the first test that uses it and ended after the last."""
    with find_office() or missing("LibreOffice with a Python that can import uno") as found:
        yield found


@pytest.fixture(scope="session")
def gnumeric() -> Gnumeric:
    """Gnumeric's converter."""
    return find_gnumeric() or missing("Gnumeric (ssconvert)")
