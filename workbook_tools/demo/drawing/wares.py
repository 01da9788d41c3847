"""Goods that show themselves, 480 x 360 px: kitchen tools on a sleeve or card, cutters, ribbon, tags, treat bags."""

from __future__ import annotations

import math

from workbook_tools.demo.drawing.canvas import (
    CREAM,
    INK,
    KRAFT,
    STEEL,
    WHITE,
    WOOD,
    Canvas,
    Point,
    Rect,
    around,
    bezier,
    darker,
    lighter,
    mirrored,
    mix,
    path,
    turned,
)
from workbook_tools.demo.drawing.motifs import bell_outline, heart_outline, moon_outline, star, tree_outline
from workbook_tools.demo.drawing.packs import GROUND, MIDDLE, Trade, ground


def sleeve(c: Canvas, trade: Trade, corners: Rect, words: str) -> None:
    """A card sleeve around a handle: brand above, name of the goods below."""
    left, top, right, bottom = corners
    middle = (left + right) / 2
    c.box(corners, trade.fill, 6)
    c.box((right - 12, top, right, bottom), darker(trade.fill, 0.12), 6)
    c.text((middle, top + (bottom - top) * 0.3), trade.brand, 27, trade.ink, right - left - 16, bold=True)
    c.box((left, bottom - (bottom - top) * 0.44, right, bottom - 8), CREAM)
    c.text((middle, bottom - (bottom - top) * 0.23 - 4), words, 20, INK, right - left - 16)


def whisk(c: Canvas, trade: Trade) -> None:
    """A balloon whisk, lying across."""
    steel = darker(STEEL, 0.25)
    tip, root = 448.0, 214.0
    for half in (104, 78, 48, 16):
        for side in (-1, 1):
            bend = side * half
            wire = [(root, 190 + side * 7), (root + 60, 190 + bend * 0.7), (tip - 40, 190 + bend * 1.45)]
            wire += [(tip, 190 + bend * 0.9), (tip, 190)]
            c.curve(wire, steel, 5)
            c.curve([(x, y - 1) for x, y in wire], lighter(STEEL, 0.5), 1.5)
    c.box((190, 174, 226, 206), steel, 5)
    c.box((34, 172, 200, 208), STEEL, 16)
    c.box((44, 178, 190, 186), lighter(STEEL, 0.6), 4)
    c.ellipse((40, 190), 15, 15, "", steel, 5)
    sleeve(c, trade, (66, 146, 194, 236), "Balloon whisk")
    c.turn(-24)


def spatula(c: Canvas, trade: Trade) -> None:
    """A spatula of silicone on a wooden handle, lying across."""
    c.box((30, 174, 320, 206), WOOD, 16)
    c.box((40, 178, 310, 185), lighter(WOOD, 0.4), 4)
    c.ellipse((52, 190), 7, 7, WHITE)
    head = mix(trade.fill, "#C2362F", 0.75)
    tip = bezier(path("458,150 462,210 440,252 400,250"))
    blade = [*bezier(path("300,164 360,130 440,128 458,150")), *tip, *bezier(path("400,250 340,240 320,218 300,216"))]
    c.polygon(blade, head)
    gleam = [*bezier(path("318,172 370,146 430,142 446,154")), *bezier(path("446,154 380,152 350,166 322,182"))]
    c.polygon(gleam, lighter(head, 0.4))
    sleeve(c, trade, (104, 140, 254, 240), "Silicone spatula")
    c.turn(-28)


def rolling_pin(c: Canvas, trade: Trade) -> None:
    """A beech rolling pin, lying across."""
    for left, right in ((22, 104), (376, 458)):
        c.box((left, 170, right, 210), darker(WOOD, 0.12), 18)
        c.box((left + 8, 176, right - 8, 183), lighter(WOOD, 0.3), 3)
    c.box((84, 138, 396, 242), WOOD, 16)
    c.box((92, 148, 388, 164), lighter(WOOD, 0.45), 8)
    c.box((92, 220, 388, 236), darker(WOOD, 0.1), 8)
    for x, y, wide in ((112, 182, 60), (120, 204, 40), (344, 190, 36), (330, 174, 54)):
        c.line([(x, y), (x + wide, y)], darker(WOOD, 0.18), 2)
    sleeve(c, trade, (172, 130, 308, 250), "Rolling pin")
    c.turn(-28)


def on_card(c: Canvas, trade: Trade, words: str) -> None:
    """A pale hanging card with the brand on top and the name at the foot; goods go from 92 to 274 down."""
    ground(c, 150)
    c.box((92, 24, 388, GROUND), CREAM, 14, mix(CREAM, "#8A7F6A", 0.35), 2)
    c.box((92, 24, 388, 88), trade.fill, 14)
    c.ellipse((MIDDLE, 37), 14, 6, WHITE)
    c.text((MIDDLE, 66), trade.brand, 28, trade.ink, 260, bold=True)
    c.box((92, 286, 388, 318), lighter(trade.fill, 0.75))
    c.text((MIDDLE, 302), words, 21, INK, 280)


def steel_edge(c: Canvas, outline: list[Point], thick: float = 6) -> None:
    """A band of tin plate bent to a closed outline, a light edge on a dark one."""
    closed = [*outline, outline[0], outline[1]]
    c.line([(x + 1.5, y + 3) for x, y in closed], "#6D7883", thick)
    c.line(closed, STEEL, thick)
    c.line([(x - 0.6, y - 1) for x, y in closed], lighter(STEEL, 0.6), thick / 3)


def five_cutters(c: Canvas) -> None:
    """Five tin-plate cutters, as they lie in their box's window."""
    steel_edge(c, around((150, 162), [34, 16] * 5))
    steel_edge(c, heart_outline((230, 160), 29))
    steel_edge(c, tree_outline((312, 168), 38))
    steel_edge(c, moon_outline((192, 228), 31))
    steel_edge(c, bell_outline((272, 230), 31))


def man_outline(at: Point, r: float) -> list[Point]:
    """The outline of a gingerbread man."""
    x, y = at
    angles = [math.radians(14 * number) for number in range(11)]
    head = [(x + r * 0.34 * math.sin(angle), y - r * 0.62 - r * 0.34 * math.cos(angle)) for angle in angles]
    arm = bezier([(x + r * a, y + r * b) for a, b in path("0.26,-0.32 1.1,-0.5 1.1,0.1 0.3,-0.02")], 12)
    leg = bezier([(x + r * a, y + r * b) for a, b in path("0.32,0.2 0.85,1 0.35,1.25 0,0.42")], 12)
    return mirrored([*head, *arm, *leg], x)


def gingerbread_cutters(c: Canvas, trade: Trade) -> None:
    """Two gingerbread cutters on a card."""
    on_card(c, trade, "Gingerbread cutters, pair")
    steel_edge(c, man_outline((188, 192), 86), 7)
    steel_edge(c, man_outline((312, 212), 56), 6)


def flake_outline(at: Point, r: float) -> list[Point]:
    """The outline of a snow crystal with a twig on either side of each arm."""
    half_arm = ((0, 1.0), (9, 0.9), (8, 0.7), (22, 0.74), (19, 0.55), (30, 0.34))
    arm = [(-angle, reach) for angle, reach in reversed(half_arm[1:-1])] + list(half_arm)
    return [turned([(at[0], at[1] - r * reach)], at, 60 * n + angle)[0] for n in range(6) for angle, reach in arm]


def snowflake_cutters(c: Canvas, trade: Trade) -> None:
    """Three snowflake cutters on a card."""
    on_card(c, trade, "Snowflake cutters, 3 sizes")
    for at, r in (((184, 190), 82), ((316, 154), 52), ((318, 242), 32)):
        steel_edge(c, flake_outline(at, r), 5)


def ribbon(c: Canvas, trade: Trade, colour: str, words: str) -> None:
    """A spool of ribbon with its end hanging out."""
    ground(c, 150)
    upper, lower = bezier(path("296,66 440,60 360,200 440,246")), bezier(path("384,284 330,210 396,108 296,106"))
    c.polygon([*upper, (420, 292), (400, 268), *lower], darker(colour, 0.14))
    c.ellipse((206, 182), 148, 148, mix(CREAM, KRAFT, 0.25), darker(KRAFT, 0.1), 3)
    c.ellipse((206, 182), 128, 128, colour)
    for r in (120, 106):
        c.ellipse((206, 182), r, r, outline=lighter(colour, 0.75 if r == 120 else 0.2), line=3)
    c.ellipse((206, 182), 92, 92, CREAM, darker(KRAFT, 0.1), 2)
    c.box((124, 152, 288, 196), trade.fill, 4)
    c.text((206, 174), trade.brand, 28, trade.ink, 152, bold=True)
    c.text((206, 222), words, 21, INK, 140)
    c.ellipse((206, 122), 16, 16, WHITE, darker(KRAFT, 0.2), 2)


def tags(c: Canvas, trade: Trade) -> None:
    """A fan of paper tags with strings."""
    ground(c, 140)
    for angle, colour in ((-20, "#C9E2D2"), (18, "#F6D9C5"), (0, CREAM)):
        tag(c, (MIDDLE, GROUND + 40), angle, colour)
    c.text((MIDDLE, 172), trade.brand, 26, darker(trade.fill, 0.25), 116, bold=True)
    star(c, (MIDDLE, 226), 34, trade.fill)
    c.box((172, 270, 308, 306), trade.fill)
    c.text((MIDDLE, 288), "24 gift tags", 20, trade.ink, 120)


def tag(c: Canvas, foot: Point, angle: float, colour: str) -> None:
    """One tag with a clipped top, leaning by `angle` degrees around `foot`."""
    edge = darker(colour, 0.22)
    hole = turned([(MIDDLE, 122)], foot, angle)[0]
    string = turned([(MIDDLE, 122), (MIDDLE - 26, 70), (MIDDLE + 34, 40), (MIDDLE + 12, 18)], foot, angle)
    c.polygon(turned(path("170,130 204,92 276,92 310,130 310,322 170,322"), foot, angle), colour, edge, 2.5)
    c.ellipse(hole, 10, 10, WHITE, edge, 3)
    c.curve(string, "#B5714A", 4)


def treat_bag(c: Canvas, trade: Trade) -> None:
    """A clear bag of cookies, tied with silver, with a brand sticker."""
    ground(c, 118)
    film = "#E4F0F5"
    edge = mix(film, "#6B8795", 0.5)
    c.polygon(path("196,30 222,42 240,28 260,42 284,30 268,100 212,100"), film, edge, 2)
    c.polygon(mirrored(bezier([(268, 112), (352, 140), (368, 200), (362, GROUND)]), MIDDLE), film, edge, 2)
    for x, y in path("164,292 240,296 316,292 196,236 286,238 240,184"):
        c.ellipse((x, y), 37, 34, "#C98B4E", "#A86E35", 2)
        for dx, dy in path("-14,-8 10,-14 16,8 -8,14 2,0"):
            c.ellipse((x + dx, y + dy), 5, 5, "#5B3218")
    c.polygon(path("150,190 158,168 176,150 184,154 168,180 160,196"), "#FFFFFFB0")
    c.box((204, 98, 276, 114), STEEL, 6, darker(STEEL, 0.25), 2)
    c.curve([(212, 106), (170, 90), (160, 130)], darker(STEEL, 0.15), 5)
    c.curve([(268, 106), (310, 90), (320, 130)], darker(STEEL, 0.15), 5)
    c.ellipse((MIDDLE, 246), 66, 44, trade.fill, WHITE, 4)
    c.text((MIDDLE, 238), trade.brand, 21, trade.ink, 112, bold=True)
    c.text((MIDDLE, 262), "40 treat bags", 16, trade.ink, 100)


def gable_box(c: Canvas, trade: Trade) -> None:
    """A gable box with a carrying handle."""
    ground(c, 150, MIDDLE + 8)
    left, right, top = 96, 340, 176
    board = "#F3E4CF"
    c.polygon([(right, top), (right + 52, top - 36), (right + 52, GROUND - 30), (right, GROUND)], darker(board, 0.2))
    c.polygon([(right, top), (right + 52, top - 36), (right, 94)], darker(board, 0.1))
    c.box((left, top, right, GROUND), board)
    c.polygon([(left, top), (right, top), (right, 92), (left + 44, 92)], lighter(board, 0.35))
    c.polygon(path("140,94 340,94 340,60 314,30 166,30 140,60"), trade.fill)
    c.box((200, 48, 280, 74), WHITE, 13)
    c.line([(left, top), (right, top)], darker(board, 0.15), 2)
    for x in range(104, 340, 36):
        c.ellipse((x + 6, 206), 5, 5, trade.fill)
        c.ellipse((x + 6, 306), 5, 5, trade.fill)
    c.text(((left + right) / 2, 244), trade.brand, 38, darker(trade.fill, 0.2), 216, bold=True)
    c.text(((left + right) / 2, 280), "6 treat boxes", 23, INK, 200)
