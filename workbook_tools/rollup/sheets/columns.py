"""The columns of a roll-up's tables: how wide each is, which wrap, which hold keys that people read as words."""

from __future__ import annotations

from workbook_tools.contract.lettering import width

WIDTHS = {
    "store": 70,
    "name": 200,
    "district": 100,
    "merchandiser": 165,
    "state": 105,
    "overdue": 80,
    "visit_date": 100,
    "positions": 70,
    "right": 70,
    "open_flags": 80,
    "file": 245,
    "visit": 60,
    "position": 75,
    "kind": 220,
    "due": 130,
    "found": 150,
    "facts": 220,
    "item_code": 90,
    "item": 250,
    "brand": 130,
    "who": 115,
    "since": 100,
    "remark": 190,
    "owner": 110,
    "note": 240,
    "settled": 80,
    "moved": 105,
    "sheet": 80,
    "cell": 65,
    "column": 130,
    "value": 150,
    "problem": 330,
    "todo": 300,
    "severity": 150,
    "rule": 190,
    "sha256": 520,
    "outcome": 105,
    "reason": 380,
    "received": 140,
    "sender": 160,
    "printed": 80,
    "phone": 110,
    "store_phone": 110,
    "city": 120,
    "email": 225,
    "address": 320,
    "wrong": 290,
    "happened": 270,
    "bring": 190,
    "minutes": 80,
    "days_left": 80,
    "what": 220,
    "count": 75,
    "stores": 75,
    "where": 320,
    "by": 215,
    "trays": 190,
    "said": 430,
    "built": 80,
    "about": 105,
    "share": 85,
    "rest": 95,
    "chance": 120,
    "wrong_count": 80,
    "of_count": 80,
}
"""Column → width in pixels; a column that is not here has DEFAULT_WIDTH."""

DEFAULT_WIDTH = 95

WRAPPED = frozenset(
    (
        *("problem", "todo", "reason", "remark", "note", "wrong", "happened", "bring", "where", "said", "what"),
        *("address", "name", "item", "file", "brand", "city", "district", "merchandiser", "due", "found", "email"),
        *("value", "facts", "sender", "trays", "owner", "named", "measure", "kind", "column"),
    )
)
"""Columns whose long texts go over several lines."""

RIGHT = frozenset(
    (
        *(
            "positions",
            "right",
            "open_flags",
            "visit",
            "minutes",
            "days_left",
            "count",
            "stores",
            "wrong_count",
            "of_count",
        ),
        *("share", "rest", "chance", "hits", "trials", "population", "low", "high", "stand", "whole", "trays_right"),
        *("trays_seen", "trays_share", "visited", "stand_in_all", "visits", "untimed", "minutes_spent", "hours_spent"),
        *(
            "minutes_planned",
            "minutes_over",
            "not_back",
            "to_correct",
            "go_back",
            "waiting",
            "done",
            "overdue_count",
            "files",
        ),
    )
)
"""Columns of numbers, whose headings stand at the right as the numbers do."""

TRANSLATED = {
    "kind": "flags",
    "who": "owners",
    "state": "states",
    "outcome": "outcomes",
    "severity": "severity",
    "overdue": "choices.yes_no",
    "settled": "choices.yes_no",
    "built": "choices.yes_no",
}
"""Columns that hold keys → where the words of those keys stand."""

LINE, PADDING = 19, 5
"""Pixels that a line of a table's text takes, more rather than less, and pixels around a text."""

FILTER, INDENT = 18, 10
"""Pixels of a heading's filter button, and of the indent of numbers and their headings."""


def width_for(heading: str, column: str, points: float) -> int:
    """A column's width in pixels: as wide as its values ask for, and as its heading in two lines, in bold type."""
    words = heading.split()
    cuts = [(" ".join(words[:cut]), " ".join(words[cut:])) for cut in range(1, len(words) + 1)]
    wide = min((max(width(line, points, bold=True) for line in cut) for cut in cuts), default=0)
    around = FILTER + PADDING + (INDENT if column in RIGHT else 0)
    return max(WIDTHS.get(column, DEFAULT_WIDTH), round(wide) + around)
