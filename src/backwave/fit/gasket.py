"""How hard foam pushes back, and the gasket behind the adapter.

How hard foam pushes back is known from ASTM D1056 at one deflection only, a quarter of its height, as a band of
pressures for each grade.  At any other compression the band is scaled in proportion (the straight line through
nothing at 0 and the band at 25 %) and called extrapolated.  Real foam stiffens beyond half its height; nothing is
claimed beyond `MOST`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.stock import FoamRow

D1056 = "ASTM D1056-14: force bands at 25 % deflection"
EXTRAPOLATED = f"{D1056}; extrapolated in proportion"
BACK_BAND = (0.30, 0.50)  # compression of the back gasket; common trade practice
MOST = 0.60  # compression beyond which the straight line is not used at all
CLOSED_DOUBT = 0.2  # of what a flat gasket gives: it is screwed down by hand; common trade practice
FROM_EDGE_MM = 1.5  # from the hole's edge to a strip; common trade practice
_SAME = 1e-9


@dataclass(frozen=True)
class GasketPlan:
    """Where a gasket lies round the hole."""

    inner_mm: float  # radius of its inner edge
    width_mm: float  # of the strip; of all of the flange where none was given: a round flange of the same area
    area_mm2: float


@dataclass(frozen=True)
class BackGasket:
    """The gasket between adapter and metal."""

    grade: str
    free_mm: float  # height before
    closed_mm: float  # height as closed at the fixings
    seat_mm: float  # what it adds to the seat height: `closed_mm`, or 0 in a groove (the plate bottoms on the metal)
    doubt_mm: float  # either way, of `seat_mm`
    groove_mm: float  # depth of the groove, 0 for a flat one
    compression: float  # share of its height that it gives, no unit
    plan: GasketPlan | None  # None where the flange or the hole is not known
    force_n: tuple[float, float] | None  # what the screws pull against; None where the area is not known
    check: Check  # `fit.foam-back`


def gasket_plan(flange_mm2: float, hole_mm: float, strip_mm: float | None = None) -> GasketPlan | None:
    """Where a gasket lies: a strip round the hole in the metal, or all of the flange outside of it.

    hole_mm : float, mm: radius of the hole.  None where the flange leaves no room for it.
    """
    outer = sqrt(flange_mm2 / pi)
    if strip_mm is None or strip_mm >= outer - hole_mm:
        inner, width = hole_mm, outer - hole_mm
    else:
        inner = min(hole_mm + FROM_EDGE_MM, outer - strip_mm)
        width = strip_mm
    return GasketPlan(inner, width, pi * width * (2.0 * inner + width)) if width > 0.0 else None


def force_n(foam: FoamRow, area_mm2: float, compression: float) -> tuple[float, float]:
    """Band of the force that closes a piece of foam.

    F = p A c / 0.25, with p the grade's band at 25 % deflection (ASTM D1056): exact at 25 %, extrapolated at any
    other compression.

    compression : float, no unit: share of its height, 0 to `MOST`
    `compression`, 1.
    """
    if not 0.0 <= compression <= MOST + _SAME:
        raise InputError("compression of foam", round(compression, 4), f"0 to {MOST:g}")
    scale = area_mm2 * 1e-6 * compression / foam.deflection
    return foam.low_pa * scale, foam.high_pa * scale


def band_step(foam: FoamRow) -> CalculationLine:
    """The grade's band, as a line of a working."""
    return CalculationLine(
        "p",
        f"upper end of grade {foam.name}'s band (lower end {foam.low_pa / 1000:g} kPa)",
        foam.high_pa / 1000.0,
        "kPa",
        foam.cited,
    )


def back_gasket(
    foam: FoamRow,
    free_mm: float,
    closed_mm: float | None = None,
    grooved: bool = False,
    plan: GasketPlan | None = None,
    half_mm: float | None = None,
) -> BackGasket:
    """The gasket behind the adapter, flat or in a groove, so that the plate bottoms on the metal.

    `closed_mm` left out is half of `free_mm` flat, 0.6 of it in a groove.  A flat one is closed by hand: its height
    is known to a fifth of what it gives (common trade practice) unless `half_mm` says better.
    """
    if free_mm <= 0.0:
        raise InputError("height of the back gasket", free_mm, "above 0 mm")
    assumed = closed_mm is None
    if closed_mm is None:
        closed_mm = free_mm * (0.6 if grooved else 0.5)
    if not 0.0 < closed_mm <= free_mm:
        raise InputError("closed height of the back gasket", closed_mm, f"above 0 mm, up to {free_mm:g} mm")
    compression = 1.0 - closed_mm / free_mm
    force = force_n(foam, plan.area_mm2, compression) if plan is not None and compression <= MOST else None
    doubt = 0.0 if grooved else CLOSED_DOUBT * (free_mm - closed_mm) if half_mm is None else half_mm
    low, high = BACK_BAND
    working = [
        CalculationLine("h0", "height of the strip", free_mm, "mm", "the job"),
        CalculationLine(
            "h1",
            "depth of the groove" if grooved else "height as closed",
            closed_mm,
            "mm",
            f"default; {PRACTICE}" if assumed else "the job",
        ),
        CalculationLine("c", "1 - h1 / h0", compression, "", PRACTICE),
    ]
    if not grooved:
        how_known = f"{CLOSED_DOUBT:.0%} of what it gives; {PRACTICE}" if half_mm is None else "the job"
        working.append(CalculationLine("±", "how sure its closed height is, either way", doubt, "mm", how_known))
    if force is not None and plan is not None:
        working.append(band_step(foam))
        working.append(CalculationLine("s", "width of the strip", plan.width_mm, "mm", "the part"))
        working.append(CalculationLine("A", "area in plan", plan.area_mm2, "mm2", "round the hole in the metal"))
        working.append(CalculationLine("F", "p A c / 0.25, at the band's upper end", force[1], "N", EXTRAPOLATED))
    how = "in a groove" if grooved else "flat"
    quantities: tuple[tuple[str, float | str, str], ...] = (
        ("free", free_mm, "mm"),
        ("closed", closed_mm, "mm"),
        ("compression", 100.0 * compression, "%"),
    )
    pushes = ""
    if force is not None and plan is not None:
        pushes = ", pushes the part off with {weak} to {strong} on a width of {width}"
        quantities += (("weak", force[0], "N"), ("strong", force[1], "N"), ("width", plan.width_mm, "mm"))
    remedy = None
    verdict: Verdict = "ok"
    if not low - _SAME <= compression <= high + _SAME:
        verdict = "caution"
        remedy = Message(
            "Close a {free} strip to between {least} and {most}, or take a strip of another thickness",
            (("free", free_mm, "mm"), ("least", free_mm * (1 - high), "mm"), ("most", free_mm * (1 - low), "mm")),
        )
    check = Check(
        "fit.foam-back",
        verdict,
        Message(
            f"Back gasket, {how}: {{free}} closed to {{closed}}, {{compression}} compressed{pushes} "
            "(beyond the 25 % its grade is tested at)",
            quantities,
        ),
        value=100.0 * compression,
        limit=100.0 * (low if compression < low else high),
        unit="%",
        remedy=remedy,
        working=tuple(working),
        sources=(PRACTICE, D1056),
        key="foam.closed",
    )
    return BackGasket(
        grade=foam.name,
        free_mm=free_mm,
        closed_mm=closed_mm,
        seat_mm=0.0 if grooved else closed_mm,
        doubt_mm=doubt,
        groove_mm=closed_mm if grooved else 0.0,
        compression=compression,
        plan=plan,
        force_n=force,
        check=check,
    )
