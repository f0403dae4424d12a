"""The section: a cut to scale through everything that has to clear, with the clearances on it.

z runs to the right, out of the metal toward the listener; the driver's axis lies level.  Paper and a wide screen show
both halves; a phone the one with the worst clearance (ISO 128-3 allows a half view of a symmetrical part)."""

from __future__ import annotations

from math import hypot
from typing import Any

import numpy as np

from backwave.assess.place_result import PlaceResult
from backwave.drawing import section_parts
from backwave.drawing.callouts import Callout, Medium, columns, finish, gap_words, heading, labels
from backwave.drawing.dimensions import DimensionRow, Figures, break_line, dimension, dimensioned, extension, fill_hatch
from backwave.drawing.section_parts import GapLine, SectionCut, half_of, unknown
from backwave.drawing.sheet import BoxStroke, Frame, Point, Sheet, to_svg
from backwave.drawing.styles import Theme
from backwave.finding import Verdict, words
from backwave.fit import Obstacle
from backwave.fit.types import MOVES
from backwave.units import show

ONCE = "the tightest place was measured only once"
THICK = 4.0  # mm, of an obstacle as drawn: how thick it is nobody read
PLATES: dict[Verdict, str] = {"ok": "clears, margins kept", "caution": "look again", "stop": "does not fit"}
SKETCHED = "Cone, cap and surround are sketched through the heights that are known."
TURNED_IN = "Screws and threads are turned into the plane of the cut."
PHONE_TEXT = 0.86  # of the other media's text: 12.5 pixels, where a phone shows a sheet at its size


LAYOUTS: dict[Medium, tuple[float, float, float, float, float]] = {
    # width and height of the sheet; left and right of the drawing, and over it; the drawing's height, at most
    "paper": (1000.0, 100.0, 284.0, 70.0, 640.0), "screen": (916.0, 690.0, 254.0, 44.0, 520.0),
    "phone": (390.0, 468.0, 10.0, 36.0, 300.0),
}  # fmt: skip


def section_svg(place: PlaceResult, theme: Theme = "light", *, system: str = "metric", public: bool = False) -> str:
    return to_svg(section_sheet(place, system=system, public=public), theme)


def fit_words(place: PlaceResult) -> str:
    once = any(c.code == "fit.read-once" and c.verdict != "ok" for c in place.fit.checks)
    return PLATES[place.fit_verdict] + (f"; {ONCE}" if once else "")


def section_sheet(
    place: PlaceResult, *, medium: Medium = "paper", system: str = "metric", public: bool = False,
    heights_mm: Point | None = None,
) -> Sheet:  # fmt: skip
    """The section as a display list; one that is `public` does not say what the part is made of. `heights_mm`: ends of
    its scale of stand-offs, and how far the speaker may be moved on a screen; None: about the one chosen."""
    cut = SectionCut(place, medium, Figures(system), heights_mm or place.heights_to_try_mm)
    thick = show(place.spec.thickness_mm, "mm", system)
    label = "adapter" if public else f"{thick} {place.part.material.name} adapter"
    title, verdict = f"{place.name}: section", place.fit_verdict
    width, height, edge, above, room = LAYOUTS[medium]
    s = Sheet(width, height, title)
    head = 0.0
    if medium == "paper":
        subtitle = f"{place.speaker_name} on {'its' if public else 'a'} {label}"
        once = ONCE if ONCE in fit_words(place) else ""
        head = heading(s, title, subtitle, verdict, PLATES[verdict], once, False)
    elif medium == "phone":
        s.text_unit = PHONE_TEXT
    left, right = edge, width - edge
    tall = cut.reach * len(cut.halves)
    scale = min((right - left - 6) / (cut.z_high - cut.z_low), room / tall)
    top = head + above + (0.0 if medium == "paper" else (room - tall * scale) / 2)
    f = Frame((left + right) / 2 - scale * (cut.z_low + cut.z_high) / 2, top + cut.reach * scale, scale)
    bottom = top + tall * scale

    calls = _obstacles(s, f, cut)
    section_parts.skin(s, f, cut)
    section_parts.driver(s, f, cut)
    section_parts.adapter(s, f, cut)
    section_parts.foam_and_trim(s, f, cut)
    _faces(s, f, cut)
    ends = (f.at(cut.z_low, 0)[0] - 9, f.y0), (f.at(cut.z_high, 0)[0] + 9, f.y0)
    s.line(ends, "center")
    if len(cut.halves) == 1:  # the two short strokes that say "half of it"
        for x, y in ends:
            for off in (-2.0, 2.0):
                s.line(((x + off, y - 6), (x + off, y + 6)), "line")
    calls = _clearances(s, f, cut) + calls + _names(f, cut, label)
    rows = DimensionRow(s, left, right)
    _dimensions_above(s, f, cut, top, rows)
    below = _dimensions_below(s, f, cut, bottom, rows)
    if medium == "phone":
        labels(s, calls, BoxStroke(4, 4, width - 4, bottom))
        end = below
    else:
        end = max(below, columns(s, calls, edge - 44, head + 34, f.x0 + scale * max(cut.seat, 0.0) / 2))
    sketched = (SKETCHED, *((TURNED_IN,) if place.spec.fixings else ()))
    choice = () if place.choice is None else (words(place.choice, system),)
    finish(s, medium, (*unknown(place), *sketched, *choice), end)
    return s


def _read(cut: SectionCut, o: Obstacle) -> tuple[list[Point], list[float]]:
    """Radii and free depths as read, radii rising; the signs of the halves that show it."""
    signs = [sign for half, sign in cut.halves.items() if half_of(o.angle_deg) in ("both", half)]
    return [(spot.radius.value, spot.clear.value) for spot in o.spots], signs


def _clear(read: list[Point], radius: float) -> float:
    """Free depth at a radius: straight between readings, constant beyond them."""
    return float(np.interp(radius, [r for r, _ in read], [c for _, c in read]))


def _obstacles(s: Sheet, f: Frame, cut: SectionCut) -> list[Callout]:
    """Slabs with their measured faces; where nothing was read hatched otherwise. Nearest painted last."""
    calls: list[Callout] = []
    unread: Point | None = None
    reach = cut.reach
    for n, o in enumerate(sorted(cut.opening.behind, key=lambda o: -max(spot.clear.value for spot in o.spots))):
        read, signs = _read(cut, o)
        if not signs:
            continue
        (first_r, first), (last_r, last) = read[0], read[-1]
        for sign in signs:
            _slab(s, f, read, o.what in MOVES, sign, reach)
            if first_r > 0:
                _unread(s, f, first, sign * 0.0, sign * min(first_r, reach))
            if last_r < reach:
                _unread(s, f, last, sign * last_r, sign * reach)
            start, end = f.all(((-last, sign * reach), (-last - THICK, sign * reach)))
            break_line(s, start, end)
        if last_r < 0.96 * reach:
            unread = f.at(-last - THICK / 2, signs[-1] * (0.35 * last_r + 0.65 * reach))
        spot = min(last_r, reach) * (0.93 - 0.2 * (n % 4)) if last_r > 0 else 0.3 * reach
        spot = max(spot, min(first_r, reach))
        name = o.what + (f", window {o.window}" if o.window else "")
        said = ((name, "label"), (f"read to radius {cut.fmt.full(last_r)}", "note"))
        calls.append(Callout(f.at(-_clear(read, spot) - THICK / 2, signs[0] * spot), said, side="left"))
    if unread:
        calls.append(Callout(unread, (("not measured", "note"),), side="left"))
    return calls


def _face(read: list[Point], reach: float) -> list[Point]:
    """A face as read, as far as it is drawn, and where it ends."""
    end = min(read[-1][0], reach)
    return [*((r, c) for r, c in read if r <= reach), (end, _clear(read, end))]


def _slab(s: Sheet, f: Frame, read: list[Point], moves: bool, sign: float, reach: float) -> None:
    face = _face(read, reach)
    points = f.all([*((-c, sign * r) for r, c in face), *((-c - THICK, sign * r) for r, c in reversed(face))])
    if moves:
        s.line(points, "body-glass", True)
    else:
        fill_hatch(s, points, "body-metal", "hatch-metal", 6.0, 135.0)
    s.line(f.all((-c - THICK, sign * r) for r, c in face), "line")


def _unread(s: Sheet, f: Frame, clear: float, from_r: float, to_r: float) -> None:
    near, far = (f.all(((-clear, from_r), (-clear - THICK, from_r))), f.all(((-clear, to_r), (-clear - THICK, to_r))))
    fill_hatch(s, [*near, *reversed(far)], "", "hatch-unknown", 5.0, 20.0)
    s.line((near[0], far[0]), "hidden")
    s.line((near[1], far[1]), "hidden")


def _faces(s: Sheet, f: Frame, cut: SectionCut) -> None:
    """The measured faces again, over the driver, so that a collision is seen; a ring at each reading."""
    for o in cut.opening.behind:
        read, signs = _read(cut, o)
        face = _face(read, cut.reach)
        for sign in signs:
            s.line(f.all((-c, sign * r) for r, c in face), "edge")
            for r, c in face[:-1]:
                s.circle(*f.at(-c, sign * r), 2.6, "read")


def _clearances(s: Sheet, f: Frame, cut: SectionCut) -> list[Callout]:
    calls = []
    for gap in cut.gaps:
        c, e = gap.clearance, gap.clearance.estimate
        spot = _gap(s, f, cut, gap)
        brief = cut.medium == "phone"
        said = gap_words(cut.fmt, gap.name, e.value, c.verdict, c.margin_mm, (e.low, e.high), brief=brief)
        if spot is None:
            said = (*said, ("in the half that is not drawn", "note"))
        checking = cut.place.preliminary and c.verdict == "ok"
        calls.append(Callout(spot, said, "none", None if checking else c.verdict, _look(gap)))
    return calls


def _look(gap: GapLine) -> str:
    return "wrong" if gap.clearance.verdict == "stop" else "gap"


def _gap(s: Sheet, f: Frame, cut: SectionCut, gap: GapLine) -> Point | None:
    """Dimension a gap; where its leader starts, or None where the half that holds it is not shown."""
    half = "down" if gap.a[1] < 0 or gap.b[1] < 0 else "up"
    if half not in cut.halves:
        if gap.a[1] or gap.b[1]:
            return None
        half = next(iter(cut.halves))
    sign, look = cut.halves[half], _look(gap)
    (za, ra), (zb, rb) = ((z, sign * abs(r)) for z, r in (gap.a, gap.b))
    if abs(za - zb) >= abs(ra - rb):
        low, high = (f.at(z, ra) for z in sorted((za, zb)))
        if abs(low[1] - f.y0) < 4:  # off the center line
            feet, y = (low, high), f.y0 - sign * 24
            low, high = (low[0], y), (high[0], y)
            for foot_, tip in zip(feet, (low, high), strict=True):
                extension(s, foot_, tip, look)
        ends = dimension(s, low, high, look, f"{look}-arrow")
        if low == ends[0] and high == ends[1]:
            return (low[0] + high[0]) / 2, low[1]
        return ends[0] if (za + zb) / 2 < 0 else ends[1]
    x = f.at(min(za, zb), 0.0)[0] - 13
    low, high = (x, f.at(za, ra)[1]), (x, f.at(zb, rb)[1])
    extension(s, f.at(za, ra), low, look)
    extension(s, f.at(zb, rb), high, look)
    ends = dimension(s, low, high, look, f"{look}-arrow")
    return (low[0], (low[1] + high[1]) / 2) if low == ends[0] else min(ends, key=lambda p: p[1] * sign)


def _names(f: Frame, cut: SectionCut, label: str) -> list[Callout]:
    spec, full = cut.spec, cut.fmt.full
    last, sign = list(cut.halves.items())[-1]
    outer = cut.outer[last]
    calls = []

    def name(z: float, r: float, text: str, look: str = "label", **more: Any) -> None:
        calls.append(Callout(f.at(z, r), ((text, look),), **more))

    name(cut.front - 0.2 * spec.thickness_mm, sign * (outer - 2.0), label, "label-change", side="right")
    if cut.groove is not None:
        name(cut.back + cut.groove.depth_mm / 2, sign * cut.groove_radius, "back gasket in its groove")
    elif cut.back > 0:
        middle = spec.bore_mm + 0.75 * (outer - spec.bore_mm)
        name(cut.back / 2, sign * middle, f"back gasket, {full(cut.back)} closed")
    name(-cut.skin / 2, sign * (max(outer, cut.hole[last]) + 3.0), f"metal {full(cut.skin)}", side="left")
    if cut.fixing is not None and "up" in cut.halves and cut.tail > 0:
        r = cut.halves["up"] * hypot(cut.fixing.x_mm, cut.fixing.y_mm)
        name(-cut.tail, r, f"screw tail, {full(cut.tail)} behind", end="arrow")
    block = cut.terminals
    if block is not None and (half := section_parts.terminals_half(cut)) in cut.halves:
        where = "" if section_parts.terminals_in_plane(cut) else ", out of the plane"
        name(cut.seat - 0.8 * block.depth.value, cut.halves[half] * (block.radius.value - 2.5), f"terminals{where}")
    if cut.ring is not None:
        end = cut.land or 0.0
        spot = f.at((cut.ring.from_mm + end) / 2, sign * (cut.ring.inner_mm + cut.ring.outer_mm) / 4)
        closed = f"{full(cut.ring.free_mm)} free, {full(end - cut.ring.from_mm)} closed"
        calls.append(Callout(spot, (("foam ring", "label"), (closed, "note"))))
    if cut.xmech > 0:
        z, r = section_parts.cone_points(cut, cut.xmech)[13 + 4]
        said = (("cone at full excursion", "label"), (f"{full(cut.xmech)} out of rest", "note"))
        calls.append(Callout(f.at(z, sign * r), said, "arrow", side="right"))
    if cut.trim is not None and cut.land is not None:
        first = next(iter(cut.halves.values()))
        x, y = f.at(cut.trim, first * 0.8 * cut.grille)
        calls.append(Callout((x + 3, y), (("grille", "label"),), "arrow"))
        name(cut.land + 1.5, first * (cut.grille + 6.0), "trim")
    return calls


def _dimensions_above(s: Sheet, f: Frame, cut: SectionCut, top: float, rows: DimensionRow) -> None:
    y, trim = top - 16, cut.opening.trim_clear
    if trim is None:
        rows.put(f.x0, y - 9, "grille: not measured", "note", -18)
        return
    a, b = (f.at(z, 0)[0] for z in (0.0, trim.value))
    dimensioned(s, (a, top - 3), (b, top - 3), y=y)
    text = f"metal to grille {cut.fmt.full(trim.value)} \u00b1 {cut.fmt.bare(trim.bound)}"
    rows.put((a + b) / 2, y - 9, text, "label", -18)


def _dimensions_below(s: Sheet, f: Frame, cut: SectionCut, bottom: float, rows: DimensionRow) -> float:
    """Depth and stand-off, then the scale of stand-offs at the same place and scale; its bottom."""
    y = bottom + 18
    zero, at = f.at(0, 0)[0], f.at(cut.seat, 0)[0]
    extension(s, (zero, bottom - 2), (zero, y))
    extension(s, (at, bottom - 2), (at, y), "change")
    dimension(s, (zero, y), (at, y), "change", "change-arrow")
    if cut.opening.behind:
        (radius, free), *_ = _read(cut, cut.opening.behind[0])[0]
        if free > 0:
            x = f.at(-free, 0)[0]
            extension(s, (x, bottom - 2), (x, y))
            dimension(s, (x, y), (zero, y))
            where = "on the axis" if radius == 0 else f"at radius {cut.fmt.bare(radius)}"
            rows.put((x + zero) / 2, y + 19, f"{cut.fmt.full(free)} free {where}", "note")
    else:
        rows.put(f.at(cut.seat - cut.profile[-1][1], 0)[0], y + 19, "depth behind: not measured", "note")
    rows.put(max(zero, at) + 60, y + 19, f"stand-off {cut.fmt.full(cut.seat)}", "value-change")
    return _seat_scale(s, cut, max(box.bottom for box in rows.taken) + 30, rows)


def _seat_scale(s: Sheet, cut: SectionCut, y: float, rows: DimensionRow) -> float:
    """A scale of stand-offs as wide as the drawing, the window shaded, a pointer at the one chosen."""
    fit, fmt = cut.place.fit, cut.fmt
    least, most = cut.heights
    a, b = rows.left + 22, rows.right - 22
    span = max(most - least, 1e-6)

    def at(mm: float) -> float:
        return a + (b - a) * min(max((mm - least) / span, 0.0), 1.0)

    s.box(a, y - 7, b, y + 7, "band-faint")
    middle = (a + b) / 2
    if fit.allowed_mm is not None:
        low, high = fit.allowed_mm
        s.box(at(low), y - 7, max(at(high), at(low) + 2), y + 7, "band-edge")
        middle = (at(low) + at(high)) / 2
        said, look = f"{fmt.bare(low)} \u2026 {fmt.full(high)} keeps both margins", "label-change"
    elif not fit.bounded:
        said, look = "stand-offs: not judged yet", "note"
    else:
        said, look = "no stand-off keeps both margins", "note-wrong"
    step = next(step for step in (*(k * 10.0**p for p in range(7) for k in (1.0, 2.0, 5.0)), 1e9) if span / step <= 8)
    for n in range(int(np.ceil(least / step - 1e-9)), int(np.floor(most / step + 1e-9)) + 1):
        x = at(n * step)
        s.line(((x, y + 7), (x, y + 12)), "fine")
        rows.put(x, y + 25, fmt.bare(n * step), "tick")
    x = at(cut.seat)
    s.line(((x, y - 3), (x - 6.5, y - 16), (x + 6.5, y - 16)), "handle", True)
    s.line(((x, y - 7), (x, y + 7)), "change-wide")
    rows.put(middle, y + 46, said, look)
    return max(box.bottom for box in rows.taken) + 6
