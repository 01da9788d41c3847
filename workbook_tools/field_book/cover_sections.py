"""The cover below its first screen: the visit and its carton, safety, parts and labels, the steps, before you leave."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from xlsxwriter.format import Format

from workbook_tools.contract.lettering import Fit, fit, lines
from workbook_tools.field_book.cover_grid import COLUMN_PX, COLUMNS, FIRST, LAST, CoverGrid
from workbook_tools.program.asked import KIT, LABELS, VISIT, Asked
from workbook_tools.program.joined import joined
from workbook_tools.program.lifting import Caution, carton_lift, display_lift
from workbook_tools.program.model import Settings, Step
from workbook_tools.program.niosh import Units

HALF = COLUMNS // 2
_LEFT, _RIGHT = (FIRST, FIRST + HALF - 1), (FIRST + HALF, LAST)
_LABEL_COLUMNS = 3
_PART_COLUMNS, _SIGNAL_COLUMNS = 2, 4
_PADDING, _INDENT = 6, 18
_TEXT = 11
"""Points of everything but headings and steps."""
_SAFETY = (
    ("warning", "warning_exits"),
    ("warning", "warning_ladders"),
    ("caution", "caution_cutters"),
    ("caution", "caution_lifting"),
    ("caution", "caution_edges"),
    ("caution", "caution_aisles"),
    ("notice", "notice_goods"),
)
"""Signal words of ANSI Z535 by their definitions: warning could kill or maim, caution injure, notice no injury."""
_STEP_HEIGHT, _PICTURE_COLUMNS = 104, 3


def write_sections(grid: CoverGrid) -> None:
    """Write all sections, in the order in which they are needed."""
    sections = _Sections(grid)
    asked, build = grid.canvas.particulars.asked, grid.canvas.asks_all_trays
    if asked:
        sections.bring(asked)
    if build:
        sections.visit_and_carton()
    else:
        sections.visit()
    sections.safety()
    if build:
        sections.parts()
        sections.labels()
        sections.steps()
    sections.before_leaving()


class _Sections:
    def __init__(self, grid: CoverGrid) -> None:
        self.grid = grid
        self.canvas = grid.canvas
        self.program = grid.canvas.program

    def _words(self, key: str, **values: object) -> str:
        return self.canvas.words(f"cover.{key}", **values)

    def bring(self, asked: Asked) -> None:
        """In a later visit's book: the labels and parts that are not in the store yet."""
        self.grid.section(self.canvas.words("revisit.bring"))
        labels = [
            (brand, self.canvas.words("revisit.bring_labels", count=count))
            for brand, count in asked.counts(LABELS).items()
        ]
        parts = [
            (part.part, self._words("part_line", quantity=asked.counts(KIT)[part.part], name=part.name))
            for part in self.program.parts
            if part.part in asked.counts(KIT)
        ]
        self._bands(labels)
        self._two_by_two(parts, _PART_COLUMNS)
        if not labels and not parts:
            text = self.canvas.words("revisit.bring_nothing")
            self.grid.text(self.grid.row(28), FIRST, LAST, text, self.grid.plain)

    def visit(self) -> None:
        """What to bring always and where the display stands."""
        self.grid.section(self._words("about"))
        self._two_by_two(list(self._about()))

    def _two_by_two(self, pairs: Sequence[tuple[str, str]], wide: int = _LABEL_COLUMNS) -> None:
        for start in range(0, len(pairs), 2):
            self._facts(list(zip((_LEFT, _RIGHT), pairs[start : start + 2], strict=False)), wide)

    def visit_and_carton(self) -> None:
        """What to bring and where it goes on the left, the carton on the right."""
        grid = self.grid
        row = grid.section(self._words("about"), *_LEFT)
        grid.section(self._words("carton"), *_RIGHT, row=row)
        left, right = list(self._about()), list(self._carton())
        for number in range(max(len(left), len(right))):
            sides = [(side, pairs[number]) for side, pairs in ((_LEFT, left), (_RIGHT, right)) if number < len(pairs)]
            self._facts(sides)

    def _about(self) -> Iterator[tuple[str, str]]:
        settings = self.program.settings
        yield self._words("bring"), self._words("bring_list")
        yield self._words("place"), settings.place
        if settings.other_places:
            yield self._words("other_places"), "; ".join(settings.other_places)
        if settings.visit_minutes and self.canvas.asks_all_trays:
            yield self._words("minutes"), self._words("about_minutes", minutes=settings.visit_minutes)
        if self._asks_photo():
            yield self._words("photos"), self._words(f"photos_{settings.photos.replace(' ', '_')}")

    def _asks_photo(self) -> bool:
        return self.canvas.particulars.asks(VISIT, "photo")

    def _carton(self) -> Iterator[tuple[str, str]]:
        settings = self.program.settings
        length, weight = settings.units.split(", ")
        sides = (settings.carton_length, settings.carton_width, settings.carton_height)
        built = (settings.display_width, settings.display_depth, settings.display_height)
        yield self._words("carton_count"), "1"
        if any(sides):
            yield self._words("carton_size"), _size(sides, length)
        if settings.carton_weight:
            yield self._words("carton_weight"), f"{settings.carton_weight:g} {weight}"
        yield self._words("carton_lift"), self._words(f"lift_{_advice(carton_lift, sides, settings)}")
        if settings.carton_marks:
            yield self._words("carton_marks"), settings.carton_marks
        if any(built):
            yield self._words("display_size"), _size(built, length)
        yield self._words("display_lift"), self._words(f"move_{_advice(display_lift, built, settings)}")

    def _facts(self, sides: Sequence[tuple[tuple[int, int], tuple[str, str]]], wide: int = _LABEL_COLUMNS) -> None:
        """A row of labels, `wide` columns each, and texts."""
        label_room = wide * COLUMN_PX - _INDENT
        taken = [
            Fit(_TEXT, max(lines(text, self._room(first + wide, last), _TEXT), lines(label, label_room, _TEXT)))
            for (first, last), (label, text) in sides
        ]
        row = self.grid.row(max(26, *(one.height + _PADDING for one in taken)))
        style = self.canvas.style(text_wrap=True, font_size=_TEXT, bottom=1, border_color="grid", indent=1)
        for (first, last), (label, text) in sides:
            self.grid.text(row, first, first + wide - 1, label, self._label())
            self.grid.text(row, first + wide, last, text, style)

    def _label(self) -> Format:
        return self.canvas.style(
            font_color="quiet_ink", font_size=11, text_wrap=True, indent=1, bottom=1, border_color="grid"
        )

    def _room(self, first: int, last: int) -> int:
        return (last - first + 1) * COLUMN_PX - _INDENT

    def safety(self) -> None:
        """Signal word and caution, two in a row; the rule that stands above all of them first."""
        grid = self.grid
        grid.section(self._words("cautions"))
        first_of_all = self.canvas.style(bold=True, text_wrap=True, indent=1)
        text = self._words("rules_first")
        height = fit(text, self._room(FIRST, LAST), (12,), 2, bold=True).height
        grid.text(grid.row(height + _PADDING), FIRST, LAST, text, first_of_all)
        for start in range(0, len(_SAFETY), 2):
            some = _SAFETY[start : start + 2]
            sides = [_LEFT, _RIGHT] if len(some) == 2 else [(FIRST, LAST)]
            texts = [self._words(what) for _, what in some]
            taken = [
                Fit(_TEXT, lines(text, self._room(side[0] + _SIGNAL_COLUMNS, side[1]), _TEXT)).height
                for side, text in zip(sides, texts, strict=True)
            ]
            row = grid.row(max(taken) + _PADDING)
            for (first, last), (signal, _), text in zip(sides, some, texts, strict=True):
                word = self._words(f"signal_{signal}")
                points = fit(word, _SIGNAL_COLUMNS * COLUMN_PX - _PADDING, (11, 10, 9, 8), 1, bold=True).points
                mark = {"bold": True, "align": "center", "border": 1, "border_color": "frame", "font_size": points}
                grid.text(row, first, first + _SIGNAL_COLUMNS - 1, word, self.canvas.style(bg_color=signal, **mark))
                plain = self.canvas.style(text_wrap=True, font_size=_TEXT, border=1, border_color="grid", indent=1)
                grid.text(row, first + _SIGNAL_COLUMNS, last, text, plain)

    def parts(self) -> None:
        """Parts with counts and notes, in two columns, down first."""
        parts = self.program.parts
        if not parts:
            return
        self.grid.section(self._words("parts"))
        texts = [
            (part.part, joined([self._words("part_line", quantity=part.quantity, name=part.name), part.note], " – "))
            for part in parts
        ]
        half = -(-len(texts) // 2)
        for number in range(half):
            sides = [(_LEFT, texts[number])]
            if number + half < len(texts):
                sides.append((_RIGHT, texts[number + half]))
            self._facts(sides, _PART_COLUMNS)

    def labels(self) -> None:
        """The label kit: a band a brand with its count, in two columns."""
        program, grid = self.program, self.grid
        trays = Counter(program.item_at(position).brand for position in program.walk)
        labels = [label for label in program.labels if trays[label.brand] or label.packed]
        if not labels:
            return
        grid.section(self._words("labels"))
        self._bands([(one.brand, self._label_text(trays[one.brand], one.packed, one.wording)) for one in labels])

    def _bands(self, labels: Sequence[tuple[str, str]]) -> None:
        """A band a brand with a text beside it, in two columns, down first."""
        grid = self.grid
        half = -(-len(labels) // 2)
        for number in range(half):
            some = [(_LEFT, labels[number])]
            if number + half < len(labels):
                some.append((_RIGHT, labels[number + half]))
            bands = [fit(brand, 5 * COLUMN_PX - 8, (12, 11, 10, 9, 8), 2, bold=True) for _, (brand, _) in some]
            fits = [Fit(_TEXT, lines(text, self._room(side[0] + 5, side[1]), _TEXT)) for side, (_, text) in some]
            row = grid.row(max(28, *(one.height + _PADDING for one in (*bands, *fits))))
            for ((first, last), (brand, text)), band in zip(some, bands, strict=True):
                style = self.canvas.brand_style(brand, border=1, font_size=band.points)
                grid.text(row, first, first + 4, brand, style)
                plain = self.canvas.style(text_wrap=True, font_size=_TEXT, border=1, border_color="grid", indent=1)
                grid.text(row, first + 5, last, text, plain)

    def _label_text(self, count: int, packed: int | None, wording: str) -> str:
        key = "label_line" if packed is None else "label_line_packed"
        return joined([self._words(key, count=count, packed=packed), wording])

    def steps(self) -> None:
        """Two steps in a row, each with its picture."""
        steps = sorted(self.program.steps, key=lambda one: one.step)
        fits = [fit(self._step_text(step), self._step_room(step), (12, 11, 10), 5, bold=True) for step in steps]
        points = min((one.points for one in fits), default=12)
        for start in range(0, len(steps), 2):
            if start == 0:
                self.grid.section(self._words("steps"))
            else:
                self.grid.block()
            some = list(zip((_LEFT, _RIGHT), steps[start : start + 2], strict=False))
            taken = [Fit(points, lines(self._step_text(step), self._step_room(step), points, True)) for _, step in some]
            row = self.grid.row(max(_STEP_HEIGHT, *(one.height + _PADDING for one in taken)))
            for side, step in some:
                self._step(row, side, step, points)

    def _step(self, row: int, side: tuple[int, int], step: Step, points: int) -> None:
        canvas, sheet, (first, last) = self.canvas, self.grid.sheet, side
        picture = canvas.pictures.get(step.picture)
        line = {"top": 1, "bottom": 1, "border_color": "grid"}
        number = canvas.style(bold=True, align="center", font_size=16, font_color="link_ink", left=1, **line)
        sheet.write_number(row, first, step.step, number)
        text_first = first + 1
        if picture:
            text_first += _PICTURE_COLUMNS
            sheet.merge_range(row, first + 1, row, text_first - 1, "", canvas.style(**line))
            box = (2, 4, _PICTURE_COLUMNS * COLUMN_PX - 4, self.grid.heights[row] - 8)
            canvas.picture(sheet, row, first + 1, picture, box, step.do)
        cell = canvas.style(text_wrap=True, font_size=points, indent=1, right=1, **line)
        plain, bold = canvas.style(font_size=points), canvas.style(bold=True, font_size=points)
        quiet = canvas.style(font_size=points, font_color="quiet_ink")
        watch, minutes = self._watch(step), self._minutes(step)
        pieces = [(plain, step.do), (bold, watch and f"\n{watch}"), (quiet, minutes and f"\n{minutes}")]
        canvas.rich(sheet, (row, text_first, row, last), pieces, cell)

    def _step_room(self, step: Step) -> int:
        pictured = step.picture in self.canvas.pictures
        return (HALF - 1 - _PICTURE_COLUMNS * pictured) * COLUMN_PX - _INDENT

    def _watch(self, step: Step) -> str:
        return self._words("watch_out", text=step.watch_out) if step.watch_out else ""

    def _minutes(self, step: Step) -> str:
        return self._words("step_minutes", minutes=f"{step.minutes:g}") if step.minutes else ""

    def _step_text(self, step: Step) -> str:
        return joined([step.do, self._watch(step), self._minutes(step)], "\n")

    def before_leaving(self) -> None:
        """What to look at once more, to be ticked in the head or on paper."""
        grid = self.grid
        grid.section(self._words("before"))
        keys = ["labels", "tags", "items", "aisle", "return"]
        if self.program.settings.photos != "none" and self._asks_photo():
            keys.insert(3, "photo")
        for start in range(0, len(keys), 2):
            some = list(zip((_LEFT, _RIGHT), keys[start : start + 2], strict=False))
            texts = [f"☐  {self._words(f'before_{key}')}" for _, key in some]
            height = max(fit(text, self._room(*_LEFT), (12,), 2).height for text in texts)
            row = grid.row(height + _PADDING)
            for ((first, last), _), text in zip(some, texts, strict=True):
                grid.text(row, first, last, text, grid.plain)


def _size(sides: Sequence[float | None], unit: str) -> str:
    """The sizes that are told: 46 × 32 × 8 in."""
    return f"{' × '.join(f'{side:g}' for side in sides if side)} {unit}"


def _advice(lift: Callable[..., Caution], sides: Sequence[float | None], settings: Settings) -> str:
    """The key of the advice that follows from three sizes and the weight of the carton; "unknown" where one is not
    told. What is built from the carton weighs no more than the carton.
    """
    if not all((*sides, settings.carton_weight)):
        return "unknown"
    units: Units = "in, lb" if settings.units == "in, lb" else "cm, kg"
    return lift(*sides, settings.carton_weight, units).advice
