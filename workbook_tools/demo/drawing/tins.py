"""Tins, pans and oven papers, 480 x 360 px, standing on the same ground as the packs."""

from __future__ import annotations

from workbook_tools.demo.drawing.canvas import CREAM, INK, STEEL, Canvas, bezier, darker, lighter, mirrored, path
from workbook_tools.demo.drawing.motifs import Motif, snowflake, tree
from workbook_tools.demo.drawing.packs import GROUND, MIDDLE, Trade, ground


def can(c: Canvas, trade: Trade, words: str, motif: Motif, tint: str) -> None:
    """A low steel tin with a pull ring."""
    ground(c, 138)
    left, right, top = MIDDLE - 132, MIDDLE + 132, 96
    c.box((left, top, right, GROUND - 16), STEEL)
    c.ellipse((MIDDLE, GROUND - 18), 132, 20, darker(STEEL, 0.18))
    upper = bezier([(left, top + 14), (MIDDLE, top + 52), (right, top + 14)])
    lower = bezier([(right, GROUND - 30), (MIDDLE, GROUND + 8), (left, GROUND - 30)])
    c.polygon([*upper, *lower], trade.fill)
    c.ellipse((MIDDLE, top), 132, 30, STEEL, darker(STEEL, 0.25), 3)
    c.ellipse((MIDDLE, top), 116, 21, lighter(STEEL, 0.35))
    c.ellipse((MIDDLE + 34, top + 2), 34, 11, outline=darker(STEEL, 0.4), line=5)
    c.box((MIDDLE - 8, top - 6, MIDDLE + 8, top + 6), darker(STEEL, 0.25), 3)
    c.text((MIDDLE, 160), trade.brand, 36, trade.ink, 226, bold=True)
    c.ellipse((MIDDLE, 228), 54, 46, CREAM)
    motif(c, (MIDDLE, 228), 40, tint)
    c.text((MIDDLE, 297), words, 24, trade.ink, 200)


def round_tin(c: Canvas, trade: Trade) -> None:
    """A round cookie tin with a snow pattern."""
    ground(c, 178)
    left, right, top = MIDDLE - 172, MIDDLE + 172, 128
    snow = lighter(trade.fill, 0.75)
    foot = bezier([(right, GROUND - 42), (right, GROUND + 14), (left, GROUND + 14), (left, GROUND - 42)])
    c.polygon([(left, top + 40), (right, top + 40), *foot], darker(trade.fill, 0.15))
    for at in path("110,252 168,268 240,276 312,268 370,252 138,300 204,312 276,312 342,300"):
        snowflake(c, at, 15, snow)
    rim = bezier([(right + 6, top + 42), (right + 6, top + 112), (left - 6, top + 112), (left - 6, top + 42)])
    c.polygon([(left - 6, top), (right + 6, top), *rim], darker(trade.fill, 0.32))
    c.ellipse((MIDDLE, top), 178, 70, trade.fill, darker(trade.fill, 0.32), 3)
    c.ellipse((MIDDLE, top), 154, 58, outline=snow, line=3)
    for at in path("150,112 330,112 240,88 128,136 352,136"):
        snowflake(c, at, 11, snow)
    c.text((MIDDLE, top + 2), trade.brand, 40, trade.ink, 220, bold=True)
    c.text((MIDDLE, top + 34), "cookies", 22, trade.ink, 200)


def square_tin(c: Canvas, trade: Trade) -> None:
    """A square cookie tin with a row of fir trees."""
    ground(c, 160, MIDDLE + 12)
    left, right, top = 78, 346, 120
    c.solid((left, top, right, GROUND), (62, 44), darker(trade.fill, 0.12))
    c.box((left, GROUND - 44, right, GROUND), "#EEF4F8")
    for number in range(5):
        tree(c, (left + 34 + number * 50, GROUND - 72 + (number % 2) * 8), 48, ("#2F7D5B", "#3E9470")[number % 2])
    c.solid((left - 6, top - 4, right + 6, top + 54), (62, 48), trade.fill)
    c.line([(left - 6, top + 53), (right + 6, top + 53)], darker(trade.fill, 0.35), 3)
    c.text(((left + right) / 2, top + 25), trade.brand, 38, trade.ink, 220, bold=True)


def parchment(c: Canvas, trade: Trade, words: str) -> None:
    """A long box of parchment, a sheet drawn out of it."""
    ground(c, 196)
    sheet = "#E9D9BC"
    upper = bezier(path("414,62 330,24 220,82 60,46"))
    c.polygon([(74, 128), (402, 128), *upper], sheet, darker(sheet, 0.2), 2)
    c.solid((50, 174, 404, GROUND), (36, 48), trade.fill)
    c.line([(78, 140), (414, 140)], darker(sheet, 0.35), 4)
    c.line([(50 + 6 * n, 174 if n % 2 else 181) for n in range(60)], lighter(STEEL, 0.4), 3)
    c.text((227, 222), trade.brand, 46, trade.ink, 320, bold=True)
    c.box((50, 262, 404, 304), CREAM)
    c.text((227, 283), words, 27, INK, 320)


def baking_cups(c: Canvas, trade: Trade, words: str) -> None:
    """Three striped baking cups, one in the other, with a label."""
    ground(c, 150)
    for top, stripe, pale in ((206, "#2F78B7", "#EAF3FA"), (132, "#C62F3B", "#FBEDEE"), (58, "#2F78B7", "#EAF3FA")):
        c.polygon(mirrored([(MIDDLE + 138, top), (MIDDLE + 98, top + 124)], MIDDLE), pale)
        for number in range(-7, 7, 2):
            a, b = number / 7, (number + 1) / 7
            rim = [(MIDDLE + 138 * a, top), (MIDDLE + 138 * b, top)]
            c.polygon([*rim, (MIDDLE + 98 * b, top + 124), (MIDDLE + 98 * a, top + 124)], stripe)
        c.ellipse((MIDDLE, top), 138, 20, "#F7FAFC", "#9FB6C8", 2)
        c.ellipse((MIDDLE, top + 3), 122, 13, "#DDE8F0")
    c.box((MIDDLE - 110, 250, MIDDLE + 110, 310), CREAM, 6, trade.fill, 3)
    c.box((MIDDLE - 110, 250, MIDDLE + 110, 282), trade.fill, 6)
    c.text((MIDDLE, 266), trade.brand, 24, trade.ink, 200, bold=True)
    c.text((MIDDLE, 296), words, 20, INK, 200)


def loaf_shapes(c: Canvas, trade: Trade, words: tuple[str, str], colour: str) -> None:
    """Three fluted loaf shapes, one in the other, with a sleeve around them that says `words` in two lines."""
    ground(c, 150)
    edge = darker(colour, 0.32)
    for number in range(3):
        top = 176 - number * 40
        c.polygon(mirrored([(418, top), (372, top + 150)], MIDDLE), lighter(colour, 0.12 * number), edge, 2)
        for flute in range(1, 18):
            x = 62 + flute * 19.8
            c.line([(x, top + 8), (MIDDLE + (x - MIDDLE) * 0.74, top + 148)], darker(colour, 0.14), 2)
        c.box((52, top - 9, 428, top + 9), lighter(colour, 0.3), 8, edge, 2)
    c.polygon(mirrored([(330, 80), (318, GROUND)], MIDDLE), trade.fill)
    c.polygon(mirrored([(306, 62), (330, 80)], MIDDLE), lighter(trade.fill, 0.3))
    c.text((MIDDLE, 128), trade.brand, 29, trade.ink, 156, bold=True)
    c.polygon(mirrored([(325, 176), (321, 260)], MIDDLE), CREAM)
    c.text((MIDDLE, 204), words[0], 27, INK, 150)
    c.text((MIDDLE, 236), words[1], 27, INK, 150)
