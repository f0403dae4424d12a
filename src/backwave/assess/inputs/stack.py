"""What lifts the driver off the metal and where it can end up across the axis, as readings with their doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import atan2, degrees, pi, sqrt

from backwave.assess.inputs.opening import bench_of
from backwave.assess.memo import Memo
from backwave.assess.place_result import Screws
from backwave.assumptions import Ledger
from backwave.finding import PRACTICE
from backwave.fit import Stack
from backwave.fit.bolt_pattern import Hole
from backwave.fit.flange import FlangeLift, FlangeRing, flange_lift
from backwave.fit.gasket import CLOSED_DOUBT, BackGasket
from backwave.fit.plausible import range_of
from backwave.fit.play import BoltedJoint, off_axis
from backwave.job import Job, Place
from backwave.job.place import DEFAULTS
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.shape import Outline
from backwave.stock import FoamRow, Stock
from backwave.uncertainty import Error, Reading, exact
from backwave.units import Quantity

NO_CREEP_ROW = 0.25  # of the modulus, where nobody has said how a material creeps; common trade practice


def stack_of(
    job: Job,
    place: Place,
    adapter: AdapterTable,
    speaker: SpeakerTable,
    back: BackGasket | None,
    joints: Sequence[BoltedJoint],
    ledger: Ledger,
) -> Stack:
    """The stack of a part whose thickness is not known yet; its flange lies flat."""
    key = f"{place.opening.id}.adapter"
    gasket = exact(f"{key}.foam.closed", 0.0)
    if back is not None and back.seat_mm > 0.0:
        gasket = _within(gasket.name, back.seat_mm, back.doubt_mm)
    across, up = off_axis(key, joints)
    return Stack(
        thickness=thickness_at(job, place, adapter, 0.0),
        gasket=gasket,
        recess=exact(f"{key}.recess", adapter.recess.to("mm")),
        driver_gasket=_driver_gasket(job, speaker, ledger),
        off_x=across,
        off_y=up,
    )


def thickness_at(job: Job, place: Place, adapter: AdapterTable, thickness_mm: float, sheets: int = 1) -> Reading:
    """The part's thickness as it comes off the printer or out of the glue: what it may be out by, and whole layers."""
    name, errors = f"{place.opening.id}.adapter.thickness", []
    given = adapter.thickness if isinstance(adapter.thickness, Quantity) else None
    if given is not None and (half := given.half_to("mm")) is not None:
        errors.append(Error(f"{name}: measured", "rectangular", half))
    elif adapter.process == "print":
        errors.append(Error(f"{name}: printed", "rectangular", job.file.printer.accuracy.to("mm")))
        layer = job.file.printer.layer.to("mm")
        left = abs(thickness_mm - round(thickness_mm / layer) * layer)
        if left > 1e-6:
            errors.append(Error(f"{name}: whole layers", "rectangular", left))
    else:
        half = job.file.sheet.accuracy.to("mm") * sqrt(max(sheets, 1))
        errors.append(Error(f"{name}: sheet", "rectangular", half))
    return Reading(name, thickness_mm, tuple(e for e in errors if e.size > 0.0))


def joints_of(
    stock: Stock, place: Place, adapter: AdapterTable, screws: Screws, holes: Sequence[Hole]
) -> tuple[BoltedJoint, ...]:
    """What is bolted to what between the metal and the driver, with its play."""
    found = []
    plays = [m.round_mm - stock.clearance_hole(m.row.screw).d_mm for m in screws.metal if m.row.screw]
    if plays:
        play = min(plays)  # the tightest bolt holds all of the part
        if adapter.spigot is not None:
            play = min(play, 2.0 * adapter.spigot.gap.to("mm"))
        halves = [
            max(half if (half := q.half_to("mm")) is not None else DEFAULTS["metal"][0] for q in (f.x, f.y))
            for f in place.opening.fixings or ()
        ]
        found.append(BoltedJoint("part on the metal", max(play, 0.0), max(halves), len(halves)))
    bored = [hole.diameter_mm for hole in holes if hole.diameter_mm > 0.0]
    if bored:
        found.append(
            BoltedJoint("driver on the part", max(min(bored) - stock.clearance_hole(screws.threads.size).d_mm, 0.0))
        )
    return tuple(found)


def lift_at(
    stock: Stock,
    place: Place,
    adapter: AdapterTable,
    back: BackGasket | None,
    screws: Screws,
    outline: Outline,
    bore_mm: float,
    thickness_mm: float,
    memo: Memo,
) -> FlangeLift | None:
    """How far the gasket lifts the flange at a thickness; None without a gasket or a fixing that holds."""
    outer = sqrt(outline.area_mm2 / pi)
    held = tuple(round(degrees(atan2(m.y_mm, m.x_mm)) % 360.0, 3) for m in screws.metal if m.hole_mm > 0.0)
    if back is None or not held or outer <= bore_mm or thickness_mm <= 0.0:
        return None
    material, creep, zone = (
        stock.material(adapter.material),
        stock.creep(adapter.material),
        stock.zone(place.opening.zone),
    )
    hot = material.e_pa * NO_CREEP_ROW if creep is None else min(creep.modulus_pa(zone.hot_degc), material.e_pa)
    source = f"a quarter of its modulus; {PRACTICE}" if creep is None else creep.cited
    ring = FlangeRing((outer + bore_mm) / 2.0, outer - bore_mm, thickness_mm, held)
    foams = list(stock.of(FoamRow))
    lift: FlangeLift | None = memo.call(flange_lift, ring, back, foams, material.e_pa, hot, zone.hot_degc, source)
    return lift


def lifted(stack: Stack, lift: FlangeLift | None) -> Stack:
    """The stack with what the flange's mean lift adds to it, and its doubt."""
    if lift is None or lift.hot.mean_mm <= 0.0:
        return stack
    low, high = lift.mean_mm
    name = stack.thickness.name.replace("thickness", "flange lift")
    return replace(stack, lift=_within(name, (low + high) / 2.0, (high - low) / 2.0))


def _within(name: str, value_mm: float, half_mm: float) -> Reading:
    return Reading(name, value_mm, (Error(name, "rectangular", half_mm),) if half_mm > 0.0 else ())


def _driver_gasket(job: Job, speaker: SpeakerTable, ledger: Ledger) -> Reading:
    name, written = f"{speaker.id}.gasket", speaker.gasket
    if written is None:
        why = "no gasket of its own; most have 1 to 2 mm, half of it closed"
        ledger.note(f"speaker.{speaker.id}.gasket", 0.0, "mm", why)
        return bench_of(job, speaker.id).assumed("gasket", 0.0, 0.0, range_of("gasket"))
    if isinstance(written, Quantity) and written.half is None and written.u is None:
        return _within(name, written.to("mm"), CLOSED_DOUBT * written.to("mm"))  # it gives about what is left of it
    return bench_of(job, speaker.id).read("gasket", written, "sheet", speaker.by)
