"""What a field allows, one value at a time: the same limits that the schemas hold over whole tables.

The schemas (schema.py) pay when the answers of thousands of workbooks are stacked. A setup is one workbook: loading
their library would take longer than checking all of its cells here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from workbook_tools.contract.model import Contract, Field

Limit = Callable[[Any], tuple[str, ...]]
"""A value that is not blank → the names of the rules it breaks (`not_a_choice`, `out_of_range`, `too_long`, `pattern`).
"""


def limit_of(contract: Contract, field: Field, sources: Mapping[str, tuple[str, ...]]) -> Limit | None:
    """The limit of a field, or None when it allows every value of its type; `sources` are the program's lists."""
    if field.type == "choice" and not field.free:
        options = frozenset(contract.choices[field.choices].options(dict(sources)))
        return lambda value: () if value in options else ("not_a_choice",)
    if field.type in ("integer", "number"):
        return _range(field)
    longest = int(field.maximum) if field.maximum is not None and field.type in ("text", "code") else None
    if longest is None and not field.pattern:
        return None
    pattern = re.compile(field.pattern) if field.pattern else None

    def judge(value: str) -> tuple[str, ...]:
        too_long = ("too_long",) if longest is not None and len(value) > longest else ()
        return (*too_long, "pattern") if pattern and not pattern.fullmatch(value) else too_long

    return judge


def _range(field: Field) -> Limit | None:
    low, high, above = field.minimum, field.maximum, field.above
    if low is None and high is None and above is None:
        return None

    def judge(value: float) -> tuple[str, ...]:
        is_outside = (
            (low is not None and value < low)
            or (high is not None and value > high)
            or (above is not None and value <= above)
        )
        return ("out_of_range",) if is_outside else ()

    return judge
