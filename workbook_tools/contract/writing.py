"""Writing workbooks with xlsxwriter: failures raise, field text never becomes a formula, formats are made once."""

from __future__ import annotations

import datetime as dt
import re
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

import xlsxwriter
from xlsxwriter.exceptions import XlsxWriterException
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_range_abs
from xlsxwriter.worksheet import Worksheet

from workbook_tools.contract.look import Look
from workbook_tools.contract.model import Block, Contract, Field
from workbook_tools.contract.model import Sheet as SheetForm
from workbook_tools.contract.names import quoted
from workbook_tools.contract.words import Words
from workbook_tools.errors import BuildError

LONGEST_TEXT = 32_767
"""Characters a cell can hold (Excel specifications and limits)."""
PROMPT_TITLE, PROMPT_TEXT, ERROR_TEXT = 32, 255, 224
"""Characters that the title and the text of an input prompt can hold, and the text of an error message."""
CREATED = dt.datetime(2000, 1, 1)
"""Written as the creation time of every workbook, so that the same content gives the same bytes."""
TEXT_FORMAT = "@"

_ILLEGAL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]|[\ud800-\udfff]")
_NUMBER_FORMATS = {"date": "d mmm yyyy", "time": "h:mm", "code": TEXT_FORMAT, "gtin": TEXT_FORMAT, "text": TEXT_FORMAT}

_NEVER_WARNS = frozenset(
    f"write_{kind}" for kind in ("string", "number", "blank", "boolean", "datetime", "formula", "bulk_row", "bulk_rows")
)
"""What is called for every cell, and tells of a refusal by its return code only: watching for warnings takes longer."""


@contextmanager
def _no_refusals(place: str) -> Iterator[None]:
    """What xlsxwriter refuses with an error of its own, or only warns of and leaves out, raises BuildError."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", UserWarning)
        try:
            yield
        except (XlsxWriterException, UserWarning, UnicodeEncodeError) as slip:
            raise BuildError(f"{place}: {slip}") from None


class _PlainWorksheet(Worksheet):  # type: ignore[misc]
    """A worksheet of xlsxwriter's that takes formulas and their results as they are.

    Its own looks for the names of thirty newer functions, which some programs lack and no formula of ours has; that
    takes a thousand times longer than writing one.
    """

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")

    def _xml_formula_element(self, formula: str, result: object, attributes: Sequence[tuple[str, object]] = ()) -> None:
        """A result that is an empty text is written as one; else it would be none, and a reader have to compute it."""
        kind = [("t", "str")] if result == "" else []
        super()._xml_formula_element(formula, result, [*attributes, *kind])


class SheetWriter:
    """One sheet. Every call goes to the method of xlsxwriter's worksheet of the same name; a refusal raises BuildError.

    Rows and columns are 0-based, as xlsxwriter counts them.
    """

    def __init__(self, worksheet: Any) -> None:
        self.name: str = worksheet.name
        self._worksheet = worksheet

    def __getattr__(self, name: str) -> Callable[..., Any]:
        """The checked method, made once."""
        method = getattr(self._worksheet, name)

        def call(*args: Any, **options: Any) -> Any:
            if name in _NEVER_WARNS:
                result = method(*args, **options)
            else:
                with _no_refusals(f"{self.name}: {name}"):
                    result = method(*args, **options)
            if isinstance(result, int) and result < 0:
                raise BuildError(f"{self.name}: {name}{args!r} was refused ({result})")
            return result

        setattr(self, name, call)
        return call

    def text(self, row: int, column: int, text: str, cell_format: Format | None = None) -> None:
        """Write a text as text, whatever it begins with; characters that XML cannot hold are dropped."""
        self.write_string(row, column, legal_text(text), cell_format)

    def merged_text(self, area: tuple[int, int, int, int], text: str, cell_format: Format) -> None:
        """Write a text over an area (first row, first column, last row, last column), merged if more than a cell."""
        first_row, first_column, last_row, last_column = area
        if (first_row, first_column) == (last_row, last_column):
            self.text(first_row, first_column, text, cell_format)
            return
        self.merge_range(first_row, first_column, last_row, last_column, "", cell_format)
        self.text(first_row, first_column, text, cell_format)


class BookWriter:
    """One workbook being written to memory. `close()` gives its bytes."""

    def __init__(self, look: Look, *, title: str = "", author: str = "workbook-tools", keywords: str = "") -> None:
        self.look = look
        self._buffer = BytesIO()
        options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, **_default_cell(look)}
        self._workbook = xlsxwriter.Workbook(self._buffer, options)
        self._workbook.worksheet_class = _PlainWorksheet
        self._workbook.set_properties({"title": title, "author": author, "keywords": keywords, "created": CREATED})
        self._workbook.set_calc_mode("auto")
        self._formats: dict[tuple[tuple[str, object], ...], Format] = {}

    def sheet(self, name: str) -> SheetWriter:
        """A new sheet at the end. Raises BuildError when the name is not allowed."""
        with _no_refusals(name):
            return SheetWriter(self._workbook.add_worksheet(name))

    def format(self, **properties: object) -> Format:
        """A cell format in the house font; the same properties give the same format."""
        base = {"font_name": self.look.font, "font_size": self.look.type_sizes["text"], "valign": "vcenter"}
        wanted = {**base, "font_color": self.look.colour("ink"), **properties}
        key = tuple(sorted(wanted.items()))
        if key not in self._formats:
            self._formats[key] = self._workbook.add_format(wanted)
        return self._formats[key]

    def name(self, name: str, formula: str) -> None:
        """Define a workbook-level name. Raises BuildError when it is not allowed."""
        with _no_refusals(f"name {name!r}"):
            refused = self._workbook.define_name(name, formula) == -1
        if refused:
            raise BuildError(f"name {name!r} was refused")

    def chart(self, options: Mapping[str, object]) -> Any:
        """A new chart, to be inserted into a sheet."""
        return self._workbook.add_chart(dict(options))

    def close(self) -> bytes:
        """Finish the workbook and return the bytes of the file. Raises BuildError when it cannot be written."""
        with _no_refusals("workbook"):
            self._workbook.close()
        return self._buffer.getvalue()


def _default_cell(look: Look) -> dict[str, object]:
    """The font of the workbook's default cell style: programs measure columns by the width of its digits.

    Those without the usual default font take a wider one, and some reckon with the exact width where others round
    it to whole pixels. At 9.5 points a digit of Arial is 7.04 pixels wide, so all come to the 7 that xlsxwriter
    reckons with; its default row is then 17 pixels high.
    """
    return {"default_format_properties": {"font_name": look.font, "font_size": 9.5}, "default_row_height": 17}


def legal_text(text: str) -> str:
    """Text without the characters XML 1.0 cannot hold, cut at the length a cell can hold."""
    return _ILLEGAL.sub("", text)[:LONGEST_TEXT]


@dataclass
class ListSheet:
    """The hidden sheet that holds the entries of every drop-down, one list a column."""

    sheet: SheetWriter
    ranges: dict[str, str] = field(default_factory=dict)

    def add(self, key: str, entries: Sequence[str], cell_format: Format) -> str:
        """Write a list and return its range as formulas write it (`='Lists'!$A$1:$A$4`)."""
        column = len(self.ranges)
        for row, entry in enumerate(entries):
            self.sheet.text(row, column, entry, cell_format)
        place = xl_range_abs(0, column, max(len(entries) - 1, 0), column)
        self.ranges[key] = f"={quoted(self.sheet.name)}!{place}"
        return self.ranges[key]


def write_key_row(sheet: SheetWriter, block: Block, row: int) -> None:
    """Write a block's opening row, hidden: its marker in column A and its column keys; row is 0-based."""
    sheet.text(row, 0, block.marker)
    for key, column in block.columns.items():
        sheet.text(row, column, key)
    sheet.set_row_pixels(row, 20, None, {"hidden": True})


def number_format(one: Field) -> str:
    """The number format of a field's cells."""
    return _NUMBER_FORMATS.get(one.type, "General")


def validation(contract: Contract, one: Field, form: str, words: Words, lists: ListSheet) -> dict[str, object]:
    """The drop-down, bounds and prompt of a field's cells, as xlsxwriter's data_validation takes them.

    `form` is the words key of the field's block ("setup.items"). Dates and times are read in many forms and
    judged when they come back, so their cells only carry a prompt.
    """
    title = words(f"{form}.{one.key}.heading")[:PROMPT_TITLE]
    prompt = words(f"{form}.{one.key}.prompt")
    options: dict[str, object] = {"input_title": title, "input_message": prompt[:PROMPT_TEXT], **_bounds(one)}
    if one.type == "choice":
        options |= {"validate": "list", "source": lists.ranges[one.choices]}
        options |= {"error_type": "information"} if one.free else {}
    if options["validate"] != "any":
        options |= {"error_title": title, "error_message": prompt[:ERROR_TEXT]}
    return options


def _bounds(one: Field) -> dict[str, object]:
    if one.type not in ("integer", "number"):
        return {"validate": "any"}
    kind = {"validate": one.type if one.type == "integer" else "decimal"}
    if one.above is not None:
        return {**kind, "criteria": ">", "value": one.above}
    if one.minimum is not None and one.maximum is not None:
        return {**kind, "criteria": "between", "minimum": one.minimum, "maximum": one.maximum}
    if one.minimum is not None:
        return {**kind, "criteria": ">=", "value": one.minimum}
    if one.maximum is not None:
        return {**kind, "criteria": "<=", "value": one.maximum}
    return {"validate": "any"}


def hide(sheet: SheetWriter, form: SheetForm) -> None:
    """Hide a sheet as its definition says."""
    if form.visibility == "hidden":
        sheet.hide()
    elif form.visibility == "very hidden":
        sheet.very_hidden()
