"""Signs in the drawings of the building steps: arrows, ticks, and the things in a merchandiser's hand."""

from __future__ import annotations

import math

from workbook_tools.demo.drawing.canvas import INK, KRAFT, STEEL, WHITE, Canvas, Point, Rect, bezier, darker, lighter

LINE = "#3A4552"
ARROW = "#C2410C"
GO = "#1E7A46"
STOP = "#B3261E"
GREY = "#8894A1"


def arrow(c: Canvas, points: list[Point], width: float = 9) -> None:
    """A bent or straight arrow along the Bézier curve of `points`."""
    curve = bezier(points)
    tip, before = curve[-1], curve[-4]
    angle = math.atan2(tip[1] - before[1], tip[0] - before[0])
    head = width * 2.6
    neck = (tip[0] - head * 0.7 * math.cos(angle), tip[1] - head * 0.7 * math.sin(angle))
    c.line([*(point for point in curve if math.dist(point, tip) > head), neck], ARROW, width)
    wings = [(tip[0] + head * math.cos(angle + a), tip[1] + head * math.sin(angle + a)) for a in (2.6, -2.6)]
    c.polygon([(tip[0] + 5 * math.cos(angle), tip[1] + 5 * math.sin(angle)), *wings], ARROW)


def tick(c: Canvas, at: Point, r: float) -> None:
    """A tick on a green disc."""
    c.ellipse(at, r, r, GO)
    hook = [(-0.45, 0), (-0.1, 0.4), (0.5, -0.4)]
    c.line([(at[0] + r * x, at[1] + r * y) for x, y in hook], WHITE, r * 0.22)


def cross(c: Canvas, at: Point, r: float) -> None:
    """A cross on a red disc."""
    c.ellipse(at, r, r, STOP)
    arm = r * 0.4
    for side in (-1, 1):
        c.line([(at[0] - arm, at[1] - side * arm), (at[0] + arm, at[1] + side * arm)], WHITE, r * 0.22)


def folds(c: Canvas, corners: list[Point]) -> None:
    """A closed run of fold lines, or the outline of a place on the floor."""
    for start, end in zip(corners, [*corners[1:], corners[0]], strict=True):
        _dashed(c, start, end)


def _dashed(c: Canvas, start: Point, end: Point) -> None:
    length = math.dist(start, end)
    count = int(length // 14)
    for number in range(count):
        a, b = (number + 0.2) / count, (number + 0.7) / count
        c.line([(start[0] + (end[0] - start[0]) * s, start[1] + (end[1] - start[1]) * s) for s in (a, b)], LINE, 2)


def up(c: Canvas, foot: Point) -> None:
    """A small arrow that says which side is up."""
    x, y = foot
    c.line([(x, y), (x, y - 28)], INK, 3)
    c.polygon([(x - 7, y - 22), (x + 7, y - 22), (x, y - 36)], INK)


def top_mark(c: Canvas, at: Point) -> None:
    """The T printed on a tab that must point up."""
    c.box((at[0] - 12, at[1] - 12, at[0] + 12, at[1] + 12), WHITE, 4, LINE, 2)
    c.text(at, "T", 18, INK, bold=True)


def blank(c: Canvas, inner: Rect, wing: Point) -> None:
    """A flat blank: a floor with four wings, `wing` px wide at the sides and high above and below."""
    left, top, right, bottom = inner
    across, down = wing
    tint = lighter(KRAFT, 0.2)
    c.box((left - across, top, right + across, bottom), tint, 0, LINE, 2.5)
    c.box((left, top - down, right, bottom + down), tint, 0, LINE, 2.5)
    c.box((left - 1, top + 1, right + 1, bottom - 1), tint)
    c.box((left + 1, top - 1, right - 1, bottom + 1), tint)
    folds(c, [(left, top), (right, top), (right, bottom), (left, bottom)])


def pin(c: Canvas, tip: Point, high: float) -> None:
    """A map pin that marks the agreed place."""
    x, y = tip
    r = high * 0.36
    c.ellipse((x, y), high * 0.3, high * 0.09, "#1B243030")
    c.polygon([(x, y), (x - r * 0.93, y - high + r * 0.35), (x + r * 0.93, y - high + r * 0.35)], ARROW)
    c.ellipse((x, y - high), r, r, ARROW)
    c.ellipse((x, y - high), r * 0.42, r * 0.42, WHITE)


def clipboard(c: Canvas, at: Point) -> None:
    """A clipboard with three lines ticked off; `at` is its upper left corner."""
    x, y = at
    c.box((x, y, x + 130, y + 170), "#8C6A45", 8, LINE, 2.5)
    c.box((x + 10, y + 18, x + 120, y + 160), WHITE, 3)
    c.box((x + 42, y - 8, x + 88, y + 16), STEEL, 5, LINE, 2.5)
    for number in range(3):
        down = y + 50 + number * 40
        tick(c, (x + 30, down), 12)
        c.line([(x + 50, down), (x + 108 - number * 10, down)], GREY, 5)


def cutter(c: Canvas, at: Point) -> None:
    """A box cutter with little blade out, cutting away."""
    x, y = at
    c.polygon([(x - 150, y + 28), (x - 118, y + 10), (x - 118, y + 46)], STEEL, LINE, 2.5)
    c.box((x - 122, y, x + 60, y + 56), "#E9B949", 12, LINE, 2.5)
    c.box((x - 70, y + 18, x - 10, y + 36), darker("#E9B949", 0.3), 8)
    arrow(c, [(x - 176, y + 28), (x - 260, y + 28)])


def camera(c: Canvas, at: Point) -> None:
    """A camera."""
    x, y = at
    c.box((x - 26, y - 52, x + 26, y - 20), LINE, 8)
    c.box((x - 62, y - 38, x + 62, y + 46), LINE, 12)
    c.ellipse((x, y + 4), 33, 33, WHITE)
    c.ellipse((x, y + 4), 24, 24, "#7FA6C9")
    c.ellipse((x - 8, y - 4), 7, 7, WHITE)
    c.ellipse((x + 46, y - 24), 6, 6, "#E9B949")


def shelf_tag(c: Canvas, corners: Rect, code: str) -> None:
    """A printed tag: bars (only drawn, they cannot be scanned) over the item code."""
    left, top, right, bottom = corners
    c.box(corners, WHITE, 3, LINE, 2.5)
    x = left + 12
    for number, digit in enumerate(code * 3):
        wide = 1.5 + int(digit) % 3
        if x + wide < right - 10:
            c.box((x, top + 8, x + wide, bottom - 28), INK)
        x += wide + 2 + number % 2
    c.text(((left + right) / 2, bottom - 14), code, 22, INK, bold=True)
