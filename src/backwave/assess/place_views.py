"""What the drawings of one place are told, filled from its result when a drawing is asked for.

Drawings alone read these: a length that anything else needs is read from the `PlaceResult`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, degrees, hypot, radians, sin
from typing import Literal

from backwave.assess.place_result import PlaceResult
from backwave.drawing import (
    AdapterCut,
    ClearanceView,
    DriverCut,
    DriverHole,
    FaceFixing,
    FaceView,
    FixingCut,
    FoamRingView,
    InsertCut,
    ObstacleView,
    SeatWindow,
    SectionView,
    TerminalCut,
    TerminalFace,
)
from backwave.finding import Verdict, words
from backwave.fit import Clearance as Judged
from backwave.fit import DriverShape, Fit, Opening
from backwave.fit.bolt_pattern import Hole
from backwave.fit.coverage import unread_behind
from backwave.fit.plausible import ENTRIES
from backwave.part.types import AdapterSpec
from backwave.uncertainty import Reading
from backwave.units import show

Point = tuple[float, float]
Half = Literal["both", "up", "down"]

_PLATES: dict[Verdict, str] = {"ok": "clears, margins kept", "caution": "look again", "stop": "does not fit"}
_SKETCHED = "Cone, cap and surround are sketched through the heights that are known."
_TURNED_IN = "Screws and threads are turned into the plane of the cut."


def section_view(
    place: PlaceResult, system: str = "metric", heights_mm: tuple[float, float] | None = None
) -> SectionView:
    """The cut through one place; its scale of seat heights, unless others are given, has the chosen one in the middle."""
    opening, fit, spec = place.opening, place.fit, place.spec
    verdict = place.fit_verdict
    low, high = fit.allowed_mm or (None, None)
    least, most = heights_mm or place.heights_to_try_mm
    label = f"{show(spec.thickness_mm, 'mm', system)} {place.part.material.name} adapter"
    choice = () if place.choice is None else (words(place.choice, system),)
    ring = place.foam.front
    return SectionView(
        title=f"{place.name}: section",
        subtitle=f"{place.speaker_name} on a {label}",
        verdict=verdict,
        verdict_text=_PLATES[verdict],
        verdict_note="the tightest place was measured only once" if _read_once(fit) else "",
        skin_mm=_skin_mm(opening),
        hole_up_mm=_hole(opening, 90.0),
        hole_down_mm=_hole(opening, 270.0),
        seat=SeatWindow(
            chosen_mm=fit.seat_height_mm, low_mm=low, high_mm=high, least_mm=least, most_mm=most,
            judged=fit.bounded,
        ),
        driver=_driver(place),
        adapter=_adapter(place, label),
        obstacles=_obstacles(opening),
        clearances=tuple(_gaps(place)),
        trim_clear_mm=opening.trim_clear.value if opening.trim_clear else None,
        trim_land_mm=place.foam.land_mm,
        trim_half_mm=opening.trim_clear.bound if opening.trim_clear else None,
        foam=None
        if ring is None or ring.closed_mm <= 0.0
        else FoamRingView(ring.inner_mm / 2.0, ring.outer_mm / 2.0, ring.from_mm, place.foam.land_mm or 0.0, ring.free_mm),
        notes=(*_unknown(place), _SKETCHED, *((_TURNED_IN,) if spec.fixings else ()), *choice),
    )  # fmt: skip


def _unknown(place: PlaceResult) -> tuple[str, ...]:
    """What was not measured, for the foot of a drawing."""
    said = [words(c.title) + "." for c in place.fit.checks if c.code == "fit.coverage" and c.verdict != "ok"]
    missing = ", ".join(ENTRIES.get(part, part) for part in place.not_measured)
    return (*((f"Not measured, assumed: {missing}.",) if missing else ()), *said)


def _read_once(fit: Fit) -> bool:
    return any(c.code == "fit.read-once" and c.verdict != "ok" for c in fit.checks)


def _skin_mm(opening: Opening) -> float:
    assert opening.skin is not None  # measured or a noted default
    return opening.skin.value


def _hole(opening: Opening, angle_deg: float) -> float:
    if opening.hole is not None:
        return opening.hole.value / 2.0
    if opening.outline_mm is None:
        return 0.0
    toward = [(x * cos(radians(angle_deg)) + y * sin(radians(angle_deg)), x, y) for x, y in opening.outline_mm.tolist()]
    _, x, y = max(toward)
    return hypot(x, y)


def _driver(place: PlaceResult) -> DriverCut:
    driver, front = place.driver, place.driver.front
    held = driver.terminals
    terminals: tuple[TerminalCut, ...] = ()
    if held is not None:
        angle = 270.0 if held.angle_deg is None else (held.angle_deg + place.turn_deg) % 360.0
        near = abs(sin(radians(angle))) > 0.7
        terminals = (
            TerminalCut("up" if sin(radians(angle)) > 0 else "down", held.radius.value, held.depth.value, near),
        )
    return DriverCut(
        frame_radius_mm=place.frame_mm / 2.0,
        rim_mm=driver.rim.value if driver.rim else 3.0,
        profile_mm=tuple((r.value, d.value) for r, d in driver.profile),
        moving_mm=_value(front.moving, front.crest, front.fixed, driver.rim),
        crest_mm=front.crest.value if front.crest else None,
        fixed_mm=front.fixed.value if front.fixed else 0.0,
        xmech_mm=driver.xmech.value,
        gasket_mm=place.stack.driver_gasket.value,
        terminals=terminals,
        vent_radius_mm=driver.vent.radius.value if driver.vent else 0.0,
    )


def _value(*readings: Reading | None) -> float:
    return next((r.value for r in readings if r is not None), 0.0)


def _adapter(place: PlaceResult, label: str) -> AdapterCut:
    spec = place.spec
    groove = next((g for g in spec.grooves if g.face == "back"), None)
    plan = place.foam.back.plan if place.foam.back is not None else None
    fixings = []
    screwed = [f for f in spec.fixings if f.hole_mm]
    if screwed:
        first = max(screwed, key=lambda f: f.y_mm)
        tail = next((t.length.value for t in place.screws.tails(place.opening_id)), 0.0)
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
        back_closed_mm=place.back_closed_mm,
        strip_mm=None if plan is None else (plan.inner_mm, plan.inner_mm + plan.width_mm),
        recess_mm=spec.recess_mm,
        seat_radius_mm=spec.seat_mm,
        relief_mm=spec.relief_mm,
        groove_mm=None if groove is None else (_edge(spec, 90.0) - groove.inset_mm, groove.width_mm, groove.depth_mm),
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


def _obstacles(opening: Opening) -> tuple[ObstacleView, ...]:
    return tuple(
        ObstacleView(o.what, tuple((s.radius.value, s.clear.value) for s in o.spots), o.window, _half(o.angle_deg))
        for o in opening.behind
    )


def _gaps(place: PlaceResult) -> list[ClearanceView]:
    found = []
    for c in sorted(place.fit.clearances, key=lambda c: c.estimate.low - c.margin_mm):
        ends = _ends(c, place.opening, place.driver)
        if ends is None:
            continue
        a, b, name = ends
        e = c.estimate
        found.append(ClearanceView(name, a, b, e.value, e.low, e.high, c.margin_mm, c.verdict))
    return found


def _ends(c: Judged, opening: Opening, driver: DriverShape) -> tuple[Point, Point, str] | None:
    near = c.nearest
    if c.code in ("fit.glass", "fit.behind") and near.z_mm is not None and near.radius_mm is not None:
        at = near.radius_mm if _half(near.angle_deg) != "down" else -near.radius_mm
        return (near.z_mm - c.estimate.value, at), (near.z_mm, at), near.what
    if c.code == "fit.grille" and opening.trim_clear is not None:
        clear = opening.trim_clear.value
        at = 0.45 * driver.profile[0][0].value if near.of == "crest" else 0.0
        return (clear - c.estimate.value, at), (clear, at), "grille"
    if c.code == "fit.hole":
        z, hole_mm = -_skin_mm(opening) / 2.0, _hole(opening, 90.0)
        return (z, hole_mm - c.estimate.value), (z, hole_mm), "hole edge"
    return None


def face_view(place: PlaceResult, system: str = "metric") -> FaceView:
    """The view of one place from the front."""
    opening, driver, spec, turned, verdict = (
        place.opening, place.driver, place.spec, place.clocking, place.hole_verdict,
    )  # fmt: skip
    words = {"ok": "holes keep their distance", "caution": "look at the holes", "stop": "holes meet"}
    if turned is None or turned.gap_mm is None:
        words["ok"] = "nothing for the holes to meet"
    gap = None
    if turned is not None and turned.gap_mm is not None and turned.gap_from_mm and turned.gap_to_mm:
        gap = ClearanceView(
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
    held, terminals, turn, ring = driver.terminals, None, place.turn_deg, place.foam.front
    if held is not None and held.angle_deg is not None:
        outer = held.radius.value
        terminals = TerminalFace((held.angle_deg + turn) % 360.0, held.width.value, max(outer - 18.0, 5.0), outer)
    return FaceView(
        title=f"{place.name}: face",
        subtitle=f"{place.speaker_name}, {_pattern_words(place.holes, system)}",
        verdict=verdict,
        verdict_text=words[verdict],
        verdict_note="",
        side=place.side,
        outline_mm=tuple((float(x), float(y)) for x, y in spec.outline.points(0.05)),
        hole_mm=hole,
        bore_radius_mm=spec.bore_mm,
        frame_radius_mm=place.frame_mm / 2.0,
        fixings=tuple(
            FaceFixing(f.x_mm, f.y_mm, f.hole_mm, f.counterbore_mm or f.head_mm, m.row.holds)
            for f in spec.fixings
            for m in (place.screws.metal[int(f.name.rsplit(maxsplit=1)[1]) - 1],)
            if f.hole_mm
        ),
        driver_holes=tuple(_turned(h, turn, spec) for h in place.holes),
        terminals=terminals,
        turn_deg=turn,
        best_deg=turned.best_deg if turned is not None else None,
        period_deg=turned.period_deg if turned is not None else 360.0,
        allowed_deg=turned.allowed_deg if turned is not None else (),
        mark_deg=degrees(atan2(place.holes[0].y_mm, place.holes[0].x_mm)) % 360.0 if place.holes else 0.0,
        gap=gap,
        foam_mm=None if ring is None else (ring.inner_mm / 2.0, ring.outer_mm / 2.0),
        unread_deg=_unread(place),
        notes=_unknown(place),
    )


def _unread(place: PlaceResult) -> tuple[tuple[float, float], ...]:
    """Sectors in which nothing was measured in some state of the window, once each; none where a dummy proved them."""
    if not any(c.code == "fit.coverage" and c.verdict != "ok" for c in place.fit.checks):
        return ()
    return tuple(dict.fromkeys(arc for one in unread_behind(place.opening) for arc in one.arcs_deg))


def _pattern_words(holes: Sequence[Hole], system: str) -> str:
    if not holes:
        return "holes not measured"
    across = {round(2.0 * hypot(h.x_mm, h.y_mm), 3) for h in holes}
    round_holes = not any(h.length_mm > h.diameter_mm for h in holes)
    if len(across) == 1 and round_holes:
        circle = across.pop()
        places = len(f"{circle:g}".partition(".")[2])  # as it was measured: 156 mm, 6.5 mm
        return f"{len(holes)} holes on a {show(circle, 'mm', system, places)} circle"
    return f"{len(holes)} holes"


def _turned(hole: Hole, turn_deg: float, spec: AdapterSpec) -> DriverHole:
    turn = radians(turn_deg)
    x = hole.x_mm * cos(turn) - hole.y_mm * sin(turn)
    y = hole.x_mm * sin(turn) + hole.y_mm * cos(turn)
    boss = next((t.hole_mm for t in spec.threads if hypot(t.x_mm - x, t.y_mm - y) < 0.1), 0.0)
    return DriverHole(x, y, hole.diameter_mm, hole.length_mm, (hole.angle_deg + turn_deg) % 360.0, boss)
