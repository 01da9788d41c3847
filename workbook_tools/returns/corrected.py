"""Corrections of shared books: a return of nobody's store gives way to the one that names it as what it corrects, and
one whose correction is for another store is told with it.
"""

from __future__ import annotations

from collections.abc import Sequence

from workbook_tools.contract.findings import Phrase
from workbook_tools.returns.judge import FileResult
from workbook_tools.returns.read import ReadReturn


def give_way(results: Sequence[FileResult], reads: Sequence[ReadReturn]) -> None:
    """Give every return that waits for its store and was corrected the outcome superseded; `reads` go with `results`.

    A correction belongs to the very file it was made of: the token of a shared book is that of many stores and people.
    Of several corrections the last one is named, by how often they were sent back, then by when they were saved and
    came. One in which nothing is filled in, or that has no place in the program, takes nobody's place. A correction
    for another store takes nobody's place either: nobody took back what was said of the first one. Both are told.
    """
    made = [
        (read.correction, read.saved, result.received, result.file, result, read)
        for result, read in zip(results, reads, strict=True)
        if read.corrects and read.told and result.outcome != "set aside"
    ]
    last = {(read.corrects, _token(read)): result for *_, result, read in sorted(made, key=lambda one: one[:4])}
    for result, read in zip(results, reads, strict=True):
        later = last.get((read.sha256, _token(read))) if result.outcome == "to correct" else None
        if later and not result.store:
            result.outcome = "superseded"
            result.reason = Phrase("rules.later_return.problem", {"later": later.file})
        elif later and later.store not in {"", result.store}:
            about = {"first": result.file, "later": later.file, "store": result.store, "other": later.store}
            for one in (result, later):
                one.findings.append(one.finding("other_store_picked", later.store, **about))


def _token(read: ReadReturn) -> str:
    return str(read.identity.get("token", ""))
