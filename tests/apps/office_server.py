"""Carries out JSON commands in a running LibreOffice; run by a Python that has `uno`, not by the project's own.

Usage: PYTHON office_server.py PIPE SECONDS < commands.json > answer.json
PIPE is the name under which LibreOffice listens, SECONDS how long to wait for it. Input: a list of commands, each an
object with `do` (a key of COMMANDS) and the fields that its function names. Output: {"results": [...]}, one a command;
or, at the first command that fails, {"error": sentence, "command": its index from 0, "alive": whether LibreOffice still
answers}. ASCII only, so that no system's default encoding matters. Written for Python 3.8, which some versions of
LibreOffice bring along.

A cell's value is null, text, a number, true/false, {"date" or "time" or "datetime": ISO text} or {"error": text}.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import sys
import time
from typing import Any

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.lang import DisposedException

# com.sun.star.util.NumberFormat, as bits
DATE, TIME, LOGICAL = 2, 4, 1024
FILTERS = {"xlsx": "Calc MS Excel 2007 XML", "xls": "MS Excel 97", "ods": "calc8", "pdf": "calc_pdf_Export"}
PIXEL = 2540 / 96  # hundredths of a millimetre, at the 96 dpi that spreadsheet programs reckon with on a screen

Json = Any


class Book:
    """One document, open in LibreOffice with a window that nobody sees: typing needs one."""

    def __init__(self, context: Json, url: str) -> None:
        services = context.ServiceManager
        desktop = services.createInstanceWithContext("com.sun.star.frame.Desktop", context)
        self.dispatcher = services.createInstanceWithContext("com.sun.star.frame.DispatchHelper", context)
        arguments = properties(Hidden=False, MacroExecutionMode=0, UpdateDocMode=0)
        self.document = desktop.loadComponentFromURL(url, "_blank", 0, arguments)
        if self.document is None or not hasattr(self.document, "Sheets"):
            self.close()
            raise ValueError("LibreOffice did not open it as a spreadsheet")
        self.controller = self.document.CurrentController
        self.frame = self.controller.Frame
        # Each object that LibreOffice hands out costs milliseconds; these are asked for again and again.
        self._sheets: dict[str, Json] = {}
        self._kinds: dict[int, int] = {}

    def __enter__(self) -> Book:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the document without saving; harmless where there is none left to close."""
        if self.document is not None:
            with contextlib.suppress(DisposedException):
                self.document.close(True)

    def sheet(self, name: str) -> Json:
        """The sheet of that name, hidden ones too; ValueError if there is none."""
        if name not in self._sheets:
            sheets = self.document.Sheets
            if not sheets.hasByName(name):
                raise ValueError("no sheet {!r}; there are {}".format(name, ", ".join(sheets.ElementNames)))
            self._sheets[name] = sheets.getByName(name)
        return self._sheets[name]

    def dispatch(self, command: str, **arguments: Json) -> None:
        """What a key, a menu or a click would do."""
        self.dispatcher.executeDispatch(self.frame, ".uno:" + command, "", 0, properties(**arguments))

    def store(self, command: dict[str, Json]) -> None:
        """Save a copy to `target` in `format`, a key of FILTERS."""
        self.document.storeToURL(command["target"], properties(FilterName=FILTERS[command["format"]]))

    def value(self, cell: Json) -> Json:
        """The value of one cell."""
        [[item]] = cell.getDataArray()
        if isinstance(item, float):
            return self._from_number(item, self._kind(cell))
        if item is None:
            return {"error": cell.String}
        return item if cell.Formula else None

    def values(self, cells: Json) -> list[list[Json]]:
        """The values of a cell range, row by row."""
        data = cells.getDataArray()
        formulas = cells.getFormulaArray()
        rows = [[None if not formulas[r][c] else item for c, item in enumerate(row)] for r, row in enumerate(data)]
        for r, row in enumerate(data):
            for c in (c for c, item in enumerate(row) if item is None):
                rows[r][c] = {"error": cells.getCellByPosition(c, r).String}
        self._show_by_format(cells, rows)
        return rows

    def _show_by_format(self, cells: Json, rows: list[list[Json]]) -> None:
        top, left = cells.RangeAddress.StartRow, cells.RangeAddress.StartColumn
        groups = cells.getUniqueCellFormatRanges()
        for group in (groups.getByIndex(i) for i in range(groups.Count)):
            kind = self._kind(group.getByIndex(0))
            if not kind & (DATE | TIME | LOGICAL):
                continue
            for area in group.RangeAddresses:
                for row in rows[area.StartRow - top : area.EndRow - top + 1]:
                    for c in range(area.StartColumn - left, area.EndColumn - left + 1):
                        if isinstance(row[c], float):
                            row[c] = self._from_number(row[c], kind)

    def _kind(self, cells: Json) -> int:
        key = cells.NumberFormat
        if key not in self._kinds:
            self._kinds[key] = self.document.NumberFormats.getByKey(key).Type
        return self._kinds[key]

    def _from_number(self, number: float, kind: int) -> Json:
        if kind & LOGICAL:
            return bool(number)
        if not kind & (DATE | TIME):
            return number
        null = self.document.NullDate
        try:
            moment = datetime.datetime(null.Year, null.Month, null.Day) + datetime.timedelta(days=number)
        except OverflowError:
            return number
        if not kind & DATE:
            return {"time": moment.time().isoformat()} if 0 <= number < 1 else number
        return {"datetime": moment.isoformat()} if kind & TIME else {"date": moment.date().isoformat()}


def edit(context: Json, command: dict[str, Json]) -> list[Json]:
    """Open `source`, type the `edits` ({sheet, cell, text}) and save to `target` as `format`.

    Answers, for each edit, {before, after, refused}: the cell's values, and why it was not taken, or "".
    """
    with Book(context, command["source"]) as book:
        if command["recalculate"]:
            book.document.calculateAll()
        book.document.lockControllers()  # nobody watches: not drawing after each edit halves its cost
        done = [type_in(book, **item) for item in command["edits"]]
        book.document.unlockControllers()
        if command["recalculate"]:
            book.document.calculateAll()
        book.store(command)
    return done


def type_in(book: Book, sheet: str, cell: str, text: str) -> Json:
    """Go to the cell, type the text and press Enter; what stood there before and stands there now."""
    target = book.sheet(sheet)
    place = target.getCellRangeByName(cell)
    before, formula = book.value(place), place.Formula
    refused = reach(book, target, place)
    if not refused:
        book.dispatch("EnterString", StringName=text)
        # Compared as well as asked: what was changed was not refused, whatever the flags say.
        if place.Formula == formula and target.isProtected() and place.CellProtection.IsLocked:
            refused = "locked"
    return {"before": before, "after": book.value(place), "refused": refused}


def reach(book: Book, sheet: Json, place: Json) -> str:
    """Put the cursor on the cell as a person could; why that cannot be done, or ""."""
    if not sheet.IsVisible or not place.queryVisibleCells().Count:
        return "hidden"
    book.controller.setActiveSheet(sheet)
    wanted = place.RangeAddress
    book.dispatch("GoToCell", ToPoint=place.AbsoluteName.rpartition(".")[2])
    selected = book.document.CurrentSelection.RangeAddress
    if (selected.Sheet, selected.StartRow, selected.StartColumn) == (wanted.Sheet, wanted.StartRow, wanted.StartColumn):
        return ""
    return "merged"


def pdf(context: Json, command: dict[str, Json]) -> None:
    """Print `source`, recalculated, to `target`: the sheets that are not hidden, or `sheet` alone.

    With `screen`, [width, height] in pixels, each page is a screenful.
    """
    with Book(context, command["source"]) as book:
        book.document.calculateAll()
        if command["sheet"] is not None:
            show_only(book, command["sheet"])
        if command["screen"] is not None:
            lay_out_for_screen(book, *command["screen"])
        book.store(command)


def show_only(book: Book, name: str) -> None:
    """Hide all other sheets, so that this one alone is printed."""
    book.sheet(name).IsVisible = True
    book.controller.setActiveSheet(book.sheet(name))
    for other in book.document.Sheets.ElementNames:
        book.sheet(other).IsVisible = other == name


def lay_out_for_screen(book: Book, width: int, height: int) -> None:
    """Make each page a screenful at 100 %: no margins, grid lines and frozen panes as on the screen."""
    sheets = [book.sheet(name) for name in book.document.Sheets.ElementNames]
    for sheet in sheets:
        sheet.setPrintAreas(())  # of all sheets: while one of them has a print area, those without are not printed
    for sheet in (sheet for sheet in sheets if sheet.IsVisible):
        sheet.removeAllManualPageBreaks()
        book.controller.setActiveSheet(sheet)
        repeat_frozen_panes(book.controller, sheet)
        set_page(book, sheet, width, height)


def set_page(book: Book, sheet: Json, width: int, height: int) -> None:
    """Give the sheet, which is the active one, bare pages of this size in pixels."""
    style = book.document.StyleFamilies.getByName("PageStyles").getByName(sheet.PageStyle)
    style.HeaderIsOn = style.FooterIsOn = style.CenterHorizontally = style.CenterVertically = False
    style.LeftMargin = style.RightMargin = style.TopMargin = style.BottomMargin = 0
    style.ScaleToPagesX = style.ScaleToPagesY = style.ScaleToPages = 0
    style.PageScale = 100
    style.PrintGrid = book.controller.ShowGrid
    style.IsLandscape = width > height
    style.Width, style.Height = round(width * PIXEL), round(height * PIXEL)


def repeat_frozen_panes(controller: Json, sheet: Json) -> None:
    """Have the rows and columns that stand still on the screen, and no others, repeated on every page."""
    frozen = controller.hasFrozenPanes()
    rows, columns = (controller.SplitRow, controller.SplitColumn) if frozen else (0, 0)
    sheet.setPrintTitleRows(rows > 0)
    sheet.setPrintTitleColumns(columns > 0)
    if rows:
        sheet.setTitleRows(sheet.getCellRangeByPosition(0, 0, 0, rows - 1).RangeAddress)
    if columns:
        sheet.setTitleColumns(sheet.getCellRangeByPosition(0, 0, columns - 1, 0).RangeAddress)


def values(context: Json, command: dict[str, Json]) -> list[list[Json]]:
    """The rows of `sheet` in `source`, recalculated, from A1 to the last cell in use."""
    with Book(context, command["source"]) as book:
        book.document.calculateAll()
        sheet = book.sheet(command["sheet"])
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        last = cursor.RangeAddress
        return book.values(sheet.getCellRangeByPosition(0, 0, last.EndColumn, last.EndRow))


def end(context: Json, _: dict[str, Json]) -> None:
    """End LibreOffice; it goes before it can answer."""
    desktop = context.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", context)
    with contextlib.suppress(DisposedException):
        desktop.terminate()


COMMANDS = {"edit": edit, "pdf": pdf, "values": values, "end": end}


def properties(**named: Json) -> tuple[PropertyValue, ...]:
    """UNO's form of named arguments."""
    found = []
    for name, value in named.items():
        item = PropertyValue()
        item.Name, item.Value = name, value
        found.append(item)
    return tuple(found)


def connect(pipe: str, seconds: float) -> Json:
    """The context of the LibreOffice that listens on the pipe, as soon as it does."""
    ours = uno.getComponentContext()
    resolver = ours.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", ours)
    last = time.monotonic() + seconds
    while True:
        try:
            return resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except NoConnectException:
            if time.monotonic() > last:
                raise
            time.sleep(0.1)


def carry_out(pipe: str, seconds: float, commands: list[dict[str, Json]]) -> Json:
    """The answer to the commands, in the form given above."""
    results: list[Json] = []
    context = None
    try:
        context = connect(pipe, seconds)
        results.extend(COMMANDS[command["do"]](context, command) for command in commands)
    except Exception as error:  # UNO's errors share no narrower root, and each must reach the caller as text
        told = " ".join(str(error).split())
        return {"error": f"{type(error).__name__}: {told}", "command": len(results), "alive": answers(context)}
    return {"results": results}


def answers(context: Json) -> bool:
    """Whether LibreOffice is still there."""
    try:
        return bool(context.ServiceManager.AvailableServiceNames)
    except Exception:  # whatever it is, it was not an answer
        return False


if __name__ == "__main__":
    json.dump(carry_out(sys.argv[1], float(sys.argv[2]), json.load(sys.stdin)), sys.stdout)
    sys.stdout.flush()
    os._exit(0)  # uno's own threads sometimes crash a Python that ends in the usual way
