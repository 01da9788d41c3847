"""The display of the demo and its parts, in cabinet projection: the front true to scale, depth up and to the right.

Inches: x to the right, y to the back, z up, from the display's front lower left corner.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from workbook_tools.demo.drawing.canvas import CREAM, INK, KRAFT, WHITE, Canvas, Point, Rect, darker, lighter
from workbook_tools.demo.drawing.motifs import snowflake
from workbook_tools.demo.drawing.packs import Trade
from workbook_tools.demo.drawing.signs import GREY, LINE

BOARD = KRAFT
INSIDE = darker(KRAFT, 0.22)
SHELVES_BELOW_TOP = (0, 8, 18, 29, 43)
"""The display's top edge, then its shelves from the top: how far each lies below that edge, in inches."""
BASE = 9
HIGH = BASE + SHELVES_BELOW_TOP[-1]
HEADER = 16

_WIDE = 27
_FRONT_DEEP = 9
_DEEP = 27
_DEPTH = (0.44, -0.30)
"""Where an inch of depth leads on paper, to the right and down, in inches of the front."""
_HEADER_FILL = "#22364F"
_CHANNEL_EDGE = "#9AA5B1"


@dataclass(frozen=True)
class Kit:
    """What the drawings take from the program."""

    header: tuple[str, str]
    """The two lines of the header card."""
    marks: str
    """What the carton says."""
    tray: Trade
    """The brand whose tray is drawn large, and the item code of what stands in it."""
    item_code: str
    colours: dict[str, list[list[str]]]
    """Face → shelves from the top → the fills of its trays from the left."""


@dataclass(frozen=True)
class View:
    """Where solids are drawn: their front lower left corner, in px, and px to the inch."""

    left: float
    floor: float
    scale: float

    def at(self, x: float, y: float, z: float) -> Point:
        """A point in px."""
        return (self.left + self.scale * (x + _DEPTH[0] * y), self.floor + self.scale * (_DEPTH[1] * y - z))

    def face(self, c: Canvas, corners: Iterable[tuple[float, float, float]], fill: str, line: float = 2.5) -> None:
        """A flat piece of any position, by its corners (x, y, z)."""
        c.polygon([self.at(*corner) for corner in corners], fill, LINE, line)

    def front(self, c: Canvas, rect: Rect, y: float, fill: str, line: float = 2.5) -> None:
        """A piece that faces the front at depth `y`, from (x, z) to (x, z)."""
        left, low, right, high = rect
        self.face(c, ((left, y, low), (right, y, low), (right, y, high), (left, y, high)), fill, line)

    def side(self, c: Canvas, rect: Rect, x: float, fill: str, line: float = 2.5) -> None:
        """A piece that faces the right at `x`, from (y, z) to (y, z)."""
        near, low, far, high = rect
        self.face(c, ((x, near, low), (x, far, low), (x, far, high), (x, near, high)), fill, line)

    def flat(self, c: Canvas, rect: Rect, z: float, fill: str, line: float = 2.5) -> None:
        """A piece that lies flat at height `z`, from (x, y) to (x, y)."""
        left, near, right, far = rect
        self.face(c, ((left, near, z), (right, near, z), (right, far, z), (left, far, z)), fill, line)

    def block(self, c: Canvas, size: tuple[float, float, float], fill: str) -> None:
        """A closed box of `size` (wide, deep, high) in the corner."""
        wide, deep, high = size
        self.side(c, (0, 0, deep, high), wide, darker(fill, 0.16))
        self.flat(c, (0, 0, wide, deep), high, lighter(fill, 0.3))
        self.front(c, (0, 0, wide, high), 0, fill)


def tower(c: Canvas, view: View, shelves: int = 4, stock: Kit | None = None) -> None:
    """The display from the front and right, with its lowest `shelves`; with trays and goods when given a `stock`."""
    view.side(c, (0, 0, _FRONT_DEEP, HIGH), _WIDE, darker(BOARD, 0.12))
    view.side(c, (_FRONT_DEEP, 0, _DEEP, HIGH), _WIDE, darker(INSIDE, 0.1))
    view.front(c, (0, 0, _WIDE, HIGH), 0, INSIDE)
    for number in range(4 - shelves, 4):
        z = HIGH - SHELVES_BELOW_TOP[number + 1]
        if stock:
            _stocked(c, view, number, stock)
        view.front(c, (0, z - 1, _WIDE, z), 0, lighter(BOARD, 0.35), 2)
        view.side(c, (_FRONT_DEEP, z - 1, _DEEP, z), _WIDE, lighter(BOARD, 0.1), 2)
    view.front(c, (0, 0, _WIDE, BASE - 1), 0, BOARD)
    view.side(c, (_FRONT_DEEP, 0, _DEEP, BASE - 1), _WIDE, darker(BOARD, 0.2))
    for x in (0, _WIDE):
        c.line([view.at(x, 0, 0), view.at(x, 0, HIGH)], LINE, 4)
    view.flat(c, (0, 0, _WIDE, _DEEP), HIGH, lighter(BOARD, 0.3))


def _stocked(c: Canvas, view: View, shelf: int, stock: Kit) -> None:
    """The trays and goods of a shelf of faces A and B; `shelf` counts from 0 at the top."""
    z = HIGH - SHELVES_BELOW_TOP[shelf + 1]
    full = z + (SHELVES_BELOW_TOP[shelf + 1] - SHELVES_BELOW_TOP[shelf] - 1) * 0.85
    for place in range(3):
        left, near = place * 9, _FRONT_DEEP + place * 6
        view.front(c, (left + 0.7, z + 1, left + 8.3, full), 0, stock.colours["A"][shelf][place], 1.5)
        view.front(c, (left, z, left + 9, z + 2.4), 0, CREAM, 1.8)
        view.side(c, (near + 0.5, z + 1, near + 5.5, full), _WIDE, darker(stock.colours["B"][shelf][place], 0.2), 1.5)
        view.side(c, (near, z, near + 6, z + 2.4), _WIDE, darker(CREAM, 0.12), 1.8)


def header_card(c: Canvas, view: View, kit: Kit) -> None:
    """The header card on top of the tower's front."""
    top = HIGH + HEADER
    view.front(c, (0, HIGH, _WIDE, top), 0, _HEADER_FILL)
    snowflake(c, view.at(_WIDE / 2, 0, top - 4), 2.6 * view.scale, "#BFDDF2")
    for words, down, size in ((kit.header[0], 9.2, 4.4), (kit.header[1], 13.2, 2.8)):
        c.text(view.at(_WIDE / 2, 0, top - down), words, size * view.scale, WHITE, 25 * view.scale, bold=True)


def footprint(c: Canvas, kit: Kit, corners: Rect) -> None:
    """The tower from above, its back on the right, face A on the left."""
    left, top, right, bottom = corners
    front, middle = left + (right - left) / 3, (top + bottom) / 2
    c.box(corners, BOARD, 0, LINE, 3)
    c.box((left, top, front, bottom), kit.tray.fill, 0, LINE, 2.5)
    c.line([(front, middle), (right, middle)], LINE, 5)
    c.text(((left + front) / 2, middle), "A", 24, kit.tray.ink, bold=True)
    c.text(((front + right) / 2, (middle + bottom) / 2), "B", 24, INK, bold=True)
    c.text(((front + right) / 2, (middle + top) / 2), "C", 24, INK, bold=True)


def tray(c: Canvas, view: View, wide: float, deep: float) -> None:
    """A folded tray: high at the back, a lip in front."""
    view.front(c, (0, 0, wide, 5), deep, lighter(BOARD, 0.1))
    view.face(c, ((0, 0, 0), (0, deep, 0), (0, deep, 5), (0, 0, 3)), INSIDE)
    view.flat(c, (0, 0, wide, deep), 0.2, INSIDE)
    view.face(c, ((wide, 0, 0), (wide, deep, 0), (wide, deep, 5), (wide, 0, 3)), darker(BOARD, 0.12))
    lip(c, (*view.at(0, 0, 3), *view.at(wide, 0, 0)))


def lip(c: Canvas, corners: Rect) -> None:
    """A tray's lip: a channel for the label, and on its right the gap for the shelf tag."""
    c.box(corners, CREAM, 4, LINE, 3)
    channel = label_place(corners)
    c.box(channel, darker(CREAM, 0.1), 2, _CHANNEL_EDGE, 2)
    margin = channel[0] - corners[0]
    c.box((channel[2], channel[1], corners[2] - margin, channel[3]), WHITE, 2, _CHANNEL_EDGE, 2)


def label_place(corners: Rect) -> Rect:
    """Where the label lies in a lip."""
    left, top, right, bottom = corners
    margin = (bottom - top) * 0.16
    return (left + margin, top + margin, left + (right - left) * 0.68, bottom - margin)


def jars(c: Canvas, kit: Kit, bottom: float) -> None:
    """Four jars that stand in a tray, their feet behind the lip."""
    for x in (84, 208, 332, 456):
        c.box((x, bottom - 150, x + 100, bottom), "#E4EEF3", 14, LINE, 2.5)
        c.box((x + 6, bottom - 196, x + 94, bottom - 146), kit.tray.fill, 8, LINE, 2.5)
        c.box((x + 1, bottom - 104, x + 99, bottom - 40), CREAM, 0, LINE, 2)
        c.line([(x + 22, bottom - 82), (x + 78, bottom - 82)], kit.tray.fill, 9)
        c.line([(x + 32, bottom - 60), (x + 68, bottom - 60)], GREY, 5)
