"""A program of any number of stores, and a filled return from each of them, made fast."""

from __future__ import annotations

import dataclasses
import datetime as dt
import os
from collections.abc import Iterator
from pathlib import Path

from tests.speed.watch import Spent, run_program
from workbook_tools.contract.words import words_for
from workbook_tools.demo.fill import fill
from workbook_tools.demo.merchandisers import visits
from workbook_tools.demo.pictures import draw_pictures
from workbook_tools.demo.scenario import scenario
from workbook_tools.field_book.build import build_template, stamp_values
from workbook_tools.field_book.issue import prepare_pictures
from workbook_tools.field_book.recalculate import recalculated
from workbook_tools.field_book.stamp import Stamp
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.load import read_setup
from workbook_tools.program.model import Program
from workbook_tools.program.register import IssuedBook, read_register
from workbook_tools.program.setup_book import setup_workbook

WORDS = words_for("en")
SEED = 1
PROFILES = 48
"""Stories of the demo's merchandisers that take turns: right, wrong, half told, not built, to correct and so on."""
PERSON_STORES = 40
"""Stores of one merchandiser."""
_IN_ONE_FOLDER = 1_000


def make_program(root: Path, stores: int, *, pictures: bool = True) -> ProgramFolder:
    """The demo's program with `stores` stores; the first sixty and their merchandisers are the demo's own."""
    folder = ProgramFolder(root)
    story = scenario(SEED)
    if not pictures:
        for block in ("items", "steps"):
            story.blocks[block] = [{**row, "picture": ""} for row in story.blocks[block]]
    demo_stores, team = story.blocks["stores"], story.blocks["merchandisers"]
    a_team = len(team) * PERSON_STORES
    more = (_store(n, demo_stores[n % len(demo_stores)], n // a_team) for n in range(len(demo_stores), stores))
    story.blocks["stores"] = [*demo_stores, *more][:stores]
    story.blocks["merchandisers"] = [_person(one, number) for number in range(-(-stores // a_team)) for one in team]
    for part in (root, folder.images, folder.returns):
        part.mkdir(parents=True, exist_ok=True)
    folder.setup.write_bytes(setup_workbook(WORDS, story.blocks))
    if pictures:
        draw_pictures(story, folder.images)
    return folder


def _store(number: int, like: dict[str, object], team: int) -> dict[str, object]:
    person = _of_team(like["merchandiser"], team)
    return {**like, "store": f"{number:07d}", "name": f"{like['name']} {number}", "merchandiser": person}


def _person(like: dict[str, object], team: int) -> dict[str, object]:
    names = {key: _of_team(like[key], team) for key in ("merchandiser", "name")}
    return {**like, **names, "email": f"{team}.{like['email']}" if team else like["email"]}


def _of_team(name: object, team: int) -> object:
    """A name in a team of as many people as the demo has; in the first one, the demo's own."""
    return f"{name} {team}" if team else name


def issue_books(folder: ProgramFolder) -> Spent:
    """Issue the books as the office does, in a process of their own."""
    return run_program("issue", str(folder.root))


def read_program(folder: ProgramFolder) -> Program:
    """The program as the setup says it."""
    program = read_setup(folder, WORDS).program
    assert program is not None, "the benchmark's own setup must be clean"
    return program


def templates(folder: ProgramFolder, program: Program) -> Iterator[tuple[Stamp, dt.datetime]]:
    """Field books filled in by the demo's merchandisers, still to be stamped, and when each was saved.

    Their live cells hold their results, as a spreadsheet program saves them.
    """
    blank = build_template(program, "en", prepare_pictures(folder, program))
    known = {visit.store: visit for visit in reversed(visits(read_demo_sized(program), SEED))}
    for visit in sorted(known.values(), key=lambda one: one.store)[:PROFILES]:
        yield Stamp(recalculated(fill(blank, visit.answers, visit.saved))), visit.saved


def read_demo_sized(program: Program) -> Program:
    """The same program with the demo's sixty stores only: its stories are dealt over that many."""
    return dataclasses.replace(program, stores=program.stores[:60])


def send_back(folder: ProgramFolder, program: Program, *, share: float = 1.0) -> int:
    """Put a filled return of every store into returns/, a folder a thousand; returns how many.

    Only the last `share` of the stores when it is less than 1. Real books go out, real books come back: each is the
    template filled in through the contract and stamped with the store's own token.
    """
    books = read_register(folder.register, WORDS).books
    first = round(len(books) * (1 - share))
    filled = list(templates(folder, program))
    for number, book in enumerate(books[first:], start=first):
        stamp, saved = filled[number % len(filled)]
        _send(folder, program, book, stamp, saved, number)
    return len(books) - first


def _send(
    folder: ProgramFolder, program: Program, book: IssuedBook, stamp: Stamp, saved: dt.datetime, number: int
) -> None:
    values = stamp_values(
        program.store[book.store], program, token=book.token, revision=book.revision, visit=book.visit
    )
    path = folder.returns / f"{number // _IN_ONE_FOLDER:04d}" / f"{book.store}.xlsx"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(stamp.render(values))
    moment = saved.replace(tzinfo=dt.UTC).timestamp()
    os.utime(path, (moment, moment))
