"""The first few names of a list, and how many more there are."""

from __future__ import annotations

from collections.abc import Sequence


def short_list(names: Sequence[str], longest: int = 12) -> str:
    """Names with commas; after the twelfth, only how many more. Blank ones do not count."""
    told = [name for name in names if name]
    more = f" … (+{len(told) - longest})" if len(told) > longest else ""
    return ", ".join(told[:longest]) + more
