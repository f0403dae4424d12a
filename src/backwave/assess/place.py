"""One driver in one opening on one side: every room called once, in the order in which the answers depend on each other."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from backwave.assess.inputs.adapter import best, material_of, pattern_of, printer_of, zone_of
from backwave.assess.inputs.foam import Foamed
from backwave.assess.inputs.opening import stand_in_of
from backwave.assess.memo import Memo
from backwave.assess.place_findings import advice_checks, mirrored_checks, pattern_checks, thickness_checks
from backwave.assess.placed import PlaceFit, PlacePart
from backwave.assess.size import Sized, size_place
from backwave.assess.views import face_of, section_of
from backwave.assumptions import Ledger
from backwave.finding import Check, worst
from backwave.fit import Advice, Driver, Fit, Margins, Opening, Stack, StandIn, Tail, advise, judge
from backwave.fit.clocking import clocking_checks
from backwave.job import Job, Place
from backwave.job.adapter import Adapter
from backwave.job.speaker import Speaker
from backwave.part.checks import plan_checks
from backwave.part.flat_patterns import check_ring
from backwave.part.process import Material, Sheet
from backwave.part.types import AdapterSpec, RingSpec, StandInSpec
from backwave.shape import circle
from backwave.stock import Stock
from backwave.units import show

__all__ = ["Worked", "work_place"]

PRACTICE = "common trade practice"


@dataclass(frozen=True)
class Worked:
    """What one place came to.

    Parameters
    ----------
    subject : str, no unit
        The opening and its side.
    checks : tuple of Check, no unit
        Everything found.
    fit : PlaceFit, mm
        The fit.
    part : PlacePart, mm
        The part.
    sized : Sized, mm
        The sizes all of it stands on.
    """

    subject: str
    checks: tuple[Check, ...]
    fit: PlaceFit
    part: PlacePart
    sized: Sized


def work_place(
    job: Job,
    stock: Stock,
    place: Place,
    adapter: Adapter,
    speaker: Speaker,
    ledger: Ledger,
    memo: Memo,
    draws: int,
) -> Worked:
    """Work one place out.

    Parameters
    ----------
    job : Job, no unit
        The job.
    stock : Stock, no unit
        The tables, with the job's own rows.
    place : Place, no unit
        The opening on one side.
    adapter : Adapter, no unit
        The part's table.
    speaker : Speaker, no unit
        The driver's table.
    ledger : Ledger, no unit
        Takes what was assumed.
    memo : Memo, no unit
        Where results are kept.
    draws : int, no unit
        Monte Carlo draws.
    """
    sized = size_place(job, stock, place, adapter, speaker, ledger, memo)
    opening, driver, margins, frame = sized.opening, sized.driver, sized.margins, sized.frame_mm
    screws, turned, turn, stack = sized.screws, sized.turned, sized.turn_deg, sized.stack
    foamed, spec, thickness = sized.foamed, sized.spec, sized.thickness_mm
    seat = place.opening.seat
    stand_in = stand_in_of(place)
    fit, advice = memo.call(
        _judged,
        opening,
        driver,
        stack,
        margins,
        screws.tails(place),
        stand_in,
        (seat.tilt.to("deg"), seat.offset.to("mm")) if seat else (0.0, 0.0),
        turn,
        draws,
    )
    how = (
        printer_of(job)
        if adapter.process == "print"
        else Sheet(sized.layers_mm, job.file.sheet.cutter, adapter.sealed)
    )
    material, zone = material_of(stock, adapter), zone_of(stock, place)
    fit_checks = [
        *fit.checks,
        *advice_checks(advice),
        *mirrored_checks(place, fit, stand_in),
    ]
    hole_checks = list(clocking_checks(turned)) if turned is not None else pattern_checks(speaker)
    part_checks = [
        *screws.checks(spec, driver.profile[-1][1].value, _mass_kg(spec, material)),
        *memo.call(plan_checks, spec, material, how, zone),
        *thickness_checks(adapter, thickness, sized.least_mm),
    ]
    checks = (*fit_checks, *hole_checks, *foamed.checks, *part_checks)
    part_id = adapter.id or f"{adapter.opening}-{adapter.speaker}"
    words = speaker.name or speaker.id
    label = f"{show(thickness, 'mm')} {adapter.material} adapter"
    section = section_of(
        f"{place.name}: section",
        f"{words} on a {label}",
        opening,
        driver,
        fit,
        worst([c.verdict for c in fit_checks]),
        spec,
        frame_radius_mm=frame / 2.0,
        land_mm=foamed.land_mm,
        ring=foamed.drawn,
        back_closed_mm=stack.gasket.value,
        driver_gasket_mm=stack.driver_gasket.value,
        turn_deg=turn,
        tails=screws.tails(place),
        label=label,
        note=_note(fit),
        notes=(sized.choice,) if sized.choice else (),
    )
    face = face_of(
        f"{place.name}: face",
        f"{words}, {_pattern_words(speaker)}",
        place.side,
        opening,
        driver,
        spec,
        turned,
        pattern_of(speaker),
        worst([c.verdict for c in hole_checks]),
        frame_radius_mm=frame / 2.0,
        fixing_labels=[f.holds for f in place.opening.fixings or ()],
        foam_mm=foamed.radii_mm,
    )
    placed = PlaceFit(
        place.opening.id, place.side, place.subject, speaker.id, fit, turned, foamed.ring, section, face
    )
    part = PlacePart(
        id=part_id + (f"-{place.side}" if place.side else ""),
        side=place.side,
        subject=place.subject,
        spec=spec,
        material=material,
        how=how,
        zone=zone,
        ring=_ring(foamed),
        stand_in=_gauge(place, driver, fit, margins, frame, turn),
        check_ring=check_ring(spec),
        label=place.name,
    )
    return Worked(place.subject, checks, placed, part, sized)


def _judged(
    opening: Opening,
    driver: Driver,
    stack: Stack,
    margins: Margins,
    tails: tuple[Tail, ...],
    stand_in: StandIn | None,
    lean: tuple[float, float],
    turn: float,
    draws: int,
) -> tuple[Fit, Advice | None]:
    """The fit and the advice that follows from it, kept together: both follow from the same numbers."""
    tilt, offset = lean
    fit = judge(
        opening,
        driver,
        stack,
        margins,
        turn_deg=turn,
        tails=tails,
        stand_in=stand_in,
        tilt_deg=tilt,
        offset_mm=offset,
        draws=draws,
    )
    if not fit.clearances or all(c.verdict == "ok" for c in fit.clearances):
        return fit, None  # where only a second reading is lacking, fit.read-once says so already
    return fit, advise(fit, opening, driver, stack, margins, turn_deg=turn)


def _note(fit: Fit) -> str:
    once = next((c for c in fit.checks if c.code == "fit.read-once" and c.verdict != "ok"), None)
    return "the tightest place was read once" if once else ""


def _pattern_words(speaker: Speaker) -> str:
    holes = speaker.holes
    if holes is None:
        return "holes not measured"
    if holes.count is not None and holes.circle is not None:
        return f"{holes.count} holes on a {holes.circle.text} circle"
    return f"{len(holes.at or ()) + len(holes.slots)} holes"


def _ring(foamed: Foamed) -> RingSpec | None:
    ring = foamed.ring
    if ring is None or ring.free_mm <= 0.0:
        return None
    return RingSpec(circle(ring.outer_mm / 2.0), circle(ring.inner_mm / 2.0), ring.free_mm, name="foam ring")


def _gauge(
    place: Place, driver: Driver, fit: Fit, margins: Margins, frame: float, turn: float
) -> StandInSpec | None:
    hole = place.opening.hole
    if hole is None or hole.diameter is None:
        return None
    held = driver.terminals
    block = None
    if held is not None and held.angle_deg is not None:
        block = ((held.angle_deg + turn) % 360.0, held.width.value, held.radius.value, held.depth.value)
    profile = tuple((r.value, d.value) for r, d in driver.profile)
    if profile[-1][1] <= fit.seat_height_mm:
        return None
    return StandInSpec(
        profile_mm=profile,
        seat_height_mm=fit.seat_height_mm,
        rim_mm=frame / 2.0,
        hole_mm=best(hole.diameter) / 2.0,
        margin_mm=margins.metal_mm,
        terminals_mm=block,
        name=place.name,
    )


def _mass_kg(spec: AdapterSpec, material: Material) -> float:
    """Mass of the part from its plan, near enough for a load: the flange less the bore."""
    area = spec.outline.area_mm2 - pi * spec.bore_mm**2
    return area * spec.thickness_mm * 1e-9 * material.density_kg_m3
