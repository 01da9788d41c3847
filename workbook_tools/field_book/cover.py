"""The cover: what this is, where, by when, what to bring, how to build it safely, and what is left to fill in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from xlsxwriter.format import Format

from workbook_tools.contract.names import quoted
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.field_book.canvas import Canvas, cell_in, joined
from workbook_tools.field_book.return_sheet import visit_link
from workbook_tools.program.model import Step

_WIDTHS = (26, 60, 250, 110, 110, 110, 110, 176)
_FIRST, _LAST = 1, 7
_STEP_HEIGHT = 84
_CAUTIONS = ("cutters", "edges", "lifting", "aisles", "ladders")


def write_cover(canvas: Canvas, sheet: SheetWriter) -> None:
    """Write the cover sheet."""
    _Cover(canvas, sheet).write()


class _Cover:
    def __init__(self, canvas: Canvas, sheet: SheetWriter) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.row = 0
        style = canvas.style
        sizes = canvas.look.type_sizes
        self.title = style(bold=True, font_size=sizes["title"], text_wrap=True)
        self.heading = style(
            bold=True, font_size=sizes["subtitle"], bg_color="heading", font_color="heading_ink", indent=1
        )
        self.label = style(bold=True, bg_color="locked", border=1, border_color="grid", indent=1, text_wrap=True)
        self.value = style(border=1, border_color="grid", indent=1, text_wrap=True)
        self.plain = style(text_wrap=True, indent=1)
        self.link = style(bold=True, underline=1, font_color="link_ink", indent=1)
        self.caution = style(bold=True, bg_color="caution", border=1, border_color="frame", align="center")
        self.notice = style(bold=True, bg_color="notice", border=1, border_color="frame", align="center", italic=True)
        self.number = style(bold=True, border=1, border_color="grid", align="center", font_size=sizes["subtitle"])

    def write(self) -> None:
        for column, width in enumerate(_WIDTHS):
            self.sheet.set_column_pixels(column, column, width)
        self._top()
        self._left_to_do()
        self._how_to()
        self._facts()
        self._carton()
        self._cautions()
        self._kit()
        self._steps()
        self._before_leaving()
        self.canvas.page(self.sheet, landscape=False)

    def _words(self, key: str, **values: object) -> str:
        return self.canvas.words(f"cover.{key}", **values)

    def _line(self, text: str, style: Format, height: int = 26) -> None:
        self.sheet.set_row_pixels(self.row, height)
        self.sheet.merged_text((self.row, _FIRST, self.row, _LAST), text, style)
        self.row += 1

    def _section(self, key: str) -> None:
        self.sheet.set_row_pixels(self.row, 12)
        self.row += 1
        self._line(self._words(key), self.heading, 30)

    def _pair(self, label: str, text: str, height: int = 26) -> None:
        if not text:
            return
        self.sheet.set_row_pixels(self.row, height)
        self.sheet.merged_text((self.row, _FIRST, self.row, _FIRST + 1), label, self.label)
        self.sheet.merged_text((self.row, _FIRST + 2, self.row, _LAST), text, self.value)
        self.row += 1

    def _stamped_pair(self, label: str, key: str, height: int = 26) -> None:
        self.sheet.set_row_pixels(self.row, height)
        self.sheet.merged_text((self.row, _FIRST, self.row, _FIRST + 1), label, self.label)
        self.canvas.stamped(self.sheet, (self.row, _FIRST + 2, self.row, _LAST), key, self.value)
        self.row += 1

    def _top(self) -> None:
        settings = self.canvas.program.settings
        self._line(settings.name, self.title, 44)
        if about := joined([settings.display, settings.chain, settings.client]):
            self._line(about, self.plain)
        self._stamped_pair(self._words("store"), "store.store")
        self._stamped_pair(self._words("store_name"), "store.name")
        self._stamped_pair(self._words("address"), "store.address", 44)
        if not self.canvas.shared:
            self._stamped_pair(self._words("merchandiser"), "person.name")
        window = self._words("from_to", starts=settings.starts.isoformat(), due=settings.due.isoformat())
        self._pair(self._words("window"), window)
        self._pair(self._words("contact"), joined([settings.contact, settings.phone, settings.email]))

    def _left_to_do(self) -> None:
        canvas = self.canvas
        self._section("left")
        states = canvas.layout.state_range()
        asked = ("visit_date", "time_in", "time_out", "place", "carton", "built", "tags_asked", "photo")
        needed = [canvas.layout.visit_cell(key, sheet=True) for key in asked]
        blank = "+".join(f'({cell}="")' for cell in needed)
        todo, again = canvas.words("state.todo_mark"), canvas.words("state.again_mark")
        start = cell_in(canvas.layout.sheet, 0, 1)
        lines = (
            ("positions_left", f'=COUNTIF({states},"{todo}*")', len(canvas.program.positions), start),
            ("positions_again", f'=COUNTIF({states},"{again}*")', 0, start),
            ("visit_left", f"={blank}", len(needed), visit_link(canvas)),
        )
        for key, formula, cached, target in lines:
            self.sheet.set_row_pixels(self.row, 30)
            self.sheet.merged_text((self.row, _FIRST, self.row, _FIRST + 1), self._words(key), self.label)
            self.sheet.write_formula(self.row, _FIRST + 2, formula, self.number, cached)
            self.sheet.merge_range(self.row, _FIRST + 3, self.row, _LAST, "", self.link)
            canvas.link(self.sheet, self.row, _FIRST + 3, target, self._words(f"go_{key}"), self.link)
            self.row += 1

    def _how_to(self) -> None:
        self._section("how_to")
        for number in range(1, 6):
            self._line(f"{number}.  {self._words(f'how_{number}')}", self.plain, 40)
        for face in self.canvas.program.faces:
            self.sheet.set_row_pixels(self.row, 28)
            target = f"{quoted(self.canvas.face_sheet(face))}!$A$1"
            self.sheet.merge_range(self.row, _FIRST, self.row, _LAST, "", self.link)
            self.canvas.link(self.sheet, self.row, _FIRST, target, self._words("go_face", face=face), self.link)
            self.row += 1

    def _facts(self) -> None:
        settings = self.canvas.program.settings
        self._section("about")
        self._pair(self._words("place"), settings.place)
        self._pair(self._words("other_places"), "; ".join(settings.other_places))
        minutes = settings.visit_minutes
        self._pair(self._words("minutes"), self._words("about_minutes", minutes=minutes) if minutes else "")
        self._pair(self._words("photos"), self._words(f"photos_{settings.photos.replace(' ', '_')}"), 44)
        self._pair(self._words("bring"), self._words("bring_list"), 44)

    def _carton(self) -> None:
        settings = self.canvas.program.settings
        self._section("carton")
        length, weight = settings.units.split(", ")
        carton = (settings.carton_length, settings.carton_width, settings.carton_height)
        sides = [f"{side:g}" for side in carton if side]
        heavy = f"{settings.carton_weight:g} {weight}" if settings.carton_weight else ""
        self._pair(self._words("carton_count"), "1")
        self._pair(self._words("carton_size"), f"{' × '.join(sides)} {length}" if sides else "")
        self._pair(self._words("carton_weight"), heavy)
        self._pair(self._words("carton_marks"), settings.carton_marks, 44)
        self._pair(self._words("carton_lift"), self._words("lift_help"), 44)

    def _cautions(self) -> None:
        self._section("cautions")
        self._line(self._words("rules_first"), self.plain, 44)
        rows = [(self.caution, self._words("signal_caution"), self._words(f"caution_{one}")) for one in _CAUTIONS]
        rows.append((self.notice, self._words("signal_notice"), self._words("notice_goods")))
        for style, signal, text in rows:
            self.sheet.set_row_pixels(self.row, 60)
            self.sheet.merged_text((self.row, _FIRST, self.row, _FIRST + 1), signal, style)
            self.sheet.merged_text((self.row, _FIRST + 2, self.row, _LAST), text, self.value)
            self.row += 1

    def _kit(self) -> None:
        program = self.canvas.program
        if program.parts:
            self._section("parts")
            for part in program.parts:
                self._pair(f"{part.quantity} ×", joined([part.part, part.name, part.note]))
        self._section("labels")
        trays = Counter(program.item_at(position).brand for position in program.walk)
        for label in program.labels:
            packed = "" if label.packed is None else self._words("packed", packed=label.packed)
            needed = self._words("needed", count=trays[label.brand])
            self._band(label.brand, joined([needed, packed, label.wording]))

    def _band(self, brand: str, text: str) -> None:
        self.sheet.set_row_pixels(self.row, 30)
        band = self.canvas.brand_style(brand, border=1)
        self.sheet.merged_text((self.row, _FIRST, self.row, _FIRST + 1), brand, band)
        self.sheet.merged_text((self.row, _FIRST + 2, self.row, _LAST), text, self.value)
        self.row += 1

    def _steps(self) -> None:
        if not self.canvas.program.steps:
            return
        self._section("steps")
        for step in sorted(self.canvas.program.steps, key=lambda one: one.step):
            self._step(step)

    def _step(self, step: Step) -> None:
        sheet, row = self.sheet, self.row
        sheet.set_row_pixels(row, _STEP_HEIGHT)
        sheet.write_number(row, _FIRST, step.step, self.number)
        sheet.merged_text((row, _FIRST + 1, row, _FIRST + 3), step.do, self.value)
        minutes = self._words("step_minutes", minutes=f"{step.minutes:g}") if step.minutes else ""
        sheet.merged_text((row, _FIRST + 4, row, _LAST - 1), joined([step.watch_out, minutes], "\n"), self.value)
        sheet.write_blank(row, _LAST, None, self.value)
        self.canvas.picture(sheet, row, _LAST, step.picture, (4, 4, _WIDTHS[_LAST] - 8, _STEP_HEIGHT - 8), step.do)
        self.row += 1

    def _before_leaving(self) -> None:
        self._section("before")
        for key in self._leaving():
            self._line(f"☐  {self._words(f'before_{key}')}", self.plain, 30)

    def _leaving(self) -> Iterable[str]:
        yield from ("labels", "tags", "items")
        if self.canvas.program.settings.photos != "none":
            yield "photo"
        yield from ("aisle", "return")
