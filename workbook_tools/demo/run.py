"""The whole job on the invented program: set up, issue, let merchandisers fill in, merge."""

from __future__ import annotations

import datetime as dt
import os
import random
import shutil
from collections.abc import Iterator
from pathlib import Path

from workbook_tools.contract.words import Words
from workbook_tools.demo.fill import fill, in_words
from workbook_tools.demo.merchandisers import Visit, visits
from workbook_tools.demo.pictures import draw_pictures
from workbook_tools.demo.scenario import scenario
from workbook_tools.demo.second_round import second_round
from workbook_tools.errors import FolderError
from workbook_tools.field_book.issue import Issued, Order, issue
from workbook_tools.folder import ProgramFolder, write_bytes_whole
from workbook_tools.program.load import read_setup
from workbook_tools.program.model import Program
from workbook_tools.program.setup_book import setup_workbook
from workbook_tools.returns.intake import take_in
from workbook_tools.rollup.write import write_rollup

AS_OF = dt.date(2026, 11, 25)
"""The day on which the demo's office looks at its roll-up; the window is still open."""
_ISSUED = dt.datetime(2026, 10, 26, 9, tzinfo=dt.UTC)


def run_demo(root: Path, seed: int, words: Words, *, to_the_end: bool = False) -> Iterator[str]:
    """Do the whole job in a folder and yield what there is to say. The same seed gives the same files.

    With `to_the_end` a second round follows, after which all stores are done; the first roll-up is kept in
    rollup/first. Raises FolderError when the folder holds another program.
    """
    folder = ProgramFolder(root)
    story = scenario(seed)
    setup = setup_workbook(words, story.blocks)
    if folder.setup.exists() and folder.setup.read_bytes() != setup:
        raise FolderError(words("messages.folder_exists", folder=root))
    write_bytes_whole(folder.setup, setup, words)
    draw_pictures(story, folder.images)
    rng = random.Random(seed)
    order = Order(now=_ISSUED, make_token=lambda: f"{rng.getrandbits(128):032x}")
    issued = issue(folder, order, words)
    yield words("messages.issued", count=len(issued.books), revision=issued.revision, folder=folder.issued)
    program = read_setup(folder, words).program
    assert program is not None
    send_back(folder, program, issued, seed, words)
    intake = take_in(folder, [folder.returns], words)
    yield from write_rollup(folder, intake, AS_OF).lines(words)
    if to_the_end:
        _keep_first(folder)

        def send(visit: Visit, book: bytes, language: str) -> None:
            _send(folder, visit, book, language, words)

        yield from second_round(folder, program, order.make_token, send, words)


def _keep_first(folder: ProgramFolder) -> None:
    """Keep the first roll-up where the second will not take its place."""
    first = folder.rollup / "first"
    if not first.exists():
        first.mkdir()
        for path in sorted(folder.rollup.iterdir()):
            if path.is_file():
                shutil.copyfile(path, first / path.name)


def send_back(folder: ProgramFolder, program: Program, issued: Issued, seed: int, words: Words) -> None:
    """Put into returns/ what the simulated merchandisers send, and what else lands in an office's mail."""
    books = {book.store: folder.root / book.file for book in issued.books}
    last = dt.datetime.combine(program.settings.starts, dt.time(20))
    for visit in visits(program, seed):
        language = program.language_of(program.store[visit.store])
        _send(folder, visit, books[visit.store].read_bytes(), language, words)
        last = max(last, visit.saved)
    for name, data in _strays(program, books, issued).items():
        _put(folder, name, data, last + dt.timedelta(hours=1), words)


def _send(folder: ProgramFolder, visit: Visit, book: bytes, language: str, words: Words) -> None:
    """Fill in a book in its language and send it back."""
    _put(folder, visit.file, fill(book, in_words(visit.answers, language), visit.saved), visit.saved, words)


def _put(folder: ProgramFolder, name: str, data: bytes, received: dt.datetime, words: Words) -> None:
    path = folder.returns / name
    write_bytes_whole(path, data, words)
    moment = received.replace(tzinfo=dt.UTC).timestamp()
    os.utime(path, (moment, moment))


def _strays(program: Program, books: dict[str, Path], issued: Issued) -> dict[str, bytes]:
    """Files that are no returns of this program: an empty one, a book nobody issued, one that is cut short."""
    book = books[program.stores[0].store].read_bytes()
    token = issued.books[0].token.encode()
    return {
        "store list.xlsx": b"",
        "book from an old laptop.xlsx": book.replace(token, b"0" * len(token)),
        "cut short.xlsx": book[: len(book) // 2],
    }
