"""The foam of one place: ring in front, gasket behind, height over all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot

from backwave.assess.inputs.opening import cutout_of
from backwave.assess.place_result import FoamResult, Screws
from backwave.assumptions import Ledger
from backwave.finding import PRACTICE, Check, Message
from backwave.fit import DriverShape, Opening, Stack
from backwave.fit.foam import RingRoom, RingWish, choose_ring, total_height
from backwave.fit.gasket import BackGasket, back_gasket, gasket_plan
from backwave.job import Place, best_mm
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.shape import Outline
from backwave.stock import FoamRow, Stock
from backwave.units import Quantity

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
            "adapter.foam.back_width", width, "mm", "a strip lifts the flange less than a full face; " + PRACTICE, 1
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
    screws: Screws,
    holes_mm: Sequence[tuple[float, float]],
    edge_mm: float,
    ledger: Ledger,
) -> FoamResult:
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
        check = Check(
            "fit.foam-ring",
            "caution",
            Message(
                "No flat for a foam ring: rim and trim share nothing between {inner} and {outer}",
                (("inner", room.inner_mm, "mm"), ("outer", room.outer_mm, "mm")),
            ),
            remedy=Message("Stand the ring on a collar of the part: collar = {{ height, width }}")
            if offered is not None
            else Message("Leave the ring out (ring = none), or measure the trim's flat again"),
            key="adapter.collar",
        )
        return FoamResult(None, back, land, (*checks, check))
    grade = stock.foam(foam.grade)
    softer = [r for r in stock.of(FoamRow) if r.high_pa < grade.high_pa]
    ring = choose_ring(
        room,
        RingWish(
            grade,
            stock.foam_thicknesses_mm(),
            foam.compression.to("1"),
            foam.ring.to("mm") if isinstance(foam.ring, Quantity) else None,
            foam.width.to("mm") if foam.width is not None else None,
            tuple(sorted(softer, key=lambda r: -r.high_pa)),
            opening.trim_clear.bound if opening.trim_clear is not None else 0.0,
        ),
        offered,
    )
    checks.append(ring.check)
    factory = place.opening.factory
    if factory is not None and factory.height is not None and ring.free_mm > 0.0:
        checks.append(total_height(room.from_mm, ring.free_mm, factory.height.to("mm")))
    return FoamResult(ring, back, land, tuple(checks))
