"""From a place to the part that it needs: outline, bore, fixings, threads and cuts as plain numbers, once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement
from math import cos, floor, hypot, radians, sin, sqrt
from textwrap import wrap

import numpy as np

from backwave.assess.inputs.opening import cutout_of
from backwave.assess.place_result import Screws
from backwave.budget import bounded
from backwave.errors import InputError
from backwave.finding import PRACTICE, Ledger
from backwave.fit.bolt_pattern import Hole, bolt_circle
from backwave.fit.clearance import MAX_SHEETS
from backwave.fit.types import edge_mm
from backwave.job import Job, Place, best_mm
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.part.types import (
    AdapterSpec,
    Collar,
    Fixing,
    Groove,
    Lettering,
    Material,
    Notch,
    Printer,
    Spigot,
    Thread,
    Zone,
)
from backwave.shape import Outline
from backwave.stock import MaterialRow, Stock

FRAME_OVER_CUTOUT_MM, TWEETER_FRAME_OVER_CUTOUT_MM = 25.0, 8.0


def frame_mm(speaker: SpeakerTable, ledger: Ledger) -> float:
    """Diameter of the driver's frame."""
    if speaker.frame_outline is not None:
        return 2.0 * edge_mm(np.array(speaker.frame_outline))  # what a round part finds under it all round
    if speaker.frame is not None:
        return best_mm(speaker.frame)
    over = TWEETER_FRAME_OVER_CUTOUT_MM if speaker.kind == "tweeter" else FRAME_OVER_CUTOUT_MM
    value = best_mm(cutout_of(speaker)) + over
    ledger.note(f"speaker.{speaker.id}.frame", value, "mm", f"cutout and {over:g} mm; {PRACTICE}", 1)
    return value


def pattern_of(speaker: SpeakerTable) -> tuple[Hole, ...]:
    """The driver's holes as its maker draws them, seen from the front; () where nobody said."""
    holes = speaker.holes
    if holes is None:
        return ()
    diameter = holes.diameter.to("mm") if holes.diameter is not None else 0.0
    found: list[Hole] = []
    if holes.count is not None and holes.circle is not None:
        first = holes.first.to("deg") if holes.first is not None else 0.0
        found += bolt_circle(holes.count, holes.circle.to("mm"), diameter, first)
    found += [Hole(x, y, diameter) for x, y in holes.at or ()]
    found += [
        Hole(s.x.to("mm"), s.y.to("mm"), s.width.to("mm"), s.length.to("mm"), s.angle.to("deg")) for s in holes.slots
    ]
    return tuple(replace(hole, name=f"driver hole {i}") for i, hole in enumerate(found, 1))


def material_of(stock: Stock, adapter: AdapterTable) -> Material:
    """What a part is made of, as far as its checks ask."""
    row = stock.material(adapter.material)
    return Material(
        name=row.name, density_kg_m3=row.density_kg_m3, hdt_degc=row.hdt_degc,
        laser_unsafe=row.fumes or "it gives off what harms" if row.laser == "never" else "", swells=row.wet == "swells",
        source=row.cited,
    )  # fmt: skip


def zone_of(stock: Stock, place: Place) -> Zone:
    """How hot and how wet a place is."""
    row = stock.zone(place.opening.zone)
    return Zone(row.name, row.hot_degc, wet=place.opening.zone == "door", source=row.cited)


def printer_of(job: Job) -> Printer:
    """The printer as it is set."""
    p = job.file.printer
    layer, line, speed = p.layer.to("mm"), p.line.to("mm"), p.speed.to("mm/s")
    x, y, z = (q.to("mm") for q in p.bed)
    return Printer(
        bed_mm=(x, y, z), bed_entered="bed" in p.model_fields_set, layer_mm=layer, first_layer_mm=layer, line_mm=line, walls=p.walls,
        filament_mm=p.filament.to("mm"), flow_mm3_s=layer * line * speed,
        shrinkage=p.shrinkage.to("1") if p.shrinkage is not None else 0.0, hole_extra_mm=p.hole_compensation.to("mm"),
    )  # fmt: skip


NOTCH_WIDTH_MM, NOTCH_DEPTH_MM = 16.0, 5.0
GROOVE_PLAY_MM = 1.0  # groove over strip, in width; common trade practice
GROOVE_LAND_MM = 1.5  # plastic either side of a groove; common trade practice
BOSS_MORE_MM = 0.2  # in diameter, so that chords of its edge leave the wall
NUT_CORNERS = 2.0 / sqrt(3.0)  # across corners over across flats


@dataclass(frozen=True)
class Cuts:
    """What is cut into a part, whatever its thickness."""

    bore_mm: float  # radius of the through-bore
    recess_mm: float  # depth of a recessed seat
    fixings: tuple[Fixing, ...]  # to the metal
    threads: tuple[Thread, ...]  # to the driver
    grooves: tuple[Groove, ...]  # for gaskets; inset as for a bore without relief
    under_mm: float = 0.0  # depth of a groove that passes under a thread
    over_lip_mm: float = 0.0  # from the back face to the seat that a relief for a lip needs


def cuts_of(
    adapter: AdapterTable, speaker: SpeakerTable, screws: Screws, holes: Sequence[Hole], outline: Outline,
    turn_deg: float, hole_mm: float | None, groove_depth_mm: float,
) -> Cuts:  # fmt: skip
    """What is cut into the part, before its thickness is known. `hole_mm` is the maximum radius of the hole in the
    metal, lip included (None: not read), `groove_depth_mm` that of the back gasket's groove (0: none)."""
    bore = bore_mm(adapter, speaker)
    fixings = _fixings(screws)
    threads = _threads(screws, holes, outline, turn_deg)
    grooves: tuple[Groove, ...] = ()
    under = 0.0
    if adapter.foam.grooved and groove_depth_mm > 0.0:
        strip = adapter.foam.back_width or adapter.foam.back
        width = strip.to("mm") + GROOVE_PLAY_MM
        relief = adapter.relief.to("mm") if adapter.relief is not None else 0.0
        inside = max(hole_mm or bore, bore + relief, bore + NOTCH_DEPTH_MM * (adapter.notch is not None))
        radius, under = _groove(inside, outline.inside_mm(0.0, 0.0), width, groove_depth_mm, fixings, threads)
        grooves = (Groove("back", "bore", radius - bore, width, groove_depth_mm),)
    return Cuts(bore, adapter.recess.to("mm"), fixings, threads, grooves, under)


def cut_for(cuts: Cuts, screws: Screws) -> Cuts:
    """The same with holes and counterbores as deep as the screws chosen at a thickness want them."""
    depth = screws.driver.depth_mm if screws.driver is not None else 0.0
    threads = tuple(replace(t, depth_mm=max(t.depth_mm, depth)) if t.depth_mm else t for t in cuts.threads)
    return replace(cuts, fixings=_fixings(screws), threads=threads)


def _fixings(screws: Screws) -> tuple[Fixing, ...]:
    """What is cut for each fixing; nothing at all for a hook, or for a pin that does not stand out."""
    return tuple(
        Fixing(
            m.x_mm, m.y_mm, m.hole_mm, m.counterbore_mm if m.head_mm else 0.0, m.depth_mm, m.head_mm, m.height_mm,
            f"fixing {i}", m.pocket_mm, m.pocket_depth_mm,
        )
        for i, m in enumerate(screws.metal, 1)
        if m.hole_mm or m.pocket_mm
    )  # fmt: skip


def bore_mm(adapter: AdapterTable, speaker: SpeakerTable) -> float:
    """Radius of the through-bore: as told, or the cutout's and half a millimeter."""
    return (adapter.bore.to("mm") if adapter.bore is not None else best_mm(cutout_of(speaker)) + 1.0) / 2.0


def _groove(
    inside_mm: float, outside_mm: float, width_mm: float, depth_mm: float, fixings: Sequence[Fixing],
    threads: Sequence[Thread],
) -> tuple[float, float]:  # fmt: skip
    """Radius of the groove's middle, and how deep it is under a thread that it passes (0: it keeps clear of all).
    Inside the fixings, or water comes in through their holes; there the first place that is clear of the threads, and
    where none is, the innermost one."""
    least = inside_mm + GROOVE_LAND_MM + width_mm / 2.0
    wall = GROOVE_LAND_MM + width_mm / 2.0
    most = min(
        [outside_mm - wall, *(hypot(f.x_mm, f.y_mm) - max(f.hole_mm, f.pocket_mm) / 2.0 - wall for f in fixings)]
    )
    taken = [(hypot(t.x_mm, t.y_mm), max(t.hole_mm, t.nut_flats_mm * NUT_CORNERS) / 2.0 + wall) for t in threads]
    places = [least, *(radius + away for radius, away in taken)]
    clear = [p for p in places if p <= most + 1e-9 and all(abs(p - r) >= away - 1e-9 for r, away in taken)]
    if clear:
        return min(clear), 0.0
    return least, depth_mm if any(abs(least - r) < away for r, away in taken) else 0.0


def spec_of(
    job: Job, place: Place, adapter: AdapterTable, cuts: Cuts, outline: Outline, thickness_mm: float, frame: float,
    hole_mm: float | None, notch_deg: float | None = None,
) -> AdapterSpec:  # fmt: skip
    """The part at a thickness. `frame` is the diameter of the driver's frame, `hole_mm` the minimum radius of the hole
    in the metal (None: not read), `notch_deg` the direction of a notch (None: none)."""
    notches = () if notch_deg is None else (Notch(notch_deg, NOTCH_WIDTH_MM, NOTCH_DEPTH_MM),)
    wall = 2.0 * job.file.printer.line.to("mm") if adapter.process == "print" else 3.0
    relief = _relief(adapter, thickness_mm, cuts, hole_mm, wall)
    collar = None
    if adapter.collar is not None:
        outer = frame / 2.0 + adapter.collar.width.to("mm") + 0.5
        collar = Collar(frame / 2.0 + 0.5, outer, adapter.collar.height.to("mm"))
    spigot = None
    if adapter.spigot is not None and hole_mm is not None:
        spigot = Spigot(hole_mm - adapter.spigot.gap.to("mm"), adapter.spigot.length.to("mm"))
    return AdapterSpec(
        outline=outline, thickness_mm=thickness_mm, bore_mm=cuts.bore_mm, frame_radius_mm=frame / 2.0,
        recess_mm=cuts.recess_mm, seat_mm=frame / 2.0 + 0.5 if cuts.recess_mm > 0.0 else 0.0, relief_mm=relief,
        spigot=spigot, fixings=cuts.fixings, threads=cuts.threads,
        grooves=tuple(replace(g, inset_mm=g.inset_mm - relief) for g in cuts.grooves), notches=notches, collar=collar,
        lettering=Lettering(side=place.side[:1].upper(), up=True, text=_short(job.file.title)),
        edge_mm=0.6 if adapter.process == "print" else 0.0, least_wall_mm=wall,
    )  # fmt: skip


def _relief(adapter: AdapterTable, thickness_mm: float, cuts: Cuts, hole: float | None, wall_mm: float) -> float:
    """The chamfer behind the cone: as told, or out to the hole's edge (beyond it the metal closes it anyway). By itself
    it leaves its wall to a spigot and to all holes: nuts, inserts, the metal's fixings."""
    bore = cuts.bore_mm
    if adapter.relief is not None:
        return adapter.relief.to("mm")
    room = max((hole if hole is not None else bore) - bore, 0.0)
    if adapter.spigot is not None:
        room = max(room - adapter.spigot.gap.to("mm") - wall_mm, 0.0)
    across = [
        (t.x_mm, t.y_mm, max(t.hole_mm, t.nut_flats_mm * NUT_CORNERS) / 2.0 + max(wall_mm, t.wall_mm))
        for t in cuts.threads
        if not t.depth_mm
    ] + [(f.x_mm, f.y_mm, max(f.hole_mm, f.pocket_mm) / 2.0 + wall_mm) for f in cuts.fixings]
    free = min((hypot(x, y) - taken - bore for x, y, taken in across), default=room)
    for t in (
        t for t in cuts.threads if t.depth_mm
    ):  # a blind hole: the chamfer ends below it, or leaves its wall there
        low = max(thickness_mm - cuts.recess_mm - t.depth_mm, 0.0)
        wall = hypot(t.x_mm, t.y_mm) - t.hole_mm / 2.0 - bore - max(wall_mm, t.wall_mm)
        free = min(free, low + max(wall, 0.0))
    return floor(100.0 * max(min(thickness_mm / 3.0, 6.0, room, free), 0.0) + 1e-6) / 100.0


def _threads(screws: Screws, holes: Sequence[Hole], outline: Outline, turn_deg: float) -> tuple[Thread, ...]:
    turn = radians(turn_deg)
    found = []
    for hole in holes:
        x = hole.x_mm * cos(turn) - hole.y_mm * sin(turn)
        y = hole.x_mm * sin(turn) + hole.y_mm * cos(turn)
        thread = replace(screws.thread, x_mm=x, y_mm=y, name=hole.name)
        if outline.inside_mm(x, y) < thread.hole_mm / 2.0 + thread.wall_mm:
            thread = replace(thread, boss_mm=thread.hole_mm + 2.0 * thread.wall_mm + BOSS_MORE_MM)
        found.append(thread)
    return tuple(found)


def _short(title: str) -> str:
    """The job's name, short enough to engrave."""
    lines = wrap(" ".join(title.upper().split()), 14, break_long_words=False, break_on_hyphens=False)
    return lines[0][:14] if lines else ""


def sheet_thicknesses(job: Job, stock: Stock, adapter: AdapterTable) -> tuple[float, ...]:
    """Sheet stock on hand, or what the material is sold in. InputError: A material that is not worked in this way, or
    one of unknown thicknesses."""
    row = stock.material(adapter.material)
    if row.kind != adapter.process:
        worked = "printed" if adapter.process == "print" else "cut from sheet"
        fit = [r.name for r in stock.of(MaterialRow) if r.kind == adapter.process]
        raise InputError(f"a material that is not {worked}", row.name, ", ".join(fit))
    if adapter.process == "print":
        return ()
    held = tuple(q.to("mm") for q in job.file.sheet.stock) or row.thicknesses_mm
    if not held:
        raise InputError("sheet stock", "none", 'thicknesses on hand: [sheet] stock = ["6 mm", "9 mm"]')
    return held


def pile_of(sheets_mm: Sequence[float], total_mm: float) -> tuple[float, ...]:
    """Fewest sheets that add up to a height, thickest first at the back; one of that height where none do."""
    bounded("different sheets", len(set(sheets_mm)), MAX_SHEETS)
    for count in range(1, 7):
        for pile in combinations_with_replacement(sorted(set(sheets_mm), reverse=True), count):
            if abs(sum(pile) - total_mm) < 1e-6:
                return pile
    return (total_mm,)
