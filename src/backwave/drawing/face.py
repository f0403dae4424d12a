"""The face: the flange from the front, with the driver turned on it.

x to the right and y up as seen from the cabin.  Round the flange runs a ring of directions: the pointer stands
where the driver's first hole points, heavy arcs are the turns that keep the required gap, a triangle the best.
"""

from __future__ import annotations

from math import cos, hypot, radians, sin

from backwave.drawing.callouts import Callout, column, letters
from backwave.drawing.dimensions import arrow, center_cross, dimension, fill_hatch
from backwave.drawing.hatch import hatch
from backwave.drawing.number_format import Figures, gap_words
from backwave.drawing.scale import Frame
from backwave.drawing.sheet import ArcStroke, BoxStroke, Point, Sheet, to_svg
from backwave.drawing.styles import Theme
from backwave.drawing.title_block import foot, heading
from backwave.drawing.views import DriverHole, FaceView

WIDE, NARROW, COLUMN = 1000.0, 390.0, 200.0


def face_svg(view: FaceView, theme: Theme = "light", *, compact: bool = False, system: str = "metric") -> str:
    """The face as SVG."""
    return to_svg(face_sheet(view, compact=compact, system=system), theme)


def face_sheet(view: FaceView, *, compact: bool = False, system: str = "metric") -> Sheet:
    """The face as a display list."""
    s = Sheet(NARROW if compact else WIDE, 100.0, view.title)
    head = heading(s, view.title, view.subtitle, view.verdict, view.verdict_text, view.verdict_note, compact)
    fmt = Figures(system)
    reach = max([view.frame_radius_mm, *(hypot(x, y) for x, y in (*view.outline_mm, *view.hole_mm))])
    left, right = (14.0, NARROW - 14) if compact else (COLUMN + 44, WIDE - COLUMN - 44)
    around = 56.0  # the ring of directions and its figures
    half = (right - left) / 2
    f = Frame((left + right) / 2, head + 22 + half, (half - around) / reach)
    ring = reach * f.scale + 17

    _outlines(s, f, view)
    _unread(s, f, view)
    calls = _terminals(s, f, view)
    calls += _fixings(s, f, view, fmt)
    calls += _holes(s, f, view, fmt)
    gap = _gap(s, f, view, fmt)
    _ring(s, f, view, ring)
    spare = _sides(s, f, view)
    calls = gap + calls + _names(f, view, fmt)
    bottom = f.y0 + half
    if compact:
        area = BoxStroke(left, head + 14, right, bottom)
        end = letters(s, calls, area, left, right - left, bottom + 10)
    else:
        placed = [c for c in calls if c.target]
        west = [c for c in placed if c.side == "left" or (not c.side and c.target and c.target[0] < f.x0)]
        east = [c for c in placed if c not in west]
        first = head + 24
        end = max(
            bottom, column(s, west, "left", 24.0, COLUMN, first), column(s, east, "right", WIDE - 24.0, COLUMN, first)
        )
    foot(s, [*view.notes, *spare], end + 14, 14.0 if compact else 24.0)
    return s


def _outlines(s: Sheet, f: Frame, v: FaceView) -> None:
    s.line(f.all(v.outline_mm), "body-part", True)
    s.circle(f.x0, f.y0, v.frame_radius_mm * f.scale, "body-driver")
    s.circle(f.x0, f.y0, v.bore_radius_mm * f.scale, "ground")
    s.line(f.all(v.outline_mm), "edge", True)
    if v.hole_mm:
        s.line(f.all(v.hole_mm), "hidden", True)
    s.circle(f.x0, f.y0, v.bore_radius_mm * f.scale, "line")
    s.circle(f.x0, f.y0, v.frame_radius_mm * f.scale, "edge")
    if v.foam_mm:
        for radius in v.foam_mm:
            s.circle(f.x0, f.y0, radius * f.scale, "faint")
    center_cross(s, f.x0, f.y0, v.bore_radius_mm * f.scale * 0.97)


def _unread(s: Sheet, f: Frame, v: FaceView) -> None:
    """Dashed hatching along the bore's edge where nothing was measured behind."""
    inner, outer = 0.82 * v.bore_radius_mm * f.scale, 0.97 * v.bore_radius_mm * f.scale
    for start, end in v.unread_deg:
        steps = [start + (end - start) * k / 60 for k in range(61)]
        far, near = ([_polar(f, radius, deg) for deg in steps] for radius in (outer, inner))
        if end - start >= 360.0:
            for segment in hatch([far, near], 5.0, 20.0):
                s.line(segment, "hatch-unknown")
        else:
            fill_hatch(s, [*far, *reversed(near)], "", "hatch-unknown", 5.0, 20.0)


def _terminals(s: Sheet, f: Frame, v: FaceView) -> list[Callout]:
    t = v.terminals
    if t is None:
        return []
    c, n = cos(radians(t.angle_deg)), sin(radians(t.angle_deg))

    def turned(along: float, across: float) -> Point:
        return f.at(along * c - across * n, along * n + across * c)

    half = t.width_mm / 2
    corners = [turned(t.inner_mm, -half), turned(t.outer_mm, -half), turned(t.outer_mm, half), turned(t.inner_mm, half)]
    s.line(corners, "hidden", True)
    return [Callout(turned((t.inner_mm + t.outer_mm) / 2, 0.3 * half), (("terminals, behind", "label"),))]


def _fixings(s: Sheet, f: Frame, v: FaceView, fmt: Figures) -> list[Callout]:
    for fix in v.fixings:
        x, y = f.at(fix.x_mm, fix.y_mm)
        if fix.head_mm > fix.hole_mm:
            s.circle(x, y, fix.head_mm / 2 * f.scale, "hollow")
        s.circle(x, y, fix.hole_mm / 2 * f.scale, "hollow-edge")
        center_cross(s, x, y, max(fix.head_mm, fix.hole_mm) * 0.5 * f.scale + 6)
    if not v.fixings:
        return []
    first = max(v.fixings, key=lambda fix: (fix.y_mm, -fix.x_mm))
    kinds = {(fix.hole_mm, fix.head_mm, fix.label) for fix in v.fixings}
    words = [(f"factory fixing, {len(v.fixings)} of them" if len(v.fixings) > 1 else "factory fixing", "label")]
    if len(kinds) == 1:
        note = f"\u2300{fmt.full(first.hole_mm)}" + (f", head \u2300{fmt.full(first.head_mm)}" if first.head_mm else "")
        words.append((note + (f", {first.label}" if first.label else ""), "note"))
    else:
        words.append(("sizes differ", "note"))
    return [Callout(f.at(first.x_mm, first.y_mm), tuple(words))]


def _holes(s: Sheet, f: Frame, v: FaceView, fmt: Figures) -> list[Callout]:
    for hole in v.driver_holes:
        x, y = f.at(hole.x_mm, hole.y_mm)
        if hole.boss_mm > 0:
            s.circle(x, y, hole.boss_mm / 2 * f.scale, "change")
        if hole.slot_mm > hole.hole_mm:
            s.line(_slot(f, hole), "hollow-edge", True)
        else:
            s.circle(x, y, hole.hole_mm / 2 * f.scale, "hollow-edge")
        center_cross(s, x, y, 0.5 * max(hole.hole_mm, hole.boss_mm) * f.scale + 5)
    if not v.driver_holes:
        return []
    first = min(v.driver_holes, key=lambda hole: (round(hole.y_mm, 3), -hole.x_mm))
    shape = "slot" if first.slot_mm > first.hole_mm else "hole"
    count = len(v.driver_holes)
    words = [(f"driver's {shape}" + (f", {count} of them" if count > 1 else ""), "label")]
    note = (
        f"\u2300{fmt.full(first.hole_mm)}"
        if shape == "hole"
        else f"{fmt.bare(first.hole_mm)} \u00d7 {fmt.full(first.slot_mm)}"
    )
    words.append((note + (f", in the part \u2300{fmt.full(first.boss_mm)}" if first.boss_mm else ""), "note"))
    return [Callout(f.at(first.x_mm, first.y_mm), tuple(words))]


def _slot(f: Frame, hole: DriverHole) -> list[Point]:
    half, r = (hole.slot_mm - hole.hole_mm) / 2, hole.hole_mm / 2
    c, n = cos(radians(hole.slot_deg)), sin(radians(hole.slot_deg))
    points = []
    for k in range(24):
        angle = radians(-90 + 180 * (k % 12) / 11 + (0 if k < 12 else 180))
        u, w = (half if k < 12 else -half) + r * cos(angle), r * sin(angle)
        points.append(f.at(hole.x_mm + u * c - w * n, hole.y_mm + u * n + w * c))
    return points


def _gap(s: Sheet, f: Frame, v: FaceView, fmt: Figures) -> list[Callout]:
    if v.gap is None:
        return []
    wrong = v.gap.verdict == "stop"
    a, b = f.at(*v.gap.a_mm), f.at(*v.gap.b_mm)
    ends = dimension(s, a, b, "wrong" if wrong else "gap", "wrong-arrow" if wrong else "gap-arrow", 14.0)
    spot = max(ends, key=lambda p: abs(p[0] - f.x0)) if ends[0] != a else ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return [Callout(spot, gap_words(v.gap, fmt), "none", v.gap.verdict, "wrong" if wrong else "gap")]


def _ring(s: Sheet, f: Frame, v: FaceView, ring: float) -> None:
    """Directions round the flange: ticks, allowed arcs, pointer at the turn drawn, triangle at the best."""
    s.circle(f.x0, f.y0, ring, "faint")
    for deg in range(0, 360, 10):
        out = 7 if deg % 30 == 0 else 4
        s.line((_polar(f, ring, deg), _polar(f, ring + out, deg)), "fine")
    times = max(1, round(360 / v.period_deg))
    for k in range(times):
        for low, high in v.allowed_deg:
            start, end = (v.mark_deg + a + k * v.period_deg for a in (low, high))
            if high - low >= 359.9:
                s.circle(f.x0, f.y0, ring, "change-wide")
            elif high - low > 1e-6:
                s.marks.append(ArcStroke(f.x0, f.y0, ring, start, end, "change-wide"))
    for deg in range(0, 360, 30):
        x, y = _polar(f, ring + 22, deg)
        s.words(x, y + 4, f"{deg}\u00b0", "tick", "middle")
    if v.best_deg is not None:
        at = v.mark_deg + v.best_deg
        tip, left, right = _polar(f, ring + 2, at), _polar(f, ring + 12, at - 1.6), _polar(f, ring + 12, at + 1.6)
        s.line((tip, left, right), "change", True)
    at = v.mark_deg + v.turn_deg
    s.line((_polar(f, v.frame_radius_mm * f.scale * 0.9, at), _polar(f, ring, at)), "change")
    arrow(s, _polar(f, ring, at), at, "change-arrow")


def _polar(f: Frame, radius: float, deg: float) -> Point:
    return f.x0 + radius * cos(radians(deg)), f.y0 - radius * sin(radians(deg))


def _sides(s: Sheet, f: Frame, v: FaceView) -> list[str]:
    """Which way is up and which side this is, in the bore on the side the terminals leave free; or, where the bore
    is too small for words, as lines for the foot."""
    bore = v.bore_radius_mm * f.scale
    words = [(v.side, "value"), ("seen from the cabin", "note")] if v.side else [("seen from the cabin", "note")]
    if bore < 92:
        return [", ".join(["up is up", *(text for text, _ in reversed(words))]) + "."]
    upward = v.terminals is not None and sin(radians(v.terminals.angle_deg)) > 0.3
    y = f.y0 + 0.62 * bore if upward else f.y0 - 8
    for text, look in reversed(words):
        s.words(f.x0, y, text, look, "middle")
        y -= 19
    s.words(f.x0, y, "up", "label", "middle")
    foot_y, tip = y - 15, y - 15 - max(14.0, min(0.2 * bore, 40.0))
    s.line(((f.x0, foot_y), (f.x0, tip)), "edge")
    arrow(s, (f.x0, tip - 3), 90, "gap-arrow")
    return []


def _names(f: Frame, v: FaceView, fmt: Figures) -> list[Callout]:
    calls = []
    turn = f"turn {_deg(v.turn_deg)}"
    words = [(turn, "value-change")]
    if v.best_deg is not None:
        words.append((f"best {_deg(v.best_deg)}, repeats every {_deg(v.period_deg)}", "note"))
    if not v.allowed_deg:
        words.append(("no turn keeps the gap", "note-wrong"))
    radius = v.frame_radius_mm * 0.95 * f.scale
    calls.append(Callout(_polar(f, radius, v.mark_deg + v.turn_deg), tuple(words), "none", look="change"))
    spot = min(v.outline_mm, key=lambda p: p[0] * 0.8 + p[1] * 0.6)
    inner = max(hypot(*spot) - 2.5, 0.0) / max(hypot(*spot), 1e-9)
    calls.append(Callout(f.at(spot[0] * inner, spot[1] * inner), (("adapter's flange", "label"),)))
    if v.hole_mm:
        spot = max(v.hole_mm, key=lambda p: p[0] * 0.85 - p[1] * 0.5)
        calls.append(Callout(f.at(*spot), (("hole in the metal", "label"),), "arrow"))
    size = f"\u2300{fmt.full(2 * v.frame_radius_mm)}"
    calls.append(Callout(_polar(f, v.frame_radius_mm * f.scale, 62), ((f"driver's frame {size}", "label"),), "arrow"))
    size = f"\u2300{fmt.full(2 * v.bore_radius_mm)}"
    calls.append(Callout(_polar(f, v.bore_radius_mm * f.scale, 118), ((f"bore {size}", "label"),), "arrow"))
    if v.foam_mm:
        calls.append(Callout(_polar(f, v.foam_mm[1] * f.scale, 200), (("foam ring", "note"),), "arrow"))
    return calls


def _deg(value: float) -> str:
    return f"{value:.1f}\u00b0".replace("-", "\u2212").replace(".0\u00b0", "\u00b0")
