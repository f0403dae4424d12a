"""The vehicle from above: the cabin to scale, front up, with its seats, openings, boxes and their verdicts.

x runs back from the front end of the air space, y to the right from its left side, as in the job file.  An opening
is a bar across the way it faces, a box a rectangle, a head a circle with a nose; what has no place is listed below."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan2, cos, degrees, hypot, pi, radians, sin
from typing import ClassVar, Literal

from backwave.drawing.callouts import Callout, columns, foot, heading, labels
from backwave.drawing.dimensions import arrow, dimensioned, verdict_mark
from backwave.drawing.sheet import BoxStroke, Frame, Point, Poly, Sheet, to_svg
from backwave.drawing.styles import Theme, text_width
from backwave.finding import Verdict
from backwave.units import show

WIDE, NARROW, COLUMN = 1000.0, 390.0, 235.0
HEAD_MM = 76.0  # half the breadth of a head
MARK = 19.0
UNSAID, UNSIZED = 1500.0, 150.0  # mm drawn, dashed, for a cabin and for a thing whose size nobody has said


@dataclass(frozen=True)
class PlanEar:
    name: str
    at_mm: Point | None  # (x, y), back from the front, right from the left side; None where nobody has said
    verdict: ClassVar[Verdict | None] = None  # it is not judged
    words: ClassVar[str] = ""


@dataclass(frozen=True)
class PlanPlace:
    name: str  # its name, side included
    # (x, y), its middle, back from the front and right from the left side; None where nobody has said
    at_mm: Point | None
    verdict: Verdict | None = None  # its mark; None for what is not judged
    words: str = ""  # what stands after the verdict, or ""
    kind: Literal["opening", "box"] = "opening"
    # (x, y), the way it faces in the same axes, any length; None or no length where it faces up, down or is not
    # known
    facing: Point | None = None
    # (x, y), how far a box reaches back and across; of an opening its diameter, twice.  None where it is not
    # known.
    size_mm: Point | None = None


@dataclass(frozen=True)
class PlanView:
    title: str  # heading and one line under it
    subtitle: str
    verdict: Verdict
    verdict_text: str  # its words, and a smaller line under them (may be "")
    verdict_note: str
    length_mm: float | None  # the cabin's; None where nobody has said
    width_mm: float | None
    ears: tuple[PlanEar, ...] = ()
    places: tuple[PlanPlace, ...] = ()  # openings and boxes, each side by itself
    notes: tuple[str, ...] = ()


def plan_svg(view: PlanView, theme: Theme = "light", *, compact: bool = False, system: str = "metric") -> str:
    return to_svg(plan_sheet(view, compact=compact, system=system), theme)


def plan_sheet(view: PlanView, *, compact: bool = False, system: str = "metric") -> Sheet:
    s = Sheet(NARROW if compact else WIDE, 100.0, view.title)
    head = heading(s, view.title, view.subtitle, view.verdict, view.verdict_text, view.verdict_note, compact)
    edge = 14.0 if compact else 24.0
    room = NARROW - 2 * edge - 44 if compact else WIDE - 2 * (COLUMN + 24 + 52)
    low, high = _extent(view)
    size = high[0] - low[0], high[1] - low[1]
    scale = min(room / size[1], (400.0 if compact else 520.0) / size[0])
    top = head + 84
    f = Frame(WIDE / 2 - scale * (low[1] + high[1]) / 2, top - low[0] * scale, scale)
    if compact:
        f = Frame(edge + (room - size[1] * scale) / 2 + 22 - low[1] * scale, f.y0, scale)

    lefts = [p.at_mm[1] < (low[1] + high[1]) / 2 for p in _all(view) if p.at_mm]
    end = _cabin(s, f, view, system, sum(lefts) * 2 <= len(lefts))
    drawn = len(s.marks)
    within = BoxStroke(*_at(f, low), *_at(f, high))
    calls, marks = _places(s, f, view, BoxStroke(within.left - 24, within.top - 40, within.right + 24, within.bottom))
    calls = _ears(s, f, view) + calls
    end = max([end, *(y + 4 for m in s.marks[drawn:] if isinstance(m, Poly) for _, y in m.points)])
    middle = f.x0 + scale * (low[1] + high[1]) / 2
    if compact:
        labels(s, [replace(c, verdict=None, end="dot") for c in calls], BoxStroke(4, head + 60, NARROW - 4, end))
    else:
        end = max(end, columns(s, calls, COLUMN, head + 60, middle))
    for spot, verdict in marks:  # after the leaders, which end under them
        verdict_mark(s, *spot, MARK, verdict)
    lost = [p for p in _all(view) if p.at_mm is None]
    s.notes += [f"{p.name}: {', '.join(filter(None, (_said(p), 'place not said')))}" for p in lost]
    unsaid = [name for name, value in (("length", view.length_mm), ("width", view.width_mm)) if value is None]
    if unsaid:
        unsaid = [f"cabin's {' and '.join(unsaid)} not said: the dashed lines only take in what stands there"]
    foot(s, [*s.notes, *unsaid, *view.notes], end + 12, edge)
    return s


def _extent(v: PlanView) -> tuple[Point, Point]:
    """Least and greatest x and y drawn: the cabin, and whatever reaches out of it."""
    far = _walls(v)
    boxes = [((0.0, 0.0), far)]
    for p in _all(v):
        if p.at_mm:
            (x, y), (back, across) = p.at_mm, _half(p)
            boxes.append(((x - back, y - across), (x + back, y + across)))
    low, high = zip(*boxes, strict=True)
    return (min(x for x, _ in low), min(y for _, y in low)), (max(x for x, _ in high), max(y for _, y in high))


def _all(v: PlanView) -> list[PlanEar | PlanPlace]:
    return [*v.ears, *v.places]


def _walls(v: PlanView) -> Point:
    """The cabin's length and width; where one is not said, what takes in all that stands there."""
    spots = [p.at_mm for p in _all(v) if p.at_mm]
    length = v.length_mm or max([UNSAID, *(1.1 * x for x, _ in spots)])
    return length, v.width_mm or max([UNSAID, *(1.1 * y for _, y in spots)])


def _half(p: PlanEar | PlanPlace) -> Point:
    """How far it reaches from its middle, back and across, mm."""
    if isinstance(p, PlanEar):
        return 1.4 * HEAD_MM, 1.4 * HEAD_MM
    back, across = p.size_mm or (UNSIZED, UNSIZED)
    way = _way(p) if p.kind == "opening" else None
    return (back / 2, across / 2) if way is None else (across / 2 * abs(cos(way)), across / 2 * abs(sin(way)))


def _at(f: Frame, spot: Point) -> Point:
    return f.at(spot[1], -spot[0])


def _cabin(s: Sheet, f: Frame, v: PlanView, system: str, dimension_left: bool) -> float:
    """Walls, dimensions and which way is which; the bottom of it all."""
    low, high = _extent(v)
    (left, top), (right, bottom) = _at(f, (0.0, 0.0)), _at(f, _walls(v))
    west, north = _at(f, low)
    east, south = _at(f, high)
    s.box(left, top, right, bottom, "band-faint")
    for a, b, known in (
        ((left, top), (right, top), v.width_mm),
        ((left, bottom), (right, bottom), v.width_mm),
        ((left, top), (left, bottom), v.length_mm),
        ((right, top), (right, bottom), v.length_mm),
    ):
        s.line((a, b), "hidden" if known is None else "edge")
    middle, y = (left + right) / 2, north - 52
    s.line(((middle, y + 8), (middle, y - 10)), "line")
    arrow(s, (middle, y - 13), 90, "gap-arrow")
    s.words(middle + 9, y + 3, "front", "label")
    if v.width_mm is not None:
        y = north - 16
        dimensioned(s, (left, top), (right, top), y=y)
        s.words(middle, y - 6, f"width {_length(v.width_mm, system)}", "label", "middle")
    end = south + 12
    if v.length_mm is not None:
        x = west - 22 if dimension_left else east + 22
        wall = left if dimension_left else right
        dimensioned(s, (wall, top), (wall, bottom), x=x)
        text = f"length {_length(v.length_mm, system)}"
        # Clear of the columns, which may come down as far.
        half = text_width(text, "label") / 2 + (0 if s.width == NARROW else COLUMN + 24)
        end = south + 20
        s.words(min(max(x, half + 4), s.width - half - 4), end, text, "label", "middle")
        end += 6
    return end


def _length(mm: float, system: str) -> str:
    """A taped length, with its unit on its line."""
    return show(mm / 10, "cm", system).replace(" ", "\u00a0")


def _ears(s: Sheet, f: Frame, v: PlanView) -> list[Callout]:
    calls = []
    for ear in v.ears:
        if ear.at_mm is None:
            continue
        x, y = _at(f, ear.at_mm)
        r = max(HEAD_MM * f.scale, 9.0)
        nose = [(x - 0.28 * r, y - 0.9 * r), (x, y - 1.32 * r), (x + 0.28 * r, y - 0.9 * r)]
        s.line(nose, "hollow", True)
        # A polygon, so that rings keep off it.
        s.line([(x + r * cos(pi * k / 18), y + r * sin(pi * k / 18)) for k in range(36)], "hollow", True)
        for side in (-1, 1):
            s.line(((x + side * r, y - 0.2 * r), (x + side * 1.14 * r, y), (x + side * r, y + 0.2 * r)), "line")
        calls.append(Callout((x, y), ((ear.name, "label"), ("ears", "note"))))
    return calls


def _places(s: Sheet, f: Frame, v: PlanView, area: BoxStroke) -> tuple[list[Callout], list[tuple[Point, Verdict]]]:
    """Openings and boxes; what is to be said of each, and where its mark will stand."""
    calls: list[Callout] = []
    marks: list[tuple[Point, Verdict]] = []
    taken: list[Point] = [_at(f, e.at_mm) for e in v.ears if e.at_mm]
    known = [(p, _at(f, p.at_mm)) for p in v.places if p.at_mm]
    for p, spot in known:
        _body(s, f, p, spot)
    for p, spot in known:
        if p.verdict:
            clear = p.size_mm[1] / 2 * f.scale + 3 if p.size_mm and _way(p) is None else 0.0
            spot = _free(spot, _way(p), None if p.kind == "box" else clear, taken, area)
            taken.append(spot)
            marks.append((spot, p.verdict))
            # Hidden under the mark: rings keep off polygons.
            h, corners = 0.5 * MARK, 3 if p.verdict == "caution" else 8
            turns = [pi / 2 + 2 * pi * k / corners for k in range(corners)]
            s.line([(spot[0] + 0.8 * h * cos(t), spot[1] - 0.8 * h * sin(t)) for t in turns], "solid", True)
        words = ((p.name, "label"), *([(_said(p), _look(p))] if _said(p) else []))
        calls.append(Callout(spot, words, "none" if p.verdict else "dot", p.verdict))
    return calls, marks


def _body(s: Sheet, f: Frame, p: PlanPlace, spot: Point) -> None:
    """The thing itself, dashed where its size is not known, and an arrow the way it faces."""
    x, y = spot
    way = _way(p)
    back, across = p.size_mm or (UNSIZED, UNSIZED)
    deep, wide = max(back * f.scale, 12.0) / 2, max(across * f.scale, 12.0) / 2
    reach = 0.0
    if p.kind == "box":
        s.box(x - wide, y - deep, x + wide, y + deep, "hollow" if p.size_mm else "ground")
        if not p.size_mm:
            s.box(x - wide, y - deep, x + wide, y + deep, "hidden")
        if way is not None:  # from the middle of the side it faces through
            reach = min(wide / max(abs(cos(way)), 1e-9), deep / max(abs(sin(way)), 1e-9))
    elif way is None:
        s.circle(x, y, wide, "hollow-edge" if p.size_mm else "ground")
        if not p.size_mm:
            s.circle(x, y, wide, "hidden")
    else:
        bar = [(x - k * wide * sin(way), y - k * wide * cos(way)) for k in (-1, 1)]
        s.line(bar, "edge" if p.size_mm else "hidden")
    if way is not None:
        tip = (x + (reach + 28) * cos(way), y - (reach + 28) * sin(way))
        s.line(((x + reach * cos(way), y - reach * sin(way)), tip), "gap")
        arrow(s, tip, degrees(way), "gap-arrow")


def _way(p: PlanPlace) -> float | None:
    """Which way it faces on the sheet, rad from +x toward the top; None where it faces up, down or anywhere."""
    if p.facing is None or hypot(*p.facing) < 1e-6:
        return None
    return atan2(-p.facing[0], p.facing[1])


def _free(spot: Point, way: float | None, clear: float | None, taken: list[Point], area: BoxStroke) -> Point:
    """Where a mark stands: in a box, behind an opening, beside one that faces up; or as near as others leave free.
    `clear` is how far it keeps off an opening's middle besides its own half, None where it may lie on it."""
    x, y = spot
    start = pi / 2 if way is None else way + pi
    for more in (*((0.0,) if clear is None else ()), 13.0, 18.0, 26.0, 36.0, 50.0):
        reach = more + (clear or 0.0)
        for turn in (0, 40, -40, 80, -80, 120, -120, 160, -160):
            angle = start + radians(turn)
            at = (x + reach * cos(angle), y - reach * sin(angle))
            inside = area.left < at[0] < area.right and area.top < at[1] < area.bottom
            if inside and all(hypot(at[0] - a, at[1] - b) > MARK + 3 for a, b in taken):
                return at
    return spot


def _said(p: PlanEar | PlanPlace) -> str:
    return ": ".join(filter(None, (p.verdict, p.words)))


def _look(p: PlanEar | PlanPlace) -> str:
    return "note" if p.verdict in ("ok", None) else "note-wrong"
