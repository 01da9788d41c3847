"""Writing the roll-up: merge what was taken in, carry the office's notes over, write the workbook and the tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.contract.words import Words, words_for
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder, sweep_unfinished, write_bytes_whole
from workbook_tools.returns.intake import Intake, count_outcomes
from workbook_tools.rollup.client import client_workbook
from workbook_tools.rollup.history import HistoryRow, history_bytes, read_history, with_today
from workbook_tools.rollup.merge import Facts, merge
from workbook_tools.rollup.notes import Kept, carry_over, join_notes
from workbook_tools.rollup.notes_read import is_rollup, kept_notes
from workbook_tools.rollup.overwrite import keep_aside, refuse_to_overwrite
from workbook_tools.rollup.tables import write_tables
from workbook_tools.rollup.totals import totals
from workbook_tools.rollup.workbook import Told, rollup_workbook

MOST_TRIES = 3
"""How often the notes are read again when somebody saves the roll-up while the next one is being written."""


@dataclass(frozen=True)
class Written:
    """What a merge wrote, and what it has to say about it. aside: where the roll-up that lay there is kept, if people
    had put more than notes into it. unread: roll-ups beside it whose notes were not taken in.
    """

    path: Path
    facts: Facts
    aside: Path | None = None
    unread: tuple[Path, ...] = ()

    def lines(self, words: Words) -> Iterator[str]:
        """Outcomes, the five figures that matter, and where the roll-up lies."""
        counted = count_outcomes(self.facts.results)
        said = ", ".join(f"{count} {words(f'outcomes.{outcome}')}" for outcome, count in counted.items() if count)
        yield words("messages.merged", files=len(self.facts.results), outcomes=said or words("messages.none"))
        yield words("messages.five_figures", **totals(self.facts).five)
        yield words("messages.rollup_at", path=self.path)
        if self.aside:
            yield words("messages.rollup_aside", aside=self.aside)
        for other in self.unread:
            yield words("messages.rollup_unread", other=other)

    def as_json(self, words: Words) -> dict[str, object]:
        """The same as one document."""
        figures = totals(self.facts)
        return {
            "rollup": str(self.path),
            "kept_aside": str(self.aside) if self.aside else None,
            "files": [result.row(words) for result in self.facts.results],
            "outcomes": figures.outcomes,
            "states": figures.states,
            "flags": figures.kinds,
            **figures.five,
        }


def write_rollup(folder: ProgramFolder, intake: Intake, as_of: dt.date, copies: Sequence[Path] = ()) -> Written:
    """Merge and write everything under rollup/, in the program's language.

    The notes of the roll-up that lies there are carried over, joined with those of other people's `copies` of it.
    Raises FolderError when one of them is open elsewhere or cannot be read, is of another program, may not be written
    over (`refuse_to_overwrite`), is saved again each time it was read, or a file cannot be written; the roll-up that
    lies there is then left as it is, and so are the tables unless writing itself failed.
    """
    facts = merge(intake, as_of)
    words = words_for(facts.program.settings.language)
    refuse_to_overwrite(folder, words)
    path, past = folder.rollup / "rollup.xlsx", folder.rollup / "history.csv"
    today = HistoryRow(as_of, totals(facts).history)
    history = with_today(read_history(past, words), today)
    client = client_workbook(facts, words)
    for _ in range(MOST_TRIES):
        seen = _stamp(path)
        notes = carry_over(_all_notes([path, *copies], facts.identity, words), facts.flags, as_of)
        workbook = rollup_workbook(facts, Told(notes, history), words)
        if _stamp(path) == seen:
            break
    else:
        raise FolderError(words("messages.rollup_saved_again", path=path))
    aside = keep_aside(path, as_of, words)
    write_bytes_whole(path, workbook, words)
    write_bytes_whole(folder.rollup / "client.xlsx", client, words)
    write_tables(folder.rollup, facts, words)
    write_bytes_whole(past, history_bytes(history), words)
    sweep_unfinished(folder.rollup)
    unread = (one for one in sorted(folder.rollup.glob("*.xlsx")) if one != path and one not in copies)
    return Written(path, facts, aside, tuple(filter(is_rollup, unread)))


def _all_notes(paths: Sequence[Path], identity: str, words: Words) -> Kept:
    kept = Kept()
    for path in paths:
        kept = join_notes(kept, kept_notes(path, identity, words))
    return kept


def _stamp(path: Path) -> tuple[int, int] | None:
    """Changes whenever a file is saved; None when there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size
