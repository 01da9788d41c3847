"""program.xlsx → the program, and a finding at its cell for everything in the setup that is not as it should be."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Any

from workbook_tools.contract.findings import Finding, must_mend
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import KEY_COLUMN, Block, Contract
from workbook_tools.contract.sheets import RawBlock, RawCell, UnreadableWorkbookError, read_blocks
from workbook_tools.contract.tables import BlockReader, Table
from workbook_tools.contract.values import plain_form
from workbook_tools.contract.words import Words, languages, words_for
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder, lock_of, sha256
from workbook_tools.program import checks, model
from workbook_tools.program.checks_fit import check_fit
from workbook_tools.program.gtin import read_gtin
from workbook_tools.program.view import View

FORM = "setup"
MODELS: dict[str, type[Any]] = {
    "shelves": model.Shelf,
    "positions": model.Position,
    "items": model.Item,
    "labels": model.Label,
    "parts": model.Part,
    "steps": model.Step,
    "stores": model.Store,
    "merchandisers": model.Merchandiser,
}
"""Block → what a row of it becomes; the `#program` block becomes the settings."""


@dataclass(frozen=True)
class Setup:
    """A setup as read: its tables by block key, all findings, and the program when nothing must be mended.

    `sheets` are the names of the sheets that hold its blocks, in order.
    """

    tables: dict[str, Table]
    findings: tuple[Finding, ...]
    program: model.Program | None
    sheets: tuple[str, ...]


def read_setup(folder: ProgramFolder, words: Words) -> Setup:
    """Read and check the setup of a program folder: what must be mended before books can be issued from it.

    Raises FolderError when program.xlsx is open in another program or its bytes cannot be read.
    """
    if lock := lock_of(folder.setup):
        raise FolderError(words("messages.setup_locked", lock=lock.name))
    try:
        data = folder.setup.read_bytes()
    except OSError as slip:
        reason = slip.strerror or str(slip)
        raise FolderError(words("messages.setup_unreadable", path=folder.setup, reason=reason)) from None
    setup = check_setup(data, folder)
    return with_findings(setup, check_fit(view_of(setup, folder)))


def view_of(setup: Setup, folder: ProgramFolder) -> View:
    """The tables of a setup as the checks across its sheets see them, today."""
    return View(default_contract(), folder.setup.name, setup.tables, is_issued=folder.register.is_file())


def with_findings(setup: Setup, more: Iterable[Finding]) -> Setup:
    """A setup with further findings in their places; without its program when one of them must be mended."""
    found = [*setup.findings, *more]
    found.sort(key=_by_place(setup.sheets))
    return dataclasses.replace(setup, findings=tuple(found), program=None if must_mend(found) else setup.program)


def check_setup(data: bytes, folder: ProgramFolder) -> Setup:
    """Read and check a setup workbook from its bytes; pictures are looked for in the folder's images.

    Whether goods fit their shelves is not judged: a program that was issued once stays readable.
    """
    contract = default_contract()
    file = folder.setup.name
    try:
        raw = read_blocks(data, [block.key for block in contract.setup.blocks])
    except UnreadableWorkbookError as slip:
        rule = "workbook_unreadable"
        found = Finding(rule=rule, severity=contract.rules[rule], file=file, fields={"reason": str(slip)})
        return Setup({}, (found,), None, ())
    findings: list[Finding] = list(_blocks_there(contract, file, raw))
    first = {block.key: block for block in reversed(raw)}
    tables: dict[str, Table] = {}
    language = "en"
    for block in contract.setup.blocks:
        if block.key not in first:
            continue
        reader = BlockReader(contract, FORM, file, language)
        filled, examples = _without_examples(block, first[block.key])
        findings += [reader.finding("example_row", block, filled, key, cell) for key, cell in examples]
        tables[block.key] = reader.read(block, filled)
        language = _language_of(tables.get("program"))
    tables = {key: _with_gtins(table) if key == "items" else table for key, table in tables.items()}
    findings += [one for table in tables.values() for one in table.findings]
    findings += checks.check_tables(contract, file, tables)
    findings += checks.check_pictures(contract, file, tables, folder)
    sheets = tuple(dict.fromkeys(block.sheet for block in raw))
    findings.sort(key=_by_place(sheets))
    program = None if must_mend(findings) else build_program(tables, folder)
    return Setup(tables, tuple(findings), program, sheets)


def build_program(tables: Mapping[str, Table], folder: ProgramFolder) -> model.Program:
    """The program from tables in which nothing has to be mended."""
    settings: dict[str, Any] = {}
    for row in tables["program"].rows:
        settings |= row.values
    made = {key: tuple(_made(kind, [row.values for row in tables[key].rows])) for key, kind in MODELS.items()}
    named = sorted({one.picture for key in ("items", "steps") for one in made[key] if one.picture})
    pictures = {name: sha256((folder.images / name).read_bytes()) for name in named}
    (settled,) = _made(model.Settings, [settings])
    return model.Program(settings=settled, pictures=pictures, **made)


def _made(kind: type[Any], rows: Iterable[Mapping[str, object]]) -> Iterator[Any]:
    """A `kind` for each row, from those of its values that the model has."""
    known = {one.name for one in dataclasses.fields(kind)}
    for values in rows:
        yield kind(**{key: value for key, value in values.items() if key in known})


def _blocks_there(contract: Contract, file: str, raw: list[RawBlock]) -> Iterator[Finding]:
    for block in contract.setup.blocks:
        sheets = [one.sheet for one in raw if one.key == block.key]
        rule = "block_missing" if not sheets else "block_twice" if len(sheets) > 1 else ""
        if rule:
            fields = {"block": block.key, "sheets": ", ".join(sheets)}
            sheet = sheets[-1] if sheets else words_for("en")(f"setup.sheets.{contract.setup.sheet_of(block.key).key}")
            yield Finding(rule=rule, severity=contract.rules[rule], file=file, sheet=sheet, fields=fields)


def _without_examples(block: Block, raw: RawBlock) -> tuple[RawBlock, list[tuple[str, RawCell]]]:
    """The block without its worked examples, and the cells in which they were found."""
    marks = tuple(plain_form(words_for(language)("language.example")) for language in languages())
    kept, examples = [], []
    column = raw.columns.get(block.value_column if block.rows == "fixed" else block.fields[0].key)
    for number, cells in raw.rows:
        if column is None or column >= len(cells) or not _is_example(cells[column], marks):
            kept.append((number, cells))
            continue
        key = str(cells[KEY_COLUMN]) if block.rows == "fixed" else block.fields[0].key
        examples.append((key, RawCell(number, column, cells[column])))
        if block.rows == "fixed":
            kept.append((number, [*cells[:column], "", *cells[column + 1 :]]))
    return dataclasses.replace(raw, rows=tuple(kept)), examples


def _is_example(cell: object, marks: tuple[str, ...]) -> bool:
    return isinstance(cell, str) and plain_form(cell).startswith(tuple(f"{mark}:" for mark in marks))


def _language_of(program: Table | None) -> str:
    for row in program.rows if program else ():
        if row.key == "language" and row.values.get("language") in languages():
            return str(row.values["language"])
    return "en"


def _with_gtins(items: Table) -> Table:
    """The items with each GTIN that can be read in its full digits; one that cannot stays as it was typed."""
    rows = []
    for row in items.rows:
        reading = read_gtin(str(row.values["gtin"])) if "gtin" in row.values else None
        read = {"gtin": reading.gtin} if reading and reading.gtin else {}
        rows.append(dataclasses.replace(row, values={**row.values, **read}))
    return dataclasses.replace(items, rows=tuple(rows))


def _by_place(sheets: Iterable[str]) -> Callable[[Finding], tuple[int, int, str]]:
    """Sorts findings as a person goes through the workbook: sheets that are missing first, then row by row."""
    order = {sheet: number for number, sheet in enumerate(sheets)}

    def place(finding: Finding) -> tuple[int, int, str]:
        row = finding.cell.lstrip(ascii_uppercase)
        return (order.get(finding.sheet, -1), int(row or 0), finding.cell)

    return place
