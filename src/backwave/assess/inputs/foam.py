"""The foam of one place: ring in front, gasket behind, height over all."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.assess.inputs.adapter import best
from backwave.assess.inputs.opening import cutout_of
from backwave.assumptions import PRACTICE, Ledger
from backwave.drawing import FoamRing as DrawnRing
from backwave.finding import Check, Text
from backwave.fit import Driver, Opening, Stack
from backwave.fit.foam import RING_BAND, FoamRing, front_ring, ring_diameters, total_height
from backwave.fit.gasket import BackGasket, back_gasket
from backwave.job import Place
from backwave.job.adapter import Adapter
from backwave.job.speaker import Speaker
from backwave.stock import Stock
from backwave.units import Quantity

__all__ = ["Foamed", "back_of", "foam_of"]

BACK_GRADE = "2A1"


@dataclass(frozen=True)
class Foamed:
    """What the foam of one place came to.

    Parameters
    ----------
    ring : FoamRing or None, mm
        The ring in front.
    land_mm : float or None, mm
        Face of the metal to what it presses on.
    drawn : backwave.drawing.FoamRing or None, mm
        For the section.
    checks : tuple of Check, no unit
        What was found.
    """

    ring: FoamRing | None
    land_mm: float | None
    drawn: DrawnRing | None
    checks: tuple[Check, ...]

    @property
    def radii_mm(self) -> tuple[float, float] | None:
        """Inner and outer radius of the ring, for the face."""
        return None if self.ring is None else (self.ring.inner_mm / 2.0, self.ring.outer_mm / 2.0)


def back_of(stock: Stock, adapter: Adapter, ledger: Ledger) -> BackGasket | None:
    """The gasket behind the adapter; None for none.

    Parameters
    ----------
    stock : Stock, no unit
        The tables.
    adapter : Adapter, no unit
        The part's table.
    ledger : Ledger, no unit
        Takes what was assumed.
    """
    foam = adapter.foam
    free = foam.back.to("mm")
    if free <= 0.0:
        return None
    grade = foam.back_grade or BACK_GRADE
    if foam.back_grade is None:
        ledger.note("adapter.foam.back_grade", grade, "", "separate grades for ring and gasket; " + PRACTICE)
    closed = foam.closed.to("mm") if foam.closed is not None and foam.closed.value > 0.0 else None
    gasket = back_gasket(stock.foam(grade), free, closed, foam.grooved)
    if closed is None:
        what = "depth of its groove" if foam.grooved else "half of `back`"
        ledger.note("adapter.foam.closed", gasket.closed_mm, "mm", f"{what}; {PRACTICE}", 1)
    return gasket


def foam_of(
    stock: Stock,
    place: Place,
    adapter: Adapter,
    speaker: Speaker,
    opening: Opening,
    seat_mm: float,
    driver: Driver,
    frame: float,
    stack: Stack,
    back: BackGasket | None,
    ledger: Ledger,
) -> Foamed:
    """The foam of one place.

    Parameters
    ----------
    stock : Stock, no unit
        The tables.
    place : Place, no unit
        The place.
    adapter : Adapter, no unit
        The part's table.
    speaker : Speaker, no unit
        The driver's table.
    opening : Opening, mm
        As judged.
    seat_mm : float, mm
        Seat height.
    driver : Driver, mm
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
    land = best(trim.land) if trim is not None and trim.land is not None else None
    if land is None and opening.trim_clear is not None:
        land = opening.trim_clear.value
        ledger.note(f"opening.{place.opening.id}.trim.land", land, "mm", "the back of the grille", 1)
    if foam.ring == "none" or land is None:
        return Foamed(None, land, None, tuple(checks))
    rim = driver.rim.value if driver.rim is not None else 0.0
    top, outer_most, inner_least = seat_mm + rim, frame, best(cutout_of(speaker))
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
            Text(
                "No flat for a foam ring: rim and trim share nothing between {inner} and {outer}",
                (("inner", inner_least, "mm"), ("outer", outer_most, "mm")),
            ),
            remedy=Text("Stand the ring on a collar of the part: collar = {{ height, width }}"),
            key="adapter.collar",
        )
        return Foamed(None, land, None, (*checks, check))
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
    drawn = None
    if ring.closed_mm > 0.0:
        drawn = DrawnRing(inner / 2.0, outer / 2.0, top, land, ring.free_mm)
    return Foamed(ring, land, drawn, tuple(checks))
