"""The figures as tables, in Markdown."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable, Sequence
from itertools import pairwise

from tests.speed.measure import SAMPLES, Figures
from tests.speed.watch import start_up

_Row = tuple[str, Callable[[Figures], float | None], str]
"""What a row is called, what it shows, and how its number is written."""


def _seconds(name: str) -> Callable[[Figures], float | None]:
    return lambda one: one.spent[name].seconds if name in one.spent else None


def _megabytes(name: str) -> Callable[[Figures], float | None]:
    return lambda one: one.spent[name].megabytes if name in one.spent else None


def _times(above: str, below: str) -> Callable[[Figures], float | None]:
    """How many times as long the first took as the second."""

    def ratio(one: Figures) -> float | None:
        times = {name: spent.seconds for name, spent in one.spent.items()} | one.scaled
        return times[above] / times[below] if above in times and below in times else None

    return ratio


_MERGE: tuple[_Row, ...] = (
    ("merge, whole process, seconds", _seconds("merge"), "{:.1f}"),
    ("… processor seconds of all processes", lambda one: one.spent["merge"].processor, "{:.1f}"),
    ("… peak memory of all processes, MB", _megabytes("merge"), "{:.0f}"),
    ("merge ÷ (guard + bare reading)", _times("merge", "guarded_floor"), "{:.2f}"),
    ("merge ÷ bare reading", _times("merge", "floor"), "{:.2f}"),
    ("loop of pandas.read_excel with openpyxl ÷ merge *", _times("pandas_openpyxl", "merge"), "{:.1f}"),
    ("loop of pandas.read_excel with calamine ÷ merge *", _times("pandas_calamine", "merge"), "{:.1f}"),
    ("loop of openpyxl.load_workbook ÷ merge *", _times("openpyxl_full", "merge"), "{:.0f}"),
    ("merge again with 2 % new returns, seconds", _seconds("merge, 2 % new"), "{:.1f}"),
    ("merge again with nothing new, seconds", _seconds("merge, nothing new"), "{:.1f}"),
    ("… peak memory, MB", _megabytes("merge, nothing new"), "{:.0f}"),
)
_ISSUE: tuple[_Row, ...] = (
    ("issue, whole process, seconds", _seconds("issue"), "{:.1f}"),
    ("… processor seconds", lambda one: one.spent["issue"].processor, "{:.1f}"),
    ("… peak memory of all processes, MB", _megabytes("issue"), "{:.0f}"),
    ("building each book with xlsxwriter ÷ issue *", _times("build_each", "issue"), "{:.0f}"),
    ("openpyxl load, set cells, save ÷ issue *", _times("openpyxl_set_and_save", "issue"), "{:.0f}"),
    ("issue ÷ plain copies of the same bytes", _times("issue", "copy"), "{:.2f}"),
)


def report(figures: Sequence[Figures]) -> str:
    """All tables and what has to be known to read them."""
    head = (
        f"{os.cpu_count()} processors, {platform.system()}, Python {platform.python_version()}; "
        f"books of {figures[0].book_kilobytes:.0f} kB{'' if figures[0].pictures else ', without pictures'}.\n"
    )
    samples = ", ".join(f"{name} {count}" for name, count in SAMPLES.items())
    foot = f"\\* scaled from a sample to all files; sample sizes: {samples}.\n"
    start = f"start-up: --help takes {start_up() * 1000:.0f} ms of processor time\n"
    return "\n".join((head, _table(_MERGE, figures), _table(_ISSUE, figures), foot, _growth(figures), start))


def _table(rows: Sequence[_Row], figures: Sequence[Figures]) -> str:
    lines = ["| stores | " + " | ".join(f"{one.stores:,}" for one in figures) + " |"]
    lines.append("| --- |" + " ---: |" * len(figures))
    for name, of, written in rows:
        values = [of(one) for one in figures]
        if any(value is not None for value in values):
            shown = (written.format(value) if value is not None else "–" for value in values)
            lines.append(f"| {name} | {' | '.join(shown)} |")
    return "\n".join(lines) + "\n"


def _growth(figures: Sequence[Figures]) -> str:
    """How time grows with the number of files: 1 when twice the files take twice the time."""
    lines = []
    for small, large in pairwise(figures):
        for name in ("merge", "issue"):
            more = large.spent[name].seconds - small.spent[name].seconds
            each = more / (large.stores - small.stores) * 1000
            lines.append(f"{name}, {small.stores:,} → {large.stores:,} stores: {each:.2f} ms for each further store\n")
    return "".join(lines)
