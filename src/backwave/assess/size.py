"""The sizes of one driver in one opening, at one choice of what can be chosen: what the sound needs, nothing judged.

`premises_of` reads what stands whatever is chosen; `choose` makes the choice; `dimensions_at` follows from the two.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from backwave.assess.inputs.adapter import frame_mm, outline_of, pattern_of
from backwave.assess.inputs.adapter_spec import Cuts, cut_for, cuts_of, pile_of, sheet_thicknesses, spec_of
from backwave.assess.inputs.foam import back_of, foam_of
from backwave.assess.inputs.mounting import lip_relief
from backwave.assess.inputs.opening import driver_of, margins_of, opening_of
from backwave.assess.inputs.screws import screws_at, screws_of
from backwave.assess.inputs.stack import joints_of, lift_at, lifted, stack_of, thickness_at
from backwave.assess.memo import Memo
from backwave.assess.place_result import Dimensions, Screws
from backwave.assumptions import Ledger
from backwave.finding import Message
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
from backwave.fit.choice import PlaceChoice
from backwave.fit.clocking import DIRECTIONS, Clocking, Hole, KeepOff, at_turn, clock
from backwave.fit.flange import FlangeLift
from backwave.fit.gasket import BackGasket
from backwave.fit.play import BoltedJoint
from backwave.job import Job, Place, best_mm
from backwave.job.adapter import AdapterTable
from backwave.job.speaker import SpeakerTable
from backwave.part.threads import FLOOR, least_thickness
from backwave.shape import Outline
from backwave.stock import Stock
from backwave.units import Quantity

__all__ = ["Premises", "choose", "dimensions_at", "premises_of", "size_place"]

LIFT_MATTERS_MM = 0.05
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


def size_place(
    job: Job, stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, ledger: Ledger, memo: Memo
) -> Dimensions:
    """Size one place; what was assumed for it goes into the ledger."""
    premises = premises_of(job, stock, place, adapter, speaker, ledger)
    choice, why = choose(premises, memo)
    return dimensions_at(premises, choice, ledger, memo, why)


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


def choose(premises: Premises, memo: Memo) -> tuple[PlaceChoice, Message | None]:
    """What is taken of all that can be chosen, and how the thickness was; what the person fixed stays as it is."""
    adapter = premises.adapter
    turn = adapter.turn.to("deg") if isinstance(adapter.turn, Quantity) else None
    choice = PlaceChoice(adapter.threads, adapter.foam.grooved, turn, 0.0)
    formed = _formed(premises, choice, Ledger())
    clocking = _clocking(premises, formed, memo)
    turn = clocking.angle_deg if clocking is not None else 0.0
    thickness, why = _thickness(premises, formed, _cuts(premises, formed, turn), turn, memo)
    return replace(choice, turn_deg=None if clocking is None else turn, thickness_mm=thickness), why


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
    floor = FLOOR + max((g.depth_mm for g in cuts.grooves if g.face == "back"), default=0.0)
    screws = screws_at(
        p.stock, formed.screws, thickness, cuts.recess_mm, opening.skin.value, stack.gasket.value, floor
    )
    cut = cut_for(cuts, screws)
    foam = foam_of(
        p.stock, p.place, adapter, p.speaker, opening, seat_height_mm(stack), p.driver, p.frame_mm, stack, formed.back, ledger
    )  # fmt: skip
    spec = spec_of(p.job, p.place, adapter, cut, p.outline, thickness, p.frame_mm, opening.hole_radius_mm)
    spec = replace(spec, lip=lip_relief(p.job, p.stock, p.place, opening, stack.gasket.value))
    return Dimensions(
        opening, p.driver, p.margins, p.frame_mm, p.holes, screws, clocking, stack, _least_mm(cuts), layers, choice,
        why, foam, spec, lift, formed.joints,
    )  # fmt: skip


def _formed(premises: Premises, choice: PlaceChoice, ledger: Ledger) -> _Formed:
    p, adapter = premises, _written(choice, premises.adapter)
    back = back_of(p.stock, adapter, p.outline, _reach_mm(p), ledger)
    closed = back.seat_mm if back is not None else 0.0
    screws = screws_of(p.stock, p.place, adapter, p.speaker, p.driver.rim, p.frame_mm, p.holes, closed, ledger)
    joints = joints_of(p.stock, p.place, adapter, screws, p.holes)
    return _Formed(
        adapter, screws, back, joints, stack_of(p.job, p.place, adapter, p.speaker, back, joints, ledger)
    )


def _stack_at(
    premises: Premises, formed: _Formed, bore_mm: float, thickness_mm: float, sheets: int, memo: Memo
) -> tuple[Stack, FlangeLift | None]:
    """The stack at a thickness, with what the gasket lifts the flange by."""
    p = premises
    lift = lift_at(
        p.stock, p.place, formed.adapter, formed.back, formed.screws, p.outline, bore_mm, thickness_mm, memo
    )
    thickness = thickness_at(p.job, p.place, formed.adapter, thickness_mm, sheets)
    return lifted(replace(formed.stack, thickness=thickness), lift), lift


def _written(choice: PlaceChoice, adapter: AdapterTable) -> AdapterTable:
    """The part's table as it would read if a person had written these kinds of thread and gasket."""
    foam = adapter.foam
    if adapter.threads == choice.threads and foam.grooved == choice.grooved:
        return adapter
    if foam.grooved != choice.grooved:
        foam = foam.model_copy(update={"grooved": choice.grooved})
    return adapter.model_copy(update={"threads": choice.threads, "foam": foam})


def _reach_mm(premises: Premises) -> float | None:
    """How far out the hole in the metal goes: the back gasket lies outside of it, and outside a lip round it."""
    reach, lip = premises.opening.hole_reach_mm, premises.place.opening.lip
    return reach if reach is None or lip is None else reach + best_mm(lip.width)


def _cuts(premises: Premises, formed: _Formed, turn_deg: float) -> Cuts:
    groove = formed.back.groove_mm if formed.back is not None else 0.0
    p = premises
    return cuts_of(formed.adapter, p.speaker, formed.screws, p.holes, p.outline, turn_deg, _reach_mm(p), groove)


def _least_mm(cuts: Cuts) -> float:
    return least_thickness(cuts.recess_mm, cuts.threads, cuts.fixings, cuts.grooves)


def _clocking(premises: Premises, formed: _Formed, memo: Memo, turn_deg: float | None = None) -> Clocking | None:
    """The turn that is given; without one what the person fixed, or else the best."""
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
    edge = (
        p.outline if p.outline.circle is None else None
    )  # a round one is as near at every turn; part.ligament judges it
    toward, terminals = adapter.terminals_to, p.driver.terminals
    result: Clocking = memo.call(
        clock,
        holes,
        keep,
        edge,
        required_mm=adapter.gap.to("mm"),
        terminals_deg=terminals.angle_deg if terminals is not None else None,
        toward_deg=toward.to("deg") if isinstance(toward, Quantity) else DIRECTIONS[toward],
        turn_deg=adapter.turn.to("deg") if isinstance(adapter.turn, Quantity) else None,
    )
    return result if turn_deg is None else at_turn(result, turn_deg, holes, keep, edge)


def _thickness(
    premises: Premises, formed: _Formed, cuts: Cuts, turn: float, memo: Memo
) -> tuple[float, Message | None]:
    """The part's own thickness, and how it was chosen."""
    p, adapter, least = premises, premises.adapter, _least_mm(cuts)
    if isinstance(adapter.thickness, Quantity):
        return adapter.thickness.to("mm"), None
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
            choose_thickness, p.opening, p.driver, stack, reachable, p.margins, turn_deg=turn, draws=CHOICE_DRAWS
        )
        taken = choice.thickness_mm
        if (
            abs(_stack_at(p, formed, cuts.bore_mm, taken, 1, memo)[0].lift.value - stack.lift.value)
            < LIFT_MATTERS_MM
        ):
            break
    low, high = choice.alike_mm
    if choice.held_by == "material":
        why = Message("Thickness: the least that threads and heads leave.")
    elif low == high:
        why = Message("Thickness: the best chance to keep all margins.")
    else:
        why = Message(
            "Thickness: any from {low} to {high} does as well.", (("low", low, "mm"), ("high", high, "mm"))
        )
    return choice.thickness_mm, why
