"""The faces of the display as maps: each position coloured and numbered by how often it is right."""

from __future__ import annotations

from collections.abc import Mapping

from workbook_tools.contract.writing import SheetWriter
from workbook_tools.program.face_plan import Line, Tray, plan_face
from workbook_tools.rollup.rightness import Rightness
from workbook_tools.rollup.sheets.page import LINK_ROW, Page

FIRST_COLUMN, COLUMNS, COLUMN_WIDTH, LEAST = 1, 60, 15, 7
"""The grid: its first 0-based column, how many, their width in pixels, how many a tray takes at least."""
STEPS = ((0.98, "map_best"), (0.9, "map_good"), (0.75, "map_poor"), (0.0, "map_worst"))
"""From which share of right trays a fill is used (our own choice)."""
MARK = "▲"
"""Marks a position that is wrong far more often than chance allows."""
PRINT_SCALE = 75
"""Per cent: a face fits a page, also where columns come out wider than they were made."""
_FILLS = {
    "map_best": ("right", 0.18),
    "map_good": ("right", 0.0),
    "map_poor": ("again", 0.0),
    "map_worst": ("again", 0.28),
}
"""Step → a colour of look.toml and how far it is darkened by its own ink; dark text reads on all of them."""
_NAME_ROW, _SHARE_ROW, _COUNT_ROW, _LIP_ROW, _GAP_ROW = 24, 36, 20, 26, 10
_ITEM_LINE, _ITEM_LETTER, _MOST_LINES = 17, 6.4, 3
"""Pixels that a line and a letter of an item's name take, and lines that are shown of it."""
_ROWS = 6
"""Rows of a shelf: name, share, count, item, lip, gap."""
_FIRST_ROW = 5


def write_maps(page: Page, right: Mapping[str, Rightness], often: frozenset[str]) -> dict[str, tuple[int, int]]:
    """Draw all faces, one under another; gives the 0-based row and column at which each position is drawn."""
    seen = max((one.seen for one in right.values()), default=0)
    sheet = page.head("maps", page.words("rollup.counted.maps", stores=seen) if seen else "", FIRST_COLUMN)
    sheet.set_column_pixels(0, 0, page.look.sizes["margin"])
    sheet.set_column_pixels(FIRST_COLUMN, FIRST_COLUMN + COLUMNS - 1, COLUMN_WIDTH)
    _legend(page, sheet, bool(often))
    row = _FIRST_ROW
    drawn: dict[str, tuple[int, int]] = {}
    breaks = []
    for face in page.program.faces:
        breaks.append(row)
        sheet.text(row, FIRST_COLUMN, page.words("faces.title", face=face), page.section)
        sheet.set_row_pixels(row, 30)
        row += 1
        for line in plan_face(page.program, face, COLUMNS, LEAST).lines:
            for tray in line.trays:
                key = tray.position.key
                drawn[key] = (row, FIRST_COLUMN + tray.first)
                _tray(page, sheet, row, tray, right.get(key), key in often)
            _heights(page, sheet, row, line)
            row += _ROWS
        row += 1
    sheet.set_h_pagebreaks(breaks[1:])
    sheet.freeze_panes(_FIRST_ROW - 1, 0)
    sheet.set_landscape()
    page.paper(sheet)
    sheet.set_print_scale(PRINT_SCALE)
    return drawn


def _heights(page: Page, sheet: SheetWriter, row: int, line: Line) -> None:
    item = max((_lines(page.program.item_at(tray.position).item, tray) for tray in line.trays), default=1) * _ITEM_LINE
    for offset, height in enumerate((_NAME_ROW, _SHARE_ROW, _COUNT_ROW, item + 4, _LIP_ROW, _GAP_ROW)):
        sheet.set_row_pixels(row + offset, height)
    sheet.write_number(row + 1, 0, line.shelf.shelf, page.style(bold=True, font_color="quiet_ink", align="center"))


def _tray(page: Page, sheet: SheetWriter, row: int, tray: Tray, right: Rightness | None, often: bool) -> None:
    first, last = FIRST_COLUMN + tray.first, FIRST_COLUMN + tray.last
    item = page.program.item_at(tray.position)
    fill = paint(page, right.share if right else None)
    edge = {"bg_color": fill, "border_color": "frame", "left": 2, "right": 2, "align": "center"}
    name = f"{MARK} {tray.position.key}" if often else tray.position.key
    sheet.merged_text((row, first, row, last), name, page.style(**edge, top=2, bold=True))
    big = page.style(**edge, bold=True, font_size=page.look.type_sizes["title"], num_format="0%")
    if first < last:
        sheet.merge_range(row + 1, first, row + 1, last, "", big)
    if right and right.share is not None:
        sheet.write_number(row + 1, first, right.share, big)
        count = page.words("rollup.map_count", right=right.right, seen=right.seen)
    else:
        sheet.text(row + 1, first, "–", big)
        count = page.words("rollup.map_none")
    small = {**edge, "font_size": page.look.type_sizes["small"]}
    sheet.merged_text((row + 2, first, row + 2, last), count, page.style(**small, shrink=True))
    sheet.merged_text((row + 3, first, row + 3, last), item.item, page.style(**small, text_wrap=True, valign="top"))
    numbers = {label.brand: number for number, label in enumerate(page.program.labels)}
    band = page.look.brand(numbers.get(item.brand, 0))
    paints = {"bg_color": f"#{band.fill}", "font_color": f"#{band.ink}"}
    lip = page.style(**paints, border=2, border_color="frame", align="center", bold=True, shrink=True)
    sheet.merged_text((row + 4, first, row + 4, last), item.brand, lip)


def _lines(name: str, tray: Tray) -> int:
    """How many lines an item's name takes on its tray."""
    letters = max(int((tray.last - tray.first + 1) * COLUMN_WIDTH / _ITEM_LETTER) - 1, 1)
    return min(-(-len(name) // letters), _MOST_LINES)


def paint(page: Page, share: float | None) -> str:
    """The fill of a share of right trays, as `#RRGGBB`: pale green to pale red, grey when nothing is known."""
    if share is None:
        return page.look.colour("locked")
    step = next(name for least, name in STEPS if share >= least)
    base, part = _FILLS[step]
    return _mixed(page.look.colour(base), page.look.colour(f"{base}_ink"), part)


def _mixed(one: str, other: str, part: float) -> str:
    """A colour between two, `part` of the way to the other."""
    pairs = zip(_channels(one), _channels(other), strict=True)
    return "#" + "".join(f"{round(a + (b - a) * part):02X}" for a, b in pairs)


def _channels(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[place : place + 2], 16) for place in (1, 3, 5))


def _legend(page: Page, sheet: SheetWriter, often: bool) -> None:
    row, column = _FIRST_ROW - 2, FIRST_COLUMN
    for least, name in STEPS:
        style = page.style(bg_color=paint(page, least), border=1, border_color="frame", align="center", shrink=True)
        sheet.merged_text((row, column, row, column + 10), page.words(f"rollup.{name}"), style)
        column += 12
    if often:
        sheet.text(LINK_ROW, column - 12, page.words("rollup.map_mark", mark=MARK), page.quiet)
