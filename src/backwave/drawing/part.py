"""A part with its dimensions: its face at a standard scale, and sections through one hole of each kind.

Scales ISO 5455, and 1:2.5, which it leaves to where 1:5 is too small; dimensions ISO 129-1, without units, which stand
in the notes; general tolerances ISO 2768-1; sections ISO 128-3, hatched, named by letters; the symbol of first-angle
projection ISO 5456-2.  Where many holes are alike each bears its own name, and a table beside the drawing has their
places.  Sheet units are millimeters."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin

from backwave.drawing.dimensions import center_cross, dimension, dimensioned, extension, hatch
from backwave.drawing.sheet import BoxStroke, Frame, Point, Sheet, TextMark, to_svg
from backwave.drawing.styles import TEXTS, Theme, text_width, wrap
from backwave.part.features import Loop
from backwave.part.order import PartOrder
from backwave.part.types import AdapterSpec, Fixing, Thread
from backwave.units import show

SCALES = (5.0, 2.0, 1.0, 0.5, 0.4, 0.2, 0.1)
TOLERANCES = "ISO 2768-m"
WIDTH = 173.0
UNIT = 0.1725  # mm a text unit: capitals of the smallest text are 1.8 mm tall (ISO 3098-1)
ROW = 4.6  # from one row of dimensions to the next
FACE, SECTION = (92.0, 92.0), (34.0, 27.0)  # room for the face, and for one section
LEAST = 16.0  # of the width of a section beside the face
CHORD = 0.05  # mm an outline that is no circle may be off


@dataclass(frozen=True)
class _Cut:
    """A section through a hole, mm."""

    letter: str
    words: str  # what it goes through
    angle_deg: float  # direction of the half-plane from the axis
    pieces: tuple[tuple[Loop, tuple[Loop, ...]], ...]  # material as loops of (radius, height): the outer one, its holes
    across: tuple[Point, ...]  # (radius, diameter) given above it, the smallest first
    heights: tuple[Point, ...]  # (from, to) given at its outer edge, the shortest first
    depths: tuple[Point, ...]  # (from, to) given at the bore
    grooves: tuple[tuple[float, float, float, float], ...]  # radius from and to, bottom and top


def hole_names(spec: AdapterSpec) -> dict[str, str]:
    """The short name of each hole on the drawing, by the name that findings use."""
    found = {f.name: f"F{n}" for n, f in enumerate(spec.fixings, 1)}
    return found | {t.name: f"D{n}" for n, t in enumerate(spec.threads, 1)}


def part_svg(part: PartOrder, theme: Theme = "paper", *, system: str = "metric") -> str:
    """The drawing as SVG, with figures in "metric" or "us"."""
    return to_svg(part_sheet(part, system=system), theme)


def part_sheet(part: PartOrder, *, system: str = "metric") -> Sheet:
    """The drawing as a display list, in millimeters of paper. BuildError: the part cannot be laid out, with its
    numbers."""
    spec = part.spec
    cuts = _cuts(part)
    s = Sheet(WIDTH, 100.0, ": ".join((part.label, "part", *part.marks)), narrow=0.18, text_unit=UNIT, real_mm=True)
    low_x, low_y, high_x, high_y = spec.outline.bounds_mm
    scale = _scale(high_x - low_x, high_y - low_y, *FACE)
    wide = scale * (high_x - low_x)
    head = 0.0
    for line in (line for text in part.marks for line in wrap(text, "value-wrong", (WIDTH - 4.0) / UNIT)):
        head += 5.0
        s.words(2.0, head - 1.0, line, "value-wrong")
    left, top = 18.0, 8.0 + head
    frame = Frame(left - scale * low_x, top + scale * high_y, scale)
    taken = _face(s, spec, cuts, frame)
    below = _sizes(s, spec, frame, system, taken)
    _named(s, spec, frame, taken)
    middle = _middle(part, system)
    inside = _inside(s, middle, 0.8 * spec.bore_mm, frame, taken)
    right, y, scales = max(left + wide + 12.0, 106.0), 4.0 + head, [scale]
    if all(_room(cut, WIDTH - right, system) >= LEAST for cut in cuts):
        for cut in cuts:
            y, one = _section(s, cut, right, y, system, WIDTH)
            scales.append(one)
    else:  # too many figures to stand beside the face: side by side below it
        ends, half = [], WIDTH / 2.0
        for n, cut in enumerate(cuts):
            end, one = _section(s, cut, 2.0 + n * half, below + 6.0, system, (n + 1) * half)
            ends.append(end)
            scales.append(one)
        below = max(ends)
    unit = "millimeters" if system == "metric" else "inches"
    views = [f"face {_ratio(scale)}", *(f"{c.letter}–{c.letter} {_ratio(k)}" for c, k in zip(cuts, scales[1:]))]
    words = f"Scale: {', '.join(views)}. Dimensions in {unit}, heights above the back face. General tolerances {TOLERANCES}."
    notes = (words, *([] if inside else middle), *_unseen(spec, system))
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


def _scale(wide_mm: float, tall_mm: float, room_w: float, room_h: float) -> float:
    """The largest standard scale that fits; smaller than the least of them where nothing does."""
    most = min(room_w / wide_mm, room_h / tall_mm)
    return next((scale for scale in SCALES if scale <= most), most)


def _ratio(scale: float) -> str:
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:.3g}"


def _round_mm(spec: AdapterSpec) -> float | None:
    """Radius of a flange that is a circle about the axis; else None."""
    found = spec.outline.circle
    return found[2] if found is not None and hypot(*found[:2]) < 1e-6 else None


def _rings(spec: AdapterSpec) -> list[tuple[str, float]]:
    """Names and radii of round edges about the axis, the smallest first."""
    rings = [("bore", spec.bore_mm)]
    rings += [("seat", spec.seat_mm)] if spec.recess_mm > 0.0 else []
    if spec.collar is not None:
        rings += [("collar inside", spec.collar.inner_mm), ("collar outside", spec.collar.outer_mm)]
    if spec.spigot is not None and spec.keeps_spigot:
        rings.append(("spigot", spec.spigot.radius_mm))
    return sorted(rings, key=lambda ring: ring[1])


def _holes(spec: AdapterSpec) -> list[tuple[str, float, float, float, float]]:
    """Name, x, y, diameter, and diameter of the counterbore, 0 where there is none."""
    names = hole_names(spec)
    holes = [(names[f.name], f.x_mm, f.y_mm, f.hole_mm, f.counterbore_mm) for f in spec.fixings if f.hole_mm]
    return holes + [(names[t.name], t.x_mm, t.y_mm, t.hole_mm, 0.0) for t in spec.threads]


def _points(spec: AdapterSpec) -> list[Point]:
    return [(float(x), float(y)) for x, y in spec.outline.points(CHORD)]


def _face(s: Sheet, spec: AdapterSpec, cuts: list[_Cut], frame: Frame) -> list[BoxStroke]:
    """Edges, holes, center lines and section lines; the room that lines of the holes take."""
    cx, cy = frame.at(0.0, 0.0)
    outline, round_, bore = _points(spec), _round_mm(spec), spec.bore_mm * frame.scale

    def edge(look: str) -> None:
        if round_ is not None:
            s.circle(cx, cy, round_ * frame.scale, look)
        else:
            s.line(frame.all(outline), look, True)

    edge("body-part")
    s.circle(cx, cy, bore, "ground")
    for name, radius in _rings(spec):  # the spigot lies behind the flange
        look = "edge" if radius == spec.bore_mm else "hidden" if name == "spigot" else "line"
        s.circle(cx, cy, radius * frame.scale, look)
    edge("edge")
    taken: list[BoxStroke] = []
    for _, x_mm, y_mm, diameter, counterbore in _holes(spec):
        x, y = frame.at(x_mm, y_mm)
        r = max(diameter, counterbore) / 2 * frame.scale
        if counterbore:
            s.circle(x, y, counterbore / 2 * frame.scale, "hollow")
        s.circle(x, y, diameter / 2 * frame.scale, "hollow")
        center_cross(s, x, y, r + 1.2)
        taken.append(BoxStroke(x - r, y - r, x + r, y + r))
    reach = max(hypot(x, y) for x, y in outline) * frame.scale
    center_cross(s, cx, cy, bore + 1.5)
    for cut in cuts:
        far = _edge(outline, cut.angle_deg) * frame.scale
        c, d = cos(radians(cut.angle_deg)), -sin(radians(cut.angle_deg))
        near = 0.86 * bore
        s.line(((cx + near * c, cy + near * d), (cx + (far + 2.0) * c, cy + (far + 2.0) * d)), "travel")
        at = min(far + 4.2, reach + 4.2)
        taken.append(s.words(cx + at * c, cy + at * d + 0.9, cut.letter, "value", "middle"))
    return taken


def _edge(outline: list[Point], angle_deg: float) -> float:
    """How far the outline reaches in a direction: the farthest of its points near it."""
    c, d = cos(radians(angle_deg)), sin(radians(angle_deg))
    near = [x * c + y * d for x, y in outline if abs(y * c - x * d) < 0.05 * hypot(x, y) and x * c + y * d > 0]
    return max(near, default=max(hypot(x, y) for x, y in outline))


def _sizes(s: Sheet, spec: AdapterSpec, frame: Frame, system: str, taken: list[BoxStroke]) -> float:
    """Diameters below, the smallest first, then the width; the height at the left; how far down they reach."""
    low_x, low_y, high_x, high_y = spec.outline.bounds_mm
    (x0, y1), (x1, y0) = frame.at(low_x, low_y), frame.at(high_x, high_y)
    cx, cy = frame.at(0.0, 0.0)
    below = y1 + 1.5

    def mm(value: float) -> str:
        return show(value, "mm", system, bare=True)

    def across(a: float, b: float, start: float, words: str) -> None:
        nonlocal below
        below += ROW + 0.9
        dimensioned(s, (a, start), (b, start), y=below)
        taken.append(s.words((a + b) / 2, below - 0.8, words, "label", "middle"))

    for name, radius in _rings(spec):
        across(cx - radius * frame.scale, cx + radius * frame.scale, cy, f"{name} ⌀{mm(2.0 * radius)}")
    round_ = _round_mm(spec)
    if round_ is not None:
        across(x0, x1, cy, f"⌀{mm(2.0 * round_)}")
        return below
    across(x0, x1, (y0 + y1) / 2, mm(high_x - low_x))
    beside = x0 - 7.0
    for y in (y0, y1):
        extension(s, ((x0 + x1) / 2, y), (beside, y))
    dimension(s, (beside, y1), (beside, y0))
    taken.append(s.words(beside - 0.8, (y0 + y1) / 2 + 1.0, mm(high_y - low_y), "label", "end"))
    return below


def _named(s: Sheet, spec: AdapterSpec, frame: Frame, taken: list[BoxStroke]) -> None:
    """The name of each hole beside it: outward, inward or along the ring, wherever nothing else stands."""
    for name, x_mm, y_mm, diameter, counterbore in _holes(spec):
        x, y = frame.at(x_mm, y_mm)
        far = hypot(x_mm, y_mm) or 1.0
        c, d = x_mm / far, -y_mm / far
        r = max(diameter, counterbore) / 2 * frame.scale + 2.3
        for u, v in ((-1, 0), (0, 1), (0, -1), (1, 0), (-1, 1), (-1, -1), (1, 1), (1, -1)):  # outward, along
            dx, dy = u * c - v * d, u * d + v * c
            mark = TextMark(x + r * dx, y + r * dy + 0.9, name, "letter", "middle")
            room = s.room(mark)
            if not any(room.meets(other, 0.2) for other in taken):
                s.marks.append(mark)
                taken.append(room)
                break


def _middle(part: PartOrder, system: str) -> list[str]:
    threads = part.spec.threads
    rings = {round(2 * hypot(t.x_mm, t.y_mm), 2) for t in threads}
    lines = [*([part.side] if part.side else []), "seen from the cabin"]
    if len(rings) == 1:
        lines.append(f"{len(threads)} × {threads[0].size} on ⌀{show(rings.pop(), 'mm', system, bare=True)}")
    return lines


def _unseen(spec: AdapterSpec, system: str) -> list[str]:
    """What the drawing does not show, in one note."""

    def mm(value: float, places: int | None = None) -> str:
        return show(value, "mm", system, places)

    said = []
    if spec.relief_mm:
        odd = 2 if abs(10.0 * spec.relief_mm - round(10.0 * spec.relief_mm)) > 0.05 else None
        said.append(f"chamfer of {mm(spec.relief_mm, odd)} × 45° behind the bore")
    said += [
        f"{g.face} groove along the {g.along}, {mm(g.width_mm)} wide, {mm(g.depth_mm)} deep, "
        f"its middle {mm(g.inset_mm)} from the edge"
        for g in spec.grooves
    ]
    said += [
        f"notch at {n.angle_deg:g}°, {mm(n.width_mm)} wide, {mm(n.depth_mm)} into the bore's wall" for n in spec.notches
    ]
    said += [f"outer edge broken by {mm(spec.edge_mm)} at the front"] if spec.edge_mm else []
    text = "; ".join(said)
    return [f"{text[:1].upper()}{text[1:]}."] if said else []


def _cuts(part: PartOrder) -> list[_Cut]:
    """A section through the first fixing that has a hole, and one through the first thread."""
    spec, found = part.spec, []
    fixing = next((f for f in spec.fixings if f.hole_mm), None)
    if fixing is not None:
        top, sunk = spec.thickness_mm, fixing.counterbore_depth_mm
        depths = [(top - sunk, top)] if sunk else []
        depths += [(0.0, fixing.pocket_depth_mm)] if fixing.pocket_mm else []
        found.append(_cut(part, "A", fixing, (fixing.hole_mm, fixing.counterbore_mm, fixing.pocket_mm), depths))
    if spec.threads:
        thread, seat = spec.threads[0], spec.seat_z_mm
        depths = [(seat - thread.depth_mm, seat)] if thread.depth_mm else []
        depths += [(0.0, spec.relief_mm)] if spec.relief_mm else []
        found.append(_cut(part, "B" if found else "A", thread, (thread.hole_mm,), depths))
    return found


def _cut(part: PartOrder, letter: str, hole: Fixing | Thread, diameters: Iterable[float], depths: list[Point]) -> _Cut:
    spec, angle = part.spec, degrees(atan2(hole.y_mm, hole.x_mm))
    pieces = part.radial_section(angle)
    reach = max((r for outer, _ in pieces for r, _ in outer), default=0.0)
    heights = {(0.0, spec.seat_z_mm), (0.0, spec.thickness_mm), (0.0, spec.top_mm)}
    if spec.spigot is not None and spec.keeps_spigot:
        heights.add((-spec.spigot.length_mm, 0.0))
    grooves = []
    for g in spec.grooves:
        top = spec.seat_z_mm if g.along == "bore" else spec.thickness_mm
        low, high = (0.0, g.depth_mm) if g.face == "back" else (top - g.depth_mm, top)
        middle = spec.bore_mm + g.inset_mm if g.along == "bore" else reach - g.inset_mm
        grooves.append((middle - g.width_mm / 2.0, middle + g.width_mm / 2.0, low, high))
    words, rising = f"through {hole_names(spec)[hole.name]}", sorted(heights, key=lambda h: h[1] - h[0])
    across = tuple((hypot(hole.x_mm, hole.y_mm), diameter) for diameter in diameters if diameter)
    return _Cut(letter, words, angle, pieces, across, tuple(rising), tuple(depths), tuple(grooves))


def _inside(s: Sheet, lines: list[str], radius_mm: float, frame: Frame, taken: list[BoxStroke]) -> bool:
    """Lines in the middle of the bore, clear of its center lines; False where they find no room."""
    cx, cy = frame.at(0.0, 0.0)
    pitch = TEXTS["label"].size * UNIT * 1.5
    first = cy - pitch * (len(lines) - 1) / 2 + 1.0
    marks = [TextMark(cx, first + n * pitch, text, "label", "middle") for n, text in enumerate(lines)]
    rooms = [s.room(mark) for mark in marks]
    radius = radius_mm * frame.scale
    for room in rooms:
        far = max(hypot(x - cx, y - cy) for x in (room.left, room.right) for y in (room.top, room.bottom))
        if far > radius or any(room.meets(other, 0.2) for other in taken):
            return False
    s.marks += marks
    taken += rooms
    return True


def _figure(value: float, system: str) -> str:
    odd = system == "metric" and abs(10.0 * value - round(10.0 * value)) > 0.05  # 3.25 is not told as 3.2
    return show(value, "mm", system, 2 if odd else None, bare=True)


def _sides(cut: _Cut, system: str) -> tuple[float, float]:
    """Room that figures take to the left and to the right of a section."""
    left, right = (
        [text_width(_figure(b - a, system), "label") * UNIT for a, b in pairs] for pairs in (cut.depths, cut.heights)
    )
    room = max(left, default=0.0)
    further = (room + 3.0) * max(len(left) - 1, 0)
    return (room + 4.5) * bool(left) + further, sum(width + 4.9 for width in right)


def _room(cut: _Cut, width: float, system: str) -> float:
    return width - 1.0 - sum(_sides(cut, system))


def _section(s: Sheet, cut: _Cut, left: float, top: float, system: str, limit: float) -> tuple[float, float]:
    """One section with its dimensions, from one side to the other; its bottom and its scale."""

    def figure(value: float) -> str:
        return _figure(value, system)

    points = [p for outer, _ in cut.pieces for p in outer]
    title = f"{cut.letter}–{cut.letter}: {cut.words}"
    s.words(left, top + 3.0, title, "label")
    if not points:
        s.words(left, top + 8.0, "no material in this plane", "note")
        return top + 14.0, 1.0
    (low_r, low_z), (high_r, high_z) = map(min, zip(*points)), map(max, zip(*points))
    x0 = left + _sides(cut, system)[0]
    scale = _scale(high_r - low_r, high_z - low_z, min(SECTION[0], _room(cut, limit - left, system)), SECTION[1])
    y0 = top + 6.5 + ROW * len(cut.across)
    frame = Frame(x0 - scale * low_r, y0 + scale * high_z, scale)
    for outer, holes in cut.pieces:
        s.line(frame.all(outer), "body-part", True)
        for hole in holes:
            s.line(frame.all(hole), "ground", True)
        for segment in hatch([frame.all(outer), *map(frame.all, holes)], 1.6, 45.0):
            s.line(segment, "hatch-part")
        for loop in (outer, *holes):
            s.line(frame.all(loop), "edge", True)
    beside = max((frame.at(radius + diameter / 2, high_z)[0] for radius, diameter in cut.across), default=x0)
    for n, (radius, diameter) in enumerate(cut.across):
        y = y0 - 2.2 - ROW * n
        a, b = frame.at(radius - diameter / 2, high_z), frame.at(radius + diameter / 2, high_z)
        ends = dimensioned(s, a, b, y=y)
        s.words(max(ends[1][0], beside) + 0.9, y + 1.0, f"⌀{figure(diameter)}", "label")
        x, _ = frame.at(radius, high_z)
        s.line(((x, y0 - 1.2), (x, y0 + scale * (high_z - low_z) + 1.2)), "center")
    right = frame.at(high_r, 0.0)[0] + 4.0
    for low, high in cut.heights:
        a, b = frame.at(high_r, low), frame.at(high_r, high)
        dimensioned(s, a, b, x=right)
        right = s.words(right + 0.9, (a[1] + b[1]) / 2 + 1.0, figure(high - low), "label").right + 4.0
    near = frame.at(low_r, 0.0)[0] - 3.0
    for low, high in cut.depths:
        a, b = frame.at(low_r, low), frame.at(low_r, high)
        dimensioned(s, a, b, x=near)
        near = s.words(near - 0.9, (a[1] + b[1]) / 2 + 1.0, figure(high - low), "label", "end").left - 3.0
    bottom = y0 + scale * (high_z - low_z)
    for inner, outer_r, low, high in cut.grooves:  # width and depth in one figure below it
        bottom += ROW
        a, b = frame.at(inner, low), frame.at(outer_r, low)
        ends = dimensioned(s, a, b, y=bottom)
        words = f"groove {figure(outer_r - inner)} × {figure(high - low)} deep"
        bottom += ROW
        s.words(min(ends[0][0], limit - 1.0 - text_width(words, "label") * UNIT), bottom, words, "label")
    return bottom + 7.0, scale


def _notes(s: Sheet, notes: Iterable[str], top: float) -> None:
    """Lines at the foot; the sheet grows to hold them."""
    y = top
    for note in notes:
        for line in wrap(note, "note", (WIDTH - 30.0) / UNIT):  # beside the symbol of projection
            y += TEXTS["note"].size * UNIT * 1.4
            s.words(2.0, y, line, "note")
    s.height = max(y + 2.5, top + 12.0)
