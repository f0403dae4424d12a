"""The sizes of one driver in one opening: turn, screws, thickness, stack, foam, and the part they specify.

What the sound needs and what the fit starts from: lengths, and nothing judged.
"""

from __future__ import annotations

from dataclasses import replace

from backwave.assess.inputs.adapter import frame_mm, outline_of, pattern_of
from backwave.assess.inputs.adapter_spec import cuts_of, pile_of, sheet_thicknesses, spec_of
from backwave.assess.inputs.foam import back_of, foam_of
from backwave.assess.inputs.opening import driver_of, margins_of, opening_of
from backwave.assess.inputs.screws import screws_at, screws_of
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
from backwave.fit.clocking import DIRECTIONS, Clocking, Hole, KeepOff, clock
from backwave.fit.gasket import BackGasket
from backwave.job import Job, Place, best_mm
from backwave.job.adapter import AdapterTable
from backwave.job.speaker import SpeakerTable
from backwave.part.threads import least_thickness
from backwave.shape import Outline
from backwave.stock import Stock
from backwave.uncertainty import exact
from backwave.units import Quantity

__all__ = ["size_place"]

CHOICE_DRAWS = 25_000  # enough to rank heights; the one taken is judged with all of them


def size_place(
    job: Job, stock: Stock, place: Place, adapter: AdapterTable, speaker: SpeakerTable, ledger: Ledger, memo: Memo
) -> Dimensions:
    """Size one place.

    Parameters
    ----------
    job : Job, no unit
        The job.
    stock : Stock, no unit
        The tables, with the job's own rows.
    place : Place, no unit
        The opening on one side.
    adapter : AdapterTable, no unit
        The part's table.
    speaker : SpeakerTable, no unit
        The driver's table.
    ledger : Ledger, no unit
        Takes what was assumed.
    memo : Memo, no unit
        Where results are kept.
    """
    opening, driver = opening_of(job, place, ledger), driver_of(job, speaker, ledger)
    margins, frame, hole = margins_of(job), frame_mm(speaker, ledger), opening.hole_radius_mm
    assert opening.skin is not None  # measured or a noted default
    outline = outline_of(place, frame, ledger)
    rim = driver.rim.value if driver.rim is not None else 0.0
    screws = screws_of(stock, place, adapter, speaker, rim, ledger)
    holes = pattern_of(speaker)
    clocking = _turn(adapter, holes, screws, outline, driver, memo)
    turn = clocking.angle_deg if clocking is not None else 0.0
    back = back_of(stock, adapter, ledger)
    stack = _stack(place, adapter, speaker, back, ledger)
    groove = back.groove_mm if back is not None else 0.0
    cuts = cuts_of(adapter, speaker, screws, holes, outline, turn, hole, groove)
    least = least_thickness(cuts.recess_mm, cuts.threads, cuts.fixings, cuts.grooves)
    thickness, layers, choice = _thickness(job, stock, adapter, least, opening, driver, stack, margins, turn, memo)
    stack = replace(stack, thickness=exact(f"{place.opening.id}.adapter.thickness", thickness))
    screws = screws_at(stock, screws, thickness, cuts.recess_mm, opening.skin.value, stack.gasket.value)
    foam = foam_of(
        stock, place, adapter, speaker, opening, seat_height_mm(stack), driver, frame, stack, back, ledger
    )
    spec = spec_of(job, place, adapter, cuts, outline, thickness, frame, hole)
    return Dimensions(
        opening, driver, margins, frame, holes, screws, clocking, stack, least, layers, choice, foam, spec
    )


def _turn(
    adapter: AdapterTable,
    holes: tuple[Hole, ...],
    screws: Screws,
    outline: Outline,
    driver: DriverShape,
    memo: Memo,
) -> Clocking | None:
    if not holes:
        return None
    cut = screws.thread_hole_mm  # what is cut under a hole for its thread may be larger than the hole
    keep = tuple(KeepOff(m.x_mm, m.y_mm, m.counterbore_mm, f"fixing {i}") for i, m in enumerate(screws.metal, 1))
    toward = adapter.terminals_to
    result: Clocking = memo.call(
        clock,
        tuple(replace(hole, diameter_mm=max(hole.diameter_mm, cut)) for hole in holes),
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


def _stack(
    place: Place, adapter: AdapterTable, speaker: SpeakerTable, back: BackGasket | None, ledger: Ledger
) -> Stack:
    key = f"{place.opening.id}.adapter"
    closed = back.seat_mm if back is not None else 0.0
    gasket = best_mm(speaker.gasket) if speaker.gasket is not None else 0.0
    if speaker.gasket is None:
        ledger.note(
            f"speaker.{speaker.id}.gasket",
            0.0,
            "mm",
            "no gasket of its own; most have 1 to 2 mm, half of it closed",
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
    adapter: AdapterTable,
    least: float,
    opening: Opening,
    driver: DriverShape,
    stack: Stack,
    margins: Margins,
    turn: float,
    memo: Memo,
) -> tuple[float, tuple[float, ...], Message | None]:
    """The part's own thickness, the sheets it is made of, and how it was chosen."""
    sheets = sheet_thicknesses(job, stock, adapter)
    if isinstance(adapter.thickness, Quantity):
        fixed = adapter.thickness.to("mm")
        return fixed, pile_of(sheets, fixed), None
    reachable = (
        layer_heights(least, job.file.printer.layer.to("mm"))
        if adapter.process == "print"
        else sheet_sums(sheets, least)
    )
    if not opening.behind and opening.trim_clear is None:
        return (
            reachable[0],
            pile_of(sheets, reachable[0]),
            Message("Thickness: the least its threads allow; nothing else was read."),
        )
    choice = memo.call(
        choose_thickness, opening, driver, stack, reachable, margins, turn_deg=turn, draws=CHOICE_DRAWS
    )
    low, high = choice.alike_mm
    if choice.held_by == "material":
        why = Message("Thickness: the least that threads and heads leave.")
    elif low == high:
        why = Message("Thickness: the best chance to keep all margins.")
    else:
        why = Message(
            "Thickness: any from {low} to {high} does as well.", (("low", low, "mm"), ("high", high, "mm"))
        )
    return choice.thickness_mm, pile_of(sheets, choice.thickness_mm), why
