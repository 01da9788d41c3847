"""Days as the cells of a spreadsheet hold them: numbers that count from a first day."""

from __future__ import annotations

import datetime as dt

DAY_0 = dt.date(1899, 12, 30)
"""Serial 0 of the 1900 date system, as far as serials above 60 go: cells know a 29 February 1900, which was none
(ECMA-376, part 1, 18.17.4.1).
"""


def serial_day(when: dt.date) -> int:
    """The serial of a day from 1 March 1900 on."""
    return (when - DAY_0).days
