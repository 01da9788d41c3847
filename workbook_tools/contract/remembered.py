"""Functions that remember what they gave for short texts: all workbooks of one form have the same ones."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import lru_cache, wraps
from typing import Any, TypeVar

_Made = TypeVar("_Made")


def remembering(
    longest: int, most: int, size: Callable[[Any], int] = len
) -> Callable[[Callable[..., _Made]], Callable[..., _Made]]:
    """A decorator: results are remembered for first arguments of at most so many letters or bytes, so many of them.

    Longer ones would let a hostile file fill the memory; `size` says how long one is. What raises is not remembered.
    """

    def decorated(function: Callable[..., _Made]) -> Callable[..., _Made]:
        known = lru_cache(maxsize=most)(function)

        @wraps(function)
        def call(text: Hashable, *more: Any) -> _Made:
            return known(text, *more) if size(text) <= longest else function(text, *more)

        return call

    return decorated


def _letters(names: tuple[str, ...] | tuple[bytes, ...]) -> int:
    return sum(map(len, names))


by_names = remembering(1 << 15, 64, _letters)
"""Remembers what is told by the names of all parts alone: workbooks of one form, saved by one program, share them."""
