"""One driver in one opening on one side: every room called once, in the order in which the answers depend on each other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi

from backwave.assess.foamed import Foamed, back_of, foam_of
from backwave.assess.measured import Ledger, driver_of, margins_of, opening_of, stand_in_of
from backwave.assess.memo import Memo
from backwave.assess.parts import best, frame_mm, material_of, outline_of, pattern_of, printer_of, zone_of
from backwave.assess.placed import PlaceFit, PlacePart
from backwave.assess.remarks import advice_checks, mirrored_checks, pattern_checks, thickness_checks
from backwave.assess.screws import Screws, screws_of
from backwave.assess.spec import pile_of, sheet_thicknesses, spec_of
from backwave.assess.views import face_of, section_of
from backwave.finding import Check, worst
from backwave.fit import (
    Advice,
    Driver,
    Fit,
    Margins,
    Opening,
    Stack,
    StandIn,
    Tail,
    advise,
    choose_thickness,
    judge,
    layer_heights,
    sheet_sums,
)
from backwave.fit.clocking import DIRECTIONS, Clocking, KeepOff, clock, clocking_checks
from backwave.fit.gasket import BackGasket
from backwave.job import Job, Place
from backwave.job.adapter import Adapter
from backwave.job.speaker import Speaker
from backwave.part.checks import plan_checks
from backwave.part.flat import check_ring
from backwave.part.process import Material, Sheet
from backwave.part.threads import least_thickness
from backwave.part.types import AdapterSpec, RingSpec, StandInSpec
from backwave.shape import Outline, circle
from backwave.stock import Stock
from backwave.uncertain import exact
from backwave.units import Quantity, show

__all__ = ["Worked", "work_place"]

PRACTICE = "common trade practice"
CHOICE_DRAWS = 25_000  # enough to rank heights; the one taken is judged with all of them


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
    part : PlacePart or None, mm
        The part; None where it cannot be specified.
    """

    subject: str
    checks: tuple[Check, ...]
    fit: PlaceFit
    part: PlacePart | None


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
    opening, driver = opening_of(job, place, ledger), driver_of(job, speaker, ledger)
    margins, frame = margins_of(job), frame_mm(speaker, ledger)
    outline = outline_of(place, frame, ledger)
    rim = driver.rim.value if driver.rim is not None else 0.0
    screws = screws_of(stock, place, adapter, speaker, rim, ledger)
    turned = _turn(place, adapter, speaker, screws, outline, driver, memo)
    turn = turned.angle_deg if turned is not None else 0.0
    back = back_of(stock, adapter, ledger)
    groove = back.groove_mm if back is not None else 0.0
    stack = _stack(place, adapter, speaker, back, ledger)
    draft = spec_of(job, place, adapter, speaker, screws, outline, turn, 60.0, frame, groove)
    least = least_thickness(draft)
    thickness, layers, choice = _thickness(job, stock, adapter, least, opening, driver, stack, margins, turn, memo)
    stack = replace(stack, thickness=exact(f"{place.opening.id}.adapter.thickness", thickness))
    screws = screws.at(thickness, opening.skin.value if opening.skin else 0.8, stack.gasket.value)
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
    foamed = foam_of(stock, place, adapter, speaker, opening, fit, driver, frame, stack, back, ledger)
    spec = spec_of(job, place, adapter, speaker, screws, outline, turn, thickness, frame, groove)
    how = printer_of(job) if adapter.process == "print" else Sheet(layers, job.file.sheet.cutter, adapter.sealed)
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
        *thickness_checks(adapter, thickness, least),
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
        notes=(choice,) if choice else (),
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
    return Worked(place.subject, checks, placed, part)


def _turn(
    place: Place, adapter: Adapter, speaker: Speaker, screws: Screws, outline: Outline, driver: Driver, memo: Memo
) -> Clocking | None:
    holes = pattern_of(speaker, screws.thread_hole_mm)
    if not holes:
        return None
    keep = tuple(
        KeepOff(place.x("fixings", f.x.to("mm")), f.y.to("mm"), s.counterbore_mm, f"fixing {i}")
        for i, (f, s) in enumerate(zip(place.opening.fixings or (), screws.metal), 1)
    )
    toward = adapter.terminals_to
    result: Clocking = memo.call(
        clock,
        holes,
        keep,
        outline
        if outline.circle is None
        else None,  # a round edge is as near at every turn; part.ligament judges it
        required_mm=adapter.gap.to("mm"),
        terminals_deg=driver.terminals.angle_deg if driver.terminals is not None else None,
        toward_deg=toward.to("deg") if isinstance(toward, Quantity) else DIRECTIONS[toward],
        turn_deg=adapter.turn.to("deg") if isinstance(adapter.turn, Quantity) else None,
    )
    return result


def _stack(place: Place, adapter: Adapter, speaker: Speaker, back: BackGasket | None, ledger: Ledger) -> Stack:
    key = f"{place.opening.id}.adapter"
    closed = back.seat_mm if back is not None else 0.0
    gasket = best(speaker.gasket) if speaker.gasket is not None else 0.0
    if speaker.gasket is None:
        ledger.note(
            f"speaker.{speaker.id}.gasket", "0 mm", "no gasket of its own; most have 1 to 2 mm, half of it closed"
        )
    return Stack(
        thickness=exact(f"{key}.thickness", 0.0),
        gasket=exact(f"{key}.foam.closed", closed),
        recess=exact(f"{key}.recess", adapter.recess.to("mm")),
        driver_gasket=exact(f"{speaker.id}.gasket", gasket),
    )


def _thickness(
    job: Job,
    stock: Stock,
    adapter: Adapter,
    least: float,
    opening: Opening,
    driver: Driver,
    stack: Stack,
    margins: Margins,
    turn: float,
    memo: Memo,
) -> tuple[float, tuple[float, ...], str]:
    """The part's own thickness, the sheets it is made of, and a word on how it was chosen."""
    sheets = sheet_thicknesses(job, stock, adapter)
    if isinstance(adapter.thickness, Quantity):
        fixed = adapter.thickness.to("mm")
        return fixed, pile_of(sheets, fixed), ""
    reachable = (
        layer_heights(least, job.file.printer.layer.to("mm"))
        if adapter.process == "print"
        else sheet_sums(sheets, least)
    )
    if not opening.behind and opening.trim_clear is None:
        return (
            reachable[0],
            pile_of(sheets, reachable[0]),
            "Thickness: the least its threads allow; nothing else was read.",
        )
    choice = memo.call(
        choose_thickness, opening, driver, stack, reachable, margins, turn_deg=turn, draws=CHOICE_DRAWS
    )
    low, high = choice.alike_mm
    why = (
        "Thickness: the least that threads and heads leave."
        if choice.held_by == "material"
        else "Thickness: the best chance to keep all margins."
        if low == high
        else f"Thickness: any from {show(low, 'mm')} to {show(high, 'mm')} does as well."
    )
    return choice.thickness_mm, pile_of(sheets, choice.thickness_mm), why


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
