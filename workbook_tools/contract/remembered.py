"""Functions that remember what they gave for short texts: all workbooks of one form have the same ones."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Any, TypeVar

_Made = TypeVar("_Made")


def remembering(longest: int, most: int) -> Callable[[Callable[..., _Made]], Callable[..., _Made]]:
    """A decorator: results are remembered for first arguments of at most so many letters or bytes, so many of them.

    Longer ones would let a hostile file fill the memory. What raises is not remembered.
    """

    def decorated(function: Callable[..., _Made]) -> Callable[..., _Made]:
        known = lru_cache(maxsize=most)(function)

        @wraps(function)
        def call(text: str | bytes, *more: Any) -> _Made:
            return known(text, *more) if len(text) <= longest else function(text, *more)

        return call

    return decorated
