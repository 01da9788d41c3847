"""A small setup in order, and a way to damage it as people do: in a spreadsheet program, cell by cell."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path

import openpyxl
from openpyxl.workbook.workbook import Workbook
from PIL import Image

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.load import default_contract, templates_folder
from workbook_tools.contract.names import a1
from workbook_tools.contract.words import load_words, words_for
from workbook_tools.folder import ProgramFolder
from workbook_tools.program.advice import advise
from workbook_tools.program.load import Setup, read_setup, with_findings
from workbook_tools.program.setup_book import FIRST_ROW, setup_workbook

Content = Mapping[str, Sequence[Mapping[str, object]]]
Damage = Callable[[Workbook], object]
Place = tuple[str, str, str]
"""Rule, sheet and cell of a finding."""

IN_ORDER: Content = {
    "program": [
        {
            "name": "Small stand", "code": "SMALL", "units": "in, lb", "starts": dt.date(2027, 3, 1),
            "due": dt.date(2027, 3, 14), "contact": "Robin", "place": "End of aisle", "other_places": "Front; Back",
            "photos": "one", "language": "en",
        }
    ],
    "shelves": [{"face": "A", "shelf": 1, "width": 24, "depth": 16, "height": 12}, {"face": "A", "shelf": 2}],
    "positions": [
        {"face": "A", "shelf": 1, "place": 1, "item": "Lids", "facings": 3, "units": 12},
        {"face": "A", "shelf": 1, "place": 2, "item": "Wax"},
        {"face": "A", "shelf": 2, "place": 1, "item": "Jars"},
    ],
    "items": [
        {"item": "Lids", "item_code": "000101", "gtin": "9520000000011", "brand": "Pellwood", "picture": "lids.png"},
        {"item": "Wax", "item_code": "000102", "gtin": "9520000000028", "brand": "Quarnby", "substitutes": "Lids;Jars"},
        {"item": "Jars", "item_code": "000103", "brand": "Quarnby", "width": 4.5},
    ],
    "labels": [{"brand": "Pellwood", "packed": 1}, {"brand": "Quarnby", "packed": 2}],
    "parts": [{"part": "P1", "name": "Base", "quantity": 1}],
    "steps": [{"step": 1, "do": "Unfold the base", "minutes": 5, "picture": "step.png"}],
    "stores": [
        {"store": "00417", "name": "Hill Street", "merchandiser": "Kim", "latitude": 36.1, "longitude": -86.7},
        {"store": "00418", "name": "Mill Lane", "merchandiser": "Lee"},
    ],
    "merchandisers": [{"merchandiser": "Kim", "language": "en"}, {"merchandiser": "Lee", "hours": 20}],
}  # fmt: skip
"""Two brands on three trays, two stores, two merchandisers: nothing in it is to be mended or looked at."""

PICTURES = ("lids.png", "step.png")


def changed(content: Content = IN_ORDER, **blocks: Sequence[Mapping[str, object]]) -> Content:
    """The setup with other rows in some of its blocks."""
    return {**content, **blocks}


def with_values(block: str, number: int, **values: object) -> Content:
    """The setup with other values in the row of a block, counted from 1."""
    rows = [dict(row) for row in IN_ORDER[block]]
    rows[number - 1] |= values
    return changed(**{block: rows})


def cell(block: str, number: int, key: str) -> str:
    """The address of a field in the row of a block, counted from 1; of the program, the number does not count."""
    form = default_contract().setup.block(block)
    if form.rows == "fixed":
        return a1(FIRST_ROW + [field.key for field in form.fields].index(key), form.value_index)
    return a1(FIRST_ROW + number - 1, form.columns[key])


@dataclass(frozen=True)
class Typed:
    """Values typed into the cells of a sheet, whatever they held: address → value."""

    sheet: str
    cells: Mapping[str, object]

    def __call__(self, book: Workbook) -> None:
        for address, value in self.cells.items():
            book[self.sheet][address] = value


def put(block: str, number: int, key: str, value: object) -> Typed:
    """A value typed into the row of a block, counted from 1."""
    return Typed(block.capitalize(), {cell(block, number, key): value})


@cache
def _in_order(templates: Path) -> bytes:
    return setup_workbook(load_words(templates, "en"), IN_ORDER)


def setup_file(folder: Path, content: Content = IN_ORDER, damage: Iterable[Damage] = ()) -> ProgramFolder:
    """A program folder with its pictures and a setup workbook, filled as `content` says and then damaged."""
    made = ProgramFolder(folder)
    made.images.mkdir(exist_ok=True)
    for name in PICTURES:
        Image.new("RGB", (96, 72), "white").save(made.images / name)
    data = _in_order(templates_folder()) if content is IN_ORDER else setup_workbook(words_for("en"), content)
    made.setup.write_bytes(_damaged(data, damage) if damage else data)
    return made


def _damaged(data: bytes, damage: Iterable[Damage]) -> bytes:
    book = openpyxl.load_workbook(BytesIO(data))
    for one in damage:
        one(book)
    saved = BytesIO()
    book.save(saved)
    return saved.getvalue()


def checked(folder: Path, content: Content = IN_ORDER, *damage: Damage) -> Setup:
    """The setup read and checked; every finding is said once, so that no field of its words can be missing."""
    words = words_for("en")
    setup = read_setup(setup_file(folder, content, damage), words)
    for finding in setup.findings:
        assert finding.problem(words)
        assert finding.todo(words)
        assert finding.file == "program.xlsx"
    return setup


TODAY = dt.date(2027, 2, 1)
"""The day on which the setups of the tests are looked at: a month before the first day of the one in order."""


def advised(
    folder: Path, content: Content = IN_ORDER, *damage: Damage, today: dt.date = TODAY, **seen: object
) -> Setup:
    """The same with all the advice that `check` gives on a day; every finding is said once."""
    read = checked(folder, content, *damage)
    view = dataclasses.replace(read.view, today=today, **seen)  # type: ignore[arg-type]
    setup = with_findings(read, advise(view))
    words = words_for("en")
    for finding in setup.findings:
        assert "{" not in finding.problem(words) + finding.todo(words)
    return setup


def places(setup: Setup) -> list[Place]:
    """Where every finding of a setup is, in order."""
    return [(finding.rule, finding.sheet, finding.cell) for finding in setup.findings]


def only(setup: Setup) -> Finding:
    """The one finding of a setup."""
    (finding,) = setup.findings
    return finding


def rules_of(*sections: str) -> set[str]:
    """The rules that stand in rules.toml under the headings (`# -- …`) that begin so."""
    found: set[str] = set()
    wanted = False
    for line in (templates_folder() / "rules.toml").read_text(encoding="utf-8").splitlines():
        if line.startswith("# -- "):
            wanted = line.removeprefix("# -- ").startswith(sections)
        elif wanted and "=" in line:
            found.add(line.partition("=")[0].strip())
    assert found
    return found
