"""Slips of the hand: whether one name is another with a letter more, less, other or exchanged."""

from __future__ import annotations

_LONG_WORD = 5
"""Letters of a word in which a slip is a slip."""


def one_slip(a: str, b: str) -> bool:
    """Whether one letter more, less, other or exchanged with its neighbour in one word makes one name of the other.

    Digits and short words do not count: District 1 is not District 2, Area A is not Area B, East is not Eats.
    """
    words_a, words_b = a.split(), b.split()
    other = [pair for pair in zip(words_a, words_b, strict=False) if pair[0] != pair[1]]
    return len(words_a) == len(words_b) and len(other) == 1 and _is_slip(*other[0])


def _is_slip(a: str, b: str) -> bool:
    if max(len(a), len(b)) < _LONG_WORD or abs(len(a) - len(b)) > 1:
        return False
    start = 0
    while start < min(len(a), len(b)) and a[start] == b[start]:
        start += 1
    rest_a, rest_b = a[start:], b[start:]
    if any(map(str.isdigit, rest_a[:2] + rest_b[:2])):
        return False
    is_swapped = len(rest_a) > 1 and rest_a[1::-1] == rest_b[:2] and rest_a[2:] == rest_b[2:]
    return is_swapped or rest_a[1:] == rest_b[1:] or rest_a[1:] == rest_b or rest_a == rest_b[1:]
