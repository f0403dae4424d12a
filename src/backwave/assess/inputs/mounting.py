"""From a sized place to what its mounting and its trim's flat are judged from: bodies in the opening's axes, z = 0 the
metal's face."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import hypot, inf, pi, sqrt

import numpy as np

from backwave.assess.inputs.opening import bench_of, cutout_of
from backwave.assess.place_result import Dimensions
from backwave.finding import Check, Message
from backwave.fit.assembly import Before, Body, Lip, Mounting, Notched, Passage, TrimFlat, edge_unread, flat_checks
from backwave.fit.clearance import FRONT_WORDS
from backwave.fit.coverage import window_moves
from backwave.fit.gasket import FROM_EDGE_MM
from backwave.fit.mounting import FRAME_MM
from backwave.fit.plausible import range_of
from backwave.fit.types import GaugeTrial, Opening
from backwave.job import Job, Place, best_mm
from backwave.job.speaker import SpeakerTable
from backwave.part.features import Prism, features, inner_walls, nut_pocket
from backwave.part.types import AdapterSpec, LipRelief
from backwave.shape import Outline, circle, offset, polygon
from backwave.stock import LapRow, Stock
from backwave.uncertainty import Reading, exact


def mounting_of(
    job: Job, stock: Stock, place: Place, speaker: SpeakerTable, sized: Dimensions, trial: GaugeTrial | None = None
) -> Mounting:
    """What `mounting_checks` judges of one place."""
    spec, back, bench = sized.spec, sized.back_closed_mm, bench_of(job, speaker.id)
    cutout = bench.read("cutout", cutout_of(speaker), "sheet", speaker.by)
    frame = replace(exact(f"{speaker.id}.frame", sized.frame_mm), assumed=True)
    if speaker.frame_outline is not None:
        half = bench.default_of("sheet")[0] if speaker.by is None else bench.half_mm[speaker.by]
        frame = replace(bench.assumed("frame_outline", sized.frame_mm, 2.0 * half), assumed=False)
    elif speaker.frame is not None:
        frame = bench.read("frame", speaker.frame, "sheet", speaker.by)
    start = speaker.terminals.start if speaker.terminals is not None else None
    front, spigot = back + spec.thickness_mm, None
    if spec.spigot is not None and spec.keeps_spigot:
        inside = circle(spec.bore_mm + spec.relief_mm)
        spigot = Body("spigot", circle(spec.spigot.radius_mm), back - spec.spigot.length_mm, back, (inside,))
    collar = None
    if spec.collar is not None:
        inside = circle(spec.collar.inner_mm)
        collar = Body("collar", circle(spec.collar.outer_mm), front, back + spec.top_mm, (inside,))
    trim, wider = place.opening.trim, 0.0
    if place.opening.flange is None:
        most = range_of("flange", sized.frame_mm + (FRAME_MM if frame.assumed else 0.0))[1] / 2.0
        wider = max(most - spec.outline.inside_mm(0.0, 0.0), 0.0)
    return Mounting(
        opening=sized.opening, driver=sized.driver, margins=sized.margins, kind=speaker.kind, frame=frame,
        cutout=cutout, frame_edge=None if speaker.frame_outline is None else polygon(list(speaker.frame_outline)),
        cutout_edge=None if speaker.cutout_outline is None else polygon(list(speaker.cutout_outline)),
        holes=sized.holes, turn_deg=sized.turn_deg, seat_mm=back + spec.seat_z_mm + sized.stack.driver_gasket.value,
        land_mm=back + spec.seat_z_mm, flange=Body("flange", spec.outline, back, front), passages=_passages(spec, back),
        laps=stock.of(LapRow),
        terminal_start=None if start is None else bench.read("terminals.start", start, "sheet", speaker.by),
        spigot=spigot, collar=collar, grooves=_grooves(spec, back), strip_mm=_strip(sized, lip=place.opening.lip is not None),
        heads=tuple(
            Body(
                f"counterbore of {f.name}", circle(f.counterbore_mm / 2.0, f.x_mm, f.y_mm),
                front - f.counterbore_depth_mm, front,
            )
            for f in spec.fixings if f.counterbore_depth_mm > 0.0
        ),
        pockets=tuple(nut_pocket(t) for t in spec.threads if t.nut_flats_mm > 0.0), lip=lip_of(job, place),
        lip_room=None if spec.lip is None else Body("relief", spec.lip.outline, back, back + spec.lip.depth_mm),
        collar_meets=_ahead(job, place) if sized.foam.front is None else None,
        trim_outer_mm=trim.outer.to("mm") if trim is not None and trim.outer is not None else None,
        wider_mm=wider, mass_kg=sized.screws.mass_kg, held_by=place.opening.held_by or "",
        tried=trial is not None and trial.clear and trial.spigot
        and (not window_moves(sized.opening) or (trial.full_travel and trial.glass_mm >= sized.margins.glass_mm - 1e-9)),
    )  # fmt: skip


def _ahead(job: Job, place: Place) -> Reading | None:
    """What a collar would meet: the flat of the trim, or the grille."""
    trim = place.opening.trim
    if trim is None or (written := trim.land or trim.clear) is None:
        return None
    key = ".land" if trim.land is not None else ".clear"
    return bench_of(job, place.opening.id).read(place.key("trim") + key, written, "trim", trim.by)


def _passages(spec: AdapterSpec, back_mm: float) -> tuple[Passage, ...]:
    notches = tuple(Notched(n.angle_deg, n.width_mm / 2.0, spec.bore_mm + n.depth_mm) for n in spec.notches)
    return tuple(
        Passage(name, z0 + back_mm, z1 + back_mm, r0, r1, notches if z1 <= spec.seat_z_mm + 1e-9 else ())
        for name, z0, r0, z1, r1 in inner_walls(spec)
    )


def _strip(sized: Dimensions, lip: bool) -> tuple[float, float] | None:
    back, hole = sized.foam.back, sized.opening.hole
    if back is None or back.groove_mm > 0.0 or back.plan is None:
        return None
    return FROM_EDGE_MM if hole is None or lip else back.plan.inner_mm - hole.value / 2.0, back.plan.width_mm


def _grooves(spec: AdapterSpec, back_mm: float) -> tuple[Body, ...]:
    if not spec.grooves:
        return ()
    return tuple(
        Body(f.name, f.outer, f.z0_mm + back_mm, f.z1_mm + back_mm, f.inner)
        for f in features(spec, lettering=False)
        if isinstance(f, Prism) and f.name == "back gasket groove"
    )


def lip_of(job: Job, place: Place) -> Lip | None:
    """The lip round the hole, as read."""
    lip = place.opening.lip
    if lip is None:
        return None

    def read(name: str) -> Reading:
        return bench_of(job, place.opening.id).read(f"{place.key('lip')}.{name}", getattr(lip, name), "metal", lip.by)

    return Lip(read("height"), read("width"))


def lip_relief(job: Job, stock: Stock, place: Place, opening: Opening, gasket: Reading) -> LipRelief | None:
    """Room in the back face for a lip that is taller than the closed gasket: the readings' doubt and the play more."""
    lip = lip_of(job, place)
    play = next(row.lap_mm for row in stock.of(LapRow) if row.name == "play over a lip")
    if lip is None or (depth := lip.height.value + lip.height.bound + play - gasket.value + gasket.bound) <= 0.0:
        return None
    out = lip.width.value + lip.width.bound + play
    if opening.hole is not None:
        return LipRelief(circle(opening.hole.value / 2.0 + opening.hole.bound / 2.0 + out), round(depth, 2))
    if opening.outline_mm is None:
        return None
    edge = polygon([(float(x), float(y)) for x, y in opening.outline_mm])
    return LipRelief(offset(edge, out + opening.outline_error.bound), round(depth, 2))


# Shares of a cutout's radius that a piston's may be where Sd is not entered; from memory, no published source.
PISTON = (0.7, 1.0)
# The cone's highest point, cap or edge, lies at least so far out of the piston's radius; from memory.
HIGHEST = 0.5
LEAST_FLAT_MM = 5.0  # of the width of a flat that foam presses on; common trade practice


def trim_checks(job: Job, place: Place, speaker: SpeakerTable, sized: Dimensions) -> tuple[Check, ...]:
    """What stands before the metal against the flat of this side's own trim; () where no `land` was read."""
    trim = place.opening.trim
    if trim is None or trim.land is None:
        return ()
    land = bench_of(job, place.opening.id).read(place.key("trim") + ".land", trim.land, "trim", trim.by)
    cutout = best_mm(cutout_of(speaker)) / 2.0
    far = inf if trim.outer is None else trim.outer.to("mm") / 2.0
    # Where neither grille nor flat is given it may begin anywhere, the cone's own radius included.
    near, ask, sure = 0.0, "trim.inner", (range_of("trim.inner", sized.frame_mm)[1] / 2.0, inf)
    if trim.inner is not None:
        near, ask = trim.inner.to("mm") / 2.0, ""
        sure = (near, inf)
    elif trim.grille is not None:
        near = trim.grille.to("mm") / 2.0
        sure = (max(near, cutout), inf)
    if trim.outer is not None:
        sure = (min(sure[0], far if trim.inner or trim.grille else far - LEAST_FLAT_MM), far)
    flat = TrimFlat(land, sure, (near, far), ask)
    found = flat_checks(flat, (*_still(speaker, sized, cutout), *_moving(speaker, sized, cutout)))
    if trim.inner is None and trim.grille is None:
        return edge_unread(found)
    if (speaker.motor is None or speaker.motor.Sd is None) and PISTON[0] * cutout <= near:
        return tuple(_ask_piston(c, speaker.id) if c.part in _ON_CONE and c.verdict != "ok" else c for c in found)
    return found


_ON_CONE = ("moving", "crest")


def _ask_piston(check: Check, speaker_id: str) -> Check:
    """A cone that clears the flat or not by how wide it is, which nobody entered."""
    title = Message(
        check.title.template + "; no piston area is entered: the cone may be as wide as the cutout",
        check.title.quantities,
    )
    ask = "Enter the speaker's piston area from its data sheet (motor: Sd = ...), or measure across the cone, from the middle of the surround to the middle"
    return replace(check, title=title, remedy=Message(ask), key=f"speaker.{speaker_id}.motor.Sd")


def _still(speaker: SpeakerTable, sized: Dimensions, cutout: float) -> Iterator[Before]:
    """Rim, screw heads, part and collar."""
    spec, screws, seat = sized.spec, sized.screws, _seat(sized)
    rim = sized.driver.rim or exact("no rim", 0.0)
    edge = sized.frame_mm / 2.0
    wide = edge if speaker.frame_outline is None else _reach(polygon(list(speaker.frame_outline)))
    yield Before("rim", "rim", (*seat, (rim, 1.0)), (cutout, edge), (cutout, wide))
    if screws.driver is not None and spec.threads:
        tall = screws.driver.head_height_mm + (0.0 if screws.washer is None else screws.washer.height_mm)
        span = _ring([(t.x_mm, t.y_mm, screws.over_rim_mm / 2.0) for t in spec.threads])
        head = exact("head of the driver's screws", tall)
        yield Before("heads of the speaker's screws", "driver-heads", (*seat, (rim, 1.0), (head, 1.0)), span, span)
    base = ((sized.stack.gasket, 1.0), (sized.stack.lift, 1.0), (sized.stack.thickness, 1.0))
    inner = max(spec.bore_mm, spec.seat_mm if spec.recess_mm > 0.0 else 0.0)
    yield Before("part", "part", base, (inner, spec.outline.inside_mm(0.0, 0.0)), (inner, _reach(spec.outline)))
    proud = [(m, m.height_mm - m.depth_mm + m.over_mm) for m in screws.metal if m.head_mm]
    if proud and (most := max(over for _, over in proud)) > 0.0:
        span = _ring([(m.x_mm, m.y_mm, m.head_mm / 2.0) for m, _ in proud])
        head = exact("heads over the part", most)
        yield Before("heads of the fixings", "fixing-heads", (*base, (head, 1.0)), span, span)
    if spec.collar is not None:
        span = (spec.collar.inner_mm, spec.collar.outer_mm)
        yield Before("collar", "collar", (*base, (exact("collar", spec.collar.height_mm), 1.0)), span, span)


def _moving(speaker: SpeakerTable, sized: Dimensions, cutout: float) -> Iterator[Before]:
    """Cone, crest of the surround and what stands before them, with the room that a cone keeps to the grille."""
    driver, seat, margin = sized.driver, _seat(sized), sized.margins.grille_mm
    low, high = _piston(speaker, cutout)
    for part, height, travel, sure in (
        ("moving", driver.front.moving, 1.0, (0.0, HIGHEST * low)),
        ("crest", driver.front.crest, 0.5, (HIGHEST * low, low)),
        ("fixed", driver.front.fixed, 0.0, (0.0, 0.0)),
    ):
        if height is not None:
            heights = (*seat, (height, 1.0), (driver.xmech, travel))
            yield Before(FRONT_WORDS[part], part, heights, sure, (0.0, high), margin)  # type: ignore[index]


def _piston(speaker: SpeakerTable, cutout: float) -> tuple[float, float]:
    """The least and the greatest radius its piston may have."""
    motor = speaker.motor
    if motor is None or motor.Sd is None:
        return PISTON[0] * cutout, PISTON[1] * cutout
    radius = sqrt(motor.Sd.to("mm2") / pi)
    return radius, radius


def _seat(sized: Dimensions) -> tuple[tuple[Reading, float], ...]:
    stack = sized.stack
    return (
        (stack.gasket, 1.0), (stack.lift, 1.0), (stack.thickness, 1.0), (stack.recess, -1.0),
        (stack.driver_gasket, 1.0),
    )  # fmt: skip


def _ring(round_mm: list[tuple[float, float, float]]) -> tuple[float, float]:
    """The ring that round things at x, y of these radii lie in."""
    away = [(hypot(x, y), r) for x, y, r in round_mm]
    return min(a - r for a, r in away), max(a + r for a, r in away)


def _reach(outline: Outline) -> float:
    return float(np.hypot(*outline.points().T).max())
