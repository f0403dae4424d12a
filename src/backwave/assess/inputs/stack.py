"""What stands between the metal and the driver, and what is soft in it: gaskets, thickness, play, lift, the foam ring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot, pi, sqrt

from backwave.assess.inputs.opening import bench_of, cutout_of
from backwave.assess.inputs.screws import hot_modulus
from backwave.assess.memo import Memo
from backwave.assess.place_result import FoamResult, Screws
from backwave.finding import PRACTICE, Ledger, Message, check_of
from backwave.fit import DriverShape, Opening, Stack
from backwave.fit.bolt_pattern import IN_METAL, BoltedJoint, Hole, off_axis
from backwave.fit.foam import RingRoom, RingWish, choose_ring, total_height
from backwave.fit.gasket import (
    CLOSED_DOUBT,
    BackGasket,
    FlangeLift,
    FlangeRing,
    back_gasket,
    flange_lift,
    gasket_plan,
    held_deg,
)
from backwave.fit.plausible import range_of
from backwave.job import Job, Place, best_mm
from backwave.job.place import DEFAULTS
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.shape import Outline
from backwave.stock import FoamRow, Stock
from backwave.uncertainty import Error, Reading, exact
from backwave.units import Quantity, in_unit


def stack_of(
    job: Job, place: Place, adapter: AdapterTable, speaker: SpeakerTable, back: BackGasket | None,
    joints: Sequence[BoltedJoint], ledger: Ledger,
) -> Stack:  # fmt: skip
    """The stack of a part whose thickness is not known yet; its flange lies flat."""
    key = f"{place.opening.id}.adapter"
    gasket = exact(f"{key}.foam.closed", 0.0)
    if back is not None and back.seat_mm > 0.0:
        gasket = _within(gasket.name, back.seat_mm, back.doubt_mm)
    across, up = off_axis(key, joints)
    return Stack(
        thickness=thickness_at(job, place, adapter, 0.0), gasket=gasket,
        recess=exact(f"{key}.recess", adapter.recess.to("mm")), driver_gasket=_driver_gasket(job, speaker, ledger),
        off_x=across, off_y=up,
    )  # fmt: skip


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
    plays = []
    for m in (m for m in screws.metal if m.row.screw):
        bolt = stock.clearance_hole(m.row.screw).d_mm
        plays.append((m.round_mm - bolt, max(m.read_mm - bolt, 0.0) if m.row.holds == "bolt" else 0.0))
    if plays:
        play, in_metal = min(plays, key=sum)  # the tightest bolt holds all of the part
        if adapter.spigot is not None and 2.0 * adapter.spigot.gap.to("mm") < play + in_metal:
            play, in_metal = 2.0 * adapter.spigot.gap.to("mm"), 0.0
        halves = [
            max(
                q.half_to("mm") or 2.0 * (q.u_to("mm") or 0.0) or DEFAULTS["metal"][0]
                for q in (f.x, f.y)
                if q is not None
            )
            for f in place.opening.fixings or ()
        ]
        found.append(BoltedJoint("part on the metal", max(play, 0.0), max(halves), len(halves)))
        if in_metal > 0.0:
            found.append(BoltedJoint(IN_METAL, in_metal))
    bored = [hole.diameter_mm for hole in holes if hole.diameter_mm > 0.0]
    if bored:
        found.append(
            BoltedJoint("driver on the part", max(min(bored) - stock.clearance_hole(screws.threads.size).d_mm, 0.0))
        )
    return tuple(found)


def lift_at(
    stock: Stock, place: Place, adapter: AdapterTable, back: BackGasket | None, screws: Screws, outline: Outline,
    bore_mm: float, thickness_mm: float, memo: Memo,
) -> FlangeLift | None:  # fmt: skip
    """How far the gasket lifts the flange at a thickness; None without a gasket or a fixing that holds."""
    outer = sqrt(outline.area_mm2 / pi)
    held = held_deg([(m.x_mm, m.y_mm) for m in screws.metal if m.hole_mm > 0.0])
    if back is None or not held or outer <= bore_mm or thickness_mm <= 0.0:
        return None
    hot_degc = stock.zone(place.opening.zone).hot_degc
    hot, source = hot_modulus(stock, adapter.material, hot_degc)
    ring = FlangeRing((outer + bore_mm) / 2.0, outer - bore_mm, thickness_mm, held)
    foams = list(stock.of(FoamRow))
    cold = stock.material(adapter.material).e_pa
    lift: FlangeLift | None = memo.call(flange_lift, ring, back, foams, cold, hot, hot_degc, source)
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


BACK_WIDTH_MM = 8.0


def soft_to_firm(stock: Stock) -> list[str]:
    """The grades of foam; the softest lifts the flange least and its fixings bear least: the usual where none is told."""
    return [row.name for row in sorted(stock.of(FoamRow), key=lambda row: row.high_pa)]


def back_of(
    stock: Stock, adapter: AdapterTable, outline: Outline, hole_mm: float | None, ledger: Ledger
) -> BackGasket | None:
    """The gasket behind the adapter, on its flange and outside the hole in the metal; None for none."""
    foam = adapter.foam
    free = foam.back.to("mm")
    if free <= 0.0:
        return None
    grade = foam.back_grade or soft_to_firm(stock)[0]
    if foam.back_grade is None:
        ledger.note("adapter.foam.back_grade", grade, "", "the softest lifts the flange least; " + PRACTICE)
    closed = foam.closed.to("mm") if foam.closed is not None and foam.closed.value > 0.0 else None
    width = foam.back_width.to("mm") if foam.back_width is not None else free if foam.grooved else BACK_WIDTH_MM
    if foam.back_width is None and not foam.grooved:
        why = "a strip lifts the flange less than a full face; " + PRACTICE
        ledger.note("adapter.foam.back_width", width, "mm", why, 1)
    plan = gasket_plan(outline.area_mm2, hole_mm, width) if hole_mm is not None else None
    if plan is not None and foam.back_width is not None and plan.width_mm < width - 0.05:
        ledger.note("adapter.foam.back_width", plan.width_mm, "mm", "no room for the width entered", 1)
    half = foam.closed.half_to("mm") if foam.closed is not None else None
    gasket = back_gasket(stock.foam(grade), free, closed, bool(foam.grooved), plan, half)
    if closed is None:
        what = "depth of its groove" if foam.grooved else "half of `back`"
        ledger.note("adapter.foam.closed", gasket.closed_mm, "mm", f"{what}; {PRACTICE}", 1)
    return gasket


def foam_of(
    stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, opening: Opening, seat_mm: float,
    driver: DriverShape, frame: float, stack: Stack, back: BackGasket | None, screws: Screws,
    holes_mm: Sequence[tuple[float, float]], edge_mm: float, ledger: Ledger,
) -> FoamResult:  # fmt: skip
    """The foam of one place. `holes_mm`: the driver's holes as turned: its screws' heads stand there."""
    checks = [back.check] if back is not None else []
    trim, foam = place.opening.trim, adapter.foam
    land = best_mm(trim.land) if trim is not None and trim.land is not None else None
    if land is None and opening.trim_clear is not None:
        land = opening.trim_clear.value
        ledger.note(f"opening.{place.opening.id}.trim.land", land, "mm", "the back of the grille", 1)
    # a tweeter sits behind its own grille: it gets a ring only where one is asked for
    if foam.ring == "none" or (foam.ring == "auto" and speaker.kind == "tweeter") or land is None:
        return FoamResult(None, back, land, tuple(checks))
    rim = driver.rim.value if driver.rim is not None else 0.0
    flat = (0.0, float("inf"))  # inner and outer diameter of the trim's flat
    if trim is not None:
        flat = (trim.inner.to("mm") if trim.inner else 0.0, trim.outer.to("mm") if trim.outer else float("inf"))
    base = stack.gasket.value + stack.thickness.value
    heads = tuple((x, y, screws.over_rim_mm) for x, y in holes_mm)
    on_rim = RingRoom(seat_mm + rim, land, max(best_mm(cutout_of(speaker)), flat[0]), min(frame, flat[1]), heads)
    on_part = RingRoom(base, land, max(frame + 1.0, flat[0]), min(2.0 * edge_mm, flat[1]))
    room, collar = on_rim, on_part
    if adapter.collar is not None:
        outer = frame + 1.0 + 2.0 * adapter.collar.width.to("mm")
        room = replace(on_part, from_mm=base + adapter.collar.height.to("mm"), outer_mm=min(outer, flat[1]))
    beyond = max((hypot(m.x_mm, m.y_mm) + m.counterbore_mm / 2.0 for m in screws.metal), default=0.0)
    free_of_heads = beyond <= on_part.inner_mm / 2.0
    offered = collar if adapter.collar is None and free_of_heads and collar.outer_mm - collar.inner_mm >= 12.0 else None
    if room.inner_mm >= room.outer_mm:
        said = "No flat for a foam ring: rim and trim share nothing between {inner} and {outer}"
        remedy = "Leave the ring out (ring = none), or measure the trim's flat again"
        if offered is not None:
            remedy = "Stand the ring on a collar of the part: collar = {{ height, width }}"
        numbers = (("inner", room.inner_mm, "mm"), ("outer", room.outer_mm, "mm"))
        check = check_of("fit.foam-ring", "caution", said, remedy, numbers, sources=(), key="adapter.collar")
        return FoamResult(None, back, land, (*checks, check))
    grade = stock.foam(foam.grade)
    softer = [r for r in stock.of(FoamRow) if r.high_pa < grade.high_pa]
    wish = RingWish(
        grade, stock.foam_thicknesses_mm(), foam.compression.to("1"),
        foam.ring.to("mm") if isinstance(foam.ring, Quantity) else None, in_unit(foam.width, "mm"),
        tuple(sorted(softer, key=lambda r: -r.high_pa)), 0.0 if opening.trim_clear is None else opening.trim_clear.bound,
    )  # fmt: skip
    ring = choose_ring(room, wish, offered)
    unread = trim is not None and trim.land is not None and trim.inner is None and trim.grille is None
    if unread and ring.check.verdict == "stop":  # the flat may begin beyond all that it stands on
        ask = Message(
            "Measure the flat's inner diameter (trim: inner = ...): whether it lies over the ring is not known"
        )
        ring = replace(
            ring, check=replace(ring.check, verdict="caution", remedy=ask, key="trim.inner", waits=("fit.flat.inner",))
        )
    checks.append(ring.check)
    factory = place.opening.factory
    if factory is not None and factory.height is not None and ring.free_mm > 0.0:
        checks.append(total_height(room.from_mm, ring.free_mm, factory.height.to("mm")))
    return FoamResult(ring, back, land, tuple(checks))
