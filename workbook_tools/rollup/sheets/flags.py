"""All open flags with the office's notes beside them, and the notes of flags that are gone: the sheets read back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import polars as pl

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import KEY_COLUMN
from workbook_tools.contract.names import column_letters, quoted
from workbook_tools.contract.writing import PROMPT_TEXT, PROMPT_TITLE, SheetWriter
from workbook_tools.errors import FolderError
from workbook_tools.program.formula_texts import quoted_text
from workbook_tools.rollup.curve import CurvePoint
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.notes import (
    HIDDEN_COLUMNS,
    NO,
    OPEN_COLUMNS,
    YES,
    FlagKey,
    Kept,
    PastNote,
    hidden_heading,
)
from workbook_tools.rollup.notes_read import ABOUT, HEADINGS, IDENTITY, MARK, NOTES, PAST
from workbook_tools.rollup.sheets import tables
from workbook_tools.rollup.sheets.bulk import MOST_ROWS
from workbook_tools.rollup.sheets.lists import with_stores
from workbook_tools.rollup.sheets.page import Page
from workbook_tools.rollup.sheets.place import Place
from workbook_tools.rollup.sheets.tables import TableOptions, write_table

LEFT = KEY_COLUMN + 1 + len(HIDDEN_COLUMNS)
"""0-based first column that people see: column A and the keys beside it are hidden."""
KEY_ROW, HEADING_ROW = 3, 4
"""0-based rows of the hidden keys and, right above the rows as a table wants it, the headings that people read."""
MOST_NOTES = MOST_ROWS - HEADING_ROW - 1
"""Rows of a sheet below its headings."""
_SHOWN: tuple[str, ...] = ("store", "name", "position", "kind", "due", "found", "brand", "who", "merchandiser")
_SHOWN += ("since", "remark", *OPEN_COLUMNS)
_PAST = ("store", "name", "position", "kind", "facts", *OPEN_COLUMNS, "moved")
_READ = frozenset((*OPEN_COLUMNS, "moved"))
_SEEN = "seen_"
"""Begins the key of a column that repeats for people what is known anyway."""


def write_flags(page: Page, facts: Facts, kept: Kept) -> dict[str, Place]:
    """Every open flag, sorted by kind; gives where each kind's rows stand."""
    kinds = {kind: number for number, kind in enumerate(default_contract().flag_owners)}
    order = pl.col("kind").replace_strict(kinds, return_dtype=pl.Int64).alias("_order")
    flags = facts.flags.with_columns(order).sort("_order", maintain_order=True)
    _must_fit(page, kept)
    settled = sum(note.is_settled for note in kept.notes.values())
    about = page.words("rollup.counted.open_flags", count=flags.height, settled=settled)
    sheet = page.head("flags", about if flags.height else "", LEFT)
    shown = _chosen(flags, kept)
    whole = _notes_table(page, sheet, NOTES, (_SHOWN, flags.height), _rows(page, facts, shown, kept))
    _open_cells(page, sheet, whole)
    return {"flags": whole, **whole.by_key("flags", shown["kind"], kinds)}


def _must_fit(page: Page, kept: Kept) -> None:
    """Raise FolderError when there are more notes than a sheet has rows: none may be left out."""
    for key, notes in (("flags", kept.notes), ("past", kept.past)):
        if len(notes) > MOST_NOTES:
            sheet = page.words(f"rollup.sheets.{key}")
            raise FolderError(page.words("messages.too_many_notes", count=len(notes), most=MOST_NOTES, sheet=sheet))


def _chosen(flags: pl.DataFrame, kept: Kept) -> pl.DataFrame:
    """The flags that are shown, in order: those with a note, as a note is kept on its flag's row alone, and of the
    others the first.
    """
    if flags.height <= tables.MOST_SHOWN:
        return flags
    numbered = flags.with_row_index("_row")
    noted = pl.DataFrame(list(kept.notes), schema=dict.fromkeys(FlagKey._fields, pl.String), orient="row")
    with_note = numbered.join(noted, on=FlagKey._fields, how="semi")
    others = numbered.join(noted, on=FlagKey._fields, how="anti", maintain_order="left")
    shown = [with_note, others.head(max(tables.MOST_SHOWN - with_note.height, 0))]
    return pl.concat(shown).sort("_row").drop("_row")


def _rows(page: Page, facts: Facts, flags: pl.DataFrame, kept: Kept) -> Iterator[dict[str, object]]:
    for row in with_stores(page.words, facts, flags):
        key = FlagKey(str(row["store"]), str(row["position"]), str(row["kind"]))
        note = kept.notes.get(key)
        hidden = _hidden((*key, str(row["facts"])))
        beside = {name: getattr(note, name) if note else "" for name in OPEN_COLUMNS}
        yield {**row, **hidden, **beside}


def _hidden(values: Sequence[str]) -> dict[str, object]:
    return dict(zip(map(hidden_heading, HIDDEN_COLUMNS), values, strict=True))


def write_past(page: Page, facts: Facts, past: Sequence[PastNote]) -> Place:
    """The notes of flags that are gone, kept for ever."""
    sheet = page.head("past", page.words("rollup.counted.past", count=len(past)) if past else "", LEFT)
    return _notes_table(page, sheet, PAST, (_PAST, len(past)), _past_rows(facts, past))


def _past_rows(facts: Facts, past: Sequence[PastNote]) -> Iterator[dict[str, object]]:
    kinds = default_contract().flag_owners
    for one in past:
        note, store = one.note, facts.program.store.get(one.note.key.store)
        hidden = _hidden((*note.key, note.facts))
        shown: dict[str, object] = {"store": note.key.store, "position": note.key.position, "facts": note.facts}
        shown["name"] = store.name if store else ""
        shown["kind"] = note.key.kind if note.key.kind in kinds else ""
        yield {**hidden, **shown, **{name: getattr(note, name) for name in OPEN_COLUMNS}, "moved": one.moved}


def _notes_table(
    page: Page, sheet: SheetWriter, block: str, about: tuple[Sequence[str], int], rows: Iterator[dict[str, object]]
) -> Place:
    """A native table in a block: hidden keys left of it and in a row above its headings, so that it is read back by
    them however it was sorted, filtered or its columns moved. `about` are its columns, and how many rows there are.
    """
    columns, total = about
    every = (*map(hidden_heading, HIDDEN_COLUMNS), *columns)
    sheet.text(KEY_ROW, KEY_COLUMN, f"#{block}")
    named = (*HIDDEN_COLUMNS, *(name if name in _READ else f"{_SEEN}{name}" for name in columns))
    for column, name in enumerate(named, start=KEY_COLUMN + 1):
        sheet.text(KEY_ROW, column, name)
    sheet.text(HEADING_ROW, KEY_COLUMN, HEADINGS)
    options = TableOptions(
        top=HEADING_ROW,
        left=KEY_COLUMN + 1,
        headings={name: name for name in map(hidden_heading, HIDDEN_COLUMNS)},
        open=OPEN_COLUMNS if block == NOTES else (),
        hidden=len(HIDDEN_COLUMNS),
        cut=("notes", "flags.csv"),
        total=total,
    )
    whole = write_table(page, sheet, every, rows, options)
    page.finish(sheet, freeze=(HEADING_ROW + 1, LEFT + 2), repeat=HEADING_ROW)
    sheet.set_row_pixels(KEY_ROW, 20, None, {"hidden": True})
    sheet.set_column_pixels(KEY_COLUMN, LEFT - 1, 60, None, {"hidden": True})
    return whole.columns(LEFT)


def _open_cells(page: Page, sheet: SheetWriter, rows: Place) -> None:
    """The cells to write in, a drop-down for yes and no, and settled rows in grey.

    The cells are coloured by a rule, not one by one: a sheet may have tens of thousands.
    """
    if rows.area is None:
        return
    first, left, last, settled = rows.area
    choices = [page.words.choice("yes_no", key) for key in (YES, NO)]
    options: dict[str, object] = {"validate": "list", "source": choices, "error_type": "warning"}
    options["input_title"] = page.words("rollup.columns.settled")[:PROMPT_TITLE]
    options["input_message"] = page.words("rollup.settled_prompt")[:PROMPT_TEXT]
    sheet.data_validation(first, settled, last, settled, options)
    open_ = page.style(bg_color="answer", border=1, border_color="answer_frame")
    owner = settled - len(OPEN_COLUMNS) + 1
    sheet.conditional_format(first, owner, last, settled, {"type": "formula", "criteria": "=TRUE", "format": open_})
    rule = f"=${column_letters(settled)}{first + 1}={quoted_text(choices[0])}"
    grey = page.style(font_color="quiet_ink", italic=True)
    sheet.conditional_format(first, left, last, owner - 1, {"type": "formula", "criteria": rule, "format": grey})


def write_about(page: Page, facts: Facts, stores: int) -> Place:
    """The hidden sheet that says of which program this is the roll-up; gives the place of the even pace, two days with
    the stores due on them.
    """
    sheet = page.sheets["book"]
    sheet.text(0, KEY_COLUMN, f"#{ABOUT}")
    sheet.text(0, KEY_COLUMN + 1, "value")
    page.book.name(MARK, f"={quoted(sheet.name)}!$B$2")
    settings = facts.program.settings
    rows = {IDENTITY: facts.identity, "name": settings.name, "as_of": facts.as_of.isoformat()}
    for row, (key, value) in enumerate(rows.items(), start=1):
        sheet.text(row, KEY_COLUMN, key)
        sheet.text(row, KEY_COLUMN + 1, value)
    for row, (when, due) in enumerate(((settings.starts, 0), (settings.due, stores)), start=1):
        sheet.write_datetime(row, 3, when, page.date)
        sheet.write_number(row, 4, due)
    sheet.hide()
    return Place(sheet.name, (1, 3, 2, 4))


def write_curve(page: Page, points: Sequence[CurvePoint]) -> Place:
    """The points of the first sheet's curve, on the hidden sheet: day, displays that stand, stores done."""
    sheet, left = page.sheets["book"], 6
    for row, (day, *counts) in enumerate(points, start=1):
        sheet.write_datetime(row, left, day, page.date)
        for column, number in enumerate(counts, start=left + 1):
            if number is not None:
                sheet.write_number(row, column, number)
    return Place(sheet.name, (1, left, len(points), left + 2) if points else None)
