"""The cover: its first screen says where, by when and what to do, and shows live how far the book is filled in."""

from __future__ import annotations

from xlsxwriter.format import Format
from xlsxwriter.utility import xl_rowcol_to_cell

from workbook_tools.contract.lettering import fit
from workbook_tools.contract.names import quoted, sheet_name
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import INDENT, Canvas, cell_in
from workbook_tools.field_book.cover_grid import COLUMN_PX, COLUMNS, FIRST, LAST, CoverGrid
from workbook_tools.field_book.cover_sections import write_sections
from workbook_tools.field_book.return_sheet import visit_link
from workbook_tools.field_book.visit_checks import VisitChecks
from workbook_tools.program.formula_texts import quoted_text
from workbook_tools.program.joined import joined

_HOW_LAST = 14
"""The 0-based last column of "what to do"; the store stands right of it."""
_FACTS_FIRST = 16
_LABEL_COLUMNS = 3
_STEPS = 5
_ROW = 38


def write_cover(canvas: Canvas, sheet: SheetWriter) -> None:
    """Write the cover sheet."""
    cover = _Cover(canvas, sheet)
    cover.write()


class _Cover:
    def __init__(self, canvas: Canvas, sheet: SheetWriter) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.grid = CoverGrid(canvas, sheet)

    def write(self) -> None:
        """The first screen, then the sections below it."""
        grid = self.grid
        self._banner()
        self._what_to_do()
        self._how_far()
        self._buttons()
        write_sections(grid)
        grid.finish()

    def _banner(self) -> None:
        canvas, settings = self.canvas, self.canvas.program.settings
        paint = {"bg_color": "heading", "font_color": "heading_ink"}
        points = fit(settings.name, COLUMNS * COLUMN_PX - INDENT, (24, 20, 16, 13, 11), 2, bold=True)
        title = canvas.style(bold=True, font_size=points.points, text_wrap=True, indent=1, **paint)
        row = self.grid.row(max(46, points.height + 10))
        self.grid.text(row, FIRST, LAST, settings.name, title)
        visit = canvas.particulars.visit
        again = canvas.words("revisit.about", visit=visit) if visit > 1 else ""
        about = joined([again, settings.display, settings.chain, settings.client])
        about_fit = fit(about, COLUMNS * COLUMN_PX - INDENT, (11, 10, 9), 1)
        small = canvas.style(indent=1, text_wrap=True, font_size=about_fit.points, **paint)
        self.grid.text(self.grid.row(about_fit.height + 10), FIRST, LAST, about, small)

    def _what_to_do(self) -> None:
        """Five lines on the left, the store on the right."""
        canvas, grid = self.canvas, self.grid
        grid.space()
        row = grid.row(30)
        grid.text(row, FIRST, _HOW_LAST, canvas.words("cover.how_to"), grid.heading)
        grid.text(row, _FACTS_FIRST, _FACTS_FIRST + 1, canvas.words("cover.store"), grid.heading)
        paint = {"bg_color": "heading", "font_color": "heading_ink"}
        store = canvas.style(bold=True, font_size=16, indent=1, shrink=True, **paint)
        canvas.stamped(self.sheet, (row, _FACTS_FIRST + 2, row, LAST), "store.store", store)
        number = canvas.style(
            bold=True, align="center", font_size=16, font_color="link_ink", bottom=1, border_color="grid"
        )
        rows = []
        for step in range(1, _STEPS + 1):
            text = self._how(step)
            text_fit = fit(text, (_HOW_LAST - FIRST) * COLUMN_PX - INDENT, (12, 11, 10), 2)
            rows.append(grid.row(max(_ROW + 6, text_fit.height + 8)))
            grid.text(rows[-1], FIRST, FIRST, str(step), number)
            plain = canvas.style(text_wrap=True, font_size=text_fit.points, bottom=1, border_color="grid")
            grid.text(rows[-1], FIRST + 1, _HOW_LAST, text, plain)
        self._facts(rows)

    def _how(self, step: int) -> str:
        mail = self.canvas.program.settings.email
        if step == _STEPS and mail:
            return self.canvas.words("cover.how_5_mail", email=mail)
        about = "revisit" if self.canvas.particulars.asked and not self.canvas.asks_all_trays else "cover"
        return self.canvas.words(f"{about}.how_{step}")

    def _facts(self, rows: list[int]) -> None:
        canvas, settings = self.canvas, self.canvas.program.settings
        window = canvas.words("cover.from_to", starts=canvas.date(settings.starts), due=canvas.date(settings.due))
        self._stamped_fact(rows[0], "store_name", "store.name")
        self._stamped_fact(rows[1], "address", "store.address")
        if canvas.shared:
            self._stamped_fact(rows[2], "store_phone", "store.phone")
        else:
            self._stamped_fact(rows[2], "merchandiser", "person.name")
        self._fact(rows[3], "window", window)
        self._fact(rows[4], "contact", joined([settings.contact, settings.phone], "\n"))

    def _label(self, row: int, key: str) -> int:
        first = _FACTS_FIRST
        text = self.canvas.words(f"cover.{key}")
        self.grid.text(row, first, first + _LABEL_COLUMNS - 2, text, self.grid.label)
        return first + _LABEL_COLUMNS - 1

    def _fact(self, row: int, key: str, text: str) -> None:
        first = self._label(row, key)
        room = (LAST - first + 1) * COLUMN_PX - INDENT
        points = fit(text, room, (12, 11, 10, 9), 2, bold=True).points
        style = self.canvas.style(text_wrap=True, bold=True, bottom=1, border_color="grid", font_size=points, indent=1)
        self.grid.text(row, first, LAST, text, style)

    def _stamped_fact(self, row: int, key: str, stamped: str) -> None:
        """A text that is not known yet: small enough for a long address in two lines."""
        first = self._label(row, key)
        style = self.canvas.style(text_wrap=True, bold=True, bottom=1, border_color="grid", font_size=11, indent=1)
        self.canvas.stamped(self.sheet, (row, first, row, LAST), stamped, style)

    def _how_far(self) -> None:
        """Four live counts, each over what it counts, and one live sentence."""
        canvas, grid, layout = self.canvas, self.grid, self.canvas.layout
        states, checks = layout.column_range("state", sheet=True), layout.checks_range()
        total, (visit_open, visit) = len(canvas.walk), self._visit_open(checks)
        trays = cell_in(layout.sheet, 0, 1)
        tiles = (
            ("positions_left", canvas.count(states, "todo"), total, trays),
            ("positions_right", canvas.count(states, "right"), 0, trays),
            ("positions_again", canvas.count(states, "again"), 0, trays),
            ("visit_left", visit_open, visit, visit_link(canvas)),
        )
        grid.space()
        grid.text(grid.row(30), FIRST, LAST, canvas.words("cover.left"), grid.heading)
        numbers, names = grid.row(44), grid.row(26)
        figure = canvas.style(bold=True, font_size=26, align="center", left=1, right=1, border_color="grid")
        name = canvas.style(
            bold=True,
            underline=1,
            font_color="link_ink",
            align="center",
            left=1,
            right=1,
            bottom=1,
            border_color="grid",
        )
        across = COLUMNS // len(tiles)
        cells = {}
        for place, (key, formula, cached, target) in enumerate(tiles):
            first = FIRST + place * across
            last = first + across - 1
            self.sheet.merge_range(numbers, first, numbers, last, "", figure)
            self.sheet.write_formula(numbers, first, f"={formula}", figure, cached)
            self.sheet.merge_range(names, first, names, last, "", name)
            canvas.link(self.sheet, names, first, target, canvas.words(f"cover.{key}"), name)
            cells[key] = xl_rowcol_to_cell(numbers, first, row_abs=True, col_abs=True)
            self._tile_colour((numbers, first, names, last), cells[key], key)
        self._verdict(cells)

    def _visit_open(self, checks: str) -> tuple[str, int]:
        """What counts the visit questions that are open and parts asked for again, and how many a blank book has."""
        canvas, layout, made = self.canvas, self.canvas.layout, VisitChecks(self.canvas)
        asked = [field for field in layout.visit.fields if canvas.particulars.asks(layout.visit.key, field.key)]
        results = [made.of(field)[1] for field in asked]
        results += [made.part(part, layout.part_rows[part.part])[1] for part in canvas.parts]
        formula = f"{canvas.count(checks, 'todo')}+{canvas.count(checks, 'again')}"
        if canvas.particulars.asked and canvas.parts:
            formula += f"+{canvas.count(layout.part_checks_range(), 'todo')}"
        return formula, sum(result.startswith(made.open_mark) for result in results)

    def _tile_colour(self, area: tuple[int, int, int, int], cell: str, key: str) -> None:
        canvas = self.canvas
        tests = {"positions_right": (f"{cell}>0", "right"), "positions_again": (f"{cell}>0", "again")}
        test, colour = tests.get(key, (f"{cell}=0", "right"))
        ink = canvas.look.colour(f"{colour}_ink")
        style = canvas.book.format(bg_color=canvas.look.colour(colour), font_color=ink)
        self.sheet.conditional_format(*area, {"type": "formula", "criteria": f"={test}", "format": style})

    def _verdict(self, cells: dict[str, str]) -> None:
        canvas = self.canvas
        said = {key: quoted_text(canvas.words(f"cover.{key}")) for key in ("not_ready", "ready_again", "ready")}
        formula = (
            f"=IF({cells['positions_left']}+{cells['visit_left']}>0,{said['not_ready']},"
            f"IF({cells['positions_again']}>0,{said['ready_again']},{said['ready']}))"
        )
        style = canvas.style(bold=True, align="center", font_size=13, bottom=1, left=1, right=1, border_color="grid")
        row = self.grid.row(32)
        self.sheet.merge_range(row, FIRST, row, LAST, "", style)
        self.sheet.write_formula(row, FIRST, formula, style, canvas.words("cover.not_ready"))
        cell = xl_rowcol_to_cell(row, FIRST, row_abs=True, col_abs=True)
        canvas.state_colours(self.sheet, (row, FIRST, row, LAST), cell)

    def _buttons(self) -> None:
        """Large links to every other sheet."""
        canvas, grid = self.canvas, self.grid
        places = [(canvas.face_sheet(face), canvas.words("cover.go_face", face=face)) for face in canvas.program.faces]
        places += [
            (canvas.layout.sheet, canvas.words("cover.go_return")),
            (sheet_name(canvas.words("items.sheet")), canvas.words("cover.go_items")),
            (sheet_name(canvas.words("tags.sheet")), canvas.words("cover.go_tags")),
        ]
        if canvas.shared:
            self._pick_store()
        grid.space()
        style = self._button()
        for start in range(0, len(places), 6):
            some = places[start : start + 6]
            row = grid.row(40)
            across = COLUMNS // len(some)
            for number, (sheet, text) in enumerate(some):
                first = FIRST + number * across
                last = LAST if number == len(some) - 1 else first + across - 1
                self.sheet.merge_range(row, first, row, last, "", style)
                canvas.link(self.sheet, row, first, f"{quoted(sheet)}!$A$1", text, style)

    def _pick_store(self) -> None:
        """In a shared book the first thing to do is to say which store this is."""
        row = self.grid.row(36)
        style = self.canvas.style(bold=True, underline=1, align="center", bg_color="waiting", font_color="link_ink")
        self.sheet.merge_range(row, FIRST, row, LAST, "", style)
        target = self.canvas.layout.visit_cell("store", sheet=True)
        self.canvas.link(self.sheet, row, FIRST, target, self.canvas.words("cover.pick_store"), style)

    def _button(self) -> Format:
        paint = {"bg_color": "notice", "font_color": "link_ink", "border_color": "link_ink"}
        return self.canvas.style(bold=True, underline=1, align="center", border=1, text_wrap=True, **paint)
