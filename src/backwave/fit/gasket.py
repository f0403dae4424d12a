"""How hard foam pushes back, and the gasket behind the adapter.

How hard foam pushes back is known from ASTM D1056 at one deflection only, a quarter of its height, as a band of
pressures for each grade.  At any other compression the band is scaled in proportion (the straight line through
nothing at 0 and the band at 25 %) and called extrapolated.  Real foam stiffens beyond half its height; nothing is
claimed beyond `MOST`.
"""

from __future__ import annotations

from dataclasses import dataclass

from backwave.errors import InputError
from backwave.finding import CalculationLine, Check, Message, Verdict
from backwave.stock import FoamRow

__all__ = ["BACK_BAND", "D1056", "EXTRAPOLATED", "MOST", "BackGasket", "back_gasket", "band_step", "force_n"]

PRACTICE = "common trade practice"
D1056 = "ASTM D1056-14: force bands at 25 % deflection"
EXTRAPOLATED = f"{D1056}; extrapolated in proportion"
BACK_BAND = (0.30, 0.50)  # compression of the back gasket; common trade practice
MOST = 0.60  # compression beyond which the straight line is not used at all
_SAME = 1e-9


@dataclass(frozen=True)
class BackGasket:
    """The gasket between adapter and metal.

    Parameters
    ----------
    free_mm, closed_mm : float, mm
        Its height before and after.
    seat_mm : float, mm
        What it adds to the seat height: `closed_mm`, or 0 in a groove (the plate bottoms on the metal).
    groove_mm : float, mm
        Depth of the groove, 0 for a flat one.
    compression : float, no unit
        Share of its height that it gives.
    force_n : (low, high) float or None, N
        What the screws pull against; None where the area is not known.
    check : Check, no unit
        `fit.foam-back`.
    """

    free_mm: float
    closed_mm: float
    seat_mm: float
    groove_mm: float
    compression: float
    force_n: tuple[float, float] | None
    check: Check


def force_n(foam: FoamRow, area_mm2: float, compression: float) -> tuple[float, float]:
    """Band of the force that closes a piece of foam.

    F = p A c / 0.25, with p the grade's band at 25 % deflection (ASTM D1056): exact at 25 %, extrapolated at any
    other compression.

    Parameters
    ----------
    foam : FoamRow, Pa
        The grade.
    area_mm2 : float, mm2
        Area in plan.
    compression : float, no unit
        Share of its height, 0 to `MOST`.

    Returns
    -------
    (low, high) float, N

    Raises
    ------
    InputError
        A compression for which the line is not used.
    """
    if not 0.0 <= compression <= MOST + _SAME:
        raise InputError("compression of foam", round(compression, 4), f"0 to {MOST:g}")
    scale = area_mm2 * 1e-6 * compression / foam.deflection
    return foam.low_pa * scale, foam.high_pa * scale


def band_step(foam: FoamRow) -> CalculationLine:
    """The grade's band, as a line of a working.

    Parameters
    ----------
    foam : FoamRow, Pa
        The grade.
    """
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
    area_mm2: float | None = None,
) -> BackGasket:
    """The gasket behind the adapter, flat or in a groove.

    Parameters
    ----------
    foam : FoamRow, Pa
        Its grade.
    free_mm : float, mm
        Height of the strip.
    closed_mm : float or None, mm
        Height as closed (in a groove: the groove's depth); None: half of `free_mm` flat, 0.6 of it in a groove.
    grooved : bool, no unit
        Whether it lies in a groove, so that the plate bottoms on the metal.
    area_mm2 : float or None, mm2
        Its area in plan, for the force; None: no force is given.

    Raises
    ------
    InputError
        A free height that is not above 0, or a closed one that is not between 0 and it.
    """
    if free_mm <= 0.0:
        raise InputError("height of the back gasket", free_mm, "above 0 mm")
    assumed = closed_mm is None
    if closed_mm is None:
        closed_mm = free_mm * (0.6 if grooved else 0.5)
    if not 0.0 < closed_mm <= free_mm:
        raise InputError("closed height of the back gasket", closed_mm, f"above 0 mm, up to {free_mm:g} mm")
    compression = 1.0 - closed_mm / free_mm
    force = force_n(foam, area_mm2, compression) if area_mm2 is not None and compression <= MOST else None
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
    if force is not None:
        working.append(band_step(foam))
        working.append(CalculationLine("A", "area in plan", area_mm2, "mm2"))
        working.append(CalculationLine("F", "p A c / 0.25, at the band's upper end", force[1], "N", EXTRAPOLATED))
    how = "in a groove" if grooved else "flat"
    quantities: tuple[tuple[str, float | str, str], ...] = (
        ("free", free_mm, "mm"),
        ("closed", closed_mm, "mm"),
        ("compression", 100.0 * compression, "%"),
    )
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
            f"Back gasket, {how}: {{free}} closed to {{closed}}, {{compression}} compressed "
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
        free_mm, closed_mm, 0.0 if grooved else closed_mm, closed_mm if grooved else 0.0, compression, force, check
    )
