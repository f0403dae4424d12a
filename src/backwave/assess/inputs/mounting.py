"""From a sized place to what its mounting is judged from: bodies in the opening's axes, z = 0 the metal's face."""

from __future__ import annotations

from dataclasses import replace

from backwave.assess.inputs.opening import bench_of, cutout_of
from backwave.assess.place_result import Dimensions
from backwave.fit.assembly import Lip, Mounting
from backwave.fit.bodies import Body, Notched, Passage
from backwave.fit.types import Opening
from backwave.job import Job, Place
from backwave.job.speaker import SpeakerTable
from backwave.part.features import Prism, features
from backwave.part.radial_section import inner_walls
from backwave.part.types import AdapterSpec, LipRelief
from backwave.shape import circle, offset, polygon
from backwave.stock import LapRow, Stock
from backwave.uncertainty import Reading, exact


def mounting_of(job: Job, stock: Stock, place: Place, speaker: SpeakerTable, sized: Dimensions) -> Mounting:
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
    trim = place.opening.trim
    return Mounting(
        opening=sized.opening,
        driver=sized.driver,
        margins=sized.margins,
        kind=speaker.kind,
        frame=frame,
        cutout=cutout,
        frame_edge=None if speaker.frame_outline is None else polygon(list(speaker.frame_outline)),
        cutout_edge=None if speaker.cutout_outline is None else polygon(list(speaker.cutout_outline)),
        holes=sized.holes,
        turn_deg=sized.turn_deg,
        seat_mm=back + spec.seat_z_mm + sized.stack.driver_gasket.value,
        land_mm=back + spec.seat_z_mm,
        flange=Body("flange", spec.outline, back, front),
        passages=_passages(spec, back),
        laps=stock.of(LapRow),
        terminal_start=None if start is None else bench.read("terminals.start", start, "sheet", speaker.by),
        spigot=spigot,
        collar=collar,
        grooves=_grooves(spec, back),
        heads=tuple(
            Body(f"counterbore of {f.name}", circle(f.counterbore_mm / 2.0, f.x_mm, f.y_mm),
                 front - f.counterbore_depth_mm, front)
            for f in spec.fixings if f.counterbore_depth_mm > 0.0
        ),
        lip=lip_of(job, place),
        lip_room=None if spec.lip is None else Body("relief", spec.lip.outline, back, back + spec.lip.depth_mm),
        collar_meets=_ahead(job, place) if sized.foam.front is None else None,
        trim_outer_mm=trim.outer.to("mm") if trim is not None and trim.outer is not None else None,
        mass_kg=sized.screws.mass_kg,
        held_by=place.opening.held_by or "",
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
