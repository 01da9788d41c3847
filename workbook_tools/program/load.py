"""program.xlsx → the program, and a finding at its cell for everything in the setup that is not as it should be."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from string import ascii_uppercase
from typing import Any

from workbook_tools.contract.findings import Finding, must_mend
from workbook_tools.contract.load import default_contract
from workbook_tools.contract.model import KEY_COLUMN, Block, Contract
from workbook_tools.contract.package import Package
from workbook_tools.contract.sheet_state import sheet_state
from workbook_tools.contract.sheets import RawBlock, RawCell
from workbook_tools.contract.tables import BlockReader, Table
from workbook_tools.contract.unread import Unreads
from workbook_tools.contract.values import plain_form
from workbook_tools.contract.words import Words, languages, words_for
from workbook_tools.errors import FolderError
from workbook_tools.folder import ProgramFolder, is_plain_name, lock_of, sha256
from workbook_tools.program import checks, model
from workbook_tools.program.checks_fit import check_fit
from workbook_tools.program.checks_pictures import check_pictures
from workbook_tools.program.gtin import read_gtin
from workbook_tools.program.handling import as_meant
from workbook_tools.program.measures import with_measures
from workbook_tools.program.names_meant import with_choices, with_names
from workbook_tools.program.setup_file import setup_blocks
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
    """A setup as read: its tables by block key, and all findings.

    `sheets` are the names of the sheets that hold its blocks, in order; `folder` is where its pictures lie;
    `worked_out` is what the checks across sheets share.
    """

    tables: dict[str, Table]
    findings: tuple[Finding, ...]
    sheets: tuple[str, ...]
    folder: ProgramFolder
    worked_out: dict[str, object] = dataclasses.field(default_factory=dict, compare=False, repr=False)

    @cached_property
    def is_usable(self) -> bool:
        """Whether nothing must be mended."""
        return not must_mend(self.findings)

    @cached_property
    def program(self) -> model.Program | None:
        """The program when nothing must be mended."""
        return build_program(self.tables, self.folder) if self.is_usable else None

    @cached_property
    def view(self) -> View:
        """The tables as the checks across sheets see them, today."""
        is_issued = self.folder.register.is_file()
        file = self.folder.setup.name
        return View(default_contract(), file, self.tables, is_issued=is_issued, worked_out=self.worked_out)


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
    return with_findings(setup, check_fit(setup.view))


def with_findings(setup: Setup, more: Iterable[Finding]) -> Setup:
    """A setup with further findings in their places; without its program when one of them must be mended."""
    found = [*setup.findings, *more]
    found.sort(key=_by_place(setup.sheets))
    return dataclasses.replace(setup, findings=tuple(found))


def check_setup(data: bytes, folder: ProgramFolder) -> Setup:
    """Read and check a setup workbook from its bytes; pictures are looked for in the folder's images.

    Whether goods fit their shelves is not judged.
    """
    contract = default_contract()
    file = folder.setup.name
    read = setup_blocks(data, file)
    if isinstance(read, Finding):
        return Setup({}, (read,), (), folder)
    package, raw = read
    findings: list[Finding] = list(_blocks_there(contract, file, raw))
    tables = _read_tables(contract, file, raw, package, findings)
    findings += [one for table in tables.values() for one in table.findings]
    findings += checks.check_tables(contract, file, tables)
    findings += check_pictures(contract, file, tables, folder)
    sheets = tuple(dict.fromkeys(block.sheet for block in raw))
    findings.sort(key=_by_place(sheets))
    return Setup(tables, tuple(findings), sheets, folder)


def issued_program(kept: ProgramFolder) -> model.Program | None:
    """The program of a revision as it was issued, whatever today's rules say of it; None when it cannot be built.

    What a rule of later days finds stays as it was issued; a picture that is gone counts as another one.
    """
    try:
        read = setup_blocks(kept.setup.read_bytes(), kept.setup.name)
        if isinstance(read, Finding):
            return None
        package, raw = read
        program = build_program(_read_tables(default_contract(), kept.setup.name, raw, package, []), kept)
    except (OSError, KeyError, TypeError):
        return None
    return program if all(one.item in program.item for one in program.positions) else None


def _read_tables(
    contract: Contract, file: str, raw: list[RawBlock], package: Package, findings: list[Finding]
) -> dict[str, Table]:
    """The blocks as tables; of one that stands twice the first. What people did to the sheets goes to `findings`."""
    first = {block.key: block for block in reversed(raw)}
    tables: dict[str, Table] = {}
    unreads = Unreads(package)
    language, units = "en", ""
    for block in contract.setup.blocks:
        if block.key not in first:
            continue
        reader = BlockReader(contract, FORM, file, language)
        opened, found = as_meant(reader, block, first[block.key], sheet_state(unreads, first[block.key].sheet))
        filled, examples = _without_examples(block, opened)
        findings += [*found, *(reader.finding("example_row", block, filled, key, cell) for key, cell in examples)]
        table = with_choices(contract, file, reader.read(block, filled))
        language = _setting(table, "language", languages()) or language if block.key == "program" else language
        units = _setting(table, "units", contract.choices["units"].keys) if block.key == "program" else units
        tables[block.key] = with_measures(contract, file, _with_gtins(table) if block.key == "items" else table, units)
    return with_names(contract, file, tables)


def build_program(tables: Mapping[str, Table], folder: ProgramFolder) -> model.Program:
    """The program from its tables; a block that is not among them has no rows.

    Raises KeyError without the settings, TypeError when a row lacks what every such row has.
    """
    settings: dict[str, Any] = {}
    for row in tables["program"].rows:
        settings |= row.values
    rows = {key: tables[key].rows if key in tables else () for key in MODELS}
    made = {key: tuple(_made(kind, [row.values for row in rows[key]])) for key, kind in MODELS.items()}
    named = sorted({one.picture for key in ("items", "steps") for one in made[key] if one.picture})
    pictures = {name: _digest(folder, name) for name in named}
    (settled,) = _made(model.Settings, [settings])
    return model.Program(settings=settled, pictures=pictures, **made)


def _digest(folder: ProgramFolder, picture: str) -> str:
    """The sha256 of a picture of the program; "" for one that is not there or leads elsewhere."""
    try:
        return sha256((folder.images / picture).read_bytes()) if is_plain_name(picture) else ""
    except OSError:
        return ""


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
    kept, examples = [], []
    column = raw.columns.get(block.value_column if block.rows == "fixed" else block.fields[0].key)
    for number, cells in raw.rows:
        if column is None or column >= len(cells) or not _is_example(cells[column]):
            kept.append((number, cells))
            continue
        key = str(cells[KEY_COLUMN]) if block.rows == "fixed" else block.fields[0].key
        examples.append((key, RawCell(number, column, cells[column])))
        if block.rows == "fixed":
            kept.append((number, [*cells[:column], "", *cells[column + 1 :]]))
    return dataclasses.replace(raw, rows=tuple(kept)), examples


def _is_example(cell: object) -> bool:
    """A text that begins with the word for an example, in any language, and a colon, whichever kind it is."""
    if not isinstance(cell, str) or not (":" in cell or "\uff1a" in cell):
        return False
    return plain_form(cell).startswith(_example_marks(languages()))


@lru_cache(maxsize=4)
def _example_marks(known: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"{plain_form(words_for(language)('language.example'))}:" for language in known)


def _setting(program: Table, key: str, known: Iterable[str]) -> str:
    """A setting that has to be one of some keys; "" when it is none of them."""
    value = next((row.values.get(key) for row in program.rows if row.key == key), None)
    return str(value) if value in tuple(known) else ""


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
