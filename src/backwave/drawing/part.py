"""A part with its dimensions: its face at a standard scale, and sections through one hole of each kind.

Scales ISO 5455; dimensions ISO 129-1, without units, which stand in the notes; sections ISO 128-3, hatched, named by
letters.  Where many holes are alike each bears its own name, and a table beside the drawing has their places.
Sheet units are millimeters.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, radians, sin

from backwave.drawing.dimensions import center_cross, dimension, extension
from backwave.drawing.hatch import hatch
from backwave.drawing.scale import Frame
from backwave.drawing.sheet import BoxStroke, Point, Sheet, TextMark, to_svg
from backwave.drawing.styles import TEXTS, Theme, text_width, wrap
from backwave.units import show

__all__ = ["PartCut", "PartHole", "PartView", "part_sheet", "part_svg"]

SCALES = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1)  # ISO 5455
WIDTH = 173.0
UNIT = 0.2  # mm a text unit: a label's figures are 2.7 mm tall
ROW = 4.6  # from one row of dimensions to the next
FACE, SECTION = (92.0, 92.0), (34.0, 27.0)  # room for the face, and for one section


@dataclass(frozen=True)
class PartHole:
    """A hole of the part.

    Parameters
    ----------
    name : str, no unit
        Two or three letters beside it: "F1".
    x_mm, y_mm, diameter_mm : float, mm
        Its center and diameter.
    counterbore_mm : float, mm
        Diameter of its counterbore; 0: none.
    """

    name: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    counterbore_mm: float = 0.0


@dataclass(frozen=True)
class PartCut:
    """A section through a hole.

    Parameters
    ----------
    letter, words : str, no unit
        "A", and what it goes through.
    angle_deg : float, deg
        Direction of the half-plane from the axis.
    pieces_mm : tuple of (outer, holes), mm
        Material, as closed loops of (radius, height).
    across_mm : tuple of (radius, diameter) float, mm
        Diameters to be given above it, the smallest first.
    heights_mm : tuple of (from, to) float, mm
        Heights to be given at its outer edge, the shortest first.
    depths_mm : tuple of (from, to) float, mm
        Heights to be given at the bore.
    """

    letter: str
    words: str
    angle_deg: float
    pieces_mm: tuple[tuple[tuple[Point, ...], tuple[tuple[Point, ...], ...]], ...]
    across_mm: tuple[tuple[float, float], ...] = ()
    heights_mm: tuple[tuple[float, float], ...] = ()
    depths_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class PartView:
    """Everything the drawing of a part shows.

    Parameters
    ----------
    title : str, no unit
        Read out by screen readers.
    outline_mm : tuple of (x, y) float, mm
        The flange's edge, y up.
    circles_mm : tuple of float, mm
        Radii of round edges about the axis: bore, seat, collar.
    openings_mm : tuple of runs of (x, y) float, mm
        Further edges: notches.
    holes : tuple of PartHole, mm
        All of them.
    cuts : tuple of PartCut, mm
        Sections.
    inside : tuple of str, no unit
        Lines in the middle: side, bore, threads.
    notes : tuple of str, no unit
        Lines at the foot.
    """

    title: str
    outline_mm: tuple[Point, ...]
    circles_mm: tuple[float, ...]
    openings_mm: tuple[tuple[Point, ...], ...]
    holes: tuple[PartHole, ...]
    cuts: tuple[PartCut, ...]
    inside: tuple[str, ...]
    notes: tuple[str, ...] = ()


def part_svg(view: PartView, theme: Theme = "paper", *, system: str = "metric") -> str:
    """The drawing as SVG.

    Parameters
    ----------
    view : PartView, mm
        What to draw.
    theme : "light", "dark", "auto" or "paper", no unit
        Colors.
    system : "metric" or "us", no unit
        Units of the figures.
    """
    return to_svg(part_sheet(view, system=system), theme)


def part_sheet(view: PartView, *, system: str = "metric") -> Sheet:
    """The drawing as a display list, in millimeters of paper.

    Parameters
    ----------
    view : PartView, mm
        What to draw.
    system : "metric" or "us", no unit
        Units of the figures.
    """
    s = Sheet(WIDTH, 100.0, view.title, narrow=0.18, text_unit=UNIT, real_mm=True)
    low_x, low_y, high_x, high_y = _bounds(view.outline_mm)
    scale = _scale(high_x - low_x, high_y - low_y, *FACE)
    wide, tall = scale * (high_x - low_x), scale * (high_y - low_y)
    left, top = 18.0, 8.0
    frame = Frame(left - scale * low_x, top + scale * high_y, scale)
    taken = _face(s, view, frame, system)
    _sizes(s, frame, (low_x, low_y, high_x, high_y), system, taken)
    _named(s, view, frame, taken)
    inside = _inside(s, view, frame, taken)
    right = max(left + wide + 12.0, 106.0)
    y, scales = 4.0, [scale]
    for cut in view.cuts:
        y, one = _section(s, cut, right, y, system)
        scales.append(one)
    unit = "millimeters" if system == "metric" else "inches"
    words = [
        f"Face {_ratio(scale)}; "
        + ", ".join(f"{c.letter}–{c.letter} {_ratio(k)}" for c, k in zip(view.cuts, scales[1:]))
    ]
    words = [w.removesuffix("; ") + f". Dimensions in {unit}; heights above the back face." for w in words]
    notes = (*words, *([] if inside else view.inside), *view.notes)
    bottom = max(top + tall + 12.0, y)
    _notes(s, notes, bottom)
    return s  # fmt: skip


def _bounds(points: tuple[Point, ...]) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def _scale(wide_mm: float, tall_mm: float, room_w: float, room_h: float) -> float:
    """The largest standard scale that fits; smaller than the least of them where nothing does."""
    for scale in SCALES:
        if wide_mm * scale <= room_w and tall_mm * scale <= room_h:
            return scale
    return min(room_w / wide_mm, room_h / tall_mm)


def _ratio(scale: float) -> str:
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:.3g}"


def _face(s: Sheet, view: PartView, frame: Frame, system: str) -> list[BoxStroke]:
    """Edges, holes, center lines and section lines; the room that lines of the holes take."""
    s.line(frame.all(view.outline_mm), "body-part", True)
    cx, cy = frame.at(0.0, 0.0)
    bore = min(view.circles_mm)
    s.circle(cx, cy, bore * frame.scale, "ground")
    for run in view.openings_mm:
        s.line(frame.all(run), "ground", True)
        s.line(frame.all(run), "line", True)
    for radius in view.circles_mm:
        s.circle(cx, cy, radius * frame.scale, "edge" if radius == bore else "line")
    s.line(frame.all(view.outline_mm), "edge", True)
    taken: list[BoxStroke] = []
    for hole in view.holes:
        x, y = frame.at(hole.x_mm, hole.y_mm)
        r = max(hole.diameter_mm, hole.counterbore_mm) / 2 * frame.scale
        if hole.counterbore_mm:
            s.circle(x, y, hole.counterbore_mm / 2 * frame.scale, "hollow")
        s.circle(x, y, hole.diameter_mm / 2 * frame.scale, "hollow")
        center_cross(s, x, y, r + 1.2)
        taken.append(BoxStroke(x - r, y - r, x + r, y + r))
    reach = max(hypot(x, y) for x, y in view.outline_mm) * frame.scale
    center_cross(s, cx, cy, bore * frame.scale + 1.5)
    for cut in view.cuts:
        far = _edge(view, cut.angle_deg) * frame.scale
        c, d = cos(radians(cut.angle_deg)), -sin(radians(cut.angle_deg))
        near = 0.86 * bore * frame.scale
        s.line(((cx + near * c, cy + near * d), (cx + (far + 2.0) * c, cy + (far + 2.0) * d)), "travel")
        at = min(far + 4.2, reach + 4.2)
        taken.append(s.words(cx + at * c, cy + at * d + 0.9, cut.letter, "value", "middle"))
    return taken


def _edge(view: PartView, angle_deg: float) -> float:
    """How far the outline reaches in a direction: the farthest of its points near it."""
    c, d = cos(radians(angle_deg)), sin(radians(angle_deg))
    near = [
        x * c + y * d for x, y in view.outline_mm if abs(y * c - x * d) < 0.05 * hypot(x, y) and x * c + y * d > 0
    ]
    return max(near, default=max(hypot(x, y) for x, y in view.outline_mm))


def _sizes(
    s: Sheet, frame: Frame, bounds: tuple[float, float, float, float], system: str, taken: list[BoxStroke]
) -> None:
    """Width below and height at the left, over all."""
    low_x, low_y, high_x, high_y = bounds
    (x0, y1), (x1, y0) = frame.at(low_x, low_y), frame.at(high_x, high_y)
    below, beside = y1 + 7.0, x0 - 7.0
    for x in (x0, x1):
        extension(s, (x, (y0 + y1) / 2), (x, below))
    dimension(s, (x0, below), (x1, below))
    taken.append(
        s.words((x0 + x1) / 2, below - 0.8, show(high_x - low_x, "mm", system, bare=True), "label", "middle")
    )
    for y in (y0, y1):
        extension(s, ((x0 + x1) / 2, y), (beside, y))
    dimension(s, (beside, y1), (beside, y0))
    words = show(high_y - low_y, "mm", system, bare=True)
    taken.append(s.words(beside - 0.8, (y0 + y1) / 2 + 1.0, words, "label", "end"))  # fmt: skip


def _named(s: Sheet, view: PartView, frame: Frame, taken: list[BoxStroke]) -> None:
    """The name of each hole beside it: outward, inward or along the ring, wherever nothing else stands."""
    for hole in view.holes:
        x, y = frame.at(hole.x_mm, hole.y_mm)
        far = hypot(hole.x_mm, hole.y_mm) or 1.0
        c, d = hole.x_mm / far, -hole.y_mm / far
        r = max(hole.diameter_mm, hole.counterbore_mm) / 2 * frame.scale + 2.3
        for dx, dy in (
            (-c, -d),
            (-d, c),
            (d, -c),
            (c, d),
            (-c - d, -d + c),
            (-c + d, -d - c),
            (c - d, d + c),
            (c + d, d - c),
        ):
            mark = TextMark(x + r * dx, y + r * dy + 0.9, hole.name, "letter", "middle")
            room = s.room(mark)
            if not any(room.meets(other, 0.2) for other in taken):
                s.marks.append(mark)
                taken.append(room)
                break  # fmt: skip


def _inside(s: Sheet, view: PartView, frame: Frame, taken: list[BoxStroke]) -> bool:
    """Lines in the middle of the bore, clear of its center lines; False where they find no room."""
    cx, cy = frame.at(0.0, 0.0)
    pitch = TEXTS["label"].size * UNIT * 1.5
    rooms, marks = [], []
    for n, text in enumerate(view.inside):
        half = n - (len(view.inside) - 1) / 2
        mark = TextMark(cx, cy + half * pitch + 1.0, text, "label", "middle")
        marks.append(mark)
        rooms.append(s.room(mark))
    radius = 0.8 * min(view.circles_mm) * frame.scale
    for room in rooms:
        if max(hypot(x - cx, y - cy) for x in (room.left, room.right) for y in (room.top, room.bottom)) > radius:
            return False
        if any(room.meets(other, 0.2) for other in taken):
            return False
    s.marks += marks
    taken += rooms
    return True


def _section(s: Sheet, cut: PartCut, left: float, top: float, system: str) -> tuple[float, float]:
    """One section with its dimensions; its bottom and its scale."""
    points = [p for outer, _ in cut.pieces_mm for p in outer]
    title = f"{cut.letter}–{cut.letter}: {cut.words}"
    s.words(left, top + 3.0, title, "label")
    if not points:
        s.words(left, top + 8.0, "no material in this plane", "note")
        return top + 14.0, 1.0
    low_r, low_z, high_r, high_z = _bounds(tuple(points))
    scale = _scale(high_r - low_r, high_z - low_z, *SECTION)

    def figure(value: float) -> str:
        odd = system == "metric" and abs(10.0 * value - round(10.0 * value)) > 0.05  # 3.25 is not told as 3.2
        return show(value, "mm", system, 2 if odd else None, bare=True)

    depths = [figure(b - a) for a, b in cut.depths_mm]
    room = max((text_width(t, "label") * UNIT for t in depths), default=0.0)
    x0 = left + (room + 4.5) * bool(depths) + (len(depths) - 1) * (room + 3.0) * (len(depths) > 1)
    y0 = top + 6.5 + ROW * len(cut.across_mm)
    frame = Frame(x0 - scale * low_r, y0 + scale * high_z, scale)
    for outer, holes in cut.pieces_mm:
        s.line(frame.all(outer), "body-part", True)
        for hole in holes:
            s.line(frame.all(hole), "ground", True)
        for segment in hatch([frame.all(outer), *map(frame.all, holes)], 1.6, 45.0):
            s.line(segment, "hatch-part")
        for loop in (outer, *holes):
            s.line(frame.all(loop), "edge", True)
    beside = max((frame.at(radius + diameter / 2, high_z)[0] for radius, diameter in cut.across_mm), default=x0)
    for n, (radius, diameter) in enumerate(cut.across_mm):
        y = y0 - 2.2 - ROW * n
        a, b = frame.at(radius - diameter / 2, high_z), frame.at(radius + diameter / 2, high_z)
        for at in (a, b):
            extension(s, at, (at[0], y))
        ends = dimension(s, (a[0], y), (b[0], y))
        s.words(max(ends[1][0], beside) + 0.9, y + 1.0, f"⌀{figure(diameter)}", "label")
        x, _ = frame.at(radius, high_z)
        s.line(((x, y0 - 1.2), (x, y0 + scale * (high_z - low_z) + 1.2)), "center")
    right = frame.at(high_r, 0.0)[0]
    for low, high in cut.heights_mm:
        x = right + 4.0
        _height(s, frame, (high_r, low), (high_r, high), x)
        wide = s.words(
            x + 0.9, (frame.at(0, low)[1] + frame.at(0, high)[1]) / 2 + 1.0, figure(high - low), "label"
        )
        right = wide.right
    near = frame.at(low_r, 0.0)[0]
    for (low, high), text in zip(cut.depths_mm, depths):
        x = near - 3.0
        _height(s, frame, (low_r, low), (low_r, high), x)
        box = s.words(x - 0.9, (frame.at(0, low)[1] + frame.at(0, high)[1]) / 2 + 1.0, text, "label", "end")
        near = box.left
    bottom = y0 + scale * (high_z - low_z)
    return bottom + 7.0, scale


def _height(s: Sheet, frame: Frame, a: Point, b: Point, x: float) -> None:
    """A height between two points, given at x."""
    low, high = frame.at(*a), frame.at(*b)
    for at in (low, high):
        extension(s, at, (x, at[1]))
    dimension(s, (x, low[1]), (x, high[1]))


def _notes(s: Sheet, notes: tuple[str, ...], top: float) -> None:
    """Lines at the foot; the sheet grows to hold them."""
    y = top
    for note in notes:
        for line in wrap(note, "note", (WIDTH - 4.0) / UNIT):
            y += TEXTS["note"].size * UNIT * 1.4
            s.words(2.0, y, line, "note")
    s.height = y + 2.5
