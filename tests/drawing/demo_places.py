"""Places to draw in tests: the demo's front door with other lengths, as it might come out, and worse; all invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from math import cos, pi, radians, sin
from pathlib import Path
from typing import Any

from backwave.assess import PlaceResult, assess
from backwave.finding import Check, Message, Verdict
from backwave.fit import (
    Clearance,
    DepthReading,
    DriverShape,
    Fit,
    FrontHeights,
    Obstacle,
    Opening,
    Terminals,
    Vent,
    Window,
)
from backwave.fit.assembly import Doubted
from backwave.fit.bolt_pattern import Hole
from backwave.fit.clocking import Clocking
from backwave.fit.foam import FoamRing
from backwave.fit.laps import FlangeLap
from backwave.fit.types import Nearest
from backwave.job import load
from backwave.part.types import AdapterSpec, Fixing, Groove, Spigot, Thread
from backwave.shape import circle, polygon
from backwave.uncertainty import Error, Estimate, Reading, exact

Point = tuple[float, float]
DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"
RING = Check("fit.foam-ring", "ok", Message("The ring seals"))


@cache
def demo() -> PlaceResult:
    return assess(load(DEMO), draws=300).places[0]


def polar(radius: float, deg: float) -> Point:
    return radius * cos(radians(deg)), radius * sin(radians(deg))


def mm(value: float) -> Reading:
    return exact("test", value)


def bounded(value: float, half_width: float) -> Reading:
    return Reading("test", value, (Error("test", "rectangular", half_width),))


def read(verdict: Verdict) -> Check:
    """A check of this verdict, whatever it is of."""
    return Check("fit.glass", verdict, Message("Test"), remedy=Message("Test"))


def clearance(
    what: str, value: float, margin: float, z: float | None, radius: float | None, angle: float | None = None,
    code: str = "fit.behind", of: Any = "back", spread: float = 0.9,
) -> Clearance:  # fmt: skip
    """A gap that ends at the driver's point (z, radius); its verdict follows from value, spread and margin."""
    estimate = Estimate(value, spread / 2, value - spread, value + spread)
    near = Nearest(what, of, (), radius, angle, z)
    return Clearance(what, code, what, 1, margin, estimate, spread / 2, value - spread, 1.0, 1.0, near, ())


def behind(what: Any, readings: Sequence[Point], window: Any = "", angle: float | None = None) -> Obstacle:
    return Obstacle(what, tuple(DepthReading(mm(r), mm(c)) for r, c in readings), window, angle)


def fit(seat: float, gaps: Sequence[Clearance], allowed: Point | None, judged: bool = True, once: bool = False) -> Fit:
    low, high = allowed or (1.0, 0.0)
    window = Window(low, high, "", "", (low, high), (low, high)) if judged else None
    checks = (Check("fit.read-once", "caution", Message("Test")),) if once else ()
    return Fit(seat, tuple(gaps), 1.0, 1.0, "", (), window, checks, 100)


def ring(inner: float, outer: float, low: float, high: float, free: float) -> FoamRing:
    return FoamRing(2 * inner, 2 * outer, free, high - low, low, (free,), 0.2, (5.0, 10.0), RING)


def foam_of(base: PlaceResult, front: FoamRing | None, land: float | None, closed: float = 0.0) -> dict[str, Any]:
    """Changes of a place: its ring in front, its gasket behind."""
    stack = replace(base.stack, gasket=mm(closed))
    return {"foam": replace(base.foam, front=front, back=None, land_mm=land), "stack": stack}


def fixings(base: PlaceResult, at: Sequence[Fixing], holds: Sequence[str], tail: float = 0.0) -> dict[str, Any]:
    """Changes of a place: the metal's fixings, numbered, with what they are and how far the first one's screw reaches."""
    first = base.screws.metal[0]
    assert first.screw is not None
    screw = replace(first.screw, tail_mm=tail)
    metal = tuple(
        replace(first, x_mm=f.x_mm, y_mm=f.y_mm, row=replace(first.row, holds=word), screw=screw)
        for f, word in zip(at, holds, strict=True)
    )
    return {"screws": replace(base.screws, metal=metal)}


WOOFER = DriverShape(
    profile=tuple((mm(r), mm(d)) for r, d in ((70.0, 0.0), (66.0, 14.0), (46.0, 38.0), (46.0, 64.0))),
    front=FrontHeights(mm(9.0), mm(6.0)),
    xmech=mm(9.0),
    rim=mm(5.2),
    terminals=Terminals(mm(62.0), mm(34.0), mm(26.0), 225.0),
    vent=Vent(mm(5.0)),
)
SPEC = AdapterSpec(
    outline=circle(91.0), thickness_mm=14.5, bore_mm=71.0, relief_mm=4.0,
    fixings=tuple(Fixing(*polar(80.5, a), 5.5, 10.0, 6.0, 10.0, 3.0, f"fixing {n}") for n, a in enumerate((90, 210, 330), 1)),
    threads=tuple(Thread(*polar(78.0, 90 * k + 20), "insert", "M4", 8.5, 8.0) for k in range(4)),
    grooves=(Groove("back", "flange", 13.0, 4.0, 2.2),),
)  # fmt: skip
GLASS = (
    clearance("glass", 6.2, 5.0, -49.5, 46.0, code="fit.glass"),
    clearance("moving", 4.5, 3.0, None, None, code="fit.grille", of="moving"),
    clearance("hole edge", 5.75, 1.0, None, None, code="fit.hole", spread=0.4),
)
LAP = FlangeLap(Doubted(19.25, 19.0, 19.5), 8.0, None, (polar(71.75, 225.0), polar(91.0, 225.0)))
CLOCKING = Clocking(20.0, 17.1, 20.0, 17.1, 90.0, ((8.0, 52.0),), 3.0, (-22.9, 73.9), (-5.0, 80.3))


def door(verdict: Verdict = "caution", glass: float = 6.2) -> PlaceResult:
    """A front door: a section to look at, and a face whose driver is turned by 20 degrees."""
    base = demo()
    gaps = (clearance("glass", glass, 5.0, -49.5, 46.0, code="fit.glass"), *GLASS[1:])
    return replace(
        base, name="Front door, left", side="left", speaker_name="Demo 165 mm woofer", frame_mm=166.0, driver=WOOFER,
        opening=Opening(mm(143.5), skin=mm(0.8), trim_clear=bounded(37.0, 1.0),
                        behind=(behind("glass", ((0.0, 58.0), (60.0, 55.0)), "down"),)),
        spec=SPEC, fit=fit(14.5, gaps, (13.2, 16.0), once=verdict == "caution"),
        fit_checks=(read(verdict),), hole_checks=(read("ok"),),
        holes=tuple(Hole(*polar(78.0, 90 * k), 5.0) for k in range(4)), clocking=CLOCKING, choice=None, lap=LAP,
        **foam_of(base, ring(74.0, 83.0, 19.7, 35.0, 18.0), 35.0), **fixings(base, SPEC.fixings, ["rivet nut"] * 3, 7.0),
    )  # fmt: skip


def collision() -> PlaceResult:
    """The magnet through the glass, a rail below, no window of stand-offs."""
    place = door("stop", -1.3)
    gaps = (
        *place.fit.clearances,
        clearance("rail", -5.5, 3.0, -49.5, 46.0, 270.0),
        clearance("terminals to rail", 32.5, 5.0, -11.5, 61.0, 270.0, of="terminals"),
        clearance("vent air", 0.5, 8.0, -49.5, 0.0, of="vent"),
    )
    rows = (
        behind("glass", ((0.0, 50.0), (60.0, 47.6)), "down"),
        behind("rail", ((30.0, 44.0), (70.0, 44.0)), "", 270.0),
        behind("glass", ((0.0, 62.0), (60.0, 58.0)), "half"),
    )
    return replace(place, fit=fit(14.5, gaps, None), opening=replace(place.opening, behind=rows))


def tweeter() -> PlaceResult:
    """A small one in a mirror corner: no groove, a spigot, a fixed post instead of a crest."""
    base = door("ok")
    spec = AdapterSpec(
        outline=circle(34.0), thickness_mm=5.0, bore_mm=22.4, recess_mm=2.0, seat_mm=26.5, spigot=Spigot(23.5, 2.0),
        fixings=(Fixing(*polar(30.0, 90.0), 3.4, 6.5, 2.6, 6.0, 2.0, "fixing 1"),),
    )  # fmt: skip
    profile = tuple((mm(r), mm(d)) for r, d in ((22.5, 0.0), (22.0, 6.0), (17.0, 8.0), (17.0, 15.0)))
    gaps = (
        clearance("metal", 11.8, 3.0, -11.0, 17.0),
        clearance("crest", 3.2, 3.0, None, None, code="fit.grille", of="crest", spread=0.2),
    )
    return replace(
        base, name="Mirror corner, right", speaker_name="Demo 25 mm tweeter", frame_mm=52.0, spec=spec,
        driver=DriverShape(profile, FrontHeights(fixed=mm(4.2)), mm(0.6), mm(2.5)),
        opening=Opening(mm(48.0), skin=mm(2.0), trim_clear=mm(12.0), behind=(behind("metal", ((0.0, 25.0), (30.0, 22.0))),)),
        fit=fit(4.0, gaps, (2.0, 7.5)),
        **foam_of(base, ring(22.0, 26.0, 6.5, 12.0, 6.0), 12.0, 1.0), **fixings(base, spec.fixings, ["screw"], 5.0),
    )  # fmt: skip


def stopped() -> PlaceResult:
    """No turn keeps the gap."""
    turned = replace(CLOCKING, angle_deg=0.0, gap_mm=-1.0, allowed_deg=())
    return replace(door("stop"), hole_checks=(read("stop"),), clocking=turned)


def free_form() -> PlaceResult:
    """A flange that is not round, slots, unlike fixings, no foam."""
    base = door()
    outline = polygon(
        [
            (100 * cos(t) * (1 + 0.06 * sin(3 * t)), 84 * sin(t) * (1 + 0.05 * cos(2 * t)))
            for t in (2 * pi * k / 120 for k in range(120))
        ]
    )
    at = (
        Fixing(82.0, 30.0, 6.0, head_mm=12.0, name="fixing 1"),
        Fixing(-84.0, 20.0, 6.0, head_mm=12.0, name="fixing 2"),
    )
    threads = tuple(Thread(*polar(64.0, 120 * k + 75), "insert", "M4", 8.0) for k in range(3))
    return replace(
        base, name="Rear side panel", side="", frame_mm=138.0, hole_checks=(read("caution"),),
        spec=AdapterSpec(outline, 12.0, 55.0, fixings=at, threads=threads), opening=replace(base.opening, hole=mm(113.0)),
        holes=tuple(Hole(*polar(64.0, 120 * k), 4.2, 9.0, 120 * k + 90) for k in range(3)),
        clocking=replace(CLOCKING, angle_deg=75.0, best_deg=75.0, period_deg=120.0, allowed_deg=((60.0, 90.0), (100.0, 104.0))),
        driver=replace(WOOFER, terminals=Terminals(mm(50.0), mm(30.0), mm(26.0), 195.0)),
        **foam_of(base, None, None), **fixings(base, at, ["stud", "hook"]),
    )  # fmt: skip
