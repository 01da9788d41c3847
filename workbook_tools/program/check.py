"""Everything `check` does: read the setup, advise on it, compare it with what was issued, write what was asked for."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.contract.findings import Phrase
from workbook_tools.contract.words import Words
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder, write_bytes_whole
from workbook_tools.program.advice import advise
from workbook_tools.program.load import Setup, read_setup, with_findings
from workbook_tools.program.model import Program
from workbook_tools.program.register import read_register
from workbook_tools.program.setup_file import UNREADABLE
from workbook_tools.program.since import Since, since
from workbook_tools.program.summary import summary
from workbook_tools.program.view import View


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What is asked of a check beside its findings: `today` is the day it looks from, `loss` a share below 1."""

    today: dt.date
    mark: bool = False
    draw: bool = False
    orders: bool = False
    assign: bool = False
    since: int | None = None
    loss: float = 0.02


@dataclass(frozen=True)
class Checked:
    """A setup with all that was found, what it comes to, what changed, and what was written where."""

    setup: Setup
    summary: tuple[Phrase, ...]
    since: Since | None
    written: tuple[tuple[Path | None, Phrase], ...]

    def lines(self, words: Words) -> Iterator[str]:
        """What there is to say beside the findings: what the setup comes to, what changed, what was written."""
        if self.setup.is_usable:
            counts = {name: len(self.setup.tables[name].rows) for name in ("stores", "positions", "items")}
            yield words("messages.check_clean", **counts)
            yield from (phrase.say(words) for phrase in self.summary)
        if self.since:
            yield from self.since.lines(words)
        yield from (phrase.say(words) for _, phrase in self.written)

    def as_json(self, words: Words) -> dict[str, object]:
        """Everything as plain values."""
        found: dict[str, object] = {
            "findings": [finding.row(words) for finding in self.setup.findings],
            "summary": [phrase.say(words) for phrase in self.summary],
            "written": [str(path) for path, _ in self.written if path],
        }
        return {**found, "since": self.since.as_json(words)} if self.since else found


def check_program(folder: ProgramFolder, wanted: Wanted, words: Words) -> Checked:
    """Check the setup of a program folder and write what is wanted; the setup itself is never changed.

    Orders, an assignment and a comparison need a setup in which nothing must be mended; without one, a line says so.
    Raises FolderError when a file cannot be read or written or a revision is not there.
    """
    read = read_setup(folder, words)
    view = dataclasses.replace(read.view, today=wanted.today)
    setup = with_findings(read, advise(view))
    changes = None
    written = list(_write(folder, view, setup, wanted, words))
    if wanted.since is not None and setup.program:
        changes = since(folder, setup.program, read_register(folder.register, words), wanted.since, words)
    elif wanted.since is not None:
        written.append((None, Phrase("check.mend_before_since")))
    return Checked(setup, tuple(summary(view)), changes, tuple(written))


def _write(
    folder: ProgramFolder, view: View, setup: Setup, wanted: Wanted, words: Words
) -> Iterator[tuple[Path | None, Phrase]]:
    """Write each workbook that is wanted: its path, if it was written, and what to say about it."""
    program = setup.program if wanted.orders or wanted.assign else None
    made: list[tuple[Path, bytes, Phrase]] = []
    if wanted.mark:
        made.append(_marked(folder, setup, words))
    if wanted.draw:
        made.append(_drawn(folder, view, setup, words))
    if wanted.orders and program:
        made.append(_ordered(folder, program, wanted, words))
    if wanted.assign and program:
        made.append(_assigned(folder, program, words))
    for path, data, said in made:
        if data:
            write_bytes_whole(path, data, words)
        yield path if data else None, said
    if not setup.is_usable:
        for path in [*([folder.orders] if wanted.orders else []), *([folder.assign] if wanted.assign else [])]:
            yield None, Phrase("check.mend_before", {"path": path})


def _marked(folder: ProgramFolder, setup: Setup, words: Words) -> tuple[Path, bytes, Phrase]:
    from workbook_tools.program.mark import UnmarkableWorkbookError, marked_setup  # noqa: PLC0415

    path = folder.checked
    if any(one.rule in UNREADABLE for one in setup.findings):
        return path, b"", Phrase("check.not_marked", {"path": path})
    try:
        data = marked_setup(folder.setup.read_bytes(), setup.findings, words)
    except UnmarkableWorkbookError as slip:
        raise FolderError(words("messages.setup_unreadable", path=folder.setup, reason=slip)) from None
    return path, data, Phrase("check.marked", {"path": path, "count": len(setup.findings)})


def _drawn(folder: ProgramFolder, view: View, setup: Setup, words: Words) -> tuple[Path, bytes, Phrase]:
    from workbook_tools.program.draw import drawn_faces  # noqa: PLC0415

    return folder.faces, drawn_faces(view, setup.findings, words), Phrase("check.drawn", {"path": folder.faces})


def _ordered(folder: ProgramFolder, program: Program, wanted: Wanted, words: Words) -> tuple[Path, bytes, Phrase]:
    from workbook_tools.program.orders import order_book  # noqa: PLC0415

    data = order_book(program, wanted.loss, words)
    return folder.orders, data, Phrase("check.ordered", {"path": folder.orders})


def _assigned(folder: ProgramFolder, program: Program, words: Words) -> tuple[Path, bytes, Phrase]:
    from workbook_tools.program.assign import propose  # noqa: PLC0415

    proposal = propose(program, words)
    if proposal.balance is None:
        return folder.assign, b"", Phrase("check.nothing_to_assign")
    said = {"path": folder.assign, "moves": len(proposal.balance.moves)}
    return folder.assign, proposal.book, Phrase(f"check.assigned_{proposal.balance.verdict}", said)
