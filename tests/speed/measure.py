"""All measurements of one size, in one run, so that their ratios mean something on a machine that is not quiet."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from statistics import mean

from tests.speed.make import WORDS, issue_books, make_program, read_program, send_back
from tests.speed.watch import Spent, run_module, run_program
from workbook_tools.program.register import read_register

AS_OF = "2026-11-25"
LATE_SHARE = 0.02
"""The share of returns that comes in after the first merge: 200 of 10,000."""
SAMPLES = {
    "pandas_openpyxl": 150,
    "pandas_calamine": 150,
    "openpyxl_full": 12,
    "openpyxl_set_and_save": 6,
    "build_each": 6,
}
"""How many files a loop that would take hours runs over each time; its time is scaled to all files."""


@dataclass
class Figures:
    """What was measured at one size. `samples` are seconds a file, each time a loop ran over a sample of them."""

    stores: int
    pictures: bool
    book_kilobytes: float = 0.0
    spent: dict[str, Spent] = field(default_factory=dict)
    samples: dict[str, list[float]] = field(default_factory=dict)

    @property
    def scaled(self) -> dict[str, float]:
        """Seconds that each loop would take over all files."""
        return {name: mean(seconds) * self.stores for name, seconds in self.samples.items()}


def measure(root: Path, stores: int, *, pictures: bool, merge_only: bool, say: Callable[[str], None]) -> Figures:
    """Make a program of a size, issue it, send its returns back, merge them; compare with what is done elsewhere."""
    figures = Figures(stores, pictures)
    say(f"{stores} stores: setup")
    folder = make_program(root, stores, pictures=pictures)
    say(f"{stores} stores: issue")
    figures.spent["issue"] = issue_books(folder)
    books = [folder.root / book.file for book in read_register(folder.register, WORDS).books]
    figures.book_kilobytes = sum(book.stat().st_size for book in books) / len(books) / 1000
    if not merge_only:
        _run_whole(figures, folder.issued, ("copy",), say)
        _run_sampled(figures, folder.issued, ("build_each", "openpyxl_set_and_save"), say)
        shutil.rmtree(folder.root / "copies")
    program = read_program(folder)
    say(f"{stores} stores: returns")
    send_back(folder, program)
    for book in books:
        book.unlink()
    late = _set_apart(folder.returns, round(stores * LATE_SHARE))
    _merge("merge, all but 2 %", figures, folder.root, say)
    for path, aside in late.items():
        aside.rename(path)
    _merge("merge, 2 % new", figures, folder.root, say)
    _merge("merge, nothing new", figures, folder.root, say)
    shutil.rmtree(folder.rollup)
    loops = () if merge_only else ("pandas_openpyxl", "pandas_calamine", "openpyxl_full")
    _run_sampled(figures, folder.returns, loops, say)
    _merge("merge", figures, folder.root, say)
    _run_sampled(figures, folder.returns, loops, say)
    _run_whole(figures, folder.returns, () if merge_only else ("guarded_floor", "floor"), say)
    return figures


def _merge(name: str, figures: Figures, root: Path, say: Callable[[str], None]) -> None:
    say(f"{figures.stores} stores: {name}")
    figures.spent[name] = run_program("merge", str(root), "--as-of", AS_OF)


def _set_apart(returns: Path, count: int) -> dict[Path, Path]:
    """The last `count` returns, moved out of the way: where each belongs, and where it lies until then."""
    files = sorted(returns.rglob("*.xlsx"))[-count:] if count else []
    apart = {file: returns.parent / file.name for file in files}
    for file, aside in apart.items():
        file.rename(aside)
    return apart


def _run_whole(figures: Figures, folder: Path, names: Sequence[str], say: Callable[[str], None]) -> None:
    """What others do over all files."""
    for name in names:
        say(f"{figures.stores} stores: {name}")
        figures.spent[name] = run_module("tests.speed.others", name, str(folder))


def _run_sampled(figures: Figures, folder: Path, names: Sequence[str], say: Callable[[str], None]) -> None:
    """Loops over a sample; those that a merge is compared with run before and after it, for a machine may slow down."""
    for name in names:
        sample = min(SAMPLES[name], figures.stores)
        say(f"{figures.stores} stores: {name}, {sample} files")
        spent = run_module("tests.speed.others", name, str(folder), str(sample))
        figures.samples.setdefault(name, []).append(float(spent.output.split()[-1]))
