"""A small display list: marks on a sheet, which any writer can replay, and the writer of SVG.

Sheet coordinates run right and down from the top left corner, in pixels on a screen sheet and in millimeters on a
1:1 sheet.  `overlaps` says which texts touch or leave the sheet: a drawing that is right has none."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import acos, ceil, cos, pi, radians, sin
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

from backwave.drawing.styles import ASCENT, DESCENT, FAMILY, LEAST_SCALE, LINES, TEXTS, Theme, style_sheet, text_width
from backwave.plain_text import plain_text

Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]
MAX_CHORDS = 4096  # of a circle
BEST_SCALE = 0.22  # mm a sheet unit, of a drawing spread over pages: a small one is not blown up
LAP = 60.0  # sheet units that two pages share, at least


@dataclass(frozen=True)
class BoxStroke:
    left: float  # sheet units
    top: float  # sheet units
    right: float  # sheet units
    bottom: float  # sheet units

    def meets(self, other: BoxStroke, gap: float = 0.0) -> bool:
        """Whether two boxes overlap or come nearer than a gap."""
        beside = self.left >= other.right + gap or other.left >= self.right + gap
        return not (beside or self.top >= other.bottom + gap or other.top >= self.bottom + gap)

    def holds(self, other: BoxStroke) -> bool:
        wide = self.left <= other.left and other.right <= self.right
        return wide and self.top <= other.top and other.bottom <= self.bottom


@dataclass(frozen=True)
class Poly:
    points: tuple[Point, ...]  # sheet units
    look: str  # key of `ink.LINES`
    closed: bool = False  # joined end to start


@dataclass(frozen=True)
class Circle:
    x: float  # sheet units
    y: float  # sheet units
    radius: float  # sheet units
    look: str  # key of `ink.LINES`


@dataclass(frozen=True)
class ArcStroke:
    """An arc of a circle, counterclockwise as seen."""

    x: float  # sheet units
    y: float  # sheet units
    radius: float  # sheet units
    start_deg: float  # from +x toward the top of the sheet; end above start, less than a full turn
    end_deg: float
    look: str  # key of `ink.LINES`


@dataclass(frozen=True)
class TextMark:
    x: float  # sheet units
    y: float  # sheet units
    text: str
    look: str  # key of `ink.TEXTS`
    anchor: Anchor = "start"  # which point of the text stands at x


Mark = Poly | Circle | ArcStroke | TextMark


@dataclass
class Sheet:
    """A drawing being made: marks in the order they are painted."""

    width: float  # sheet units, size of the sheet; the height may still grow
    height: float  # sheet units
    title: str = ""  # read out by screen readers
    narrow: float = 1.0  # sheet units
    # sheet units, size of one text unit: 1 on a screen sheet, 0.25 or so on a sheet in millimeters
    text_unit: float = 1.0
    real_mm: bool = False  # True where a sheet unit is a millimeter and the drawing is to be printed at 1:1
    marks: list[Mark] = field(default_factory=list)  # sheet units, what has been drawn so far
    notes: list[str] = field(default_factory=list)  # what belongs to it and stands beside it, on a screen

    def line(self, points: Sequence[Point], look: str, closed: bool = False) -> None:
        self.marks.append(Poly(tuple(points), look, closed))

    def box(self, left: float, top: float, right: float, bottom: float, look: str) -> None:
        self.line(((left, top), (right, top), (right, bottom), (left, bottom)), look, closed=True)

    def circle(self, x: float, y: float, radius: float, look: str) -> None:
        self.marks.append(Circle(x, y, radius, look))

    def words(self, x: float, y: float, text: str, look: str, anchor: Anchor = "start") -> BoxStroke:
        """A line of text; see `TextMark`. Returns sheet units."""
        mark = TextMark(x, y, text, look, anchor)
        self.marks.append(mark)
        return self.room(mark)

    def room(self, mark: TextMark) -> BoxStroke:
        """The room a text may take on this sheet."""
        width = text_width(mark.text, mark.look) * self.text_unit
        size = TEXTS[mark.look].size * self.text_unit
        left = mark.x - {"start": 0.0, "middle": width / 2, "end": width}[mark.anchor]
        return BoxStroke(left, mark.y - ASCENT * size, left + width, mark.y + DESCENT * size)

    def texts(self) -> list[tuple[TextMark, BoxStroke]]:
        return [(mark, self.room(mark)) for mark in self.marks if isinstance(mark, TextMark)]


@dataclass(frozen=True)
class Frame:
    x0: float  # sheet units, where the part's origin lies
    y0: float  # sheet units
    scale: float  # sheet units per mm, the same both ways

    def at(self, x_mm: float, y_mm: float) -> Point:
        """A point of the part, y up, on the sheet. Returns (x, y) sheet units."""
        return self.x0 + x_mm * self.scale, self.y0 - y_mm * self.scale

    def all(self, points_mm: Iterable[Point]) -> list[Point]:
        return [self.at(x, y) for x, y in points_mm]


def clip(points: Sequence[Point], box: BoxStroke) -> list[list[Point]]:
    """The parts of a run of straight lines inside a rectangle (Liang and Barsky, segment by segment)."""
    runs: list[list[Point]] = []
    for a, b in pairwise(points):
        dx, dy = b[0] - a[0], b[1] - a[1]
        t0, t1 = 0.0, 1.0
        west, east, north, south = a[0] - box.left, box.right - a[0], a[1] - box.top, box.bottom - a[1]
        for step, room in ((-dx, west), (dx, east), (-dy, north), (dy, south)):
            if step == 0:
                if room < 0:
                    t0 = 2.0
            elif step < 0:
                t0 = max(t0, room / step)
            else:
                t1 = min(t1, room / step)
        if t0 > t1:
            continue
        p = a if t0 == 0 else (a[0] + t0 * dx, a[1] + t0 * dy)
        q = b if t1 == 1 else (a[0] + t1 * dx, a[1] + t1 * dy)
        if runs and runs[-1][-1] == p:
            runs[-1].append(q)
        else:
            runs.append([p, q])
    return runs


def circle_points(x: float, y: float, radius: float, error: float = 0.01) -> list[Point]:
    """A circle as a closed run of lines, first point repeated."""
    n = max(16, min(MAX_CHORDS, ceil(pi / acos(1 - min(max(error / radius, 1e-9), 0.5))))) if radius > 0 else 16
    return [(x + radius * cos(2 * pi * k / n), y + radius * sin(2 * pi * k / n)) for k in range(n + 1)]


def overlaps(sheet: Sheet) -> list[str]:
    """What is wrong with the texts of a sheet, in words: two that overlap, or one that leaves the sheet."""
    wrong = []
    texts = sheet.texts()
    for n, (mark, room) in enumerate(texts):
        if not BoxStroke(0, 0, sheet.width, sheet.height).holds(room):
            wrong.append(f"{mark.text!r} leaves the sheet")
        wrong += [f"{mark.text!r} overlaps {other.text!r}" for other, its in texts[n + 1 :] if room.meets(its)]
    return wrong


def to_svg(sheet: Sheet, theme: Theme = "light") -> str:
    """A sheet as SVG: one file, no script, no reference to anything outside. `theme`: colors; "auto" follows the
    reader's own setting and wants a browser."""
    root = f"bw-{theme}-{'mm' if sheet.real_mm else 'px'}"
    unit = "mm" if sheet.real_mm else ""
    w, h = _n(sheet.width), _n(sheet.height)
    size = f'width="{w}{unit}" height="{h}{unit}" ' if sheet.real_mm else ""
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{root}" {size}viewBox="0 0 {w} {h}" role="img" '
        f'aria-label={quoteattr(plain_text(sheet.title))} font-family="{FAMILY}">',
        f"<title>{escape(plain_text(sheet.title))}</title>",
        f"<style>{style_sheet(theme, root, sheet.narrow, sheet.text_unit)}</style>",
        f'<rect class="bw-ground" width="{w}" height="{h}"/>',
    ]
    out += [_svg(mark) for mark in sheet.marks]
    return "\n".join([*out, "</svg>\n"])


def _svg(mark: Mark) -> str:
    if isinstance(mark, TextMark):
        anchor = "" if mark.anchor == "start" else f' text-anchor="{mark.anchor}"'
        at = f'x="{_n(mark.x)}" y="{_n(mark.y)}"'
        return f'<text class="bw-t-{mark.look}" {at}{anchor}>{escape(plain_text(mark.text))}</text>'
    assert mark.look in LINES, mark.look
    if isinstance(mark, Circle):
        return f'<circle class="bw-{mark.look}" cx="{_n(mark.x)}" cy="{_n(mark.y)}" r="{_n(mark.radius)}"/>'
    if isinstance(mark, ArcStroke):
        (x1, y1), (x2, y2) = (
            (mark.x + mark.radius * cos(radians(a)), mark.y - mark.radius * sin(radians(a)))
            for a in (mark.start_deg, mark.end_deg)
        )
        large = int(mark.end_deg - mark.start_deg > 180)
        r = _n(mark.radius)
        return f'<path class="bw-{mark.look}" d="M{_n(x1)} {_n(y1)}A{r} {r} 0 {large} 0 {_n(x2)} {_n(y2)}"/>'
    points = "L".join(f"{_n(x)} {_n(y)}" for x, y in mark.points)
    return f'<path class="bw-{mark.look}" d="M{points}{"Z" if mark.closed else ""}"/>'


def _n(value: float) -> str:
    """Thousandths of a sheet unit, short."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True)
class SpreadPage:
    """A piece of a drawing for one page."""

    svg: str
    width_mm: float  # as big as it is to be set
    height_mm: float
    caption: str = ""  # which piece of how many, or ""


_BOX = re.compile(r'viewBox="0 0 [0-9.]+ [0-9.]+"')


def windows(sheet: Sheet, width_mm: float, height_mm: float, theme: Theme) -> list[SpreadPage]:
    """A sheet in pieces that fit a page and can be read, which overlap: every text stands whole on one of them."""
    scale = min(BEST_SCALE, width_mm / sheet.width, height_mm / sheet.height)
    if scale >= LEAST_SCALE:
        return [SpreadPage(to_svg(sheet, theme), sheet.width * scale, sheet.height * scale)]
    scale = LEAST_SCALE
    across, lap_x = _steps(sheet.width, width_mm / scale, max(b.right - b.left for _, b in sheet.texts()))
    down, lap_y = _steps(sheet.height, height_mm / scale, 0.0)
    w = (sheet.width + (across - 1) * lap_x) / across
    h = (sheet.height + (down - 1) * lap_y) / down
    found = []
    for row in range(down):
        for column in range(across):
            piece = _window(sheet, column * (w - lap_x), row * (h - lap_y), w, h, theme)
            where = f"column {column + 1} of {across}, row {row + 1} of {down}; the edges overlap"
            found.append(SpreadPage(piece, w * scale, h * scale, where))
    return found


def _steps(length: float, room: float, widest: float) -> tuple[int, float]:
    """How many windows of equal length, and what two of them share: the widest text, where that leaves them longer."""
    lap = min(max(LAP, widest + 4.0), 0.5 * room)
    return (1 if length <= room else ceil((length - lap) / (room - lap))), lap


def _window(sheet: Sheet, x: float, y: float, width: float, height: float, theme: Theme) -> str:
    """A piece of a sheet: lines are cut by its edges, texts stand on it whole or not at all."""
    piece = BoxStroke(x, y, x + width, y + height)
    marks = [mark for mark in sheet.marks if not isinstance(mark, TextMark) or piece.holds(sheet.room(mark))]
    svg = to_svg(replace(sheet, marks=marks), theme)
    return _BOX.sub(f'viewBox="{x:.3f} {y:.3f} {width:.3f} {height:.3f}"', svg, count=1)
