"""What a fit found, in words a fitter would say: one check for each clearance and for what stands round it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict, capped
from backwave.fit.clearance import Model
from backwave.fit.coverage import coverage_checks, terminals_unread, window_moves
from backwave.fit.reading_checks import (
    Quantities,
    assumed_checks,
    least_certain,
    measure_first,
    reach_checks,
    read_once_checks,
    read_twice,
    stand_in_checks,
    waits_for,
)
from backwave.fit.results import Clearance, Fit
from backwave.fit.types import GaugeTrial, Opening
from backwave.fit.window_check import MONTE_CARLO, window_checks
from backwave.uncertainty import contributions

FIRST_ORDER = "JCGM 100:2008, 5.1 and 5.2"

# what clears or hits what; `{place}` is what is nearest
_CLEARS = {
    "fit.glass": ("The speaker's back", "the {place}"),
    "fit.behind": ("The speaker's back", "the {place}"),
    "fit.grille": ("The {place}", "the grille"),
    "fit.hole": ("The speaker", "the {place}"),
    "fit.terminals": ("The terminals", "the {place}"),
    "fit.screw-tails": ("The end of a screw", "the {place}"),
}
_RAISE = "Raise the speaker by {need} (a thicker adapter), or take one that is {need} shallower"
_REMEDIES = {
    "fit.glass": _RAISE,
    "fit.behind": _RAISE,
    "fit.grille": "Lower the speaker by {need} (thinner adapter, deeper recess), or space the trim out by {need}",
    "fit.hole": "Take a speaker that is narrower by {need} where it passes the metal, or raise it until it is",
    "fit.terminals": "Turn the speaker so that its terminals point elsewhere, or raise it by {need}",
    "fit.screw-tails": "Use a screw that is {need} shorter",
    "fit.vent": "Raise the speaker by {need}, or expect the vent to be choked",
}
_FORMULAS = {
    "fit.glass": "stand-off + clear - driver depth, least over the radius",
    "fit.behind": "stand-off + clear - driver depth, least over the radius",
    "fit.grille": "trim clear - (stand-off + front + its share of Xmech)",
    "fit.hole": "hole edge - largest radius of the driver at or behind the metal",
    "fit.terminals": "stand-off + clear - depth of the terminals, least over their radii",
    "fit.screw-tails": "clear - skin - length behind the skin",
    "fit.vent": "stand-off + clear - driver depth, least over the vent",
}


def tilted(tilt_deg: float, offset_mm: float) -> Check:
    """A speaker that leans or is off the axis."""
    return Check(
        "fit.seat",
        "stop",
        Message(
            "A mounting tilted by {tilt} and offset by {offset} is not worked out yet: no clearance was judged",
            (("tilt", tilt_deg, "deg"), ("offset", offset_mm, "mm")),
        ),
        remedy=Message("Mount it flat and on the opening's axis: neither a part nor a dummy is made that leans"),
        key="mounting",
    )


def missing(opening: Opening) -> tuple[Check, ...]:
    """What has to be measured before all can be judged."""
    asked = []
    for absent, key, what, remedy in (
        (
            not opening.behind,
            "behind",
            "depth behind the face",
            "Measure the free depth at the axis and near the edge, with the window down, half way and up",
        ),
        (
            opening.trim_clear is None,
            "trim.clear",
            "distance from the metal to the grille",
            "Measure from the metal to the back of the grille with the trim seated",
        ),
        (
            opening.hole is None and opening.outline_mm is None,
            "hole",
            "hole in the metal",
            "Measure the hole's diameter, or trace its edge",
        ),
    ):
        if absent:
            asked.append(
                Check(
                    "job.missing",
                    "caution",
                    Message(f"No {what} entered yet"),
                    remedy=Message(remedy),
                    key=key,
                    part=key,
                )
            )
    return tuple(asked)


def with_checks(fit: Fit, model: Model, stand_in: GaugeTrial | None) -> Fit:
    """The same fit with everything that was found."""
    twice = read_twice(fit, model.opening)
    tried = stand_in is not None and stand_in.clear
    sector = max((o.half_deg for o in model.opening.behind if o.angle_deg is not None), default=None)
    moves, covers = window_moves(model.opening), stand_in
    if stand_in is not None and moves and stand_in.glass_mm < model.margins.glass_mm - 1e-9:
        covers = replace(stand_in, full_travel=False)  # the window went past less than glass wants
    coverage = coverage_checks(model.opening, covers)
    unread = [check for check in coverage if check.verdict != "ok"] if moves else []
    checks = [
        _clearance(c, fit, stand_in, c.name == fit.tightest and not twice and not tried, sector, unread)
        for c in fit.clearances
    ]
    checks += assumed_checks(fit.clearances)
    checks += window_checks(fit)
    checks += coverage
    angle = model.terminal_sector()[0]
    if (
        model.opening.behind
        and angle is not None
        and not tried
        and all(c.code != "fit.terminals" for c in fit.clearances)
    ):
        checks.append(terminals_unread(angle))
    checks += reach_checks(model, fit.seat_height_mm)
    checks += read_once_checks(fit, model, twice, tried)
    checks += stand_in_checks(stand_in)
    checks += missing(model.opening)
    return replace(fit, checks=tuple(checks))


def _clearance(
    c: Clearance, fit: Fit, trial: GaugeTrial | None, once: bool, sector_deg: float | None, unread: list[Check]
) -> Check:
    verdict: Verdict = c.verdict
    waits: tuple[str, ...] = ()
    moving = c.code == "fit.glass" or c.part == "glass"
    nearest = c.nearest.words()
    template = _title(c).replace("{place}", nearest.template)
    remedy: str | None = None
    quantities: Quantities = (("need", max(c.margin_mm - c.estimate.low, 0.0), "mm"), *nearest.quantities)
    backed = trial is not None and trial.shows(c.code, c.part, c.margin_mm)
    if verdict == "ok" and once:
        verdict, remedy = "caution", "Measure it a second time, from the start, or try a dummy"
        waits = ("fit.read-once",)
        template += " (measured only once)"
    elif verdict == "caution" and backed:
        verdict, template = "ok", template + "; the dummy, which has that margin on it, went clear"
    elif verdict != "ok" and c.span is not None and c.span.best_mm >= c.margin_mm:
        measure, more = measure_first(c.span)
        remedy, quantities, waits = measure, (*quantities, *more), waits_for(c.span)
    elif verdict != "ok":
        remedy = _REMEDIES[c.code].replace("{place}", nearest.template)
        doubt = least_certain(c)
        if c.nearest.beyond:
            remedy = "Nothing was measured {radius} from the axis: measure the {what} there first. " + remedy
        elif c.estimate.value >= c.margin_mm and doubt is not None:
            remedy += "; or measure {reading} again, the least certain number"
            quantities += (("reading", doubt.name, ""),)
        if backed:
            remedy = "The dummy went clear but the readings say it hits: one of them is wrong. " + remedy
    if moving and unread and (verdict == "ok" or waits):
        waits += tuple(check.name for check in unread)
    if verdict == "ok" and moving and unread and (measure_there := unread[0].remedy) is not None:
        verdict, template = "caution", template + " (where it was measured)"
        remedy, quantities = measure_there.template, measure_there.quantities
    sizes: Quantities = (("free", abs(c.estimate.value), "mm"), ("margin", c.margin_mm, "mm"))
    return Check(
        code=c.code,
        verdict=verdict,
        title=Message(template, (*sizes, *nearest.quantities)),
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
        waits=waits if verdict == "caution" else (),
    )


def _title(c: Clearance) -> str:
    if c.code == "fit.vent":
        return "{free} of air between the vent in the pole and the {place}; needs {margin}"
    what, of = _CLEARS[c.code]
    if c.code == "fit.hole" and c.nearest.of == "terminals":
        what, of = "The terminals", "the edge of the hole"
    verb = "hits" if c.estimate.value < 0.0 else "clears"
    if what.endswith("s") and not what.endswith("'s"):
        verb = verb[:-1]
    return f"{what} {verb} {of} by {{free}}; needs {{margin}} of room"


def _working(c: Clearance, fit: Fit, sector_deg: float | None) -> tuple[CalculationLine, ...]:
    shares = dict(contributions([r for r, _ in c.slopes], np.array([s for _, s in c.slopes])))
    angled = sector_deg is not None and c.code in ("fit.terminals", "fit.screw-tails")
    sector = [
        CalculationLine("sector", "a reading with an angle holds so far to either side", sector_deg, "deg", "assumed")
    ]
    return (
        CalculationLine("c", _FORMULAS[c.code], c.estimate.value, "mm", "value at the best estimates"),
        CalculationLine("h", "stand-off", fit.seat_height_mm, "mm", "the stack"),
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
        CalculationLine("u", "standard uncertainty, drawn", c.estimate.u, "mm", f"{MONTE_CARLO}, {fit.draws} draws"),
        CalculationLine("low", "2.5 % point", c.estimate.low, "mm", MONTE_CARLO),
        CalculationLine("high", "97.5 % point", c.estimate.high, "mm", MONTE_CARLO),
        CalculationLine("u1", "standard uncertainty by first order", c.first_order_u_mm, "mm", FIRST_ORDER),
        CalculationLine("worst", "worst case: every half-width, or 2 u, against us", c.worst_mm, "mm", "sum of bounds"),
        CalculationLine("P0", "chance to clear, 0.99 at most", capped(c.chance_clear), "", MONTE_CARLO),
        CalculationLine("Pm", "chance to keep the margin, 0.99 at most", capped(c.chance_margin), "", MONTE_CARLO),
    )
