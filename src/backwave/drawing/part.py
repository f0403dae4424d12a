"""A part with its dimensions: its face at a standard scale, and sections through one hole of each kind.

Scales ISO 5455, and 1:2.5, which it leaves to where 1:5 is too small; dimensions ISO 129-1, without units, which stand
in the notes; general tolerances ISO 2768-1; sections ISO 128-3, hatched, named by letters; the symbol of first-angle
projection ISO 5456-2.  Where many holes are alike each bears its own name, and a table beside the drawing has their
places.  Sheet units are millimeters.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, radians, sin

from backwave.drawing.dimensions import center_cross, dimension, extension, hatch
from backwave.drawing.sheet import BoxStroke, Frame, Point, Sheet, TextMark, to_svg
from backwave.drawing.styles import TEXTS, Theme, text_width, wrap
from backwave.units import show

SCALES = (5.0, 2.0, 1.0, 0.5, 0.4, 0.2, 0.1)
TOLERANCES = "ISO 2768-m"
WIDTH = 173.0
UNIT = 0.1725  # mm a text unit: capitals of the smallest text are 1.8 mm tall (ISO 3098-1)
ROW = 4.6  # from one row of dimensions to the next
FACE, SECTION = (92.0, 92.0), (34.0, 27.0)  # room for the face, and for one section
LEAST = 16.0  # of the width of a section beside the face


@dataclass(frozen=True)
class PartHole:
    """A hole of the part."""

    name: str  # two or three letters beside it: "F1"
    x_mm: float
    y_mm: float
    diameter_mm: float
    counterbore_mm: float = 0.0  # diameter of its counterbore; 0: none


@dataclass(frozen=True)
class PartCut:
    """A section through a hole."""

    letter: str
    words: str  # what it goes through
    angle_deg: float  # direction of the half-plane from the axis
    # material, as closed loops of (radius, height), mm: the outer one and its holes
    pieces_mm: tuple[tuple[tuple[Point, ...], tuple[tuple[Point, ...], ...]], ...]
    across_mm: tuple[tuple[float, float], ...] = ()  # (radius, diameter) given above it, the smallest first
    heights_mm: tuple[tuple[float, float], ...] = ()  # (from, to) given at its outer edge, the shortest first
    depths_mm: tuple[tuple[float, float], ...] = ()  # (from, to) given at the bore
    grooves_mm: tuple[tuple[float, float, float, float], ...] = ()  # radius from and to, bottom and top


@dataclass(frozen=True)
class PartView:
    """Everything the drawing of a part shows."""

    title: str  # read out by screen readers
    outline_mm: tuple[Point, ...]  # the flange's edge, y up
    bounds_mm: tuple[float, float, float, float]  # of the edge itself, not of its points
    round_mm: float | None  # diameter of an edge that is a circle about the axis
    rings: tuple[tuple[str, float], ...]  # names and radii, mm, of round edges about the axis, the smallest first
    holes: tuple[PartHole, ...]
    cuts: tuple[PartCut, ...]
    inside: tuple[str, ...]  # lines in the middle: side, threads
    notes: tuple[str, ...] = ()  # lines at the foot
    warnings: tuple[str, ...] = ()  # lines at the head, such as why it is stopped


def part_svg(view: PartView, theme: Theme = "paper", *, system: str = "metric") -> str:
    """The drawing as SVG, with figures in "metric" or "us"."""
    return to_svg(part_sheet(view, system=system), theme)


def part_sheet(view: PartView, *, system: str = "metric") -> Sheet:
    """The drawing as a display list, in millimeters of paper."""
    s = Sheet(WIDTH, 100.0, view.title, narrow=0.18, text_unit=UNIT, real_mm=True)
    low_x, low_y, high_x, high_y = view.bounds_mm
    scale = _scale(high_x - low_x, high_y - low_y, *FACE)
    wide = scale * (high_x - low_x)
    head = 0.0
    for line in (line for text in view.warnings for line in wrap(text, "value-wrong", (WIDTH - 4.0) / UNIT)):
        head += 5.0
        s.words(2.0, head - 1.0, line, "value-wrong")
    left, top = 18.0, 8.0 + head
    frame = Frame(left - scale * low_x, top + scale * high_y, scale)
    taken = _face(s, view, frame)
    below = _sizes(s, view, frame, system, taken)
    _named(s, view, frame, taken)
    inside = _inside(s, view, frame, taken)
    right, y, scales = max(left + wide + 12.0, 106.0), 4.0 + head, [scale]
    if all(_room(cut, WIDTH - right, system) >= LEAST for cut in view.cuts):
        for cut in view.cuts:
            y, one = _section(s, cut, right, y, system, WIDTH)
            scales.append(one)
    else:  # too many figures to stand beside the face: side by side below it
        ends, half = [], WIDTH / 2.0
        for n, cut in enumerate(view.cuts):
            end, one = _section(s, cut, 2.0 + n * half, below + 6.0, system, (n + 1) * half)
            ends.append(end)
            scales.append(one)
        below = max(ends)
    unit = "millimeters" if system == "metric" else "inches"
    views = [f"face {_ratio(scale)}", *(f"{c.letter}–{c.letter} {_ratio(k)}" for c, k in zip(view.cuts, scales[1:]))]
    words = f"Scale: {', '.join(views)}. Dimensions in {unit}, heights above the back face. General tolerances {TOLERANCES}."
    notes = (words, *([] if inside else view.inside), *view.notes)
    bottom = max(below + 5.0, y)
    _notes(s, notes, bottom)
    _projection(s, WIDTH - 21.0, s.height - 5.5)
    return s


def _projection(s: Sheet, x: float, y: float) -> None:
    """A cone cut off and its circles to the right of it: first angle (ISO 5456-2)."""
    big, small, long = 3.2, 1.6, 6.4
    s.line(((x, y - small), (x + long, y - big), (x + long, y + big), (x, y + small)), "edge", True)
    s.line(((x - 1.5, y), (x + long + 1.5, y)), "center")
    middle = x + long + 2.2 + big
    for radius in (big, small):
        s.circle(middle, y, radius, "edge")
    center_cross(s, middle, y, big + 1.2)


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


def _face(s: Sheet, view: PartView, frame: Frame) -> list[BoxStroke]:
    """Edges, holes, center lines and section lines; the room that lines of the holes take."""
    cx, cy = frame.at(0.0, 0.0)

    def edge(look: str) -> None:
        if view.round_mm is not None:
            s.circle(cx, cy, view.round_mm / 2.0 * frame.scale, look)
        else:
            s.line(frame.all(view.outline_mm), look, True)

    edge("body-part")
    bore = view.rings[0][1]
    s.circle(cx, cy, bore * frame.scale, "ground")
    for name, radius in view.rings:  # the spigot lies behind the flange
        s.circle(cx, cy, radius * frame.scale, "edge" if radius == bore else "hidden" if name == "spigot" else "line")
    edge("edge")
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
    near = [x * c + y * d for x, y in view.outline_mm if abs(y * c - x * d) < 0.05 * hypot(x, y) and x * c + y * d > 0]
    return max(near, default=max(hypot(x, y) for x, y in view.outline_mm))


def _sizes(s: Sheet, view: PartView, frame: Frame, system: str, taken: list[BoxStroke]) -> float:
    """Diameters below, the smallest first, then the width; the height at the left; how far down they reach."""
    low_x, low_y, high_x, high_y = view.bounds_mm
    (x0, y1), (x1, y0) = frame.at(low_x, low_y), frame.at(high_x, high_y)
    cx, cy = frame.at(0.0, 0.0)
    below = y1 + 1.5

    def across(a: float, b: float, start: float, words: str) -> None:
        nonlocal below
        below += ROW + 0.9
        for x in (a, b):
            extension(s, (x, start), (x, below))
        dimension(s, (a, below), (b, below))
        taken.append(s.words((a + b) / 2, below - 0.8, words, "label", "middle"))

    for name, radius in view.rings:
        words = f"{name} ⌀{show(2.0 * radius, 'mm', system, bare=True)}"
        across(cx - radius * frame.scale, cx + radius * frame.scale, cy, words)
    if view.round_mm is not None:
        across(x0, x1, cy, f"⌀{show(view.round_mm, 'mm', system, bare=True)}")
        return below
    across(x0, x1, (y0 + y1) / 2, show(high_x - low_x, "mm", system, bare=True))
    beside = x0 - 7.0
    for y in (y0, y1):
        extension(s, ((x0 + x1) / 2, y), (beside, y))
    dimension(s, (beside, y1), (beside, y0))
    words = show(high_y - low_y, "mm", system, bare=True)
    taken.append(s.words(beside - 0.8, (y0 + y1) / 2 + 1.0, words, "label", "end"))
    return below


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
    radius = 0.8 * view.rings[0][1] * frame.scale
    for room in rooms:
        if max(hypot(x - cx, y - cy) for x in (room.left, room.right) for y in (room.top, room.bottom)) > radius:
            return False
        if any(room.meets(other, 0.2) for other in taken):
            return False
    s.marks += marks
    taken += rooms
    return True


def _figure(value: float, system: str) -> str:
    odd = system == "metric" and abs(10.0 * value - round(10.0 * value)) > 0.05  # 3.25 is not told as 3.2
    return show(value, "mm", system, 2 if odd else None, bare=True)


def _sides(cut: PartCut, system: str) -> tuple[float, float]:
    """Room that figures take to the left and to the right of a section."""
    left, right = (
        [text_width(_figure(b - a, system), "label") * UNIT for a, b in pairs]
        for pairs in (cut.depths_mm, cut.heights_mm)
    )
    room = max(left, default=0.0)
    return (
        (room + 4.5) * bool(left) + (len(left) - 1) * (room + 3.0) * (len(left) > 1),
        sum(width + 4.9 for width in right),
    )


def _room(cut: PartCut, width: float, system: str) -> float:
    """What is left for the section itself."""
    return width - 1.0 - sum(_sides(cut, system))


def _section(s: Sheet, cut: PartCut, left: float, top: float, system: str, limit: float) -> tuple[float, float]:
    """One section with its dimensions, from one side to the other; its bottom and its scale."""

    def figure(value: float) -> str:
        return _figure(value, system)

    points = [p for outer, _ in cut.pieces_mm for p in outer]
    title = f"{cut.letter}–{cut.letter}: {cut.words}"
    s.words(left, top + 3.0, title, "label")
    if not points:
        s.words(left, top + 8.0, "no material in this plane", "note")
        return top + 14.0, 1.0
    low_r, low_z, high_r, high_z = _bounds(tuple(points))
    depths = [figure(b - a) for a, b in cut.depths_mm]
    x0 = left + _sides(cut, system)[0]
    scale = _scale(high_r - low_r, high_z - low_z, min(SECTION[0], _room(cut, limit - left, system)), SECTION[1])
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
        wide = s.words(x + 0.9, (frame.at(0, low)[1] + frame.at(0, high)[1]) / 2 + 1.0, figure(high - low), "label")
        right = wide.right
    near = frame.at(low_r, 0.0)[0]
    for (low, high), text in zip(cut.depths_mm, depths):
        x = near - 3.0
        _height(s, frame, (low_r, low), (low_r, high), x)
        box = s.words(x - 0.9, (frame.at(0, low)[1] + frame.at(0, high)[1]) / 2 + 1.0, text, "label", "end")
        near = box.left
    bottom = y0 + scale * (high_z - low_z)
    for inner, outer_r, low, high in cut.grooves_mm:  # width and depth in one figure below it
        bottom += ROW
        a, b = frame.at(inner, low), frame.at(outer_r, low)
        for at in (a, b):
            extension(s, at, (at[0], bottom))
        ends = dimension(s, (a[0], bottom), (b[0], bottom))
        words = f"groove {figure(outer_r - inner)} × {figure(high - low)} deep"
        bottom += ROW
        s.words(min(ends[0][0], limit - 1.0 - text_width(words, "label") * UNIT), bottom, words, "label")
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
        for line in wrap(note, "note", (WIDTH - 30.0) / UNIT):  # beside the symbol of projection
            y += TEXTS["note"].size * UNIT * 1.4
            s.words(2.0, y, line, "note")
    s.height = max(y + 2.5, top + 12.0)
