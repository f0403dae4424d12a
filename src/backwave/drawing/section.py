"""The section: a cut to scale through everything that has to clear, with the clearances on it.

z runs to the right, out of the metal toward the listener; the driver's axis lies level.  A wide sheet shows both
halves; `compact` shows the half with the worst clearance on a sheet 390 pixels wide (ISO 128-3 allows a half
view of a symmetrical part), with letters for words.
"""

from __future__ import annotations

import numpy as np

from backwave.drawing import section_parts
from backwave.drawing.callouts import Callout, column, letters
from backwave.drawing.dimensions import DimensionRow, break_line, dimension, extension, fill_hatch
from backwave.drawing.number_format import Figures, gap_words
from backwave.drawing.scale import Frame
from backwave.drawing.sheet import BoxStroke, Point, Sheet, to_svg
from backwave.drawing.styles import Theme
from backwave.drawing.title_block import foot, heading
from backwave.drawing.views import ClearanceView, ObstacleView, SectionView
from backwave.finding import VERDICTS

WIDE, NARROW, COLUMN = 1000.0, 390.0, 240.0
MOVES = ("glass", "carriage")
THICK = 4.0  # mm, of an obstacle as drawn: how thick it is nobody read


def section_svg(view: SectionView, theme: Theme = "light", *, compact: bool = False, system: str = "metric") -> str:
    """The section as SVG."""
    return to_svg(section_sheet(view, compact=compact, system=system), theme)


def section_sheet(view: SectionView, *, compact: bool = False, system: str = "metric") -> Sheet:
    """The section as a display list."""
    s = Sheet(NARROW if compact else WIDE, 100.0, view.title)
    head = heading(s, view.title, view.subtitle, view.verdict, view.verdict_text, view.verdict_note, compact)
    halves = _halves(view, compact)
    z_low, z_high, reach = _extent(view)
    left, right = (14.0, NARROW - 14) if compact else (COLUMN + 44, WIDE - COLUMN - 44)
    tall = 300.0 if compact else 640.0
    scale = min((right - left - 6) / (z_high - z_low), tall / (reach * len(halves)))
    top = head + (66.0 if compact else 70.0)
    x0 = (left + right) / 2 - scale * (z_low + z_high) / 2
    f = Frame(x0, top + reach * scale, scale)
    bottom = top + reach * scale * len(halves)
    fmt = Figures(system)

    calls = _obstacles(s, f, view, halves, reach, fmt)
    section_parts.skin(s, f, view, halves, reach)
    section_parts.driver(s, f, view.driver, view.seat.chosen_mm, halves)
    section_parts.adapter(s, f, view.adapter, view.seat.chosen_mm, halves)
    section_parts.foam_and_trim(s, f, view, halves, reach)
    _faces(s, f, view, halves, reach)
    s.line((f.at(z_low - 3, 0), f.at(z_high + 2, 0)), "center")
    if compact:  # the two short strokes that say "half of it"
        for z in (z_low - 1, z_high):
            x, y = f.at(z, 0)
            for off in (-2.0, 2.0):
                s.line(((x + off, y - 6), (x + off, y + 6)), "line")
    measured = _clearances(s, f, view, halves, fmt)
    calls = measured + calls + _names(f, view, halves, fmt)
    rows = DimensionRow(s, left, right)
    _dimensions_above(s, f, view, top, rows, fmt)
    below = _dimensions_below(s, f, view, bottom, rows, fmt)
    if compact:
        area = BoxStroke(left, top - 4, right, bottom - 2)
        end = letters(s, calls, area, left, right - left, below + 16)
    else:
        middle = f.x0 + scale * (view.seat.chosen_mm if view.seat.chosen_mm > 0 else 0) / 2
        split = [c for c in calls if c.target]
        west = [c for c in split if c.side == "left" or (not c.side and c.target and c.target[0] <= middle)]
        east = [c for c in split if c not in west]
        first = head + 34
        end = max(
            below, column(s, west, "left", 24.0, COLUMN, first), column(s, east, "right", WIDE - 24.0, COLUMN, first)
        )
    foot(s, view.notes, end + 14, 14.0 if compact else 24.0)
    return s


def _halves(view: SectionView, compact: bool) -> dict[str, float]:
    if not compact:
        return {"up": 1.0, "down": -1.0}
    judged = [c for c in view.clearances if c.a_mm[1] != 0]
    if not judged:
        return {"up": 1.0}
    worst = max(judged, key=lambda c: (VERDICTS.index(c.verdict), (c.margin or 0.0) - c.value))
    return {"up": 1.0} if worst.a_mm[1] > 0 else {"down": 1.0}


def _extent(view: SectionView) -> tuple[float, float, float]:
    """Least and greatest z, and the radius at which the drawing ends, in mm."""
    d, a, seat = view.driver, view.adapter, view.seat.chosen_mm
    deep = [seat - depth for _, depth in d.profile_mm] + [seat - t.depth_mm for t in d.terminals]
    deep += [-clear for o in view.obstacles for _, clear in o.readings_mm]
    deep += [-fix.tail_mm for fix in a.fixings]
    high = [seat + max(d.moving_mm, d.crest_mm or 0.0, d.rim_mm, d.fixed_mm) + d.xmech_mm]
    high += [z + 3 for z in (view.trim_clear_mm, view.trim_land_mm) if z is not None]
    high += [view.foam.to_mm] if view.foam else []
    high += [view.seat.most_mm, a.back_closed_mm + a.thickness_mm]
    wide = max(a.outer_up_mm, a.outer_down_mm, d.frame_radius_mm, view.hole_up_mm, view.hole_down_mm)
    return min(deep) - 6.0, max(high) + 1.0, wide + max(6.0, 0.1 * wide)


def _obstacles(
    s: Sheet, f: Frame, view: SectionView, halves: dict[str, float], reach: float, fmt: Figures
) -> list[Callout]:
    """Slabs with their measured faces; where nothing was read hatched otherwise. Nearest painted last."""
    calls: list[Callout] = []
    unread: Point | None = None
    order = sorted(view.obstacles, key=lambda o: -max((c for _, c in o.readings_mm), default=0.0))
    for n, o in enumerate(order):
        shown = [sign for half, sign in halves.items() if o.half in ("both", half)]
        if not o.readings_mm or not shown:
            continue
        (first_r, first), (last_r, last) = o.readings_mm[0], o.readings_mm[-1]
        for sign in shown:
            _slab(s, f, o, sign, reach)
            if first_r > 0:
                _unread(s, f, first, sign * 0.0, sign * min(first_r, reach))
            if last_r < reach:
                _unread(s, f, last, sign * last_r, sign * reach)
            start, end = f.all(((-last, sign * reach), (-last - THICK, sign * reach)))
            break_line(s, start, end)
        if last_r < 0.96 * reach:
            unread = f.at(-last - THICK / 2, shown[-1] * (0.35 * last_r + 0.65 * reach))
        spot = min(last_r, reach) * (0.93 - 0.2 * (n % 4)) if last_r > 0 else 0.3 * reach
        spot = max(spot, min(first_r, reach))
        name = o.what + (f", window {o.window}" if o.window else "")
        words = ((name, "label"), (f"read to radius {fmt.full(last_r)}", "note"))
        calls.append(Callout(f.at(-_clear(o, spot) - THICK / 2, shown[0] * spot), words, side="left"))
    if unread:
        calls.append(Callout(unread, (("not measured", "note"),), side="left"))
    return calls


def _slab(s: Sheet, f: Frame, o: ObstacleView, sign: float, reach: float) -> None:
    face = [(r, c) for r, c in o.readings_mm if r < reach]
    face = [*face, (min(o.readings_mm[-1][0], reach), _clear(o, reach))]
    points = f.all([*((-c, sign * r) for r, c in face), *((-c - THICK, sign * r) for r, c in reversed(face))])
    if o.what in MOVES:
        s.line(points, "body-glass", True)
    else:
        fill_hatch(s, points, "body-metal", "hatch-metal", 6.0, 135.0)
    s.line(f.all((-c - THICK, sign * r) for r, c in face), "line")


def _unread(s: Sheet, f: Frame, clear: float, from_r: float, to_r: float) -> None:
    near, far = (f.all(((-clear, from_r), (-clear - THICK, from_r))), f.all(((-clear, to_r), (-clear - THICK, to_r))))
    fill_hatch(s, [*near, *reversed(far)], "", "hatch-unknown", 5.0, 20.0)
    s.line((near[0], far[0]), "hidden")
    s.line((near[1], far[1]), "hidden")


def _faces(s: Sheet, f: Frame, view: SectionView, halves: dict[str, float], reach: float) -> None:
    """The measured faces again, over the driver, so that a collision is seen; a ring at each reading."""
    for o in view.obstacles:
        for half, sign in halves.items():
            if o.readings_mm and o.half in ("both", half):
                read = [(r, c) for r, c in o.readings_mm if r <= reach]
                end = min(o.readings_mm[-1][0], reach)
                s.line(f.all((-c, sign * r) for r, c in (*read, (end, _clear(o, end)))), "edge")
                for r, c in read:
                    s.circle(*f.at(-c, sign * r), 2.6, "read")


def _clear(o: ObstacleView, radius: float) -> float:
    """Free depth at a radius: straight between readings, constant beyond them."""
    return float(np.interp(radius, [r for r, _ in o.readings_mm], [c for _, c in o.readings_mm]))


def _clearances(s: Sheet, f: Frame, view: SectionView, halves: dict[str, float], fmt: Figures) -> list[Callout]:
    calls = []
    for c in view.clearances:
        spot, words = _gap(s, f, c, halves), gap_words(c, fmt)
        if spot is None:
            words = (*words, ("in the half that is not drawn", "note"))
        calls.append(Callout(spot, words, "none", c.verdict, _line(c)))
    return calls


def _line(c: ClearanceView) -> str:
    return "wrong" if c.verdict == "stop" else "gap"


def _gap(s: Sheet, f: Frame, c: ClearanceView, halves: dict[str, float]) -> Point | None:
    """Dimension a gap; where its leader starts, or None where the half that holds it is not shown."""
    half = "down" if c.a_mm[1] < 0 or c.b_mm[1] < 0 else "up"
    if half not in halves:
        if c.a_mm[1] == c.b_mm[1] == 0:
            half = next(iter(halves))
        else:
            return None
    sign = halves[half]
    (za, ra), (zb, rb) = ((z, sign * abs(r)) for z, r in (c.a_mm, c.b_mm))
    head = _line(c) + "-arrow"
    if abs(za - zb) >= abs(ra - rb):
        low, high = (f.at(z, ra) for z in sorted((za, zb)))
        if abs(low[1] - f.y0) < 4:  # off the center line
            feet, y = (low, high), f.y0 - sign * 24
            low, high = (low[0], y), (high[0], y)
            for foot_, tip in zip(feet, (low, high), strict=True):
                extension(s, foot_, tip, _line(c))
        ends = dimension(s, low, high, _line(c), head)
        if low == ends[0] and high == ends[1]:
            return (low[0] + high[0]) / 2, low[1]
        return ends[0] if (za + zb) / 2 < 0 else ends[1]
    x = f.at(min(za, zb), 0.0)[0] - 13
    low, high = (x, f.at(za, ra)[1]), (x, f.at(zb, rb)[1])
    extension(s, f.at(za, ra), low, _line(c))
    extension(s, f.at(zb, rb), high, _line(c))
    ends = dimension(s, low, high, _line(c), head)
    return (low[0], (low[1] + high[1]) / 2) if low == ends[0] else min(ends, key=lambda p: p[1] * sign)


def _names(f: Frame, view: SectionView, halves: dict[str, float], fmt: Figures) -> list[Callout]:
    """Leaders to the parts."""
    a, d, seat = view.adapter, view.driver, view.seat.chosen_mm
    last = list(halves)[-1]
    sign = halves[last]
    outer = a.outer_up_mm if last == "up" else a.outer_down_mm
    front = a.back_closed_mm + a.thickness_mm
    spot = f.at(front - 0.2 * a.thickness_mm, sign * (outer - 2.0))
    calls = [Callout(spot, ((a.label, "label-change"),), side="right")]
    if a.groove_mm:
        spot = f.at(a.back_closed_mm + a.groove_mm[2] / 2, sign * a.groove_mm[0])
        calls.append(Callout(spot, (("back gasket in its groove", "label"),)))
    elif a.back_closed_mm > 0:
        spot = f.at(a.back_closed_mm / 2, sign * (a.bore_mm + 0.75 * (outer - a.bore_mm)))
        calls.append(Callout(spot, ((f"back gasket, {fmt.full(a.back_closed_mm)} closed", "label"),)))
    metal = view.hole_up_mm if last == "up" else view.hole_down_mm
    spot = f.at(-view.skin_mm / 2, sign * (max(outer, metal) + 3.0))
    calls.append(Callout(spot, ((f"metal {fmt.full(view.skin_mm)}", "label"),), side="left"))
    tails = [fix for fix in a.fixings if fix.half in halves and fix.tail_mm > 0]
    if tails:
        fix = tails[0]
        spot = f.at(-fix.tail_mm, halves[fix.half] * fix.radius_mm)
        calls.append(Callout(spot, ((f"screw tail, {fmt.full(fix.tail_mm)} behind", "label"),), "arrow"))
    for t in d.terminals:
        if t.half in halves:
            spot = f.at(seat - 0.8 * t.depth_mm, halves[t.half] * (t.radius_mm - 2.5))
            calls.append(Callout(spot, (("terminals" if t.in_plane else "terminals, out of the plane", "label"),)))
    if view.foam:
        spot = f.at((view.foam.from_mm + view.foam.to_mm) / 2, sign * (view.foam.inner_mm + view.foam.outer_mm) / 2)
        closed = fmt.full(view.foam.to_mm - view.foam.from_mm)
        words = [("foam ring", "label"), (f"closed to {closed}", "note")]
        if view.foam.free_mm is not None:
            words[1] = (f"{fmt.full(view.foam.free_mm)} free, {closed} closed", "note")
        calls.append(Callout(spot, tuple(words)))
    if d.xmech_mm > 0:
        points = section_parts.cone_points(d, seat, d.xmech_mm)
        z, r = points[13 + 4]
        words = [("cone at full excursion", "label"), (f"{fmt.full(d.xmech_mm)} out of rest", "note")]
        calls.append(Callout(f.at(z, sign * r), tuple(words), "arrow", side="right"))
    if view.trim_clear_mm is not None:
        up = next(iter(halves))
        grille = view.grille_radius_mm or (view.foam.inner_mm if view.foam else d.frame_radius_mm)
        x, y = f.at(view.trim_clear_mm, halves[up] * 0.8 * grille)
        calls.append(Callout((x + 3, y), (("grille", "label"),), "arrow"))
        land = view.trim_clear_mm if view.trim_land_mm is None else view.trim_land_mm
        x, y = f.at(land + 1.5, halves[up] * (grille + 6.0))
        calls.append(Callout((x, y), (("trim", "label"),)))
    return calls


def _dimensions_above(s: Sheet, f: Frame, view: SectionView, top: float, rows: DimensionRow, fmt: Figures) -> None:
    y = top - 16
    if view.trim_clear_mm is None:
        rows.put(f.x0, y - 9, "grille: not measured", "note", -18)
        return
    a, b = (f.at(z, 0)[0] for z in (0.0, view.trim_clear_mm))
    extension(s, (a, top - 3), (a, y))
    extension(s, (b, top - 3), (b, y))
    dimension(s, (a, y), (b, y))
    text = f"metal to grille {fmt.full(view.trim_clear_mm)}"
    if view.trim_half_mm is not None:
        text += f" \u00b1 {fmt.bare(view.trim_half_mm)}"
    rows.put((a + b) / 2, y - 9, text, "label", -18)


def _dimensions_below(s: Sheet, f: Frame, view: SectionView, bottom: float, rows: DimensionRow, fmt: Figures) -> float:
    """Depth and seat height, then the scale of seat heights at the same place and scale; its bottom."""
    seat = view.seat
    y = bottom + 18
    zero, at = f.at(0, 0)[0], f.at(seat.chosen_mm, 0)[0]
    free = next((o.readings_mm[0] for o in view.obstacles if o.readings_mm), None)
    extension(s, (zero, bottom - 2), (zero, y))
    extension(s, (at, bottom - 2), (at, y), "change")
    dimension(s, (zero, y), (at, y), "change", "change-arrow")
    if free and free[1] > 0:
        x = f.at(-free[1], 0)[0]
        extension(s, (x, bottom - 2), (x, y))
        dimension(s, (x, y), (zero, y))
        where = "on the axis" if free[0] == 0 else f"at radius {fmt.bare(free[0])}"
        rows.put((x + zero) / 2, y + 19, f"{fmt.full(free[1])} free {where}", "note")
    if not view.obstacles:
        x, _ = f.at(seat.chosen_mm - view.driver.profile_mm[-1][1], 0)
        rows.put(x, y + 19, "depth behind: not measured", "note")
    rows.put(max(zero, at) + 60, y + 19, f"stand-off {fmt.full(seat.chosen_mm)}", "value-change")
    return _seat_scale(s, view, max(box.bottom for box in rows.taken) + 30, rows, fmt)


def _seat_scale(s: Sheet, view: SectionView, y: float, rows: DimensionRow, fmt: Figures) -> float:
    """A scale of seat heights as wide as the drawing, the window shaded, a pointer at the one chosen."""
    seat = view.seat
    a, b = rows.left + 22, rows.right - 22
    span = max(seat.most_mm - seat.least_mm, 1e-6)

    def at(mm: float) -> float:
        return a + (b - a) * min(max((mm - seat.least_mm) / span, 0.0), 1.0)

    s.box(a, y - 7, b, y + 7, "band-faint")
    if seat.low_mm is not None and seat.high_mm is not None:
        s.box(at(seat.low_mm), y - 7, max(at(seat.high_mm), at(seat.low_mm) + 2), y + 7, "band-edge")
        middle = (at(seat.low_mm) + at(seat.high_mm)) / 2
        words, look = f"{fmt.bare(seat.low_mm)} \u2026 {fmt.full(seat.high_mm)} keeps both margins", "label-change"
    elif not seat.judged:
        middle, words, look = (a + b) / 2, "stand-offs: not judged yet", "note"
    else:
        middle, words, look = (a + b) / 2, "no stand-off keeps both margins", "note-wrong"
    step = next(step for step in (*(k * 10.0**p for p in range(7) for k in (1.0, 2.0, 5.0)), 1e9) if span / step <= 8)
    for n in range(int(np.ceil(seat.least_mm / step - 1e-9)), int(np.floor(seat.most_mm / step + 1e-9)) + 1):
        x = at(n * step)
        s.line(((x, y + 7), (x, y + 12)), "fine")
        rows.put(x, y + 25, fmt.bare(n * step), "tick")
    x = at(seat.chosen_mm)
    s.line(((x, y - 3), (x - 6.5, y - 16), (x + 6.5, y - 16)), "handle", True)
    s.line(((x, y - 7), (x, y + 7)), "change-wide")
    rows.put(middle, y + 46, words, look)
    return max(box.bottom for box in rows.taken) + 6
