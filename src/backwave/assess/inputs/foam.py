"""The foam of one place: ring in front, gasket behind, height over all."""

from __future__ import annotations

from backwave.assess.inputs.opening import cutout_of
from backwave.assess.place_result import FoamResult
from backwave.assumptions import PRACTICE, Ledger
from backwave.finding import Check, Message
from backwave.fit import DriverShape, Opening, Stack
from backwave.fit.foam import RING_BAND, front_ring, ring_diameters, total_height
from backwave.fit.gasket import BackGasket, back_gasket, gasket_plan
from backwave.job import Place, best_mm
from backwave.job.adapter import AdapterTable
from backwave.job.speaker import SpeakerTable
from backwave.shape import Outline
from backwave.stock import Stock
from backwave.units import Quantity

__all__ = ["back_of", "foam_of"]

BACK_GRADE = "2A0"  # the softest: it lifts the flange least
BACK_WIDTH_MM = 8.0


def back_of(
    stock: Stock, adapter: AdapterTable, outline: Outline, hole_mm: float | None, ledger: Ledger
) -> BackGasket | None:
    """The gasket behind the adapter, on its flange and outside the hole in the metal; None for none."""
    foam = adapter.foam
    free = foam.back.to("mm")
    if free <= 0.0:
        return None
    grade = foam.back_grade or BACK_GRADE
    if foam.back_grade is None:
        ledger.note("adapter.foam.back_grade", grade, "", "the softest lifts the flange least; " + PRACTICE)
    closed = foam.closed.to("mm") if foam.closed is not None and foam.closed.value > 0.0 else None
    width = foam.back_width.to("mm") if foam.back_width is not None else free if foam.grooved else BACK_WIDTH_MM
    if foam.back_width is None and not foam.grooved:
        ledger.note(
            "adapter.foam.back_width",
            width,
            "mm",
            "a strip lifts the flange less than a full face; " + PRACTICE,
            1,
        )
    plan = gasket_plan(outline.area_mm2, hole_mm, width) if hole_mm is not None else None
    half = foam.closed.half_to("mm") if foam.closed is not None else None
    gasket = back_gasket(stock.foam(grade), free, closed, bool(foam.grooved), plan, half)
    if closed is None:
        what = "depth of its groove" if foam.grooved else "half of `back`"
        ledger.note("adapter.foam.closed", gasket.closed_mm, "mm", f"{what}; {PRACTICE}", 1)
    return gasket


def foam_of(
    stock: Stock,
    place: Place,
    adapter: AdapterTable,
    speaker: SpeakerTable,
    opening: Opening,
    seat_mm: float,
    driver: DriverShape,
    frame: float,
    stack: Stack,
    back: BackGasket | None,
    ledger: Ledger,
) -> FoamResult:
    """The foam of one place.

    Parameters
    ----------
    stock : Stock, no unit
        The tables.
    place : Place, no unit
        The place.
    adapter : AdapterTable, no unit
        The part's table.
    speaker : SpeakerTable, no unit
        The driver's table.
    opening : Opening, mm
        As judged.
    seat_mm : float, mm
        Seat height.
    driver : DriverShape, mm
        As judged.
    frame : float, mm
        Diameter of the driver's frame.
    stack : Stack, mm
        With the thickness chosen.
    back : BackGasket or None, mm
        The gasket behind.
    ledger : Ledger, no unit
        Takes what was assumed.
    """
    checks = [back.check] if back is not None else []
    trim, foam = place.opening.trim, adapter.foam
    land = best_mm(trim.land) if trim is not None and trim.land is not None else None
    if land is None and opening.trim_clear is not None:
        land = opening.trim_clear.value
        ledger.note(f"opening.{place.opening.id}.trim.land", land, "mm", "the back of the grille", 1)
    if foam.ring == "none" or land is None:
        return FoamResult(None, back, land, tuple(checks))
    rim = driver.rim.value if driver.rim is not None else 0.0
    top, outer_most, inner_least = seat_mm + rim, frame, best_mm(cutout_of(speaker))
    if adapter.collar is not None:
        top = stack.gasket.value + stack.thickness.value + adapter.collar.height.to("mm")
        inner_least, outer_most = frame + 1.0, frame + 1.0 + 2.0 * adapter.collar.width.to("mm")
    if trim is not None and trim.outer is not None:
        outer_most = min(outer_most, trim.outer.to("mm"))
    if trim is not None and trim.inner is not None:
        inner_least = max(inner_least, trim.inner.to("mm"))
    if inner_least >= outer_most:
        check = Check(
            "fit.foam-ring",
            "caution",
            Message(
                "No flat for a foam ring: rim and trim share nothing between {inner} and {outer}",
                (("inner", inner_least, "mm"), ("outer", outer_most, "mm")),
            ),
            remedy=Message("Stand the ring on a collar of the part: collar = {{ height, width }}"),
            key="adapter.collar",
        )
        return FoamResult(None, back, land, (*checks, check))
    compression = foam.compression.to("1")
    tall = max(land - top, 0.0) / (1.0 - max(RING_BAND))  # the tallest that may be taken stands by itself
    width = foam.width.to("mm") if foam.width is not None else None
    inner, outer = ring_diameters(outer_most, inner_least, width, tall)
    grade = stock.foam(foam.grade)
    ring = front_ring(
        grade,
        stock.foam_thicknesses_mm(),
        top,
        land,
        inner,
        outer,
        compression,
        foam.ring.to("mm") if isinstance(foam.ring, Quantity) else None,
        opening.trim_clear.bound if opening.trim_clear is not None else 0.0,
    )
    checks.append(ring.check)
    factory = place.opening.factory
    if factory is not None and factory.height is not None and ring.free_mm > 0.0:
        checks.append(total_height(top, ring.free_mm, factory.height.to("mm")))
    return FoamResult(ring, back, land, tuple(checks))
