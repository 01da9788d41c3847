"""Can people be reached: mail addresses and telephone numbers that are none or look mistyped."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from workbook_tools.contract.findings import Finding
from workbook_tools.program.checks_twice import doubled_texts
from workbook_tools.program.slips import one_slip
from workbook_tools.program.view import View, listed, text

_ADDRESS = re.compile(r"[^\s@,;<>\"()]+@[^\s@,;<>\"()]+\.[^\s@,;<>\"().]{2,}")
"""Rough on purpose: what a mail program would send, and nothing without an @. A cell may hold several."""
_USUAL = 3
"""So many addresses make a domain a usual one."""
_PHONE = re.compile(r"(?:\D*\d){5}")
"""Five digits at least have telephone numbers that somebody outside can call: a floor of common sense, no source."""
_PHONES = ("program", "stores", "merchandisers")


def check_contacts(view: View) -> Iterator[Finding]:
    """Mail that would not arrive, numbers that nobody could call."""
    yield from _addresses(view)
    yield from _domains(view)
    for block in _PHONES:
        for phone, row in view.told(block, "phone"):
            if not _PHONE.match(phone):
                yield view.at(block, "phone_form", row, "phone")


def _addresses(view: View) -> Iterator[Finding]:
    """Mail addresses that are none, that two people share, or that are missing where others have one."""
    if (row := view.setting_row("email")) and not _is_address(text(row, "email")):
        yield view.at("program", "email_form", row, "email")
    rows = view.rows("merchandisers")
    for row in rows:
        if not _is_address(text(row, "email")):
            yield view.at("merchandisers", "email_form", row, "email")
    for first, row in doubled_texts(view, "merchandisers", "email"):
        yield view.at("merchandisers", "email_twice", row, "email", first=view.cell("merchandisers", first, "email"))
    without = [row for row in rows if "email" not in row.values and "email" not in row.broken]
    if without and len(without) < len(rows):
        names = listed([text(row, "merchandiser") for row in without])
        yield view.at("merchandisers", "email_missing", without[0], "email", names=names)


def _is_address(value: str) -> bool:
    return all(_ADDRESS.fullmatch(one) for one in re.split(r"[;,\s]+", value) if one)


def _domains(view: View) -> Iterator[Finding]:
    """A domain that is a slip of the hand away from one that several people have."""
    told = [(text(row, "email").rpartition("@")[2].casefold(), row) for row in view.rows("merchandisers")]
    counts = Counter(domain for domain, _ in told if domain)
    usual = [domain for domain, often in counts.items() if often >= _USUAL]
    for domain, row in told:
        if domain and counts[domain] == 1:
            meant = next((other for other in usual if one_slip(domain, other)), "")
            if meant:
                yield view.at("merchandisers", "email_domain", row, "email", meant=meant)
