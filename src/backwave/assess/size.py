"""The sizes of one driver in one opening: turn, screws, thickness, stack, foam, and the part they specify.

What the sound needs and what the fit starts from: lengths, and nothing judged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from backwave.assess.inputs.adapter import best, frame_mm, outline_of, pattern_of
from backwave.assess.inputs.adapter_spec import pile_of, sheet_thicknesses, spec_of
from backwave.assess.inputs.foam import Foamed, back_of, foam_of
from backwave.assess.inputs.opening import driver_of, margins_of, opening_of
from backwave.assess.inputs.screws import Screws, screws_of
from backwave.assess.memo import Memo
from backwave.assumptions import Ledger
from backwave.fit import (
    Driver,
    Margins,
    Opening,
    Stack,
    choose_thickness,
    layer_heights,
    seat_height_mm,
    sheet_sums,
)
from backwave.fit.clocking import DIRECTIONS, Clocking, KeepOff, clock
from backwave.fit.gasket import BackGasket
from backwave.job import Job, Place
from backwave.job.adapter import Adapter
from backwave.job.speaker import Speaker
from backwave.part.threads import least_thickness
from backwave.part.types import AdapterSpec
from backwave.shape import Outline
from backwave.stock import Stock
from backwave.uncertainty import exact
from backwave.units import Quantity, show

__all__ = ["Sized", "size_place"]

CHOICE_DRAWS = 25_000  # enough to rank heights; the one taken is judged with all of them


@dataclass(frozen=True, eq=False)
class Sized:
    """One driver in one opening on one side, sized.

    Parameters
    ----------
    opening : Opening, mm
        As measured.
    driver : Driver, mm
        As measured.
    margins : Margins, mm
        The job's.
    frame_mm : float, mm
        Diameter of the driver's frame.
    screws : Screws, mm
        At the thickness chosen.
    turned : Clocking or None, deg
        The turn of the driver; None where there is nothing to turn against.
    stack : Stack, mm
        With the thickness chosen.
    least_mm, thickness_mm : float, mm
        What threads and heads leave at least, and the part's own.
    layers_mm : tuple of float, mm
        The sheets it is made of; none for a print.
    choice : str, no unit
        How the thickness was chosen.
    foamed : Foamed, mm
        Its foam.
    spec : AdapterSpec, mm
        The part.
    """

    opening: Opening
    driver: Driver
    margins: Margins
    frame_mm: float
    screws: Screws
    turned: Clocking | None
    stack: Stack
    least_mm: float
    thickness_mm: float
    layers_mm: tuple[float, ...]
    choice: str
    foamed: Foamed
    spec: AdapterSpec

    @property
    def turn_deg(self) -> float:
        """The turn, 0 where there is nothing to turn against."""
        return self.turned.angle_deg if self.turned is not None else 0.0

    @property
    def seat_height_mm(self) -> float:
        """Seat height at the best estimates."""
        return seat_height_mm(self.stack)


def size_place(
    job: Job, stock: Stock, place: Place, adapter: Adapter, speaker: Speaker, ledger: Ledger, memo: Memo
) -> Sized:
    """Size one place.

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
    foamed = foam_of(
        stock, place, adapter, speaker, opening, seat_height_mm(stack), driver, frame, stack, back, ledger
    )
    spec = spec_of(job, place, adapter, speaker, screws, outline, turn, thickness, frame, groove)
    return Sized(
        opening, driver, margins, frame, screws, turned, stack, least, thickness, layers, choice, foamed, spec
    )


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
