"""Several texts in one line, with something between them: those that are blank are left out."""

from __future__ import annotations

from collections.abc import Iterable


def joined(parts: Iterable[str], between: str = " · ") -> str:
    """The parts that are not blank, in order."""
    return between.join(part for part in parts if part)
