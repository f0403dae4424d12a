"""What the drawings are told about one place: lengths from the fit and the part, nothing worked out anew."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, degrees, hypot, radians, sin
from typing import Literal

from backwave.drawing import (
    AdapterCut,
    Clearance,
    DriverCut,
    DriverHole,
    FaceFixing,
    FaceView,
    FixingCut,
    FoamRing,
    InsertCut,
    Obstacle,
    SeatWindow,
    SectionView,
    TerminalCut,
    TerminalFace,
)
from backwave.finding import Verdict
from backwave.fit import Clearance as Judged
from backwave.fit import Driver, Fit, Opening, Tail
from backwave.fit.clocking import Clocking, Hole
from backwave.part.types import AdapterSpec
from backwave.uncertainty import Reading

__all__ = ["face_of", "section_of"]

Point = tuple[float, float]
Half = Literal["both", "up", "down"]

_PLATES: dict[Verdict, str] = {"ok": "clears, margins kept", "caution": "look again", "stop": "does not fit"}
_SKETCHED = "Cone, cap and surround are sketched through the heights that are known."
_TURNED_IN = "Screws and threads are turned into the plane of the cut."


def section_of(
    title: str,
    subtitle: str,
    opening: Opening,
    driver: Driver,
    fit: Fit,
    verdict: Verdict,
    spec: AdapterSpec | None,
    *,
    frame_radius_mm: float,
    land_mm: float | None,
    ring: FoamRing | None,
    back_closed_mm: float,
    driver_gasket_mm: float,
    turn_deg: float,
    tails: Sequence[Tail],
    label: str,
    note: str = "",
    notes: tuple[str, ...] = (),
) -> SectionView:
    """The cut through one place.

    Parameters
    ----------
    title, subtitle : str, no unit
        Heading and the line under it.
    opening : Opening, mm
        As judged.
    driver : Driver, mm
        As judged.
    fit : Fit, mm
        The judgment.
    verdict : "ok", "caution" or "stop", no unit
        The worst of the place's own findings.
    spec : AdapterSpec or None, mm
        The part; None where none could be specified.
    frame_radius_mm, land_mm, back_closed_mm, driver_gasket_mm : float, mm
        Radius of the frame; face to what the foam presses on; gaskets as closed.
    ring : FoamRing or None, mm
        The ring in front.
    turn_deg : float, deg
        The driver's turn.
    tails : sequence of Tail, mm
        Screw ends behind the metal.
    label, note : str, no unit
        What the part is called; a line on the verdict plate.
    notes : tuple of str, no unit
        Lines at the foot.
    """
    seat = fit.seat_height_mm
    window = fit.window
    judged = window is not None and window.low_mm is not None and window.high_mm is not None
    opens = judged and window is not None and window.open
    hole_up, hole_down = _hole(opening, 90.0), _hole(opening, 270.0)
    return SectionView(
        title=title,
        subtitle=subtitle,
        verdict=verdict,
        verdict_text=_PLATES[verdict],
        verdict_note=note,
        skin_mm=opening.skin.value if opening.skin else 0.8,
        hole_up_mm=hole_up,
        hole_down_mm=hole_down,
        seat=SeatWindow(
            chosen_mm=seat,
            low_mm=window.low_mm if opens and window is not None else None,
            high_mm=window.high_mm if opens and window is not None else None,
            least_mm=max(0.0, round(seat - 10.0)),
            most_mm=round(seat + 10.0),
            judged=judged,
        ),
        driver=_driver(driver, frame_radius_mm, driver_gasket_mm, turn_deg),
        adapter=_adapter(spec, seat, driver, back_closed_mm, driver_gasket_mm, tails, label),
        obstacles=_obstacles(opening),
        clearances=tuple(_gaps(opening, driver, fit, hole_up)),
        trim_clear_mm=opening.trim_clear.value if opening.trim_clear else None,
        trim_land_mm=land_mm,
        trim_half_mm=opening.trim_clear.bound if opening.trim_clear else None,
        foam=ring,
        notes=(_SKETCHED, *((_TURNED_IN,) if spec is not None and spec.fixings else ()), *notes),
    )


def _hole(opening: Opening, angle_deg: float) -> float:
    if opening.hole is not None:
        return opening.hole.value / 2.0
    if opening.outline_mm is None:
        return 0.0
    toward = [
        (x * cos(radians(angle_deg)) + y * sin(radians(angle_deg)), x, y) for x, y in opening.outline_mm.tolist()
    ]
    _, x, y = max(toward)
    return hypot(x, y)


def _driver(driver: Driver, frame_radius_mm: float, gasket_mm: float, turn_deg: float) -> DriverCut:
    front = driver.front
    held = driver.terminals
    terminals: tuple[TerminalCut, ...] = ()
    if held is not None:
        angle = 270.0 if held.angle_deg is None else (held.angle_deg + turn_deg) % 360.0
        near = abs(sin(radians(angle))) > 0.7
        terminals = (
            TerminalCut("up" if sin(radians(angle)) > 0 else "down", held.radius.value, held.depth.value, near),
        )
    return DriverCut(
        frame_radius_mm=frame_radius_mm,
        rim_mm=driver.rim.value if driver.rim else 3.0,
        profile_mm=tuple((r.value, d.value) for r, d in driver.profile),
        moving_mm=_value(front.moving, front.crest, front.fixed, driver.rim),
        crest_mm=front.crest.value if front.crest else None,
        fixed_mm=front.fixed.value if front.fixed else 0.0,
        xmech_mm=driver.xmech.value,
        gasket_mm=gasket_mm,
        terminals=terminals,
        vent_radius_mm=driver.vent.radius.value if driver.vent else 0.0,
    )


def _value(*readings: Reading | None) -> float:
    return next((r.value for r in readings if r is not None), 0.0)


def _adapter(
    spec: AdapterSpec | None,
    seat: float,
    driver: Driver,
    back_closed_mm: float,
    driver_gasket_mm: float,
    tails: Sequence[Tail],
    label: str,
) -> AdapterCut:
    if spec is None:
        bore = driver.profile[0][0].value + 1.0
        height = max(seat - back_closed_mm - driver_gasket_mm, 0.5)
        return AdapterCut(bore + 20.0, bore + 20.0, bore, height, back_closed_mm, label=label)
    groove = next((g for g in spec.grooves if g.face == "back"), None)
    fixings = []
    if spec.fixings:
        first = max(spec.fixings, key=lambda f: f.y_mm)
        tail = next((t.length.value for t in tails), 0.0)
        fixings.append(
            FixingCut(
                "up",
                hypot(first.x_mm, first.y_mm),
                screw_mm=max(first.hole_mm - 0.5, 1.0),
                hole_mm=first.hole_mm,
                head_mm=first.head_mm,
                head_height_mm=first.head_height_mm,
                counterbore_mm=first.counterbore_mm,
                counterbore_depth_mm=first.counterbore_depth_mm,
                tail_mm=tail,
            )
        )
    inserts = []
    if spec.threads:
        thread = min(spec.threads, key=lambda t: t.y_mm)
        depth = thread.depth_mm or spec.seat_z_mm
        inserts.append(
            InsertCut("down", hypot(thread.x_mm, thread.y_mm), thread.hole_mm, min(depth, spec.seat_z_mm), 4.0)
        )
    return AdapterCut(
        outer_up_mm=_edge(spec, 90.0),
        outer_down_mm=_edge(spec, 270.0),
        bore_mm=spec.bore_mm,
        thickness_mm=spec.thickness_mm,
        back_closed_mm=back_closed_mm,
        recess_mm=spec.recess_mm,
        seat_radius_mm=spec.seat_mm,
        relief_mm=spec.relief_mm,
        groove_mm=None
        if groove is None
        else (_edge(spec, 90.0) - groove.inset_mm, groove.width_mm, groove.depth_mm),
        spigot_mm=(spec.spigot.radius_mm, spec.spigot.length_mm) if spec.spigot and spec.keeps_spigot else None,
        fixings=tuple(fixings),
        inserts=tuple(inserts),
        label=label,
    )


def _edge(spec: AdapterSpec, angle_deg: float) -> float:
    """Radius of the flange's edge in one direction."""
    ray = (cos(radians(angle_deg)), sin(radians(angle_deg)))
    points = spec.outline.points(0.05)
    along = [(abs(x * ray[1] - y * ray[0]), hypot(x, y)) for x, y in points if x * ray[0] + y * ray[1] > 0.0]
    return float(min(along)[1]) if along else spec.bore_mm + 10.0


def _half(angle_deg: float | None) -> Half:
    if angle_deg is None:
        return "both"
    return "up" if sin(radians(angle_deg)) >= 0.0 else "down"


def _obstacles(opening: Opening) -> tuple[Obstacle, ...]:
    return tuple(
        Obstacle(o.what, tuple((s.radius.value, s.clear.value) for s in o.spots), o.window, _half(o.angle_deg))
        for o in opening.behind
    )


def _gaps(opening: Opening, driver: Driver, fit: Fit, hole_mm: float) -> list[Clearance]:
    found = []
    for c in sorted(fit.clearances, key=lambda c: c.estimate.low - c.margin_mm):
        ends = _ends(c, opening, driver, hole_mm)
        if ends is None:
            continue
        a, b, name = ends
        e = c.estimate
        found.append(Clearance(name, a, b, e.value, e.low, e.high, c.margin_mm, c.verdict))
    return found


def _ends(c: Judged, opening: Opening, driver: Driver, hole_mm: float) -> tuple[Point, Point, str] | None:
    near = c.nearest
    if c.code in ("fit.glass", "fit.behind") and near.z_mm is not None and near.radius_mm is not None:
        at = near.radius_mm if _half(near.angle_deg) != "down" else -near.radius_mm
        return (near.z_mm - c.estimate.value, at), (near.z_mm, at), near.what
    if c.code == "fit.grille" and opening.trim_clear is not None:
        clear = opening.trim_clear.value
        at = 0.45 * driver.profile[0][0].value if near.of == "crest" else 0.0
        return (clear - c.estimate.value, at), (clear, at), "grille"
    if c.code == "fit.hole":
        z = -(opening.skin.value if opening.skin else 0.8) / 2.0
        return (z, hole_mm - c.estimate.value), (z, hole_mm), "hole edge"
    return None


def face_of(
    title: str,
    subtitle: str,
    side: str,
    opening: Opening,
    driver: Driver,
    spec: AdapterSpec,
    turned: Clocking | None,
    holes: Sequence[Hole],
    verdict: Verdict,
    *,
    frame_radius_mm: float,
    fixing_labels: Sequence[str],
    foam_mm: Point | None,
    notes: tuple[str, ...] = (),
) -> FaceView:
    """The view of one place from the front.

    Parameters
    ----------
    title, subtitle, side : str, no unit
        Heading, the line under it, the side.
    opening : Opening, mm
        As judged.
    driver : Driver, mm
        As judged.
    spec : AdapterSpec, mm
        The part.
    turned : Clocking or None, deg and mm
        The turn; None where the driver's holes are not known.
    holes : sequence of Hole, mm
        The driver's holes, not turned.
    verdict : "ok", "caution" or "stop", no unit
        Of the holes.
    frame_radius_mm : float, mm
        Radius of the driver's frame.
    fixing_labels : sequence of str, no unit
        How each fixing holds.
    foam_mm : (inner, outer) or None, mm
        Radii of the foam ring.
    notes : tuple of str, no unit
        Lines at the foot.
    """
    words = {"ok": "holes keep their distance", "caution": "look at the holes", "stop": "holes meet"}
    if turned is None or turned.gap_mm is None:
        words["ok"] = "nothing for the holes to meet"
    gap = None
    if turned is not None and turned.gap_mm is not None and turned.gap_from_mm and turned.gap_to_mm:
        gap = Clearance(
            "hole to fixing",
            turned.gap_from_mm,
            turned.gap_to_mm,
            turned.gap_mm,
            margin=turned.required_mm,
            verdict="ok" if turned.gap_mm >= turned.required_mm else "caution" if turned.gap_mm >= 0 else "stop",
        )
    hole: tuple[Point, ...] = ()
    if opening.hole is not None:
        r = opening.hole.value / 2.0
        hole = tuple((r * cos(radians(a)), r * sin(radians(a))) for a in range(0, 360, 3))
    elif opening.outline_mm is not None:
        hole = tuple((float(x), float(y)) for x, y in opening.outline_mm)
    held, terminals = driver.terminals, None
    turn = turned.angle_deg if turned is not None else 0.0
    if held is not None and held.angle_deg is not None:
        outer = held.radius.value
        terminals = TerminalFace((held.angle_deg + turn) % 360.0, held.width.value, max(outer - 18.0, 5.0), outer)
    return FaceView(
        title=title,
        subtitle=subtitle,
        verdict=verdict,
        verdict_text=words[verdict],
        verdict_note="",
        side=side,
        outline_mm=tuple((float(x), float(y)) for x, y in spec.outline.points(0.05)),
        hole_mm=hole,
        bore_radius_mm=spec.bore_mm,
        frame_radius_mm=frame_radius_mm,
        fixings=tuple(
            FaceFixing(f.x_mm, f.y_mm, f.hole_mm, f.counterbore_mm or f.head_mm, label)
            for f, label in zip(spec.fixings, fixing_labels)
        ),
        driver_holes=tuple(_turned(h, turn, spec) for h in holes),
        terminals=terminals,
        turn_deg=turn,
        best_deg=turned.best_deg if turned is not None else None,
        period_deg=turned.period_deg if turned is not None else 360.0,
        allowed_deg=turned.allowed_deg if turned is not None else (),
        mark_deg=degrees(atan2(holes[0].y_mm, holes[0].x_mm)) % 360.0 if holes else 0.0,
        gap=gap,
        foam_mm=foam_mm,
        notes=notes,
    )


def _turned(hole: Hole, turn_deg: float, spec: AdapterSpec) -> DriverHole:
    turn = radians(turn_deg)
    x = hole.x_mm * cos(turn) - hole.y_mm * sin(turn)
    y = hole.x_mm * sin(turn) + hole.y_mm * cos(turn)
    boss = next((t.hole_mm for t in spec.threads if hypot(t.x_mm - x, t.y_mm - y) < 0.1), 0.0)
    return DriverHole(x, y, hole.diameter_mm, hole.length_mm, (hole.angle_deg + turn_deg) % 360.0, boss)
