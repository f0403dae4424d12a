"""From a place to the part that it needs: outline, bore, fixings and threads as plain numbers, once."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import numpy as np

from backwave.assess.inputs.opening import cutout_of
from backwave.assumptions import Ledger
from backwave.finding import PRACTICE, Message
from backwave.fit.bolt_pattern import Hole, bolt_circle
from backwave.fit.types import edge_mm
from backwave.job import Job, Place, best_mm
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.part.process import Material, Printer, Zone
from backwave.shape import Outline, circle, ellipse, measured, rounded_polygon
from backwave.stock import Stock

FRAME_OVER_CUTOUT_MM, TWEETER_FRAME_OVER_CUTOUT_MM = 25.0, 8.0
FLANGE_OVER_FRAME_MM = 16.0


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


def outline_of(place: Place, frame: float, ledger: Ledger) -> Outline:
    """The flange's edge on this side."""
    flange = place.opening.flange
    if flange is None:
        reach = [hypot(f.x.to("mm"), f.y.to("mm")) + 9.0 for f in place.opening.fixings or ()]
        diameter = max([frame + FLANGE_OVER_FRAME_MM, *(2.0 * r for r in reach)])
        ledger.note(
            f"opening.{place.opening.id}.flange", Message("round, {diameter}", (("diameter", diameter, "mm"),)), "",
            f"the driver's frame and {FLANGE_OVER_FRAME_MM:g} mm, or what the fixings need; {PRACTICE}",
        )  # fmt: skip
        return circle(diameter / 2.0)
    if flange.diameter is not None:
        return circle(flange.diameter.to("mm") / 2.0)
    if flange.ellipse is not None:
        width, height = (q.to("mm") / 2.0 for q in flange.ellipse)
        return ellipse(width, height)
    if flange.corners is not None:
        rounding = flange.rounding.to("mm") if flange.rounding is not None else 0.0
        return rounded_polygon(place.points("flange", flange.corners), rounding)
    if place.trace is not None:
        return measured(place.points("flange", place.trace.outline_mm))
    assert flange.outline is not None  # the model lets exactly one through
    return measured(place.points("flange", flange.outline))


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
        name=row.name,
        density_kg_m3=row.density_kg_m3,
        hdt_degc=row.hdt_degc,
        laser_unsafe=row.fumes or "it gives off what harms" if row.laser == "never" else "",
        swells=row.wet == "swells",
        source=row.cited,
    )


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
        bed_mm=(x, y, z),
        layer_mm=layer,
        first_layer_mm=layer,
        line_mm=line,
        walls=p.walls,
        filament_mm=p.filament.to("mm"),
        flow_mm3_s=layer * line * speed,
        shrinkage=p.shrinkage.to("1") if p.shrinkage is not None else 0.0,
        hole_extra_mm=p.hole_compensation.to("mm"),
    )
