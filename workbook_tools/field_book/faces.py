"""One sheet a face: the display drawn shelf by shelf as the merchandiser sees it, with the live state of every tray."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from xlsxwriter.format import Format

from workbook_tools.contract.names import quoted
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import Canvas, cell_in
from workbook_tools.field_book.paging import page_breaks, page_height
from workbook_tools.field_book.trays import LineRows, TrayWriter
from workbook_tools.program.exact import exact
from workbook_tools.program.face_plan import FacePlan, Line, plan_face
from workbook_tools.program.joined import joined

FIRST_COLUMN = 1
"""0-based column of the drawing's left edge; column A is the display's left side, with the shelf numbers."""
_HEADER_ROW, _LEGEND_ROW, _FIRST_LINE_ROW = 0, 1, 2
_HEADER_HEIGHT, _LEGEND_HEIGHT, _BOARD_HEIGHT, _FOOT_HEIGHT = 38, 24, 10, 16
_LINK_COLUMNS, _MOST_LINKED, _MOST_NAMED = 6, 7, 3
"""Columns of a link; how many other faces are linked, and how many of them by more than their letter."""


def write_face_sheets(canvas: Canvas, sheets: Mapping[str, SheetWriter]) -> dict[str, str]:
    """Write the sheet of each face; returns where each position's tray is drawn (`'Face A'!$B$5`), for links."""
    cells: dict[str, str] = {}
    for face, sheet in sheets.items():
        cells |= _FaceSheet(canvas, face, sheet).write()
    return cells


class _FaceSheet:
    def __init__(self, canvas: Canvas, face: str, sheet: SheetWriter) -> None:
        self.canvas = canvas
        self.face = face
        self.sheet = sheet
        self.sizes = canvas.look.sizes
        self.columns = self.sizes["face_columns"]
        self.column_width = (self.sizes["sheet_width"] - 2 * self.sizes["margin"]) // self.columns
        self.last = FIRST_COLUMN + self.columns - 1
        self.plan: FacePlan = plan_face(canvas.program, face, self.columns, self.sizes["least_tray_columns"])
        self.trays = TrayWriter(canvas, sheet, FIRST_COLUMN, self.column_width)
        small = canvas.look.type_sizes["small"]
        self.quiet = canvas.style(font_color="quiet_ink", font_size=small)
        self.number = canvas.style(bold=True, align="center", bg_color="board")
        self.board = canvas.style(bg_color="board", bottom=1, border_color="frame")
        self.foot = canvas.style(bg_color="heading", font_color="heading_ink")

    def write(self) -> dict[str, str]:
        """Write the sheet; returns the cell of each position's tray."""
        sheet, margin = self.sheet, self.sizes["margin"]
        sheet.set_column_pixels(0, 0, margin)
        sheet.set_column_pixels(FIRST_COLUMN, self.last, self.column_width)
        sheet.set_column_pixels(self.last + 1, self.last + 1, margin)
        self._header()
        self._legend()
        row = _FIRST_LINE_ROW
        cells: dict[str, str] = {}
        blocks = [(0, _HEADER_HEIGHT + _LEGEND_HEIGHT)]
        for line, rows in self._lines():
            cells |= self._line(row, line, rows)
            blocks.append((row, sum(rows.heights) + _BOARD_HEIGHT))
            row += len(rows.heights) + 1
        sheet.set_row_pixels(row, _FOOT_HEIGHT)
        sheet.merged_text((row, 0, row, self.last + 1), "", self.foot)
        sheet.freeze_panes(_LEGEND_ROW, 0)
        self._page(blocks)
        return cells

    def _page(self, blocks: list[tuple[int, int]]) -> None:
        """A face that is not much taller than a page is fitted to one; a taller one runs on between its shelves."""
        width = self.sizes["sheet_width"]
        if sum(height for _, height in blocks) + _FOOT_HEIGHT <= width:
            self.canvas.page(self.sheet, landscape=True, down=1, tab="board")
            return
        breaks = page_breaks(blocks, page_height(width, landscape=True), _HEADER_HEIGHT)
        head = (_HEADER_ROW, _HEADER_ROW)
        self.canvas.page(self.sheet, landscape=True, breaks=breaks, repeat=head, tab="board")

    def _header(self) -> None:
        canvas, sheet, row = self.canvas, self.sheet, _HEADER_ROW
        paint = {"bg_color": "heading", "font_color": "heading_ink"}
        title = canvas.style(bold=True, font_size=canvas.look.type_sizes["title"], indent=1, **paint)
        count = canvas.style(bold=True, align="center", shrink=True, **paint)
        button = {"bg_color": "notice", "font_color": "link_ink", "border_color": "heading"}
        link = canvas.style(bold=True, align="center", underline=1, border=5, shrink=True, **button)
        sheet.set_row_pixels(row, _HEADER_HEIGHT)
        quarter = self.columns // 4
        links = self._links()
        wide = min(_LINK_COLUMNS, (self.columns - 2 * quarter) // len(links))
        edge = self.last + 1 - wide * len(links)
        sheet.merged_text((row, 0, row, quarter), canvas.words("faces.title", face=self.face), title)
        self._count((row, quarter + 1, row, edge - 1), count)
        for text, target in links:
            sheet.merge_range(row, edge, row, edge + wide - 1, "", link)
            canvas.link(sheet, row, edge, target, text, link)
            edge += wide
        sheet.write_blank(row, self.last + 1, None, title)

    def _links(self) -> list[tuple[str, str]]:
        """The other faces (of very many, the one before and the one after), the Return sheet and the cover."""
        canvas, faces = self.canvas, self.canvas.program.faces
        here = faces.index(self.face)
        others = [one for one in faces if one != self.face]
        if len(others) > _MOST_LINKED:
            others = [faces[number] for number in (here - 1, here + 1) if 0 <= number < len(faces)]
        named = len(others) <= _MOST_NAMED
        links = [
            (canvas.words("faces.title", face=one) if named else one, f"{quoted(canvas.face_sheet(one))}!$A$1")
            for one in others
        ]
        links.append((canvas.words("faces.to_return"), cell_in(canvas.layout.sheet, 0, 1)))
        links.append(canvas.cover_link)
        return links

    def _count(self, area: tuple[int, int, int, int], style: Format) -> None:
        """How many trays of this face are to do, to look at again, right: live."""
        canvas = self.canvas
        here = [position for position in canvas.walk if position.face == self.face]
        if not here:
            self.sheet.merged_text(area, canvas.words("revisit.as_before"), style)
            return
        states = [canvas.layout.position_cell(position, "state") for position in here]
        cells = f"{states[0]}:{states[-1].rpartition('!')[2]}"
        formula, blank = canvas.counted(cells, len(here))
        self.sheet.merge_range(*area, "", style)
        self.sheet.write_formula(area[0], area[1], formula, style, blank)

    def _legend(self) -> None:
        canvas, sheet, row = self.canvas, self.sheet, _LEGEND_ROW
        code = canvas.program.settings.item_code_name or canvas.words("items.item_code")
        text = joined([canvas.words("faces.legend", code=code), canvas.words(f"faces.{self.plan.scale}")], " ")
        sheet.set_row_pixels(row, _LEGEND_HEIGHT)
        sheet.merged_text((row, FIRST_COLUMN, row, self.last), text, self.quiet)

    def _lines(self) -> Iterator[tuple[Line, LineRows]]:
        """The lines with the heights of their rows, the goods in proportion to the shelves' clear heights."""
        plain = [self.trays.rows(line, 0) for line in self.plan.lines]
        taken = sum(sum(rows.heights) + _BOARD_HEIGHT for rows in plain)
        heights = [exact(line.shelf.height or 0) for line in self.plan.lines]
        room, total = max(self.sizes["face_height"] - taken, 0), sum(heights)
        for line, height in zip(self.plan.lines, heights, strict=True):
            share = height / total if total and min(heights) else Fraction(1, len(heights))
            goods = min(max(int(room * share), self.sizes["least_goods"]), self.sizes["most_goods"])
            yield line, self.trays.rows(line, goods)

    def _line(self, row: int, line: Line, rows: LineRows) -> dict[str, str]:
        sheet = self.sheet
        for offset, height in enumerate((*rows.heights, _BOARD_HEIGHT)):
            sheet.set_row_pixels(row + offset, height)
        last = row + len(rows.heights)
        right = FIRST_COLUMN + line.columns
        sheet.merge_range(row, 0, last - 1, 0, "", self.number)
        sheet.write_number(row, 0, line.shelf.shelf, self.number)
        sheet.merge_range(row, right, last - 1, right, "", self.number)
        sheet.merged_text((last, 0, last, right), "", self.board)
        return {tray.position.key: self.trays.write(row, rows, tray) for tray in line.trays}
