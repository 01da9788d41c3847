"""Results for short texts are remembered, those for long ones are not."""

from __future__ import annotations

import pytest

from workbook_tools.contract.remembered import remembering


def test_a_short_text_is_worked_on_once_and_a_long_one_every_time() -> None:
    """Further arguments tell results apart."""
    seen: list[tuple[str, int]] = []

    @remembering(3, 10)
    def doubled(text: str, times: int = 2) -> str:
        seen.append((text, times))
        return text * times

    assert [doubled("abc"), doubled("abc"), doubled("abc", 3)] == ["abcabc", "abcabc", "abcabcabc"]
    assert [doubled("abcd"), doubled("abcd")] == ["abcdabcd", "abcdabcd"]
    assert seen == [("abc", 2), ("abc", 3), ("abcd", 2), ("abcd", 2)]


def test_a_failure_is_not_remembered() -> None:
    """What raises raises again, and is worked on again."""
    seen: list[bytes] = []

    @remembering(3, 10)
    def refused(text: bytes) -> None:
        seen.append(text)
        raise ValueError(text)

    for _ in range(2):
        with pytest.raises(ValueError, match="abc"):
            refused(b"abc")
    assert seen == [b"abc", b"abc"]
