"""Dimensions, leaders and marks as engineering drawings have them (ISO 129-1, ISO 128-2).

Closed narrow arrows; extension lines that stand off the part and run past the dimension line; arrows outside where
the gap is too small for them.  Hatching is laid out on the whole sheet, not on the shape, so that two cuts of one part
carry one hatching (ISO 128-3)."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, hypot, radians, sin

import numpy as np

from backwave.drawing.sheet import BoxStroke, Point, Sheet, TextMark
from backwave.drawing.styles import text_width
from backwave.finding import Verdict
from backwave.units import show

ARROW = 9.5  # length of an arrowhead, in narrow lines


def hatch(loops: Sequence[Sequence[Point]], spacing: float, angle_deg: float = 45.0) -> list[tuple[Point, Point]]:
    """Segments of parallel lines inside closed loops; a loop inside another is a hole (even-odd)."""
    c, s = cos(radians(angle_deg)), -sin(radians(angle_deg))  # the sheet's y runs down
    turned = [np.asarray(loop, dtype=float) @ np.array([[c, -s], [s, c]]) for loop in loops if len(loop) > 2]
    if not turned:
        return []
    a = np.concatenate(turned)
    b = np.concatenate([np.roll(loop, -1, axis=0) for loop in turned])
    low, high = a[:, 1].min(), a[:, 1].max()
    found = []
    # Half a line off the grid: a corner that lies on the grid itself is not met twice.
    for level in (np.arange(np.floor(low / spacing), np.ceil(high / spacing)) + 0.5013) * spacing:
        meets = (a[:, 1] <= level) != (b[:, 1] <= level)
        p, q = a[meets], b[meets]
        at = np.sort(p[:, 0] + (level - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0]))
        for u1, u2 in zip(at[::2], at[1::2], strict=True):
            found.append(((u1 * c - level * s, u1 * s + level * c), (u2 * c - level * s, u2 * s + level * c)))
    return [((float(x1), float(y1)), (float(x2), float(y2))) for (x1, y1), (x2, y2) in found]


def arrow(sheet: Sheet, tip: Point, angle_deg: float, look: str = "arrow") -> None:
    long, half = ARROW * sheet.narrow, ARROW * sheet.narrow * 0.17
    c, s = cos(radians(angle_deg)), -sin(radians(angle_deg))
    x, y = tip
    left = (x - long * c + half * s, y - long * s - half * c)
    right = (x - long * c - half * s, y - long * s + half * c)
    sheet.line((tip, left, right), look, closed=True)


def dimension(
    sheet: Sheet, a: Point, b: Point, look: str = "dimension", head: str = "arrow", tail: float = 17.0
) -> tuple[Point, Point]:
    """A dimension line between two points; its arrows go outside where the gap is too small for them. Returns sheet
    units: where the line ends beyond a and beyond b: a and b themselves, or the ends of the outside shafts."""
    reach = hypot(b[0] - a[0], b[1] - a[1])
    angle = atan2(-(b[1] - a[1]), b[0] - a[0]) if reach else 0.0
    deg = angle * 57.29577951308232
    if reach >= 2.6 * ARROW * sheet.narrow:
        sheet.line((a, b), look)
        arrow(sheet, a, deg + 180, head)
        arrow(sheet, b, deg, head)
        return a, b
    dx, dy = cos(angle) * tail * sheet.narrow, -sin(angle) * tail * sheet.narrow
    ends = (a[0] - dx, a[1] - dy), (b[0] + dx, b[1] + dy)
    sheet.line((ends[0], a), look)
    sheet.line((b, ends[1]), look)
    sheet.line((a, b), look)
    arrow(sheet, a, deg, head)
    arrow(sheet, b, deg + 180, head)
    return ends


def extension(sheet: Sheet, start: Point, end: Point, look: str = "dimension") -> None:
    """An extension line: it stands off the part by a gap and runs a little past the dimension line."""
    reach = hypot(end[0] - start[0], end[1] - start[1])
    if reach <= 3 * sheet.narrow:
        return
    dx, dy = (end[0] - start[0]) / reach, (end[1] - start[1]) / reach
    off, past = 3 * sheet.narrow, 4 * sheet.narrow
    sheet.line(((start[0] + dx * off, start[1] + dy * off), (end[0] + dx * past, end[1] + dy * past)), look)


def dimensioned(
    sheet: Sheet, a: Point, b: Point, *, x: float | None = None, y: float | None = None
) -> tuple[Point, Point]:
    """Extension lines from two points to an upright at x or a level at y, and the dimension between them there."""
    ends = [(p[0] if x is None else x, p[1] if y is None else y) for p in (a, b)]
    extension(sheet, a, ends[0])
    extension(sheet, b, ends[1])
    return dimension(sheet, ends[0], ends[1])


def fill_hatch(
    sheet: Sheet, points: Sequence[Point], fill: str, lines: str, spacing: float, angle_deg: float = 45.0
) -> None:
    if fill:
        sheet.line(points, fill, closed=True)
    for segment in hatch([points], spacing, angle_deg):
        sheet.line(segment, lines)


def break_line(sheet: Sheet, a: Point, b: Point, look: str = "line") -> None:
    """A freehand break line: the thing goes on beyond it."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    reach = hypot(dx, dy) or 1.0
    wave = min(3.0 * sheet.narrow, 0.18 * reach)
    points = []
    for n in range(17):
        t = n / 16
        off = wave * sin(t * 9.4248) * (1.0 - 0.3 * cos(t * 5.0))
        points.append((a[0] + dx * t - dy / reach * off, a[1] + dy * t + dx / reach * off))
    sheet.line(points, look)


def center_cross(sheet: Sheet, x: float, y: float, reach: float, look: str = "center") -> None:
    sheet.line(((x - reach, y), (x + reach, y)), look)
    sheet.line(((x, y - reach), (x, y + reach)), look)


def verdict_mark(sheet: Sheet, x: float, y: float, size: float, verdict: Verdict) -> None:
    """The mark of a verdict: a ring with a tick, a triangle with a bar, a filled octagon with a bar across."""
    h = size / 2
    if verdict == "ok":
        sheet.circle(x, y, h, "ok-plate")
        sheet.line(((x - 0.46 * h, y + 0.04 * h), (x - 0.1 * h, y + 0.42 * h), (x + 0.5 * h, y - 0.38 * h)), "tick")
    elif verdict == "caution":
        sheet.line(((x, y - h), (x + 1.08 * h, y + 0.88 * h), (x - 1.08 * h, y + 0.88 * h)), "wrong-plate", True)
        sheet.line(((x, y - 0.3 * h), (x, y + 0.22 * h)), "tick-wrong")
        sheet.line(((x, y + 0.56 * h), (x, y + 0.57 * h)), "tick-wrong")
    else:
        corner = [(x + h * cos(radians(22.5 + 45 * n)), y + h * sin(radians(22.5 + 45 * n))) for n in range(8)]
        sheet.line(corner, "wrong-body", True)
        sheet.line(((x - 0.48 * h, y), (x + 0.48 * h, y)), "tick-plate")


class DimensionRow:
    """Rows of text under or over the part: each text as near to where it wants to be as the others allow."""

    def __init__(self, sheet: Sheet, left: float, right: float, gap: float = 8.0) -> None:
        self.sheet, self.left, self.right, self.gap = sheet, left, right, gap
        self.taken: list[BoxStroke] = []

    def put(self, x: float, y: float, text: str, look: str, step: float = 18.0) -> BoxStroke:
        """Write a text centered on x if there is room, else beside, else in the next row. `x`, `y`: where its middle
        would like to be, and the baseline of the first row."""
        half = text_width(text, look) * self.sheet.text_unit / 2
        lo, hi = self.left + half, max(self.left + half, self.right - half)
        while True:
            probe = self.sheet.room(TextMark(x, y, text, look, "middle"))
            spots = [min(max(x, lo), hi)]
            for box in self.taken:
                spots += [box.left - half - self.gap, box.right + half + self.gap]
            for spot in sorted((s for s in spots if lo <= s <= hi), key=lambda s: abs(s - x)):
                room = BoxStroke(spot - half, probe.top, spot + half, probe.bottom)
                if not any(room.meets(box, 0.9 * self.gap) for box in self.taken):
                    self.taken.append(room)
                    self.sheet.words(spot, y, text, look, "middle")
                    return room
            y += step


class Figures:
    def __init__(self, system: str) -> None:
        self.system = system

    def bare(self, mm: float) -> str:
        return show(mm, "mm", self.system, bare=True).replace("-", "\u2212")

    def full(self, mm: float) -> str:
        """A length with its unit, which stays on its line."""
        return show(mm, "mm", self.system).replace("-", "\u2212").replace(" ", "\u00a0")
