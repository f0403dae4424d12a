"""What a fit found, in words a fitter would say: one check for each clearance and for what stands round it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from backwave.finding import CalculationLine, Check, Message, Verdict
from backwave.fit.clearance import Model
from backwave.fit.reading_checks import (
    PRACTICE,
    Quantities,
    reach_checks,
    read_once_checks,
    read_twice,
    stand_in_checks,
)
from backwave.fit.results import Clearance, Fit
from backwave.fit.types import GaugeTrial, Opening
from backwave.fit.window_check import MONTE_CARLO, window_checks
from backwave.uncertainty import contributions

__all__ = ["missing", "tilted", "with_checks"]

FIRST_ORDER = "JCGM 100:2008, 5.1 and 5.2"

_TITLES = {
    "fit.glass": "{free} between the driver's back and the {place}; {margin} wanted",
    "fit.behind": "{free} between the driver's back and the {place}; {margin} wanted",
    "fit.grille": "{free} between the grille and the {place}; {margin} wanted",
    "fit.hole": "{free} all round between the driver and the {place}; {margin} wanted",
    "fit.terminals": "{free} between the terminals and the {place}; {margin} wanted",
    "fit.screw-tails": "{free} between the end of a screw and the {place}; {margin} wanted",
    "fit.vent": "{free} of air between the vent in the pole and the {place}; {margin} wanted",
}
_RAISE = "Raise the driver by {need} (a thicker adapter), or take one that is {need} shallower"
_REMEDIES = {
    "fit.glass": _RAISE,
    "fit.behind": _RAISE,
    "fit.grille": "Lower the driver by {need} (thinner adapter, deeper seat), or space the trim out by {need}",
    "fit.hole": "Take a driver that is narrower by {need} where it passes the metal, or raise it until it is",
    "fit.terminals": "Turn the driver so that its terminals point elsewhere, or raise it by {need}",
    "fit.screw-tails": "Use a screw that is {need} shorter",
    "fit.vent": "Raise the driver by {need}, or expect the vent to be choked",
}
_FORMULAS = {
    "fit.glass": "seat height + clear - driver depth, least over the radius",
    "fit.behind": "seat height + clear - driver depth, least over the radius",
    "fit.grille": "trim clear - (seat height + front + its share of Xmech)",
    "fit.hole": "hole edge - largest radius of the driver at or behind the metal",
    "fit.terminals": "seat height + clear - depth of the terminals, least over their radii",
    "fit.screw-tails": "clear - skin - length behind the skin",
    "fit.vent": "seat height + clear - driver depth, least over the vent",
}


def tilted(tilt_deg: float, offset_mm: float) -> Check:
    """A seat that leans or is off the axis.

    Parameters
    ----------
    tilt_deg, offset_mm : float, deg and mm
        By how much.
    """
    return Check(
        "fit.seat",
        "stop",
        Message(
            "A seat tilted by {tilt} and offset by {offset} is not worked out yet: no clearance was judged",
            (("tilt", tilt_deg, "deg"), ("offset", offset_mm, "mm")),
        ),
        remedy=Message("Make the seat flat and on the opening's axis, or try a stand-in before making anything"),
        key="seat",
    )


def missing(opening: Opening) -> tuple[Check, ...]:
    """What has to be measured before all can be judged.

    Parameters
    ----------
    opening : Opening, mm
        The opening.
    """
    asked = []
    for absent, key, what, remedy in (
        (
            not opening.behind,
            "behind",
            "how deep it is behind the face",
            "Measure the free depth at the axis and near the edge, with the window down, half way and up",
        ),
        (
            opening.trim_clear is None,
            "trim.clear",
            "how far the grille stands off the metal",
            "Measure from the metal to the back of the grille with the trim seated",
        ),
        (
            opening.hole is None and opening.outline_mm is None,
            "hole",
            "how large the hole in the metal is",
            "Measure the hole's diameter, or trace its edge",
        ),
    ):
        if absent:
            asked.append(
                Check(
                    "job.missing",
                    "caution",
                    Message("Nobody has said " + what),
                    remedy=Message(remedy),
                    key=key,
                    part=key,
                )
            )
    return tuple(asked)


def with_checks(fit: Fit, model: Model, stand_in: GaugeTrial | None) -> Fit:
    """The same fit with everything that was found.

    Parameters
    ----------
    fit : Fit, mm
        As computed.
    model : Model, mm
        What it was computed from.
    stand_in : GaugeTrial or None, no unit
        What a gauge of the driver did.
    """
    twice = read_twice(fit, model.opening)
    tried = stand_in is not None and stand_in.outcome == "clear"
    sector = max((o.half_deg for o in model.opening.behind if o.angle_deg is not None), default=None)
    checks = [
        _clearance(c, fit, tried, once=c.name == fit.tightest and not twice and not tried, sector_deg=sector)
        for c in fit.clearances
    ]
    checks += window_checks(fit)
    checks += reach_checks(model, fit.seat_height_mm)
    checks += read_once_checks(fit, model, twice, tried)
    checks += stand_in_checks(stand_in)
    checks += missing(model.opening)
    return replace(fit, checks=tuple(checks))


def _clearance(c: Clearance, fit: Fit, tried: bool, once: bool, sector_deg: float | None) -> Check:
    verdict: Verdict = c.verdict
    need = max(c.margin_mm - c.estimate.low, 0.0)
    touches = "Would touch: " if c.estimate.value < 0.0 else ""
    nearest = c.nearest.words()
    template = touches + _TITLES[c.code].replace("{place}", nearest.template)
    remedy: str | None = None
    quantities: Quantities = (("need", need, "mm"), *nearest.quantities)
    backed = tried and c.code in ("fit.glass", "fit.behind", "fit.terminals")
    if verdict == "ok" and once:
        verdict, remedy = "caution", "Read it a second time, from the start, or try a stand-in"
        template += " (read once)"
    elif verdict == "caution" and backed:
        verdict, template = "ok", template + "; the stand-in, which has its margin on it, went clear"
    elif verdict != "ok":
        remedy = _REMEDIES[c.code].replace("{place}", nearest.template)
        if c.nearest.beyond:
            remedy = "Nothing was read {radius} from the axis: read the {what} there first. " + remedy
        elif c.estimate.value >= c.margin_mm:
            shares = contributions([r for r, _ in c.slopes], np.array([s for _, s in c.slopes]))
            if shares:  # none where the doubt is all in a step, as at a shoulder just behind the metal
                remedy += "; or read {reading} again, which is most of the doubt"
                quantities += (("reading", shares[0][0], ""),)
        if backed:
            remedy = "The stand-in went clear but the readings say it touches: one of them is wrong. " + remedy
    return Check(
        code=c.code,
        verdict=verdict,
        title=Message(
            template, (("free", c.estimate.value, "mm"), ("margin", c.margin_mm, "mm"), *nearest.quantities)
        ),
        value=c.estimate.value,
        limit=c.margin_mm,
        unit="mm",
        chance=c.chance_margin,
        low=c.estimate.low,
        high=c.estimate.high,
        remedy=None if remedy is None else Message(remedy, quantities),
        working=_working(c, fit, sector_deg),
        sources=(MONTE_CARLO, FIRST_ORDER, f"margin: {PRACTICE}"),
        part=c.part,
    )


def _working(c: Clearance, fit: Fit, sector_deg: float | None) -> tuple[CalculationLine, ...]:
    shares = dict(contributions([r for r, _ in c.slopes], np.array([s for _, s in c.slopes])))
    angled = sector_deg is not None and c.code in ("fit.terminals", "fit.screw-tails")
    sector = [
        CalculationLine(
            "sector", "a reading with an angle holds so far to either side", sector_deg, "deg", "assumed"
        )
    ]
    return (
        CalculationLine("c", _FORMULAS[c.code], c.estimate.value, "mm", "value at the best estimates"),
        CalculationLine("h", "seat height", fit.seat_height_mm, "mm", "the stack"),
        *(
            CalculationLine(
                f"{slope:+.2f} x",
                f"{100 * shares.get(reading.name, 0.0):.0f} % of the doubt",
                reading.value,
                "mm",
                reading.name + (" (assumed)" if reading.assumed else ""),
            )
            for reading, slope in c.slopes
            if reading.value or reading.errors
        ),
        *(sector if angled else ()),
        CalculationLine(
            "u", "standard uncertainty, drawn", c.estimate.u, "mm", f"{MONTE_CARLO}, {fit.draws} draws"
        ),
        CalculationLine("low", "2.5 % point", c.estimate.low, "mm", MONTE_CARLO),
        CalculationLine("high", "97.5 % point", c.estimate.high, "mm", MONTE_CARLO),
        CalculationLine("u1", "standard uncertainty by first order", c.first_order_u_mm, "mm", FIRST_ORDER),
        CalculationLine(
            "worst", "worst case: every half-width, or 2 u, against us", c.worst_mm, "mm", "sum of bounds"
        ),
        CalculationLine("P0", "chance to clear", c.chance_clear, "", MONTE_CARLO),
        CalculationLine("Pm", "chance to keep the margin", c.chance_margin, "", MONTE_CARLO),
    )
