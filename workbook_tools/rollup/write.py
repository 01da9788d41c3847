"""Writing the roll-up: merge what was taken in, then the workbook and the plain tables beside it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.contract.words import Words, words_for
from workbook_tools.folder import ProgramFolder, write_bytes_whole
from workbook_tools.returns.intake import Intake, count_outcomes
from workbook_tools.rollup.merge import Facts, merge
from workbook_tools.rollup.tables import write_tables
from workbook_tools.rollup.totals import totals
from workbook_tools.rollup.workbook import rollup_workbook


@dataclass(frozen=True)
class Written:
    """What a merge wrote, and what it has to say about it."""

    path: Path
    facts: Facts

    def lines(self, words: Words) -> Iterator[str]:
        """Outcomes, the five figures that matter, and where the roll-up lies."""
        counted = count_outcomes(self.facts.results)
        said = ", ".join(f"{count} {words(f'outcomes.{outcome}')}" for outcome, count in counted.items() if count)
        yield words("messages.merged", files=len(self.facts.results), outcomes=said or words("messages.none"))
        yield words("messages.five_figures", **totals(self.facts).five)
        yield words("messages.rollup_at", path=self.path)

    def as_json(self, words: Words) -> dict[str, object]:
        """The same as one document."""
        figures = totals(self.facts)
        return {
            "rollup": str(self.path),
            "files": [result.row(words) for result in self.facts.results],
            "outcomes": figures.outcomes,
            "states": figures.states,
            "flags": figures.kinds,
            **figures.five,
        }


def write_rollup(folder: ProgramFolder, intake: Intake, as_of: dt.date) -> Written:
    """Merge and write everything under rollup/, in the program's language; the workbook is written last.

    Raises FolderError when a file cannot be written, for example because it is open in another program.
    """
    facts = merge(intake, as_of)
    words = words_for(facts.program.settings.language)
    workbook = rollup_workbook(facts, words)
    write_tables(folder.rollup, facts, words)
    path = folder.rollup / "rollup.xlsx"
    write_bytes_whole(path, workbook, words)
    return Written(path, facts)
