"""Reading the office's notes out of a roll-up workbook, whoever saved it last and however it was sorted."""

from __future__ import annotations

import datetime as dt
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from workbook_tools.contract.model import KEY_COLUMN
from workbook_tools.contract.names import sheet_name
from workbook_tools.contract.package import Package
from workbook_tools.contract.sheets import RawBlock, UnreadableWorkbookError, read_blocks
from workbook_tools.contract.values import is_blank
from workbook_tools.contract.words import Words, languages, words_for
from workbook_tools.contract.zip_directory import UnfitZipError
from workbook_tools.errors import FolderError
from workbook_tools.folder import lock_of
from workbook_tools.rollup.notes import (
    HIDDEN_COLUMNS,
    NO,
    OPEN_COLUMNS,
    YES,
    FlagKey,
    Kept,
    Note,
    PastNote,
    collect_notes,
    hidden_heading,
    join_notes,
)

NOTES, PAST, ABOUT = "notes", "past_notes", "rollup"
"""The blocks of a roll-up that are read back."""
SHEETS = ("flags", "past", "book")
"""The sheets they stand on."""
IDENTITY = "program"
MARK = "rollup_of_program"
"""A workbook-level name that every roll-up has; spreadsheet programs keep it."""
MOST_BYTES = 1 << 20
"""How much of a file's list of sheets and names is looked at."""
HEADINGS = "headings"
"""What column A holds in the row of headings that people read."""
_SEEN = ("seen_store", "seen_position")


def kept_notes(path: Path, identity: str, words: Words) -> Kept:
    """The notes of the roll-up at `path`; none when there is no such file.

    Raises FolderError when it is open in another program, cannot be read, is the roll-up of another program, or lacks
    a column without which notes would be lost.
    """
    if lock := lock_of(path):
        raise FolderError(words("messages.rollup_locked", path=path, lock=lock.name))
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Kept()
    except OSError as slip:
        raise FolderError(words("messages.rollup_unreadable", path=path, reason=slip.strerror or slip)) from None
    return _read(data, path, identity, words)


def is_rollup(path: Path) -> bool:
    """True when a file is a roll-up workbook, of whatever program: told by a name in it, before anything parses it."""
    try:
        with zipfile.ZipFile(path) as book, book.open("xl/workbook.xml") as part:
            return MARK.encode() in part.read(MOST_BYTES)
    except (OSError, KeyError, ValueError, NotImplementedError, RuntimeError, EOFError, zipfile.BadZipFile, zlib.error):
        return False


def _read(data: bytes, path: Path, identity: str, words: Words) -> Kept:
    package = Package(data)
    try:
        found = read_blocks(data, (NOTES, PAST, ABOUT), _likely(package), package=package)
    except UnreadableWorkbookError as slip:
        raise FolderError(words("messages.rollup_unreadable", path=path, reason=slip)) from None
    blocks = {block.key: block for block in found}
    missing = next((key for key in (ABOUT, NOTES, PAST) if key not in blocks), None)
    if missing:
        raise FolderError(words("messages.rollup_block", path=path, block=f"#{missing}"))
    if _identity(blocks[ABOUT]) != identity:
        raise FolderError(words("messages.rollup_of_another", path=path))
    kept = Kept()
    for block in found:
        if block.key != ABOUT:
            kept = join_notes(kept, _notes_of(block, path, words))
    return kept


def _notes_of(block: RawBlock, path: Path, words: Words) -> Kept:
    """The notes of one sheet; those of a row nobody knows are past ones."""
    table = _Table(block)
    if lacking := table.lacking:
        about = {"sheet": block.sheet, "column": lacking, "row": block.key_row + 1}
        raise FolderError(words("messages.rollup_column", path=path, **about))
    if block.key == PAST:
        return Kept(past=tuple(table.past()))
    stray = [PastNote(note, "") for note in table.notes() if not note.key.kind and not note.is_blank]
    return Kept(collect_notes(note for note in table.notes() if note.key.kind), tuple(stray))


def _identity(block: RawBlock) -> str:
    rows = {_text(cells[KEY_COLUMN]): block.cell(number, cells, "value").value for number, cells in block.rows}
    return _text(rows.get(IDENTITY))


class _Table:
    """A block of notes. Columns go by their keys, or by their headings where a column was moved without its key."""

    def __init__(self, block: RawBlock) -> None:
        self.rows = [cells for _, cells in block.rows if _text(cells[KEY_COLUMN]) != HEADINGS]
        self.headings = next((cells for _, cells in block.rows if _text(cells[KEY_COLUMN]) == HEADINGS), ())
        known = _keys_by_heading()
        named = {known[text]: index for index, text in enumerate(map(_text, self.headings)) if text in known}
        self.columns = {**block.columns, **named}
        self.yes_no = _yes_no()
        self.wanted = (*HIDDEN_COLUMNS, *OPEN_COLUMNS, *(("moved",) if block.key == PAST else ()))
        taken = {KEY_COLUMN, *block.columns.values(), *named.values()}
        width = max((len(cells) for cells in self.rows), default=0)
        self.added = [index for index in range(width) if index not in taken]

    @property
    def lacking(self) -> str:
        """A column without which notes would be lost and that is not there, or ""."""
        return next((key for key in self.wanted if key not in self.columns), "")

    def notes(self) -> Iterator[Note]:
        """A note a row; one whose hidden keys are blank has its kind blank and what people see as store and tray."""
        for cells in self.rows:
            store, position, kind, facts = (self._cell(cells, name) for name in HIDDEN_COLUMNS)
            if not kind:
                store, position = (self._cell(cells, name) for name in _SEEN)
            owner, note, settled = (self._cell(cells, name) for name in OPEN_COLUMNS)
            added = (f"{_at(self.headings, index)}: {text}" for index in self.added if (text := _at(cells, index)))
            told = "; ".join(text for text in (note, *(one.removeprefix(": ") for one in added)) if text)
            yield Note(FlagKey(store, position, kind), facts, owner, told, self.yes_no.get(settled.casefold(), settled))

    def past(self) -> Iterator[PastNote]:
        """The same, with the day on which each note's flag was gone."""
        for cells, note in zip(self.rows, self.notes(), strict=True):
            if not note.is_blank:
                yield PastNote(note, self._cell(cells, "moved"))

    def _cell(self, cells: Sequence[object], column: str) -> str:
        return _at(cells, self.columns[column]) if column in self.columns else ""


def _at(cells: Sequence[object], index: int) -> str:
    return _text(cells[index]) if index < len(cells) else ""


def _text(value: object) -> str:
    """A cell's text as written; a whole number without `.0`, a date as ISO 8601."""
    if is_blank(value):
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, dt.datetime) and value.time() == dt.time():
        value = value.date()
    return str(value).strip()


def _yes_no() -> dict[str, str]:
    """What may be typed for yes and no in any language → its key."""
    said = {"true": YES, "false": NO, "x": YES}
    for words in map(words_for, languages()):
        said |= {words.choice("yes_no", key).casefold(): key for key in (YES, NO)}
    return said


def _keys_by_heading() -> dict[str, str]:
    """Heading → column key, in all languages: people may move a column without the hidden row above it."""
    known = {hidden_heading(name): name for name in HIDDEN_COLUMNS}
    for name in (*OPEN_COLUMNS, "moved", *_SEEN):
        known |= dict.fromkeys(_said(f"rollup.columns.{name.removeprefix('seen_')}"), name)
    return known


def _likely(package: Package) -> list[str]:
    """The sheets that hold notes, by their names, with copies of them ("Open flags (2)") that people made."""
    known = [sheet_name(text) for key in SHEETS for text in _said(f"rollup.sheets.{key}")]
    try:
        sheets = [name for name, _ in package.sheets]
    except UnfitZipError:
        return known
    return [*known, *(name for name in sheets if any(one in name for one in known))]


def _said(key: str) -> list[str]:
    """What a key is in all languages that have it."""
    return [words(key) for words in map(words_for, languages()) if key in words]
