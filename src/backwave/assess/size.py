"""The sizes of one driver in one opening, at one choice of what can be chosen: what the sound needs, nothing judged.

`premises_of` reads what stands whatever is chosen; `choice_at` fills in turn and thickness for the kinds of thread and
gasket it is given; `dimensions_at` follows from the two.  Which kinds to take is `choosing`'s to find."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from backwave.assess.inputs.adapter import (
    NOTCH_DEPTH_MM,
    NOTCH_WIDTH_MM,
    Cuts,
    bore_mm,
    cut_for,
    cuts_of,
    frame_mm,
    pattern_of,
    pile_of,
    sheet_thicknesses,
    spec_of,
)
from backwave.assess.inputs.mounting import lip_of, lip_relief, trim_checks
from backwave.assess.inputs.opening import driver_of, margins_of, opening_of, outline_of
from backwave.assess.inputs.screws import HEAD, screws_at, screws_of, supported
from backwave.assess.inputs.stack import (
    BACK_WIDTH_MM,
    back_of,
    foam_of,
    joints_of,
    lift_at,
    lifted,
    soft_to_firm,
    stack_of,
    thickness_at,
)
from backwave.assess.memo import Memo
from backwave.assess.place_result import Dimensions, FoamResult, Screws
from backwave.finding import Ledger, Message
from backwave.fit import (
    DriverShape,
    Margins,
    Opening,
    Stack,
    choose_thickness,
    layer_heights,
    seat_height_mm,
    sheet_sums,
)
from backwave.fit.bolt_pattern import Bar, BoltedJoint, Hole, KeepOff
from backwave.fit.clocking import DIRECTIONS, Clocking, at_turn, clock
from backwave.fit.coverage import between_readings
from backwave.fit.gasket import NARROW_MM, BackGasket, FlangeLift
from backwave.fit.types import Choice, GasketKind, PlaceChoice
from backwave.job import Job, Place, best_mm
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.part.checks import FLOOR, least_thickness
from backwave.shape import Outline
from backwave.stock import LapRow, Stock
from backwave.units import Quantity, parse

LIFT_MATTERS_MM = 0.05
LEAST_WALL_MM = 1.2  # round a notch; common trade practice
FIRMER = 2  # grades of foam next to the softest that are tried for the back gasket
MOST_HEIGHTS = 12  # looked at for ring and screws
CHOICE_DRAWS = 25_000  # enough to rank heights; the one taken is judged with all of them


@dataclass(frozen=True, eq=False)
class Premises:
    """What stands for a place whatever is chosen for it."""

    job: Job
    stock: Stock
    place: Place
    adapter: AdapterTable  # as the person wrote it
    speaker: SpeakerTable
    opening: Opening
    driver: DriverShape
    margins: Margins
    frame_mm: float  # diameter of the driver's frame
    outline: Outline  # the flange's edge
    holes: tuple[Hole, ...]  # the driver's, not turned


@dataclass(frozen=True, eq=False)
class _Formed:
    """What follows from the kinds of thread and gasket, before turn and thickness are known."""

    adapter: AdapterTable  # with the choice written into it
    screws: Screws
    back: BackGasket | None
    joints: tuple[BoltedJoint, ...]  # what is bolted to what
    stack: Stack  # of thickness 0, its flange flat


def premises_of(
    job: Job, stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, ledger: Ledger
) -> Premises:
    """Everything that is read or assumed of a place and its driver."""
    opening, driver = opening_of(job, place, ledger), driver_of(job, speaker, ledger)
    frame = frame_mm(speaker, ledger)
    outline = outline_of(place, frame, ledger)
    return Premises(
        job, stock, place, adapter, speaker, opening, driver, margins_of(job), frame, outline, pattern_of(speaker)
    )


def choice_at(
    premises: Premises, memo: Memo, threads: str | None = None, gasket: GasketKind | None = None,
    turn_deg: float | None = None, thickness_mm: float | None = None,
) -> tuple[PlaceChoice, Message | None]:  # fmt: skip
    """A whole choice for the kinds, the turn and the thickness that are given, and how the latter was found. What the
    person fixed stays as it is; of what is not given the usual is taken: an insert, a flat gasket, the turn that leaves
    most room."""
    adapter, at = premises.adapter, premises.driver.terminals
    laid = gasket or GasketKind(bool(adapter.foam.grooved))
    choice = PlaceChoice(threads or thread_kinds(premises)[0], laid, turn_deg, 0.0)
    formed = _formed(premises, choice, Ledger())
    clocking = _clocking(premises, formed, memo, turn_deg)
    turn = clocking.angle_deg if clocking is not None else 0.0
    notch = None
    if isinstance(adapter.notch, Quantity):
        notch = adapter.notch.to("deg")
        notch = (180.0 - notch) % 360.0 if premises.place.mirrored else notch
    elif adapter.notch is not None and at is not None and at.angle_deg is not None:
        notch = (at.angle_deg + _notch_off_deg(premises, formed.screws) + turn) % 360.0
    cuts = _cuts(premises, formed, turn)
    choice = replace(choice, turn_deg=None if clocking is None else turn, notch_deg=notch)
    if thickness_mm is not None and not isinstance(adapter.thickness, Quantity):
        return replace(choice, thickness_mm=max(thickness_mm, _least_mm(cuts))), None
    thickness, why = _thickness(premises, formed, cuts, choice, memo)
    return replace(choice, thickness_mm=thickness), why


def thread_kinds(premises: Premises) -> tuple[str, ...]:
    """Kinds of thread at hand, the usual first; one where the person fixed it. The size is the largest up to M5 whose
    screw goes through the driver's holes and whose head covers them."""
    p = premises
    if p.adapter.threads != "auto":
        return (p.adapter.threads,)
    across = min((hole.diameter_mm for hole in p.holes), default=0.0)

    def suits(size: str) -> bool:
        return (
            p.stock.clearance_hole(size).fine_mm <= across + 1e-6 and p.stock.screw(size, HEAD).head_mm > across + 1.0
        )

    size = next((size for size in ("M4", "M5", "M3", "M6") if suits(size)), "M4")
    taps = (f"ST{d}" for d in (4.8, 4.2, 3.9, 3.5, 2.9))
    tap = next((tap for tap in taps if p.stock.clearance_hole(tap).fine_mm <= across + 1e-6), "ST4.2")
    rows = {str(row.name) for row in p.stock.rows("insert")}
    inserts = [f"insert {name}" for name in (size, f"{size} short") if name in rows]
    return (*inserts, f"nut {size}", f"screw {tap}")


def gasket_kinds(premises: Premises) -> tuple[GasketKind, ...]:
    """How the back gasket may be laid, the usual first: flat, of the usual width and the softest foam; in a groove; flat
    and narrower; of firmer foam, which lifts the flange more and pulls more."""
    p, foam = premises, premises.adapter.foam
    usual = GasketKind(bool(foam.grooved))
    if foam.back.value <= 0.0 or foam.grooved:
        return (usual,)
    free = foam.grooved is None and foam.closed is None and p.adapter.process == "print"
    narrow = () if foam.back_width is not None else tuple(w for w in NARROW_MM if w < BACK_WIDTH_MM)
    grades = () if foam.back_grade is not None else soft_to_firm(p.stock)[1 : 1 + FIRMER]
    return (
        usual, *((GasketKind(True),) if free else ()), *(GasketKind(False, width) for width in narrow),
        *(GasketKind(False, grade=grade) for grade in grades),
    )  # fmt: skip


def dimensions_at(
    premises: Premises, choice: PlaceChoice, ledger: Ledger, memo: Memo, why: Message | None = None
) -> Dimensions:
    """The sizes that follow from one choice."""
    p, formed = premises, _formed(premises, choice, ledger)
    adapter, opening = formed.adapter, p.opening
    assert opening.skin is not None  # measured or a noted default
    clocking = _clocking(p, formed, memo, choice.turn_deg)
    cuts = _cuts(p, formed, clocking.angle_deg if clocking is not None else 0.0)
    thickness = choice.thickness_mm
    layers = pile_of(sheet_thicknesses(p.job, p.stock, adapter), thickness)
    stack, lift = _stack_at(p, formed, cuts.bore_mm, thickness, len(layers), memo)
    screws = screws_at(
        p.stock, formed.screws, thickness, cuts.recess_mm, opening.skin.value, stack.gasket.value, _floor_mm(cuts)
    )
    foam = _foam(p, formed, stack, screws, cuts, ledger)
    sized = _sized(p, formed, cuts, choice, stack, screws, foam)
    return replace(sized, clocking=clocking, layers_mm=layers, choice=why, lift=lift)


def _sized(
    premises: Premises, formed: _Formed, cuts: Cuts, choice: PlaceChoice, stack: Stack, screws: Screws, foam: FoamResult
) -> Dimensions:
    """The sizes at a thickness, without turn, layers and lift."""
    p = premises
    spec = spec_of(
        p.job, p.place, formed.adapter, cut_for(cuts, screws), p.outline, choice.thickness_mm, p.frame_mm,
        p.opening.hole_radius_mm, choice.notch_deg,
    )  # fmt: skip
    spec = replace(spec, lip=lip_relief(p.job, p.stock, p.place, p.opening, stack.gasket))
    return Dimensions(
        p.opening, p.driver, p.margins, p.frame_mm, p.holes, screws, None, stack, _least_mm(cuts), (), choice, None, foam,
        spec, None, formed.joints,
    )  # fmt: skip


def _formed(premises: Premises, choice: PlaceChoice, ledger: Ledger) -> _Formed:
    p, adapter = premises, _written(choice, premises.adapter)
    back = back_of(p.stock, adapter, p.outline, _reach_mm(p), ledger)
    closed = back.seat_mm if back is not None else 0.0
    screws = screws_of(p.stock, p.place, adapter, p.speaker, p.driver.rim, p.frame_mm, p.holes, closed, ledger)
    screws = supported(
        p.stock, screws, adapter, p.stock.zone(p.place.opening.zone).hot_degc, back, p.outline,
        bore_mm(adapter, p.speaker), p.driver.profile[-1][1].value,
    )  # fmt: skip
    joints = joints_of(p.stock, p.place, adapter, screws, p.holes)
    return _Formed(adapter, screws, back, joints, stack_of(p.job, p.place, adapter, p.speaker, back, joints, ledger))


def _stack_at(
    premises: Premises, formed: _Formed, bore_mm: float, thickness_mm: float, sheets: int, memo: Memo
) -> tuple[Stack, FlangeLift | None]:
    """The stack at a thickness, with what the gasket lifts the flange by."""
    p = premises
    lift = lift_at(p.stock, p.place, formed.adapter, formed.back, formed.screws, p.outline, bore_mm, thickness_mm, memo)
    thickness = thickness_at(p.job, p.place, formed.adapter, thickness_mm, sheets)
    return lifted(replace(formed.stack, thickness=thickness), lift), lift


def _written(choice: PlaceChoice, adapter: AdapterTable) -> AdapterTable:
    """The part's table as it would read if a person had written these kinds of thread and gasket."""
    foam, width, grade = adapter.foam, choice.gasket.width_mm, choice.gasket.grade
    if adapter.threads == choice.threads and foam.grooved == choice.grooved and width is None and grade is None:
        return adapter
    if foam.grooved != choice.grooved:
        foam = foam.model_copy(update={"grooved": choice.grooved})
    if width is not None:
        foam = foam.model_copy(update={"back_width": parse(f"{width:g} mm", "length")})
    if grade is not None:
        foam = foam.model_copy(update={"back_grade": grade})
    return adapter.model_copy(update={"threads": choice.threads, "foam": foam})


def _reach_mm(premises: Premises) -> float | None:
    """How far out the hole in the metal goes: the back gasket lies outside of it, and outside a lip round it."""
    reach, lip = premises.opening.hole_reach_mm, premises.place.opening.lip
    if reach is None or lip is None:
        return reach
    read, play = lip_of(premises.job, premises.place), _lap_mm(premises.stock, "play over a lip")
    return reach + best_mm(lip.width) + play + (read.width.bound if read is not None else 0.0)


def _lap_mm(stock: Stock, name: str) -> float:
    return next(row.lap_mm for row in stock.of(LapRow) if row.name == name)


def _cuts(premises: Premises, formed: _Formed, turn_deg: float) -> Cuts:
    groove = formed.back.groove_mm if formed.back is not None else 0.0
    p = premises
    cuts = cuts_of(formed.adapter, p.speaker, formed.screws, p.holes, p.outline, turn_deg, _reach_mm(p), groove)
    lip = lip_relief(p.job, p.stock, p.place, p.opening, formed.stack.gasket)
    if lip is None:
        return cuts
    # A blind hole beside the relief ends over it, or the relief takes its wall.
    under = any(
        t.depth_mm > 0.0 and lip.outline.inside_mm(t.x_mm, t.y_mm) > -(t.hole_mm / 2.0 + t.wall_mm)
        for t in cuts.threads
    )
    return replace(
        cuts,
        over_lip_mm=lip.depth_mm + _lap_mm(p.stock, "part over a lip"),
        under_mm=max(cuts.under_mm, lip.depth_mm) if under else cuts.under_mm,
    )


def _least_mm(cuts: Cuts) -> float:
    least = least_thickness(cuts.recess_mm, cuts.threads, cuts.fixings, cuts.grooves, cuts.under_mm)
    return max(least, cuts.recess_mm + cuts.over_lip_mm)


def _floor_mm(cuts: Cuts) -> float:
    """What is left under a blind hole."""
    return FLOOR + max(cuts.under_mm, *(g.depth_mm for g in cuts.grooves if g.face == "back"), 0.0)


def _toward_deg(place: Place, toward: Quantity | str) -> float:
    """Where the terminals should end up; a direction that was given as one is mirrored on the second side."""
    degrees = toward.to("deg") if isinstance(toward, Quantity) else DIRECTIONS[toward]
    return (180.0 - degrees) % 360.0 if place.mirrored and isinstance(toward, Quantity) else degrees


def _clocking(premises: Premises, formed: _Formed, memo: Memo, turn_deg: float | None = None) -> Clocking | None:
    """The turn that is given; without one what the person fixed, or else the best. Holes stay within a flange that is
    not round where some turn can do it; where none can, they get bosses, and the edge limits nothing (a round edge is
    as near at every turn, and is judged with the part)."""
    p, adapter, screws = premises, formed.adapter, formed.screws
    if not p.holes:
        return None
    cut = screws.thread_hole_mm  # what is cut under a hole for its thread may be larger than the hole
    keep = tuple(
        KeepOff(m.x_mm, m.y_mm, m.counterbore_mm, f"fixing {i}")
        for i, m in enumerate(screws.metal, 1)
        if m.counterbore_mm
    )
    holes = tuple(replace(hole, diameter_mm=max(hole.diameter_mm, cut)) for hole in p.holes)
    toward, terminals = adapter.terminals_to, p.driver.terminals
    bar, wall = _bar(premises, screws)
    found: Clocking | None = None
    for edge in (None,) if p.outline.circle is not None else (p.outline, None):
        found = memo.call(
            clock, holes, keep, edge, required_mm=adapter.gap.to("mm"),
            terminals_deg=terminals.angle_deg if terminals is not None else None,
            toward_deg=_toward_deg(p.place, toward),
            turn_deg=adapter.turn.to("deg") if isinstance(adapter.turn, Quantity) else None, bar=bar, bar_wall_mm=wall,
        )  # fmt: skip
        if turn_deg is not None:
            found = at_turn(found, turn_deg, holes, keep, edge)
        if found.gap_mm is None or found.gap_mm >= found.required_mm:
            return found
    return found


def _bar(premises: Premises, screws: Screws) -> tuple[Bar | None, float]:
    """The notch as the turn sees it, and the wall that it keeps."""
    p, at = premises, premises.driver.terminals
    reach = bore_mm(p.adapter, p.speaker) + NOTCH_DEPTH_MM
    if isinstance(p.adapter.notch, Quantity):
        angle = p.adapter.notch.to("deg")
        angle = 180.0 - angle if p.place.mirrored else angle
        return Bar(angle, 0.0, reach, NOTCH_WIDTH_MM), max(screws.thread.wall_mm, LEAST_WALL_MM)
    if p.adapter.notch is None or at is None or at.angle_deg is None:
        return None, 0.0
    angle = at.angle_deg + _notch_off_deg(premises, screws)
    return Bar(angle, 0.0, reach, NOTCH_WIDTH_MM, turns=True), LEAST_WALL_MM


def _notch_off_deg(premises: Premises, screws: Screws) -> float:
    """How far beside the terminals their notch has to lie so that it keeps clear of the driver's own threads."""
    p, at = premises, premises.driver.terminals
    assert at is not None
    assert at.angle_deg is not None
    reach = bore_mm(p.adapter, p.speaker) + NOTCH_DEPTH_MM
    middles = np.array([complex(hole.x_mm, hole.y_mm) for hole in p.holes])
    clear = screws.thread_hole_mm / 2.0 + max(screws.thread.wall_mm, LEAST_WALL_MM)
    for off in (sign * step for step in range(0, 46) for sign in (1.0, -1.0)):
        if not len(middles) or Bar(at.angle_deg + off, 0.0, reach, NOTCH_WIDTH_MM).away_mm(middles).min() >= clear:
            return off
    return 0.0


def _thickness(
    premises: Premises, formed: _Formed, cuts: Cuts, so_far: PlaceChoice, memo: Memo
) -> tuple[float, Message | None]:
    """The part's own thickness, and how it was chosen."""
    p, adapter = premises, premises.adapter
    if isinstance(adapter.thickness, Quantity):
        return adapter.thickness.to("mm"), None
    least = _least_mm(cuts)
    reachable = (
        layer_heights(least, p.job.file.printer.layer.to("mm"))
        if adapter.process == "print"
        else sheet_sums(sheet_thicknesses(p.job, p.stock, adapter), least)
    )
    if not p.opening.behind and p.opening.trim_clear is None:
        return reachable[0], Message("Thickness: the least its threads allow; nothing else was read.")
    taken = reachable[0]
    for _ in range(2):  # the flange of a thicker part lifts less: where that matters, once more with its own lift
        stack, _ = _stack_at(p, formed, cuts.bore_mm, taken, 1, memo)
        choice = memo.call(
            choose_thickness, between_readings(p.opening), p.driver, stack, reachable, p.margins,
            turn_deg=so_far.turn_deg or 0.0, draws=CHOICE_DRAWS,
        )  # fmt: skip
        taken = choice.thickness_mm
        if abs(_stack_at(p, formed, cuts.bore_mm, taken, 1, memo)[0].lift.value - stack.lift.value) < LIFT_MATTERS_MM:
            break
    low, high = choice.alike_mm
    if choice.held_by == "material":
        return choice.thickness_mm, Message("Thickness: the least that threads and heads leave.")
    taken = _with_front(premises, formed, cuts, stack, so_far, choice)
    if taken != choice.thickness_mm:
        return taken, Message(
            "Thickness: the nearest to the best at which ring, screws and the trim's flat are right too."
        )
    if low == high:
        return taken, Message("Thickness: the best chance to keep all margins.")
    return taken, Message(
        "Thickness: any from {low} to {high} does as well.", (("low", low, "mm"), ("high", high, "mm"))
    )


def _with_front(
    premises: Premises, formed: _Formed, cuts: Cuts, stack: Stack, so_far: PlaceChoice, choice: Choice
) -> float:
    """Of heights that fit as well the nearest at which ring, screws and all that meets the trim's flat are right."""
    assert premises.opening.skin is not None
    skin, found = premises.opening.skin.value, []
    near = sorted(choice.as_good_mm, key=lambda t: abs(t - choice.thickness_mm))
    rest = near[MOST_HEIGHTS:]  # of those farther off some, evenly
    for height in (*near[:MOST_HEIGHTS], *rest[:: max(1, -(-len(rest) // MOST_HEIGHTS))]):
        stack = replace(stack, thickness=replace(stack.thickness, value=height))
        screws = screws_at(
            premises.stock, formed.screws, height, cuts.recess_mm, skin, stack.gasket.value, _floor_mm(cuts)
        )
        checks = [m.screw.check for m in screws.metal if m.screw is not None]
        checks += [screws.driver.check] if screws.driver is not None else []
        foam = _foam(premises, formed, stack, screws, cuts, Ledger())
        checks += foam.checks
        if premises.place.opening.trim is not None:
            at = replace(so_far, thickness_mm=height)
            sized = _sized(premises, formed, cuts, at, stack, screws, foam)
            checks += trim_checks(premises.job, premises.place, premises.speaker, sized)
        faults = [sum(check.verdict == verdict for check in checks) for verdict in ("stop", "caution")]
        if not any(faults):
            return height
        found.append((faults, height))
    return min(found, key=lambda one: one[0])[1]  # the first of equals: the nearest


def _foam(premises: Premises, formed: _Formed, stack: Stack, screws: Screws, cuts: Cuts, ledger: Ledger) -> FoamResult:
    p, height = premises, seat_height_mm(stack)
    return foam_of(
        p.stock, p.place, formed.adapter, p.speaker, p.opening, height, p.driver, p.frame_mm, stack, formed.back,
        screws, [(t.x_mm, t.y_mm) for t in cuts.threads], p.outline.inside_mm(0.0, 0.0), ledger,
    )  # fmt: skip
