"""The solid things of the section: adapter, driver, gaskets, screws, trim.

The driver's back, rim and heights are drawn as given.  Cone, dust cap and surround are a sketch through the three
heights that are known (moving, crest, fixed): no data sheet gives more.
"""

from __future__ import annotations

from math import cos, pi, sin

from backwave.drawing.dimensions import fill_hatch
from backwave.drawing.scale import Frame
from backwave.drawing.sheet import Point, Sheet
from backwave.drawing.views import AdapterCut, DriverCut, SectionView, TerminalCut

SIGN = {"up": 1.0, "down": -1.0}


def _rect(f: Frame, z1: float, z2: float, r1: float, r2: float) -> list[Point]:
    return f.all(((z1, r1), (z2, r1), (z2, r2), (z1, r2)))


def skin(s: Sheet, f: Frame, v: SectionView, halves: dict[str, float], reach_mm: float) -> None:
    """The metal, thin and so drawn solid (ISO 128-3)."""
    for half, sign in halves.items():
        edge = v.hole_up_mm if half == "up" else v.hole_down_mm
        s.line(_rect(f, -v.skin_mm, 0.0, sign * edge, sign * reach_mm), "solid", True)


def adapter(s: Sheet, f: Frame, a: AdapterCut, seat_mm: float, halves: dict[str, float]) -> None:
    """The adapter cut through, with what sits in it.

    `seat_mm`: seat height, where heads of the driver's screws begin to count from.
    """
    back, front = a.back_closed_mm, a.back_closed_mm + a.thickness_mm
    for half, sign in halves.items():
        outer = a.outer_up_mm if half == "up" else a.outer_down_mm
        fill_hatch(s, f.all((z, sign * r) for z, r in _cut_outline(a, outer)), "body-part", "hatch-part", 6.5)
        s.line(f.all((z, sign * r) for z, r in _cut_outline(a, outer)), "edge", True)
        if back > 0:
            inner, end = a.strip_mm or (a.bore_mm, outer)
            _foam(s, _rect(f, 0.0, back, sign * inner, sign * min(end, outer)))
        if a.groove_mm:
            middle, width, depth = a.groove_mm
            _foam(s, _rect(f, back, back + depth, sign * (middle - width / 2), sign * (middle + width / 2)))
    for fix in a.fixings:
        if fix.half not in halves:
            continue
        r = halves[fix.half] * fix.radius_mm
        under = front - fix.counterbore_depth_mm
        s.line(_rect(f, under, front, r - fix.counterbore_mm / 2, r + fix.counterbore_mm / 2), "hollow", True)
        s.line(_rect(f, back, under, r - fix.hole_mm / 2, r + fix.hole_mm / 2), "hollow", True)
        s.line(_rect(f, -fix.tail_mm, under, r - fix.screw_mm / 2, r + fix.screw_mm / 2), "screw", True)
        s.line(_rect(f, under, under + fix.head_height_mm, r - fix.head_mm / 2, r + fix.head_mm / 2), "screw", True)
        s.line(f.all(((-fix.tail_mm - 2, r), (front + 2, r))), "center")
    seat = front - a.recess_mm
    for ins in a.inserts:
        if ins.half not in halves:
            continue
        r = halves[ins.half] * ins.radius_mm
        crossed = any(
            fix.half == ins.half and abs(fix.radius_mm - ins.radius_mm) < (fix.counterbore_mm + ins.diameter_mm) / 2
            for fix in a.fixings
        )
        hole = _rect(f, seat - ins.depth_mm, seat, r - ins.diameter_mm / 2, r + ins.diameter_mm / 2)
        if crossed:  # at another angle than the fixing: behind the cut
            s.line(hole, "hidden", True)
            continue
        s.line(hole, "hollow", True)
        half_screw = ins.screw_mm / 2
        s.line(_rect(f, seat - 0.85 * ins.depth_mm, seat_mm, r - half_screw, r + half_screw), "screw", True)


def _cut_outline(a: AdapterCut, outer: float) -> list[Point]:
    """One half of the adapter's cut as (z, radius), from the front's outer edge round."""
    back, front = a.back_closed_mm, a.back_closed_mm + a.thickness_mm
    points = [(front, outer)]
    if a.recess_mm > 0 and a.seat_radius_mm > a.bore_mm:
        points += [(front, a.seat_radius_mm), (front - a.recess_mm, a.seat_radius_mm)]
    points.append((front - a.recess_mm, a.bore_mm))
    relief = min(a.relief_mm, 0.9 * (front - a.recess_mm - back))
    if a.spigot_mm:
        radius, length = a.spigot_mm
        points += [(back - length, a.bore_mm), (back - length, radius), (back, radius)]
    elif relief > 0:
        points += [(back + relief, a.bore_mm), (back, a.bore_mm + relief)]
    else:
        points.append((back, a.bore_mm))
    if a.groove_mm:
        middle, width, depth = a.groove_mm
        lo, hi = middle - width / 2, middle + width / 2
        points += [(back, lo), (back + depth, lo), (back + depth, hi), (back, hi)]
    points.append((back, outer))
    return points


def _foam(s: Sheet, corners: list[Point]) -> None:
    fill_hatch(s, corners, "body-foam", "dots", 5.0, 60.0)
    s.line(corners, "line", True)


def magnet_front_mm(d: DriverCut) -> float:
    """Depth at which the straight cylinder at the driver's back begins."""
    last_r, last_depth = d.profile_mm[-1]
    front = last_depth
    for r, depth in reversed(d.profile_mm):
        if abs(r - last_r) > 0.02 * last_r + 0.05:
            break
        front = depth
    return front if front < last_depth else 0.62 * last_depth


def cone_points(d: DriverCut, seat_mm: float, shift_mm: float) -> list[Point]:
    """Upper half of surround, cone and cap as (z, radius), from the outside in.

    `shift_mm`: excursion: the cone moves by all of it, the surround's crest by half.
    """
    outer = min(0.97 * d.profile_mm[0][0], 0.92 * d.frame_radius_mm)
    crest = d.rim_mm if d.crest_mm is None else d.crest_mm
    half = 0.085 * outer
    edge = min(0.5 * d.rim_mm, d.moving_mm, crest)
    roll = [
        (seat_mm + edge + shift_mm * (1 - cos(t)) / 2 + (crest - edge) * sin(t), outer - half + half * cos(t))
        for t in (pi * n / 12 for n in range(13))
    ]
    inner = outer - 2 * half
    neck_r, neck = 0.3 * outer, -min(0.7 * magnet_front_mm(d), 0.42 * outer)

    def cone(r: float) -> float:
        return edge + (neck - edge) * (inner - r) / (inner - neck_r)

    # Widened until it rises by three quarters of its radius or less, as caps do.
    cap_r = next(
        (r for r in (x * outer for x in (0.32, 0.4, 0.5, 0.6)) if d.moving_mm - cone(r) <= 0.75 * r), 0.7 * outer
    )
    dome = [
        (seat_mm + shift_mm + d.moving_mm + (cone(cap_r) - d.moving_mm) * (n / 10) ** 2, cap_r * n / 10)
        for n in range(10, -1, -1)
    ]
    return roll + dome


def driver(s: Sheet, f: Frame, d: DriverCut, seat_mm: float, halves: dict[str, float]) -> None:
    """The driver at rest, its cone at full excursion dashed."""
    signs = list(halves.values())
    one = len(signs) == 1
    back_r, back = d.profile_mm[-1]
    magnet = magnet_front_mm(d)
    lower = 0.0 if one else -1.0
    top = signs[0] if one else 1.0
    cone = cone_points(d, seat_mm, 0.0)
    inner = cone[0][1]
    for t in d.terminals:
        if t.half in halves and not t.in_plane:
            _terminal(s, f, d, t, seat_mm, halves[t.half])
    # The basket: its outline as measured, open toward the cone.
    outline = [(seat_mm - depth, r) for r, depth in d.profile_mm]
    for sign in signs:
        inside = [*outline, (seat_mm - back, 0.0), *reversed(cone)]
        s.line(f.all((z, sign * r) for z, r in inside), "body-driver", True)
        s.line(_rect(f, seat_mm, seat_mm + d.rim_mm, sign * inner, sign * d.frame_radius_mm), "screw", True)
    body = _rect(f, seat_mm - back, seat_mm - magnet, lower * back_r, top * back_r)
    s.line(body, "body-metal", True)
    for sign in signs:
        s.line(
            f.all((z, sign * r) for z, r in [(seat_mm - back, 0.0), *reversed(outline), (seat_mm, d.frame_radius_mm)]),
            "edge",
        )
        rim = ((seat_mm, d.frame_radius_mm), (seat_mm + d.rim_mm, d.frame_radius_mm), (seat_mm + d.rim_mm, inner))
        s.line(f.all((z, sign * r) for z, r in rim), "edge")
        s.line(f.all(((seat_mm - magnet, 0.0), (seat_mm - magnet, sign * back_r))), "line")
        if d.vent_radius_mm > 0:
            r = sign * d.vent_radius_mm
            s.line(f.all(((seat_mm - back, r), (seat_mm - magnet, r))), "hidden")
        cap_z, cap_r = cone[13]
        s.line(
            f.all(((seat_mm - magnet, sign * 0.8 * cap_r), (cap_z, sign * 0.8 * cap_r), (cap_z, sign * cap_r))), "line"
        )
        s.line(f.all((z, sign * r) for z, r in cone), "edge")
        if d.gasket_mm > 0:
            _foam(s, _rect(f, seat_mm - d.gasket_mm, seat_mm, sign * d.profile_mm[0][0], sign * d.frame_radius_mm))
        if d.xmech_mm > 0:
            s.line(f.all((z, sign * r) for z, r in cone_points(d, seat_mm, d.xmech_mm)), "travel")
    if d.fixed_mm > 0:
        post = 0.07 * inner
        s.line(_rect(f, seat_mm - magnet, seat_mm + d.fixed_mm, lower * post, top * post), "screw", True)
    for t in d.terminals:
        if t.half in halves and t.in_plane:
            _terminal(s, f, d, t, seat_mm, halves[t.half])


def _terminal(s: Sheet, f: Frame, d: DriverCut, t: TerminalCut, seat_mm: float, sign: float) -> None:
    root = max(min(r for r, _ in d.profile_mm), t.radius_mm - 12.0)
    corners = _rect(f, seat_mm - t.depth_mm, seat_mm - 0.55 * t.depth_mm, sign * root, sign * t.radius_mm)
    s.line(corners, "screw" if t.in_plane else "hidden", True)


def foam_and_trim(s: Sheet, f: Frame, v: SectionView, halves: dict[str, float], reach_mm: float) -> None:
    """The foam ring in front, the trim it presses on, and the grille."""
    signs = list(halves.values())
    if v.foam:
        for sign in signs:
            _foam(s, _rect(f, v.foam.from_mm, v.foam.to_mm, sign * v.foam.inner_mm, sign * v.foam.outer_mm))
    if v.trim_clear_mm is None:
        return
    grille = v.grille_radius_mm or (v.foam.inner_mm if v.foam else v.driver.frame_radius_mm)
    land = v.trim_clear_mm if v.trim_land_mm is None else v.trim_land_mm
    front = max(land, v.trim_clear_mm) + 3.0
    for sign in signs:
        fill_hatch(s, _rect(f, land, front, sign * grille, sign * reach_mm), "body-trim", "hatch-metal", 7.0, 135.0)
        s.line(_rect(f, land, front, sign * grille, sign * reach_mm), "line", True)
    x = v.trim_clear_mm + 1.5 / f.scale
    s.line(f.all(((x, min(signs) * grille if len(signs) > 1 else 0.0), (x, max(signs, key=abs) * grille))), "grille")
