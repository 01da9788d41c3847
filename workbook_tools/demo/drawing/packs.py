"""Packs of goods, 480 x 360 px, standing on the same ground: bottles, jars, boxes, bags, pouches, tubes."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from workbook_tools.demo.drawing.canvas import (
    CREAM,
    INK,
    SHADOW,
    STEEL,
    WHITE,
    Canvas,
    Point,
    Rect,
    bezier,
    darker,
    lighter,
    mirrored,
    mix,
    path,
)
from workbook_tools.demo.drawing.motifs import Motif, drop, snowflake, star

GROUND = 330
MIDDLE = 240
GLASS = "#DCEAF0"
AMBER = "#8A4B1C"


@dataclass(frozen=True)
class Trade:
    """Whose goods are drawn: the brand's name, its colour and the ink on it."""

    brand: str
    fill: str
    ink: str


def ground(c: Canvas, half: float, at: float = MIDDLE) -> None:
    """The shadow that goods stand on, `half` px to either side."""
    c.ellipse((at, GROUND - 2), half * 1.08, 13, SHADOW)


def label(c: Canvas, trade: Trade, corners: Rect, words: str) -> None:
    """A pale label: a band with the brand on top, the goods' name at the foot, room for an emblem between."""
    left, top, right, bottom = corners
    band = max(24, (bottom - top) * 0.24)
    c.box(corners, CREAM, 3)
    c.box((left, top, right, top + band), trade.fill, 3)
    middle = (left + right) / 2
    c.text((middle, top + band / 2), trade.brand, band * 0.62, trade.ink, right - left - 12, bold=True)
    c.text((middle, bottom - 15), words, 19, INK, right - left - 14)


def bottle(c: Canvas, trade: Trade, words: str, motif: Motif, tint: str) -> None:
    """An amber bottle with a brand-coloured cap and an emblem on its label."""
    _amber_bottle(c, trade, words, MIDDLE, 76)
    motif(c, (MIDDLE, 242), 36, tint)


def small_bottle(c: Canvas, trade: Trade, words: str, motif: Motif, tint: str) -> None:
    """A small amber bottle beside its carton, which bears the emblem."""
    carton(c, trade, (MIDDLE + 18, 118, MIDDLE + 136, GROUND), motif, tint)
    _amber_bottle(c, trade, words, MIDDLE - 62, 58)


def _amber_bottle(c: Canvas, trade: Trade, words: str, x: float, half: float) -> None:
    """A labelled bottle around `x`, `half` px wide to either side."""
    top = GROUND - half * 3.95
    ground(c, half, x)
    neck = half * 0.34
    shoulder = bezier([(x + neck, top + 46), (x + neck, top + 92), (x + half, top + 74), (x + half, top + 122)])
    right = [(x + neck, top + 20), *shoulder, (x + half, GROUND - 12), (x + half - 10, GROUND)]
    c.polygon(mirrored(right, x), AMBER)
    gleam = x - half + 7
    c.polygon([(gleam, top + 128), (gleam + 8, top + 118), (gleam + 8, GROUND - 10), (gleam, GROUND - 12)], "#FFFFFF58")
    c.box((x - neck - 6, top, x + neck + 6, top + 40), darker(trade.fill, 0.12), 4)
    c.box((x - neck - 6, top, x - neck + 6, top + 40), lighter(trade.fill, 0.25), 4)
    c.box((x - neck - 9, top + 38, x + neck + 9, top + 47), darker(trade.fill, 0.3), 3)
    label(c, trade, (x - half, top + 130, x + half, GROUND - 18), words)


def carton(c: Canvas, trade: Trade, corners: Rect, motif: Motif, tint: str) -> None:
    """A plain folding carton with a side in shade."""
    left, top, right, bottom = corners
    ground(c, (right - left) / 2 + 8, (left + right) / 2)
    c.solid(corners, (22, 14), trade.fill)
    middle = ((left + right) / 2, (top + bottom) / 2 + 14)
    c.ellipse(middle, 44, 44, CREAM)
    motif(c, middle, 32, tint)
    c.text((middle[0], top + 28), trade.brand, 19, trade.ink, right - left - 12, bold=True)


def jar(c: Canvas, trade: Trade, words: str, contents: Callable[[Canvas, Point, float], None]) -> None:
    """A clear jar with a shaker lid; `contents` draws one piece around a point, at most so many px away from it."""
    ground(c, 104)
    left, right, top = MIDDLE - 104, MIDDLE + 104, 84
    c.box((left, top, right, GROUND), GLASS, 26)
    c.box((left + 8, top + 20, right - 8, GROUND - 8), lighter(GLASS, 0.35), 20)
    rng = random.Random(7)
    for row in range(15):
        for column in range(13 - row % 2):
            at = (left + 22 + (row % 2) * 6.8 + column * 13.6, GROUND - 21 - row * 12.5)
            contents(c, (at[0] + rng.uniform(-2, 2), at[1] + rng.uniform(-2, 2)), 9)
    c.box((left, top, right, GROUND), "#00000000", 26, mix(GLASS, "#5B7B8C", 0.55), 3)
    c.box((left + 15, top + 26, left + 25, GROUND - 30), "#FFFFFFA0", 5)
    c.box((left + 8, 32, right - 8, 86), trade.fill, 10)
    c.box((left + 8, 74, right - 8, 90), darker(trade.fill), 6)
    for number in range(9):
        c.line([(left + 30 + number * 18.5, 44), (left + 30 + number * 18.5, 68)], darker(trade.fill, 0.12), 3)
    label(c, trade, (left + 6, 150, right - 6, 290), words)
    contents(c, (MIDDLE, 224), 28)


def pearl(c: Canvas, at: Point, r: float) -> None:
    """A white sugar pearl."""
    c.ellipse(at, r, r, "#F1EBE2", "#C9BDAA", 1)
    c.ellipse((at[0] - r / 4, at[1] - r / 4), r / 3, r / 3, WHITE)


def flake(c: Canvas, at: Point, r: float) -> None:
    """A sugar snowflake; every other one is pale."""
    snowflake(c, at, r * 1.1, "#2F78B7" if round(at[0] + at[1]) % 2 or r > 10 else "#8EC3E6")


def silver_star(c: Canvas, at: Point, r: float) -> None:
    """A silver sugar star."""
    star(c, at, r * 1.2, "#8D97A3" if round(at[0] + at[1]) % 2 or r > 10 else "#B4BDC7")


def ceramic_ball(c: Canvas, at: Point, r: float) -> None:
    """A ceramic pie weight."""
    c.ellipse(at, r, r, "#DCC7AC", "#A98D6B", 1)
    c.ellipse((at[0] - r / 3, at[1] - r / 3), r / 4, r / 4, "#EFE3D2")


def box(c: Canvas, trade: Trade, words: str, motif: Motif, tint: str) -> None:
    """A folding box with an emblem on a pale disc."""
    wide, high = 226, 262
    left, top = MIDDLE - wide / 2 - 14, GROUND - high
    right = left + wide
    ground(c, wide / 2 + 24, MIDDLE + 4)
    c.solid((left, top, right, GROUND), (34, 22), trade.fill)
    middle = ((left + right) / 2, top + high * 0.55)
    c.text((middle[0], top + high * 0.13), trade.brand, 30, trade.ink, wide - 24, bold=True)
    c.ellipse(middle, high * 0.28, high * 0.28, CREAM)
    motif(c, middle, high * 0.22, tint)
    c.box((left, GROUND - 40, right, GROUND - 10), CREAM)
    c.text((middle[0], GROUND - 25), words, 21, INK, wide - 16)


def window_box(c: Canvas, trade: Trade, words: str, pieces: Callable[[Canvas], None]) -> None:
    """A wide box with a window in which `pieces` are drawn (from 118 to 342 across, 128 to 262 down)."""
    ground(c, 160)
    left, right, top = 86, 374, 66
    c.solid((left, top, right, GROUND), (26, 18), trade.fill)
    middle = (left + right) / 2
    c.text((middle, 94), trade.brand, 32, trade.ink, 260, bold=True)
    c.box((104, 120, 356, 270), CREAM, 10, darker(trade.fill, 0.15), 2)
    pieces(c)
    c.box((left, GROUND - 46, right, GROUND - 14), CREAM)
    c.text((middle, GROUND - 30), words, 22, INK, 270)


def gel_pots(c: Canvas) -> None:
    """Four pots of color gel."""
    for number, colour in enumerate(("#C62F3B", "#2E8B4E", "#2B67B1", "#D9A514")):
        x = 141 + number * 59
        c.box((x - 22, 176, x + 22, 256), lighter(colour, 0.12), 8)
        c.box((x - 16, 184, x - 10, 246), lighter(colour, 0.5), 3)
        c.box((x - 24, 158, x + 24, 182), WHITE, 5, "#B9C0C8", 2)
        drop(c, (x, 138), 13, colour)


def bag(c: Canvas, trade: Trade, words: str, motif: Motif, tint: str) -> None:
    """A paper bag, its top folded over."""
    ground(c, 112)
    left, right, top = MIDDLE - 108, MIDDLE + 108, 78
    paper = "#F4EFE4"
    outline = mirrored([(right - 4, top), (right + 2, 200), (right, GROUND)], MIDDLE)
    c.polygon(outline, paper, darker(paper, 0.18), 2)
    c.polygon([*outline[:3], (right - 26, GROUND), (right - 22, top)], darker(paper, 0.1))
    c.polygon(mirrored([(right - 6, 40), (right - 4, top + 4)], MIDDLE), darker(trade.fill, 0.12))
    c.line([(left + 5, top - 14), (right - 5, top - 14)], darker(trade.fill, 0.3), 2)
    c.box((left, 104, right, 148), trade.fill)
    c.text((MIDDLE, 126), trade.brand, 33, trade.ink, 190, bold=True)
    motif(c, (MIDDLE, 212), 52, tint)
    c.text((MIDDLE, 293), words, 25, INK, 180)


def pouch(c: Canvas, trade: Trade, words: str, pieces: Motif, tint: str) -> None:
    """A stand-up pouch with a sealed top and a round window on its contents."""
    ground(c, 100)
    left, right = MIDDLE - 98, MIDDLE + 98
    teeth = [(left + 7 * n, 30 if n % 2 else 36) for n in range(29)]
    foot = bezier([(right - 4, GROUND - 14), (MIDDLE, GROUND + 14), (left + 4, GROUND - 14)])
    c.polygon([*teeth, (right + 3, 200), *foot, (left - 3, 200)], trade.fill)
    shade = [(right - 24, 36), (right, 33), (right + 3, 200), (right - 4, GROUND - 14), (right - 22, GROUND - 6)]
    c.polygon(shade, darker(trade.fill, 0.13))
    c.line([(left + 2, 58), (right - 2, 58)], darker(trade.fill, 0.25), 2)
    c.line([(left + 2, 66), (right - 2, 66)], lighter(trade.fill), 2)
    c.text((MIDDLE, 98), trade.brand, 31, trade.ink, 172, bold=True)
    c.ellipse((MIDDLE, 196), 76, 72, CREAM, darker(trade.fill, 0.3), 3)
    for down, count in ((-36, 3), (-2, 4), (32, 3)):
        for number in range(count):
            pieces(c, (MIDDLE + (number - (count - 1) / 2) * 36, 197 + down), 19, tint)
    c.text((MIDDLE, 294), words, 22, trade.ink, 164)


def icing_pens(c: Canvas, trade: Trade, words: str) -> None:
    """Three squeeze tubes on a card."""
    ground(c, 150)
    c.box((96, 30, 384, GROUND), trade.fill, 14)
    c.ellipse((MIDDLE, 42), 14, 6, WHITE)
    c.text((MIDDLE, 69), trade.brand, 28, trade.ink, 240, bold=True)
    for x, colour in ((158, "#C62F3B"), (240, "#2E8B4E"), (322, "#F2F4F6")):
        edge = darker(colour, 0.25)
        c.polygon(mirrored([(x + 30, 96), (x + 25, 214), (x + 9, 230)], x), colour, edge, 2)
        c.box((x - 32, 92, x + 32, 106), edge, 2)
        c.polygon(mirrored([(x + 9, 230), (x + 3, 274)], x), CREAM, "#B9C0C8", 2)
        c.polygon([(x - 22, 112), (x - 14, 112), (x - 12, 205), (x - 18, 205)], lighter(colour, 0.5))
    c.box((96, 284, 384, 316), CREAM)
    c.text((MIDDLE, 300), words, 21, INK, 270)


def piping_bags(c: Canvas, trade: Trade, words: str) -> None:
    """A tall dispenser box and a filled piping bag beside it."""
    carton(c, trade, (92, 78, 226, GROUND), piping_cone, darker(trade.fill, 0.1))
    c.box((92, GROUND - 44, 226, GROUND - 14), CREAM)
    c.text((159, GROUND - 29), words, 19, INK, 124)
    x = 341
    film = mix(WHITE, trade.fill, 0.3)
    edge = darker(film, 0.25)
    ground(c, 44, x)
    c.polygon(path("322,96 360,96 392,30 366,44 341,26 316,44 290,30"), lighter(film, 0.5), edge, 2)
    shoulder = bezier([(x + 15, 98), (x + 41, 100), (x + 51, 130)])
    c.polygon(mirrored([*shoulder, (x + 11, 268)], x), film, edge, 2.5)
    c.polygon(path("366,106 386,124 350,262 342,266"), darker(film, 0.08))
    c.box((x - 23, 88, x + 23, 102), darker(trade.fill, 0.1), 6)
    c.polygon(mirrored([(x + 13, 264), (x + 5, 300)], x), STEEL, darker(STEEL, 0.3), 2)
    for number, wide in enumerate((30, 21, 11)):
        rosette = (x, GROUND - 7 - number * 9)
        c.ellipse(rosette, wide, 8, lighter(trade.fill, 0.6), darker(trade.fill, 0.05), 2)


def piping_cone(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A small piping bag, as an emblem."""
    x, y = at
    c.polygon(mirrored([(x + r * 0.8, y - r * 0.85), (x + r * 0.16, y + r * 0.65)], x), colour)
    c.polygon(mirrored([(x + r * 0.19, y + r * 0.6), (x + r * 0.06, y + r)], x), darker(STEEL, 0.3))
