"""program-checked.xlsx: a copy of the setup in which every finding is marked in its cell and listed on a sheet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from io import BytesIO
from typing import Any

import openpyxl
from openpyxl.cell.cell import MergedCell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.properties import PageSetupProperties

from workbook_tools.contract.findings import Finding
from workbook_tools.contract.look import default_look
from workbook_tools.contract.model import SEVERITIES
from workbook_tools.contract.names import quoted, sheet_name
from workbook_tools.contract.words import Words
from workbook_tools.contract.writing import legal_text
from workbook_tools.program.wrapped import most_lines

AUTHOR = "workbook-tools"
_FILLS = {"must mend": "again", "look at": "waiting", "note": "notice"}
"""Severity → the colour of its mark, by its name in look.toml."""
_MOST_COMMENTS = 400
"""Comments a sheet gets, the gravest first: with many thousands, workbooks open slowly. Colours have no limit."""
_WIDTH, _LINE, _CHARACTERS = 320, 18, 44
"""Pixels of a comment's width and of a line, and about how many characters stand on one."""
_COLUMNS = (("severity", 16), ("sheet", 16), ("cell", 8), ("problem", 70), ("todo", 70))
"""Columns of the list and their widths in characters."""
_CHARACTER, _LINE_POINTS = 7, 15
"""Pixels of a character by which widths are counted, and points of a line of text."""


class UnmarkableWorkbookError(Exception):
    """The library that changes workbooks cannot load this one; a caller turns it into a sentence."""


def marked_setup(data: bytes, findings: Sequence[Finding], words: Words) -> bytes:
    """The workbook with its findings marked. Raises UnmarkableWorkbookError."""
    try:
        book = openpyxl.load_workbook(BytesIO(data))
    except Exception as slip:
        raise UnmarkableWorkbookError(str(slip) or type(slip).__name__) from None
    by_sheet: defaultdict[str, list[Finding]] = defaultdict(list)
    for finding in findings:
        by_sheet[finding.sheet].append(finding)
    for name, found in by_sheet.items():
        if name in book.sheetnames:
            _mark(book[name], found, words)
    _list(book, findings, words)
    saved = BytesIO()
    book.save(saved)
    return saved.getvalue()


def _mark(sheet: Any, findings: Iterable[Finding], words: Words) -> None:
    cells: defaultdict[str, list[Finding]] = defaultdict(list)
    for finding in findings:
        cells[finding.cell or "B1"].append(finding)
    look = default_look()
    gravest = sorted(cells.items(), key=lambda one: min(map(_rank, one[1])))
    for number, (address, found) in enumerate(gravest):
        cell = _anchor(sheet, address)
        found.sort(key=_rank)
        colour = look.colours[_FILLS[found[0].severity]]
        cell.fill = PatternFill("solid", start_color=colour, end_color=colour)
        if number < _MOST_COMMENTS:
            _comment(cell, found, words)


def _comment(cell: Any, findings: Iterable[Finding], words: Words) -> None:
    """Say what is wrong beside the cell, under what a person has said there."""
    said = [cell.comment.text] if cell.comment and cell.comment.author != AUTHOR else []
    said += [f"{words(f'severity.{one.severity}')}: {one.problem(words)} {one.todo(words)}" for one in findings]
    text = legal_text("\n\n".join(said))
    lines = sum(1 + len(line) // _CHARACTERS for line in text.split("\n"))
    cell.comment = Comment(text, AUTHOR, height=_LINE * (lines + 1), width=_WIDTH)


def _anchor(sheet: Any, address: str) -> Any:
    """The cell at an address; of merged ones that which holds the value."""
    cell = sheet[address]
    if isinstance(cell, MergedCell):
        area = next(one for one in sheet.merged_cells.ranges if address in one)
        return sheet.cell(area.min_row, area.min_col)
    return cell


def _rank(finding: Finding) -> int:
    return SEVERITIES.index(finding.severity)


def _list(book: Any, findings: Sequence[Finding], words: Words) -> None:
    """The first sheet: every finding with a link to its cell."""
    name = sheet_name(words("marked.sheet"))
    if name in book.sheetnames:
        book.remove(book[name])
    sheet = book.create_sheet(name, 0)
    book.active = 0
    for other in book.worksheets[1:]:
        other.sheet_view.tabSelected = False
    look = default_look()
    sheet.append([words("marked.title", count=len(findings))])
    sheet.row_dimensions[1].height = 30
    sheet.page_setup.orientation, sheet.page_setup.fitToHeight = "landscape", 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet["A1"].font = Font(name=look.font, size=look.type_sizes["title"], bold=True)
    sheet.append([words(f"marked.columns.{key}") for key, _ in _COLUMNS])
    heading = PatternFill("solid", start_color=look.colours["heading"], end_color=look.colours["heading"])
    for number, (_, width) in enumerate(_COLUMNS, start=1):
        cell = sheet.cell(2, number)
        cell.fill, cell.font = heading, Font(name=look.font, bold=True, color=look.colours["heading_ink"])
        sheet.column_dimensions[cell.column_letter].width = width
    for finding in sorted(findings, key=_rank):
        _line(sheet, finding, words, set(book.sheetnames))
    sheet.freeze_panes = "A3"
    sheet.auto_filter.ref = f"A2:{sheet.cell(sheet.max_row, len(_COLUMNS)).coordinate}"


def _line(sheet: Any, finding: Finding, words: Words, sheets: set[str]) -> None:
    severity = words(f"severity.{finding.severity}")
    texts = (severity, finding.sheet, finding.cell, finding.problem(words), finding.todo(words))
    row = sheet.max_row + 1
    lines = most_lines((text, width * _CHARACTER) for text, (_, width) in zip(texts, _COLUMNS, strict=True))
    sheet.row_dimensions[row].height = _LINE_POINTS * lines
    look = default_look()
    colour = look.colours[_FILLS[finding.severity]]
    for number, text in enumerate(texts, start=1):
        cell = sheet.cell(row, number)
        cell.value = legal_text(text)
        cell.data_type = "s"
        cell.font = Font(name=look.font)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    sheet.cell(row, 1).fill = PatternFill("solid", start_color=colour, end_color=colour)
    if finding.sheet in sheets:
        link = sheet.cell(row, 3)
        place = f"{quoted(finding.sheet)}!{finding.cell or 'A1'}"
        link.hyperlink = Hyperlink(ref=link.coordinate, location=place)
        link.font = Font(name=look.font, underline="single", color=look.colours["link_ink"])
