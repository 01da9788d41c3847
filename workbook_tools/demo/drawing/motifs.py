"""Small emblems that stand on packs: each is drawn around a centre, at most `r` px away from it."""

from __future__ import annotations

import math
from collections.abc import Callable

from workbook_tools.demo.drawing.canvas import Canvas, Point, around, bezier, darker, lighter, mirrored, path, turned

Motif = Callable[[Canvas, Point, float, str], None]


def star(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A five-pointed star."""
    c.polygon(around(at, [r, r * 0.45] * 5), colour)


def snowflake(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A six-armed snow crystal."""
    thick = max(1.2, r / 7)
    for number in range(6):
        angle = 60 * number
        arm = turned([at, (at[0], at[1] - r * 0.94)], at, angle)
        c.line(arm, colour, thick)
        for side in (-1, 1):
            twig = [(at[0], at[1] - r * 0.55), (at[0] + side * r * 0.26, at[1] - r * 0.8)]
            c.line(turned(twig, at, angle), colour, thick)


def heart_outline(at: Point, r: float) -> list[Point]:
    """The outline of a heart."""
    x, y = at
    right = bezier([(x, y - r * 0.45), (x + r * 0.35, y - r * 1.25), (x + r * 1.55, y - r * 0.6), (x, y + r * 0.95)])
    return mirrored(right, x)


def tree(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A fir tree on a trunk."""
    x, y = at
    c.box((x - r * 0.1, y + r * 0.6, x + r * 0.1, y + r), darker(colour, 0.45))
    c.polygon(tree_outline(at, r), colour)


def tree_outline(at: Point, r: float) -> list[Point]:
    """The outline of a fir tree of three tiers, without its trunk."""
    x, y = at
    half = [(0, -1), (0.34, -0.5), (0.2, -0.5), (0.5, 0.02), (0.3, 0.02), (0.68, 0.66)]
    return mirrored([(x + r * a, y + r * b) for a, b in half], x)


def drop(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A drop, or a chocolate chip: round below, a tip above."""
    x, y = at
    tip = bezier([(x, y - r), (x + r * 0.12, y - r * 0.35), (x + r * 0.7, y - r * 0.1)])
    belly = bezier([(x + r * 0.7, y - r * 0.1), (x + r * 1.05, y + r * 0.85), (x, y + r * 0.85)])
    right = tip + belly
    c.polygon(mirrored(right, x), colour)


def gingerbread(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A gingerbread man with icing."""
    x, y = at
    c.ellipse((x, y - r * 0.62), r * 0.36, r * 0.36, colour)
    arms, trunk, legs = path("-0.72,-0.12 0.72,-0.12"), path("0,-0.2 0,0.25"), path("-0.4,0.78 0,0.1 0.4,0.78")
    for limb in (arms, trunk, legs):
        c.line([(x + r * a, y + r * b) for a, b in limb], colour, r * 0.42)
    icing = "#FFF7E8"
    for side in (-1, 1):
        c.ellipse((x + side * r * 0.13, y - r * 0.68), r * 0.05, r * 0.05, icing)
        c.line([(x + side * r * 0.62, y - r * 0.26), (x + side * r * 0.62, y + r * 0.02)], icing, max(1, r * 0.07))
        c.line([(x + side * r * 0.22, y + r * 0.66), (x + side * r * 0.46, y + r * 0.54)], icing, max(1, r * 0.07))
    c.curve([(x - r * 0.15, y - r * 0.54), (x, y - r * 0.42), (x + r * 0.15, y - r * 0.54)], icing, max(1, r * 0.06))
    for down in (-0.1, 0.14):
        c.ellipse((x, y + r * down), r * 0.07, r * 0.07, icing)


def blossom(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A vanilla blossom: five narrow petals and a cup."""
    for number in range(5):
        petal = bezier([at, (at[0] - r * 0.55, at[1] - r * 0.6), (at[0], at[1] - r)])
        petal += bezier([(at[0], at[1] - r), (at[0] + r * 0.55, at[1] - r * 0.6), at])
        c.polygon(turned(petal, at, 72 * number), colour)
    c.ellipse(at, r * 0.2, r * 0.2, darker(colour, 0.3))


def almond(c: Canvas, at: Point, r: float, colour: str) -> None:
    """Two almonds."""
    for shift, angle in ((-0.32, -28), (0.34, 24)):
        middle = (at[0] + r * shift, at[1])
        x, y = middle
        right = bezier([(x, y - r * 0.9), (x + r * 0.75, y - r * 0.1), (x + r * 0.4, y + r * 0.85), (x, y + r * 0.8)])
        nut = mirrored(right, x)
        c.polygon(turned(nut, middle, angle), colour)
        for share in (-0.16, 0, 0.16):
            grain = [(x + r * share * 0.7, y - r * 0.45), (x + r * share, y + r * 0.55)]
            c.line(turned(grain, middle, angle), darker(colour, 0.25), max(1, r * 0.05))


def peppermint(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A round peppermint with curved stripes."""
    c.ellipse(at, r * 0.8, r * 0.8, "#FFFFFF", colour, max(1, r * 0.07))
    for number in range(6):
        reach = r * 0.76
        tips = around(at, [reach] * 18, 60 * number)
        stripe = bezier([at, turned([tips[1]], at, -8)[0], tips[1]])[:-1] + tips[1:3]
        stripe += bezier([tips[2], turned([tips[2]], at, -8)[0], at])
        c.polygon(stripe, colour)


def hazelnut(c: Canvas, at: Point, r: float, colour: str) -> None:
    """Two hazelnuts with their pale caps and a leaf."""
    x, y = at
    leaf = [(x - r * 0.1, y - r * 0.2), (x - r * 0.9, y - r * 1.1), (x - r, y - r * 0.3), (x - r * 0.1, y - r * 0.1)]
    c.polygon(bezier(leaf), "#6E9A4B")
    for shift, down in ((0.36, -0.1), (-0.3, 0.22)):
        middle = (x + r * shift, y + r * down)
        c.ellipse(middle, r * 0.5, r * 0.52, colour)
        c.ellipse((middle[0], middle[1] - r * 0.32), r * 0.36, r * 0.2, lighter(colour, 0.45))


def wheat(c: Canvas, at: Point, r: float, colour: str) -> None:
    """An ear of wheat."""
    x, y = at
    c.line([(x, y - r * 0.5), (x, y + r)], colour, max(1.5, r * 0.08))
    for level in range(4):
        down = y - r * 0.55 + level * r * 0.32
        for side in (-1, 1):
            foot = (x, down + r * 0.3)
            grain = bezier([foot, (x + side * r * 0.5, down + r * 0.2), (x + side * r * 0.36, down - r * 0.2)])
            grain += bezier([(x + side * r * 0.36, down - r * 0.2), (x + side * r * 0.02, down), foot])
            c.polygon(grain, colour)
    c.polygon(mirrored(bezier([(x, y - r), (x + r * 0.3, y - r * 0.75), (x, y - r * 0.4)]), x), colour)


def cubes(c: Canvas, at: Point, r: float, colour: str) -> None:
    """Three cubes, one upon two."""
    for dx, dy in ((-0.46, 0.38), (0.46, 0.38), (0, -0.38)):
        x, y, half = at[0] + r * dx, at[1] + r * dy, r * 0.44
        rim = around((x, y), [half] * 6)
        c.polygon(rim, colour)
        c.polygon([rim[0], rim[1], (x, y), rim[5]], lighter(colour, 0.35))
        c.polygon([rim[1], rim[2], rim[3], (x, y)], darker(colour, 0.2))


def sieve(c: Canvas, at: Point, r: float, colour: str) -> None:
    """A sieve with powder falling from it."""
    x, y = at
    rim, low = y - r * 0.45, y + r * 0.5
    bowl = [(x - r * 0.8, rim), (x - r * 0.7, low), (x + r * 0.3, low), (x + r * 0.4, rim)]
    c.polygon(bezier(bowl), lighter(colour, 0.55), colour, max(1.5, r * 0.06))
    c.line([(x - r * 0.9, rim), (x + r * 1.1, rim)], colour, max(2, r * 0.12))
    for row, count in enumerate((5, 4, 5, 4)):
        for number in range(count):
            speck = (x - r * 0.2 + (number - (count - 1) / 2) * r * 0.2, y + r * (0.42 + 0.19 * row))
            c.ellipse(speck, r * 0.045, r * 0.045, colour)


def bell_outline(at: Point, r: float) -> list[Point]:
    """The outline of a bell."""
    x, y = at
    right = bezier(
        [(x, y - r * 0.9), (x + r * 0.7, y - r * 0.85), (x + r * 0.4, y + r * 0.2), (x + r * 0.85, y + r * 0.6)]
    )
    right += bezier([(x + r * 0.22, y + r * 0.62), (x + r * 0.2, y + r * 0.92), (x, y + r * 0.92)])
    return mirrored(right, x)


def moon_outline(at: Point, r: float) -> list[Point]:
    """The outline of a crescent moon, open to the right."""
    x, y = at
    angles = [math.radians(50 + 13 * number) for number in range(21)]
    outer = [(x + r * 0.9 * math.cos(angle), y + r * 0.9 * math.sin(angle)) for angle in angles]
    inner = bezier([outer[-1], (x - r * 0.35, y - r * 0.35), (x - r * 0.35, y + r * 0.35), outer[0]])
    return outer + inner
