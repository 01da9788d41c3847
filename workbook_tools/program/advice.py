"""All advice on a setup that `check` gives beside what must be mended, one list of checks over the whole of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from workbook_tools.contract.findings import Finding
from workbook_tools.program.checks_fit import check_set
from workbook_tools.program.view import View

CHECKS: tuple[Callable[[View], Iterator[Finding]], ...] = (check_set,)
"""Each looks at one subject; none of their findings has to be mended."""


def advise(view: View) -> Iterator[Finding]:
    """What an old hand would say about a setup. Slow beside reading it: for `check` only."""
    for check in CHECKS:
        yield from check(view)
