"""All advice on a setup that `check` gives beside what must be mended, one list of checks over the whole of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from workbook_tools.contract.findings import Finding
from workbook_tools.program.checks_blanks import check_blanks
from workbook_tools.program.checks_carton import check_carton, check_display
from workbook_tools.program.checks_codes import check_codes
from workbook_tools.program.checks_contacts import check_contacts
from workbook_tools.program.checks_fit import check_set
from workbook_tools.program.checks_items import check_items
from workbook_tools.program.checks_kit import check_kit
from workbook_tools.program.checks_people import check_people
from workbook_tools.program.checks_places import check_places
from workbook_tools.program.checks_plan import check_plan
from workbook_tools.program.checks_regions import check_regions
from workbook_tools.program.checks_stores import check_stores
from workbook_tools.program.checks_twice import check_twice
from workbook_tools.program.checks_window import check_window
from workbook_tools.program.view import View

CHECKS: tuple[Callable[[View], Iterator[Finding]], ...] = (
    check_places,
    check_window,
    check_carton,
    check_display,
    check_plan,
    check_set,
    check_items,
    check_kit,
    check_twice,
    check_codes,
    check_stores,
    check_regions,
    check_people,
    check_contacts,
    check_blanks,
)
"""Each looks at one subject; none of their findings has to be mended."""


def advise(view: View) -> Iterator[Finding]:
    """What an old hand would say about a setup. Slow beside reading it: for `check` only."""
    for check in CHECKS:
        yield from check(view)
