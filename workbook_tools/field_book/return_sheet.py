"""The Return sheet: a row a position in the order of the walk, the visit questions, the parts; what comes back."""

from __future__ import annotations

from workbook_tools.contract.lettering import Fit, fit, lines, width
from workbook_tools.contract.model import KEY_COLUMN, Field
from workbook_tools.contract.writing import SheetWriter, validation, write_key_row
from workbook_tools.field_book.before import before_text, todo_text
from workbook_tools.field_book.canvas import INDENT, Canvas, cell_in
from workbook_tools.field_book.eye import lead_the_eye
from workbook_tools.field_book.given import mark_cells, write_answer
from workbook_tools.field_book.layout import GROUP_ROW, HEADING_ROW, KEY_ROW, TITLE_ROW
from workbook_tools.field_book.paging import blocks_of, page_breaks, page_height
from workbook_tools.field_book.return_styles import ReturnStyles
from workbook_tools.field_book.state import STEPS, StateFormulas
from workbook_tools.field_book.visit_block import VisitWriter
from workbook_tools.program.asked import POSITIONS
from workbook_tools.program.model import Item, Position

_TITLE_HEIGHT, _GROUP_HEIGHT, _SPACE = 34, 22, 14
_ITEM_SIZES, _BRAND_SIZES = (12, 11, 10, 9), (12, 11, 10, 9, 8)
_BEFORE_SIZE = 11
_MOST_LINES = 2
_PADDING = 6


def write_return_sheet(canvas: Canvas, sheet: SheetWriter, workings: SheetWriter, tray_cells: dict[str, str]) -> None:
    """Write the Return sheet, and the steps towards its states on the hidden sheet `workings`.

    `tray_cells` says where each position is drawn, for the links back.
    """
    _ReturnSheet(canvas, sheet, workings, tray_cells).write()


class _ReturnSheet:
    def __init__(self, canvas: Canvas, sheet: SheetWriter, workings: SheetWriter, tray_cells: dict[str, str]) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.workings = workings
        self.states = StateFormulas(canvas.layout, canvas.words, canvas.lists, workings.name)
        self.tray_cells = tray_cells
        self.layout = canvas.layout
        self.columns = canvas.layout.positions.columns
        self.sizes = canvas.look.sizes
        self.styles = ReturnStyles(canvas)
        self.heights: dict[int, int] = {}

    def write(self) -> None:
        """Write all of the sheet."""
        canvas, sheet = self.canvas, self.sheet
        sheet.set_column_pixels(KEY_COLUMN, KEY_COLUMN, 20, None, {"hidden": True})
        for field in self.layout.positions.fields:
            hidden = {"hidden": True} if field.width == 0 else {}
            sheet.set_column_pixels(field.index, field.index, field.width or 60, None, hidden)
        self._head()
        write_key_row(sheet, self.layout.positions, KEY_ROW)
        sheet.freeze_panes(KEY_ROW + 1, 0)
        self._bars()
        mark_cells(canvas, sheet)
        for number, position in enumerate(canvas.walk):
            self._before(position)
            self._position(position, self._state(position, number))
        if canvas.walk:
            self._validations()
            lead_the_eye(canvas, sheet)
        self.heights |= VisitWriter(canvas, sheet, self.styles).write()
        canvas.page(sheet, repeat=(HEADING_ROW, HEADING_ROW), breaks=self._breaks(), tab="waiting", photos=True)

    def _head(self) -> None:
        """The frozen rows: title, counts and links; what belongs together; the headings."""
        canvas, sheet, last = self.canvas, self.sheet, self.layout.last_column
        for row, height in ((TITLE_ROW, _TITLE_HEIGHT), (GROUP_ROW, _GROUP_HEIGHT)):
            sheet.set_row_pixels(row, height)
            self.heights[row] = height
        planned, label = self.columns["as_planned"], self.columns["label"]
        visit = canvas.particulars.visit
        title = canvas.words("revisit.title", visit=visit) if visit > 1 else canvas.words("return.title")
        sheet.merged_text((TITLE_ROW, 1, TITLE_ROW, self.columns["state"]), title, self.styles.title)
        self._count((TITLE_ROW, self.columns["item"], TITLE_ROW, planned - 1))
        areas = ((planned, label), (label + 1, label + 2), (label + 3, last))
        targets = (
            (canvas.words("return.to_visit"), visit_link(canvas)),
            (canvas.words("faces.title", face=canvas.program.faces[0]), self._first_face()),
            canvas.cover_link,
        )
        for (first, end), (text, target) in zip(areas, targets, strict=True):
            if first != end:
                sheet.merge_range(TITLE_ROW, first, TITLE_ROW, end, "", self.styles.title_link)
            canvas.link(sheet, TITLE_ROW, first, target, text, self.styles.title_link)
        groups = ((1, planned - 1, "legend"), (planned, planned, "one_tap"), (label, last, "differs"))
        for first, end, key in groups:
            sheet.merged_text((GROUP_ROW, first, GROUP_ROW, end), canvas.words(f"return.{key}"), self.styles.group)
        sheet.set_row_pixels(HEADING_ROW, self.sizes["heading_row"])
        self.heights[HEADING_ROW] = self.sizes["heading_row"]
        for field in self.layout.positions.fields:
            heading = canvas.words(f"field_book.positions.{field.key}.heading")
            style = self.styles.heading(fit(heading, field.width - _PADDING, (12, 11, 10, 9, 8), 2, bold=True).points)
            sheet.text(HEADING_ROW, field.index, heading, style)

    def _first_face(self) -> str:
        return self.tray_cells[self.canvas.program.walk[0].key]

    def _count(self, area: tuple[int, int, int, int]) -> None:
        formula, blank = self.canvas.counted(self.layout.column_range("state"), len(self.canvas.walk))
        self.sheet.merge_range(*area, "", self.styles.count)
        self.sheet.write_formula(area[0], area[1], formula, self.styles.count, blank)

    def _bars(self) -> None:
        last = self.layout.last_column
        for row, face, shelf in self.layout.bars:
            self.heights[row] = self.sizes["shelf_bar_row"]
            self.sheet.set_row_pixels(row, self.heights[row])
            text = self.canvas.words("return.bar", face=face, shelf=shelf)
            self.sheet.merged_text((row, 1, row, last), text, self.styles.bar)

    def _before(self, position: Position) -> None:
        """In a later visit's book: what was reported before and what to do, in a line above the position."""
        asked, last = self.canvas.particulars.before(POSITIONS, position.key), self.layout.last_column
        if not asked:
            return
        row = self.layout.before_rows[position.key]
        told = before_text(self.canvas.words, asked, POSITIONS, position.key)
        todo = todo_text(self.canvas.words, asked, position.key)
        needed = lines(f"{told}   {todo}", self.layout.width(1, last) - INDENT, _BEFORE_SIZE, bold=True)
        self.heights[row] = Fit(_BEFORE_SIZE, needed).height + _PADDING
        self.sheet.set_row_pixels(row, self.heights[row])
        plain, bold = (self.canvas.style(bold=one, font_size=_BEFORE_SIZE) for one in (False, True))
        pieces = [(plain, f"{told}   "), (bold, todo)]
        self.canvas.rich(self.sheet, (row, 1, row, last), pieces, self.styles.before)

    def _state(self, position: Position, row: int) -> str:
        """Write the steps towards a position's state; gives the formula of its state cell."""
        steps = self.states.steps(position, self.canvas.program.item_at(position), row)
        for column, key in enumerate(STEPS):
            self.workings.write_formula(row, column, f"={steps[key].formula}", None, steps[key].blank)
        return self.states.shown(row)

    def _position(self, position: Position, state: str) -> None:
        canvas, sheet, column = self.canvas, self.sheet, self.columns
        row = self.layout.position_rows[position.key]
        item = canvas.program.item_at(position)
        text = self._item_text(item)
        item_fit = self._fit(text, "item", INDENT, _ITEM_SIZES)
        brand_fit = self._fit(item.brand, "brand", _PADDING, _BRAND_SIZES, bold=True)
        needed = (one.height + _PADDING for one in (item_fit, brand_fit))
        self.heights[row] = max(self.sizes["answer_row"], self.styles.state_height, *needed)
        sheet.set_row_pixels(row, self.heights[row])
        sheet.text(row, KEY_COLUMN, position.key)
        key_fit = self._fit(position.key, "position", _PADDING, _BRAND_SIZES, bold=True)
        link = self.styles.tray_link(key_fit.points)
        canvas.link(sheet, row, column["position"], self.tray_cells[position.key], position.key, link)
        sheet.write_formula(row, column["state"], state, self.styles.state, canvas.words("state.todo"))
        sheet.text(row, column["item"], text, self.styles.locked(item_fit.points))
        sheet.text(row, column["item_code"], item.item_code, self.styles.locked(12))
        frame = canvas.look.colour("frame")
        band = canvas.brand_style(item.brand, border=1, border_color=frame, font_size=brand_fit.points)
        sheet.text(row, column["brand"], item.brand, band)
        for field in self.layout.positions.open_fields:
            self._answer(row, position, field)

    def _answer(self, row: int, position: Position, field: Field) -> None:
        quiet = field.key != "as_planned"
        look = {"shrink": quiet and field.type in ("code", "integer"), "quiet": quiet}
        cell = (POSITIONS, position.key, field.key)
        write_answer(self.sheet, (row, field.index), cell, field, self.styles, **look)

    def _item_text(self, item: Item) -> str:
        """Name and item code, the code on a line of its own where the name leaves one."""
        room = self.layout.positions.by_key["item"].width - INDENT
        return f"{item.item}{chr(10) if width(item.item, _ITEM_SIZES[0]) <= room else ' · '}{item.item_code}"

    def _fit(self, text: str, column: str, taken: int, sizes: tuple[int, ...], bold: bool = False) -> Fit:
        room = self.layout.positions.by_key[column].width - taken
        return fit(text, room, sizes, _MOST_LINES, bold)

    def _rows(self) -> tuple[int, int]:
        rows = self.layout.position_rows.values()
        return min(rows), max(rows)

    def _validations(self) -> None:
        first, last = self._rows()
        canvas = self.canvas
        for field in self.layout.positions.open_fields:
            options = validation(canvas.contract, field, "field_book.positions", canvas.words, canvas.lists)
            self.sheet.data_validation(first, field.index, last, field.index, options)

    def _breaks(self) -> list[int]:
        """A page ends between shelves, before the visit questions or before the parts, never inside them."""
        last = max(self.heights)
        heights = [self.heights.get(row, 0 if row == KEY_ROW else _SPACE) for row in range(last + 1)]
        bars = [row for row, _, _ in self.layout.bars]
        starts = [0, *bars[1:], self.layout.visit_title_row, self.layout.parts_title_row]
        room = page_height(self.sizes["sheet_width"])
        return page_breaks(blocks_of(heights, starts), room, self.sizes["heading_row"])


def visit_link(canvas: Canvas) -> str:
    """Where the visit questions begin, for links."""
    return cell_in(canvas.layout.sheet, canvas.layout.visit_title_row, 1)
