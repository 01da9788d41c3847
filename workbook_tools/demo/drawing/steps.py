"""Line drawings of the ten building steps, 640 x 480 px; no words in them but those printed on the display itself."""

from __future__ import annotations

from workbook_tools.demo.drawing.canvas import INK, STEEL, WHITE, Canvas, Rect, darker, lighter
from workbook_tools.demo.drawing.display import (
    BOARD,
    HIGH,
    INSIDE,
    SHELVES_BELOW_TOP,
    Kit,
    View,
    footprint,
    header_card,
    jars,
    label_place,
    lip,
    tower,
    tray,
)
from workbook_tools.demo.drawing.signs import (
    ARROW,
    GO,
    LINE,
    STOP,
    arrow,
    blank,
    camera,
    clipboard,
    cross,
    cutter,
    folds,
    pin,
    shelf_tag,
    tick,
    top_mark,
    up,
)

_FLOOR = "#EEF1F5"
_WALL = "#C3CBD5"
_FIXTURE = "#D9DFE6"
_FIXTURE_LINE = "#AEB8C3"
_LIP: Rect = (60, 282, 580, 402)


def find_carton(c: Canvas, kit: Kit) -> None:
    """The flat carton with its marks, a list ticked off, and the agreed place at an aisle end."""
    _floor(c, 235)
    carton = View(40, 440, 7.2)
    carton.block(c, (46, 32, 8), BOARD)
    c.text(carton.at(23, 0, 4), kit.marks, 30, INK, 200, bold=True)
    for x in (3, 5, 41, 43):
        up(c, carton.at(x, 0, 1.8))
    c.polygon([carton.at(x, y, 8) for x, y in ((0, 15), (46, 15), (46, 17), (0, 17))], "#F3E6CE")
    clipboard(c, (60, 36))
    aisle = View(452, 262, 4.6)
    folds(c, [aisle.at(x, y, 0) for x, y in ((-29, 0), (-2, 0), (-2, 27), (-29, 27))])
    aisle.block(c, (44, 27, 32), _WALL)
    pin(c, aisle.at(-15.5, 13.5, 0), 70)


def open_carton(c: Canvas, kit: Kit) -> None:
    """The carton open on the floor with its parts counted, and a cutter that cuts away from the body."""
    _floor(c, 200)
    carton = View(80, 430, 7)
    carton.face(c, ((46, 0, 8), (46, 32, 8), (56, 36, 5), (56, 4, 5)), lighter(BOARD, 0.2))
    carton.face(c, ((0, 32, 8), (46, 32, 8), (46, 36, 16), (0, 36, 16)), lighter(BOARD, 0.1))
    carton.flat(c, (0, 0, 46, 32), 8, INSIDE)
    sheets: tuple[Rect, ...] = ((2, 3, 22, 29), (24, 16, 44, 29), (24, 3, 33, 14), (35, 3, 44, 14))
    for sheet in sheets:
        carton.flat(c, sheet, 7.6, lighter(BOARD, 0.4))
        tick(c, carton.at((sheet[0] + sheet[2]) / 2, (sheet[1] + sheet[3]) / 2, 7.6), 13)
    carton.face(c, ((0, 0, 8), (0, 32, 8), (-8, 34, 13), (-8, 2, 13)), lighter(BOARD, 0.3))
    carton.front(c, (0, 0, 46, 8), 0, BOARD)
    carton.face(c, ((0, 0, 8), (46, 0, 8), (45, -6, 5), (1, -6, 5)), lighter(BOARD, 0.35))
    cutter(c, (480, 64))


def unfold_base(c: Canvas, kit: Kit) -> None:
    """The base as a flat blank, then unfolded with its corner flaps pressed in."""
    _floor(c, 200)
    blank(c, (100, 176, 204, 280), (46, 46))
    arrow(c, [(264, 190), (299, 150), (338, 186)])
    base = View(330, 350, 7.2)
    base.block(c, (27, 27, 8), BOARD)
    base.flat(c, (1.2, 1.2, 25.8, 25.8), 8, INSIDE)
    for x, y in ((3, 3), (24, 3), (3, 24), (24, 24)):
        base.flat(c, (x - 2, y - 2, x + 2, y + 2), 8, lighter(BOARD, 0.4))
        flap = base.at(x, y, 9)
        arrow(c, [(flap[0] + (16 if x > 9 else -16), flap[1] - 58), flap], 6)


def slot_spine(c: Canvas, kit: Kit) -> None:
    """One half of the spine stands in the base, the other comes down on it; the back panel follows."""
    _floor(c, 290)
    base = View(120, 440, 5.6)
    base.block(c, (27, 27, 6), BOARD)
    base.flat(c, (1, 1, 26, 26), 6, INSIDE)
    base.front(c, (2, 6, 25, 38), 9, lighter(BOARD, 0.15))
    base.side(c, (4, 42, 26, 70), 13.5, darker(BOARD, 0.08))
    for low, high in ((21, 38), (42, 56)):
        c.line([base.at(13.5, 9, low), base.at(13.5, 9, high)], LINE, 5)
    for tab in ((6, 9, 35), (21, 9, 35), (13.5, 9, 66), (13.5, 21, 66)):
        top_mark(c, base.at(*tab))
    for x, y in ((9, 9), (18.5, 21)):
        arrow(c, [base.at(x, y, 52), base.at(x, y, 40.6)], 8)
    panel = View(430, 360, 5.6)
    panel.front(c, (0, 0, 27, 44), 0, lighter(BOARD, 0.35))
    top_mark(c, panel.at(13.5, 0, 41))
    arrow(c, [(420, 250), (380, 244), (336, 262)], 8)


def hang_shelves(c: Canvas, kit: Kit) -> None:
    """Three shelves hung from below, the fourth and its bar on their way."""
    _floor(c, 340)
    view = View(120, 440, 6.2)
    tower(c, view, shelves=3)
    next_z = HIGH - SHELVES_BELOW_TOP[1]
    level = view.at(27, 9, next_z)[1]
    for colour, thick in ((LINE, 13), (STEEL, 8)):
        c.line([(428, 92), (606, 92)], colour, thick)
    arrow(c, [(412, 96), (380, 100), (346, level - 4)], 8)
    View(430, 230, 6).block(c, (27, 9, 1.4), lighter(BOARD, 0.35))
    arrow(c, [(420, 214), (380, 214), (346, level + 34)], 8)
    for x in (0, 27):
        c.ellipse(view.at(x, 0, next_z), 9, 9, ARROW)
    arrow(c, [(64, 420), (64, 150)])


def move_to_place(c: Canvas, kit: Kit) -> None:
    """The floor from above: the tower's back to the aisle end, the exit and the extinguisher left clear."""
    c.box((0, 0, 640, 480), _FLOOR)
    c.box((0, 0, 640, 30), _WALL)
    c.box((0, 0, 30, 480), _WALL)
    for top in (110, 330):
        c.box((250, top, 640, top + 74), _FIXTURE, 0, LINE, 2.5)
        c.line([(252, top + 37), (640, top + 37)], _FIXTURE_LINE, 2)
        for x in range(290, 640, 50):
            c.line([(x, top + 2), (x, top + 72)], _FIXTURE_LINE, 2)
    footprint(c, kit, (164, 106, 248, 190))
    tick(c, (206, 82), 20)
    _exit(c)
    folds(c, [(62, 300), (150, 300), (150, 388), (62, 388)])
    cross(c, (106, 344), 26)
    c.box((64, 46, 88, 82), STOP, 6, LINE, 2)
    c.line([(76, 46), (76, 36), (92, 32)], LINE, 4)
    arrow(c, [(216, 456), (230, 380), (206, 290), (206, 204)])


def fold_trays(c: Canvas, kit: Kit) -> None:
    """A tray as a blank and folded; below, three trays on a shelf."""
    _floor(c, 430)
    blank(c, (96, 70, 216, 170), (36, 36))
    arrow(c, [(276, 130), (316, 86), (364, 124)])
    tray(c, View(380, 206, 15), 9, 9)
    View(60, 420, 16).block(c, (30, 8, 1), lighter(BOARD, 0.35))
    for left in (66, 224, 382):
        tray(c, View(left, 402, 16), 9.4, 7)
    arrow(c, [(470, 222), (500, 270), (460, 312)], 8)


def slide_label(c: Canvas, kit: Kit) -> None:
    """A brand label half way into the lip of a tray."""
    jars(c, kit, 300)
    lip(c, _LIP)
    c.box((34, 306, 326, 378), kit.tray.fill, 3, LINE, 3)
    c.text((180, 342), kit.tray.brand, 46, kit.tray.ink, 270, bold=True)
    arrow(c, [(100, 440), (260, 440)], 11)


def tag_in_gap(c: Canvas, kit: Kit) -> None:
    """A shelf tag on its way into the gap beside the label; its number is that of the drawing of the face."""
    jars(c, kit, 300)
    lip(c, _LIP)
    c.box(label_place(_LIP), kit.tray.fill, 2, LINE, 2)
    c.text((244, 342), kit.tray.brand, 46, kit.tray.ink, 300, bold=True)
    shelf_tag(c, (424, 208, 552, 280), kit.item_code)
    arrow(c, [(488, 286), (488, 344)])
    c.box((90, 420, 286, 466), WHITE, 4, LINE, 2.5)
    c.box((90, 420, 196, 466), kit.tray.fill, 4, LINE, 2.5)
    c.text((241, 443), kit.item_code, 22, INK)
    c.text((320, 443), "=", 40, INK, bold=True)
    c.text((404, 443), kit.item_code, 30, INK, bold=True)
    tick(c, (492, 443), 20)


def fill_and_photo(c: Canvas, kit: Kit) -> None:
    """The filled display in the frame of a photo, and the way of filling, from the bottom up."""
    _floor(c, 330)
    view = View(196, 440, 5.7)
    tower(c, view, stock=kit)
    header_card(c, view, kit)
    for x, y, dx, dy in ((130, 14, 46, 46), (470, 14, -46, 46), (130, 466, 46, -46), (470, 466, -46, -46)):
        c.line([(x + dx, y), (x, y), (x, y + dy)], LINE, 7)
    arrow(c, [(88, 410), (88, 170)], 11)
    camera(c, (556, 250))


def _floor(c: Canvas, top: float) -> None:
    """The floor, from `top` down."""
    c.box((0, top, c.width, c.height), _FLOOR)


def _exit(c: Canvas) -> None:
    """A way out in the left wall, from above, with its sign."""
    c.box((6, 262, 30, 390), WHITE)
    c.line([(30, 262), (110, 290)], GO, 8)
    c.box((36, 222, 108, 256), GO, 4)
    c.line([(98, 239), (58, 239)], WHITE, 5)
    c.polygon([(46, 239), (62, 228), (62, 250)], WHITE)
