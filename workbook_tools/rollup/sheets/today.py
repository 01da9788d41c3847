"""The first sheet: where the program stands, what to do today, how it will end; every number leads to its rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.serials import serial_day
from workbook_tools.contract.writing import SheetWriter
from workbook_tools.program.joined import joined
from workbook_tools.rollup.history import HistoryRow, before
from workbook_tools.rollup.merge import Facts
from workbook_tools.rollup.sheets.page import CellFormat, Page, day, title_height
from workbook_tools.rollup.sheets.place import Area, Place
from workbook_tools.rollup.todo import Todo
from workbook_tools.rollup.totals import Totals
from workbook_tools.rollup.work import window_days

LEFT, COLUMNS, COLUMN_WIDTH = 1, 12, 78
LAST = LEFT + COLUMNS - 1
CARDS_ROW = 4
STATE_COLOURS = {
    "not back": "#C9CED6",
    "to correct": "#E69F00",
    "go back": "#D55E00",
    "waiting": "#56B4E9",
    "done": "#009E73",
}
"""Fills of the states in charts (Okabe and Ito), beside words and numbers."""
CURVES = (("built", 1, "#0072B2"), ("done", 2, "#009E73"))
"""The counts drawn over the days of the window, in which column after the day they stand, and their colours."""
BARS, BAR_COLOUR = 4, "#B5D5C5"
"""How many of the measures have a bar."""


@dataclass(frozen=True)
class Today:
    """What the first sheet says."""

    facts: Facts
    figures: Totals
    history: Sequence[HistoryRow]
    todo: Sequence[Todo]
    outlook: Sequence[str]
    late: Sequence[str]

    @property
    def earlier(self) -> HistoryRow | None:
        """The merge before this one."""
        return before(self.history, self.facts.as_of)

    @property
    def days(self) -> tuple[int, int]:
        """Days of the window that are gone, and all of them."""
        return window_days(self.facts)


def write_today(page: Page, today: Today, places: Mapping[str, Place]) -> None:
    """Write the first sheet. `places` says where the rows behind each number stand: sheets by their key, states,
    kinds of flags and outcomes by theirs, and the points of the curve.
    """
    _First(page, today, places).write()


class _First:
    def __init__(self, page: Page, today: Today, places: Mapping[str, Place]) -> None:
        self.page = page
        self.words = page.words
        self.today = today
        self.places = places
        self.sheet: SheetWriter = page.sheets["today"]
        self.small = page.look.type_sizes["small"]

    def write(self) -> None:
        sheet, page = self.sheet, self.page
        sheet.set_column_pixels(0, 0, page.look.sizes["margin"])
        sheet.set_column_pixels(LEFT, LAST, COLUMN_WIDTH)
        self._title()
        self._cards(CARDS_ROW)
        self._bar(CARDS_ROW + 4)
        row = self._todo(CARDS_ROW + 6)
        row = self._progress(row + 1)
        row = self._outlook(row + 1)
        row = self._curve(row + 1)
        self._counts(row + 1)
        sheet.freeze_panes(3, 0)
        page.paper(sheet)
        sheet.fit_to_pages(1, 1)
        sheet.activate()

    def _title(self) -> None:
        page, settings = self.page, self.today.facts.program.settings
        name = page.style(bold=True, font_size=page.look.type_sizes["title"], text_wrap=True)
        self.sheet.merged_text((0, LEFT, 0, LAST), settings.name, name)
        self.sheet.set_row_pixels(0, title_height(settings.name))
        gone, every = self.today.days
        window = {"starts": day(settings.starts), "due": day(settings.due), "left": every - gone}
        key = "rollup.about" if gone < every else "rollup.about_closed"
        about = self.words(key, as_of=day(self.today.facts.as_of), **window)
        self.sheet.text(1, LEFT, about, page.style(bold=True))
        display = joined([settings.display, settings.client, settings.chain])
        self._line(2, display, page.style(font_color="quiet_ink", text_wrap=True, valign="top"))

    def _cards(self, row: int) -> None:
        """A card for all stores and one a state: the number, its name, its share, and its colour in the bar below."""
        figures = self.today.figures
        heights = (48, 24, 22, 8)
        for offset, height in enumerate(heights):
            self.sheet.set_row_pixels(row + offset, height)
        self._card(row, LEFT, "stores", figures.stores)
        for number, (state, count) in enumerate(figures.states.items(), start=1):
            column = LEFT + 2 * number
            self._card(row, column, f"states.{state}", count)
            share = self.page.words.number(count / figures.stores, ".0%") if figures.stores else ""
            quiet = self.page.style(align="center", font_color="quiet_ink")
            self.sheet.merged_text((row + 2, column, row + 2, column + 1), share, quiet)
            fill = self.page.style(bg_color=STATE_COLOURS[state])
            self.sheet.merged_text((row + 3, column, row + 3, column + 1), "", fill)

    def _card(self, row: int, column: int, key: str, count: int) -> None:
        big = self.page.style(bold=True, font_size=26, align="center")
        self.sheet.merge_range(row, column, row, column + 1, "", big)
        self.page.link_number(self.sheet, (row, column), count, self.places[key], big)
        name = self.words("rollup.stores", count=count) if key == "stores" else self.words(key)
        bold = self.page.style(align="center", bold=True)
        self.sheet.merged_text((row + 1, column, row + 1, column + 1), name, bold)

    def _bar(self, row: int) -> None:
        """All stores as one bar, a stretch a state."""
        chart = self.page.book.chart({"type": "bar", "subtype": "percent_stacked"})
        for number, state in enumerate(default_contract().states, start=1):
            column = LEFT + 2 * number
            fill = {"color": STATE_COLOURS[state]}
            values = [self.sheet.name, CARDS_ROW, column, CARDS_ROW, column]
            name = [self.sheet.name, CARDS_ROW + 1, column]
            chart.add_series({"name": name, "values": values, "fill": fill, "gap": 20})
        chart.set_legend({"none": True})
        chart.set_x_axis({"visible": False, "major_gridlines": {"visible": False}})
        chart.set_y_axis({"visible": False, "major_gridlines": {"visible": False}})
        chart.set_chartarea({"border": {"none": True}})
        chart.set_plotarea({"layout": {"x": 0.0, "y": 0.05, "width": 1.0, "height": 0.9}})
        self._insert(chart, row, 46, self.words("rollup.bar_alt"))

    def _insert(self, chart: object, row: int, height: int, alt: str) -> None:
        self.sheet.set_row_pixels(row, height + 8)
        chart.set_size({"width": COLUMNS * COLUMN_WIDTH, "height": height})  # type: ignore[attr-defined]
        self.sheet.insert_chart(row, LEFT, chart, {"description": alt, "object_position": 1, "y_offset": 4})

    def _section(self, row: int, key: str) -> int:
        self.sheet.set_row_pixels(row, 30)
        self.sheet.merged_text((row, LEFT, row, LAST), self.words(f"rollup.today.{key}"), self.page.section)
        return row + 1

    def _todo(self, row: int) -> int:
        """The things to do, each leading to its sheet."""
        row = self._section(row, "todo")
        if not self.today.todo:
            starts = self.today.facts.program.settings.starts
            key = "not_begun" if self.today.facts.as_of < starts else "nothing"
            self._line(row, self.words(f"rollup.today.{key}", starts=day(starts)))
            return row + 1
        number = self.page.style(bold=True, font_size=self.page.look.type_sizes["subtitle"], align="center")
        for count, todo in enumerate(self.today.todo, start=1):
            said = todo.say(self.words)
            self.sheet.write_number(row, LEFT, count, number)
            self.sheet.merged_text((row, LEFT + 1, row, LAST - 2), said, self.page.style(text_wrap=True))
            self._lines_high(row, said, COLUMNS - 3)
            place = self.places[todo.place]
            self.sheet.merge_range(row, LAST - 1, row, LAST, "", self.page.linked)
            self.sheet.write_url(row, LAST - 1, place.target, self.page.linked, f"→ {place.sheet}")
            row += 1
        return row

    def _line(self, row: int, said: str, style: CellFormat | None = None) -> None:
        self.sheet.merged_text((row, LEFT, row, LAST), said, style or self.page.style(text_wrap=True))
        self._lines_high(row, said, COLUMNS)

    def _lines_high(self, row: int, said: str, columns: int) -> None:
        """Make a row of merged cells as high as its text needs: they do not grow by themselves."""
        a_line = columns * COLUMN_WIDTH // 8
        lines = sum(-(-max(len(part), 1) // a_line) for part in said.split("\n"))
        self.sheet.set_row_pixels(row, 12 + 18 * lines)

    def _progress(self, row: int) -> int:
        """Displays that stand and stores done against the days gone, each with its share and what changed."""
        row = self._section(row, "progress")
        earlier = self.today.earlier
        since = (
            self.words("rollup.today.since", day=day(earlier.as_of)) if earlier else self.words("rollup.today.first")
        )
        self.sheet.set_row_pixels(row, 26)
        self.sheet.merged_text(
            (row, LEFT + 10, row, LAST), since, self._right(font_color="quiet_ink", font_size=self.small)
        )
        gone, every = self.today.days
        figures = self.today.figures
        counts = (
            ("days", gone, every, "today"),
            ("built", figures.built, figures.stores, "built"),
            ("done", figures.states["done"], figures.stores, "states.done"),
            ("right", figures.right, figures.positions, "right"),
            ("overdue", figures.overdue, figures.stores, "overdue"),
            ("open_flags", figures.open_flags, None, "flags"),
        )
        for number, (key, count, of, place) in enumerate(counts, start=row + 1):
            self._measure(number, key, count, of, place)
        bar = {"type": "data_bar", "bar_solid": True, "bar_color": BAR_COLOUR, "min_type": "num", "max_type": "num"}
        whole = {"min_value": 0, "max_value": 1}
        self.sheet.conditional_format(row + 1, LEFT + 7, row + BARS, LEFT + 9, {**bar, **whole})
        return row + 1 + len(counts)

    def _right(self, **properties: object) -> CellFormat:
        return self.page.style(align="right", **properties)

    def _measure(self, row: int, key: str, count: int, of: int | None, place: str) -> None:
        sheet, page = self.sheet, self.page
        sheet.set_row_pixels(row, 26)
        sheet.merged_text((row, LEFT, row, LEFT + 3), self.words(f"rollup.today.{key}"), page.style())
        bold = page.style(bold=True, align="right")
        if place == "today":
            sheet.write_number(row, LEFT + 4, count, bold)
        else:
            page.link_number(sheet, (row, LEFT + 4), count, self.places[place], bold)
        of_all = page.style(font_color="quiet_ink", indent=1)
        if of is not None:
            sheet.merged_text((row, LEFT + 5, row, LEFT + 6), self.words("rollup.of", total=of), of_all)
            share = page.style(num_format="0%", align="left")
            sheet.merge_range(row, LEFT + 7, row, LEFT + 9, "", share)
            sheet.write_number(row, LEFT + 7, count / of if of else 0, share)
        change = self._change(key)
        if change is not None:
            style = self._right(num_format='"+"0;"−"0;"±"0')
            sheet.merge_range(row, LEFT + 10, row, LAST, "", style)
            sheet.write_number(row, LEFT + 10, change, style)

    def _change(self, key: str) -> int | None:
        """How much a count has changed since the merge before."""
        earlier = self.today.earlier
        now = next((row for row in self.today.history if row.as_of == self.today.facts.as_of), None)
        return now.change(earlier, key) if now and earlier else None

    def _outlook(self, row: int) -> int:
        row = self._section(row, "outlook")
        for said in self.today.outlook:
            self._line(row, said, self.page.style(text_wrap=True, bold=said == self.today.outlook[0]))
            row += 1
        for said in self.today.late:
            self._line(row, said)
            row += 1
        return row

    def _curve(self, row: int) -> int:
        """Displays that stand and stores done, day by day over the window, beside an even pace."""
        row = self._section(row, "curve")
        place, settings = self.places["curve"], self.today.facts.program.settings
        chart = self.page.book.chart({"type": "scatter", "subtype": "straight_with_markers"})
        if place.area is not None:
            first, left, last, _ = place.area
            days = [place.sheet, first, left, last, left]
            for key, number, colour in CURVES:
                values = [place.sheet, first, left + number, last, left + number]
                chart.add_series({"categories": days, "values": values, **self._line_of(key, colour)})
        pace = self.places["pace"]
        assert pace.area is not None
        top, left, bottom, right = pace.area
        ends = {"categories": [pace.sheet, top, left, bottom, left], "values": [pace.sheet, top, right, bottom, right]}
        dashed = {"color": self.page.look.colour("quiet_ink"), "dash_type": "dash", "width": 1.25}
        name = self.words("rollup.today.even_pace")
        chart.add_series({"name": name, **ends, "line": dashed, "marker": {"type": "none"}})
        font = {"size": 9, "color": self.page.look.colour("quiet_ink")}
        grid = {"visible": True, "line": {"color": self.page.look.colour("shelf_bar")}}
        axis = {"num_font": font, "line": {"color": self.page.look.colour("grid")}}
        stores = self.words("rollup.stores", count=self.today.figures.stores)
        unit = {"name": stores, "name_font": {**font, "bold": False}}
        first = serial_day(settings.starts)
        # An axis without length is drawn over years.
        limits = {"min": first, "max": max(serial_day(max(settings.due, self.today.facts.as_of)), first + 1)}
        chart.set_x_axis({**axis, **limits, "num_format": "d mmm", "major_gridlines": {"visible": False}})
        chart.set_y_axis({**axis, "min": 0, "num_format": "0", "major_gridlines": grid, **unit})
        chart.set_title({"name": self.words("rollup.curve_alt"), "name_font": {"size": 11, "bold": False}})
        chart.set_legend({"position": "bottom", "font": {"size": 10}})
        chart.set_chartarea({"border": {"none": True}})
        self._insert(chart, row, 250, self.words("rollup.curve_alt"))
        return row + 1

    def _line_of(self, key: str, colour: str) -> dict[str, object]:
        marker = {"type": "circle", "size": 6, "fill": {"color": colour}, "border": {"color": colour}}
        name = self.words(f"rollup.today.{key}")
        return {"name": name, "line": {"color": colour, "width": 2.5}, "marker": marker}

    def _counts(self, row: int) -> None:
        """Open flags by kind on the left; files and the way to every sheet on the right."""
        figures = self.today.figures
        kinds = [(f"flags.{kind}", count) for kind, count in figures.kinds.items()]
        files = [("rollup.files", figures.files)]
        files += [(f"outcomes.{outcome}", count) for outcome, count in figures.outcomes.items()]
        half = LEFT + COLUMNS // 2
        self._column(row, LEFT, half - 2, "rollup.today.flags", kinds)
        self._column(row, half, LAST, "rollup.today.files", files)
        top = row + len(files) + 2
        self.sheet.merged_text((top, half, top, LAST), self.words("rollup.today.sheets"), self.page.section)
        keys = [key for key in self.page.sheets if key not in ("today", "book")]
        for number, key in enumerate(keys):
            line, side = divmod(number, 2)
            self.sheet.set_row_pixels(top + 1 + line, 24)
            place: Area = (top + 1 + line, half + 3 * side, top + 1 + line, half + 3 * side + 2)
            self.sheet.merge_range(*place, "", self.page.linked)
            target = Place(self.page.sheet_name(key)).target
            self.sheet.write_url(place[0], place[1], target, self.page.linked, self.page.sheet_name(key))

    def _column(self, row: int, left: int, right: int, title: str, counts: Iterable[tuple[str, int]]) -> None:
        self.sheet.set_row_pixels(row, 30)
        self.sheet.merged_text((row, left, row, right), self.words(title), self.page.section)
        for number, (key, count) in enumerate(counts, start=row + 1):
            self.sheet.set_row_pixels(number, 24)
            style = self.page.style() if count else self.page.quiet
            self.sheet.merged_text((number, left, number, right - 1), self.words(key), style)
            bold = self.page.style(bold=bool(count), align="right", font_color="ink" if count else "quiet_ink")
            self.page.link_number(self.sheet, (number, right), count, self.places[key], bold)
