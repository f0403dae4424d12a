"""One driver in one opening, judged: clearances with how sure they are, chances, the window, and what was found in words.

Best estimates give the values; Monte Carlo (JCGM 101:2008) gives u, the interval and the chances; first order
(JCGM 100:2008) and worst case stand beside them.  Millimeters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import reduce
from math import erfc, floor, prod, sqrt

import numpy as np
from numpy.typing import NDArray

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict, capped, check_of
from backwave.fit.clearance import Model, Term, seat_height_mm
from backwave.fit.coverage import coverage_checks, terminals_unread, window_moves
from backwave.fit.plausible import spans_of
from backwave.fit.reading_checks import (
    assumed_checks,
    least_certain,
    measure_first,
    reach_checks,
    read_once_checks,
    read_twice,
    stand_in_checks,
    waits_for,
)
from backwave.fit.types import Clearance, DriverShape, Fit, GaugeTrial, Margins, Nearest, Opening, ScrewTail, Stack
from backwave.fit.window import MONTE_CARLO, asked_instead, window_checks, window_of
from backwave.uncertainty import (
    Estimate,
    Evaluator,
    contributions,
    estimates,
    first_order,
    monte_carlo,
    sensitivities,
    worst_case,
)

FIRST_ORDER = "JCGM 100:2008, 5.1 and 5.2"
_Z95 = 1.9599640  # of a normal distribution

# what clears or hits what; `{place}` is what is nearest
_CLEARS = {
    "fit.glass": ("The speaker's back", "the {place}"), "fit.behind": ("The speaker's back", "the {place}"),
    "fit.grille": ("The {place}", "the grille"), "fit.hole": ("The speaker", "the {place}"),
    "fit.terminals": ("The terminals", "the {place}"), "fit.screw-tails": ("The end of a screw", "the {place}"),
}  # fmt: skip
_RAISE = "Raise the speaker by {need} (a thicker adapter), or take one that is {need} shallower"
_REMEDIES = {
    "fit.glass": _RAISE,
    "fit.behind": _RAISE,
    "fit.grille": "Lower the speaker by {need} (thinner adapter, deeper recess), or space the trim out by {need}",
    "fit.hole": "Take a speaker that is narrower by {need} where it passes the metal, or raise it until it is",
    "fit.terminals": "Turn the speaker so that its terminals point elsewhere, or raise it by {need}",
    "fit.screw-tails": "Set that fixing where there is more room, or take a kind of fixing of which {most} or less stands behind "
    "the metal; {tail} does, with the shortest screw that holds",
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
    return check_of(
        "fit.seat", "stop",
        "A mounting tilted by {tilt} and offset by {offset} is not worked out yet: no clearance was judged",
        "Mount it flat and on the opening's axis: neither a part nor a dummy is made that leans",
        (("tilt", tilt_deg, "deg"), ("offset", offset_mm, "mm")), sources=(), key="mounting",
    )  # fmt: skip


def missing(opening: Opening) -> tuple[Check, ...]:
    """What has to be measured before all can be judged."""
    rows = (
        (not opening.behind, "behind", "depth behind the face",
         "Measure the free depth at the axis and near the edge, with the window down, half way and up"),
        (opening.trim_clear is None, "trim.clear", "distance from the metal to the grille",
         "Measure from the metal to the back of the grille with the trim seated"),
        (opening.hole is None and opening.outline_mm is None, "hole", "hole in the metal",
         "Measure the hole's diameter, or trace its edge"),
    )  # fmt: skip
    return tuple(
        check_of("job.missing", "caution", f"No {what} entered yet", remedy, sources=(), key=key, part=key)
        for absent, key, what, remedy in rows
        if absent
    )


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
        if tail := next((reading.value for reading, _ in c.slopes if reading.name.endswith(".tail")), 0.0):
            most = tail - max(c.margin_mm - c.estimate.low, 0.0)
            quantities += (("most", floor(10.0 * most) / 10.0, "mm"), ("tail", tail, "mm"))
            if most < 0.1:
                remedy = "Set that fixing where there is more room: nothing may stand behind the metal there"
        if ask := asked_instead(c.code, c.margin_mm - c.estimate.low):
            remedy = ask[:1].upper() + ask[1:]
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
        code=c.code, verdict=verdict, title=Message(template, (*sizes, *nearest.quantities)), value=c.estimate.value,
        limit=c.margin_mm, unit="mm", chance=c.chance_margin, low=c.estimate.low, high=c.estimate.high,
        remedy=None if remedy is None else Message(remedy, quantities), working=_working(c, fit, sector_deg),
        sources=(MONTE_CARLO, FIRST_ORDER, f"margin: {PRACTICE}"), part=c.part,
        waits=waits if verdict == "caution" else (),
    )  # fmt: skip


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
    how = MONTE_CARLO if fit.draws else FIRST_ORDER
    angled = sector_deg is not None and c.code in ("fit.terminals", "fit.screw-tails")
    sector = [
        CalculationLine("sector", "a reading with an angle holds so far to either side", sector_deg, "deg", "assumed")
    ]
    return (
        CalculationLine("c", _FORMULAS[c.code], c.estimate.value, "mm", "value at the best estimates"),
        CalculationLine("h", "stand-off", fit.seat_height_mm, "mm", "the stack"),
        *(
            CalculationLine(
                f"{slope:+.2f} x", f"{100 * shares.get(reading.name, 0.0):.0f} % of the doubt", reading.value, "mm",
                reading.name + (" (assumed)" if reading.assumed else ""),
            )
            for reading, slope in c.slopes if reading.value or reading.errors
        ),
        *(sector if angled else ()),
        CalculationLine("u", "standard uncertainty, drawn", c.estimate.u, "mm", f"{how}, {fit.draws} draws"),
        CalculationLine("low", "2.5 % point", c.estimate.low, "mm", how),
        CalculationLine("high", "97.5 % point", c.estimate.high, "mm", how),
        CalculationLine("u1", "standard uncertainty by first order", c.first_order_u_mm, "mm", FIRST_ORDER),
        CalculationLine("worst", "worst case: every half-width, or 2 u, against us", c.worst_mm, "mm", "sum of bounds"),
        CalculationLine("P0", "chance to clear, 0.99 at most", capped(c.chance_clear), "", MONTE_CARLO),
        CalculationLine("Pm", "chance to keep the margin, 0.99 at most", capped(c.chance_margin), "", MONTE_CARLO),
    )  # fmt: skip


Array = NDArray[np.float64]


def judge(
    opening: Opening, driver: DriverShape, stack: Stack, margins: Margins | None = None, *,
    turn_deg: float | None = 0.0, tails: Sequence[ScrewTail] = (), stand_in: GaugeTrial | None = None,
    tilt_deg: float = 0.0, offset_mm: float = 0.0, draws: int = 100_000, tolerance_mm: float | None = None,
    seed: int = 0,
) -> Fit:  # fmt: skip
    """Judge one driver in one opening at one seat height and turn. `opening`, mm: the opening and its surroundings, as
    the side in question has them; `driver`, mm; `stack`, mm; `margins`, mm; `turn_deg`: added to the driver's own
    angles; None: not decided; `tails`, mm; `tilt_deg`, `offset_mm`: A seat that leans, or is off the opening's axis;
    anything but 0 is a stop that says it is not worked out; `draws`: how many draws; the most of them where a tolerance
    is given; 0: intervals by first order, in a hundredth of the time; `tolerance_mm`: stop drawing once the ends of every interval are known this well (0.005 with draws = 1 000
    000); `seed`: another number gives an independent set of draws."""
    margins = margins or Margins()
    height = seat_height_mm(stack)
    if tilt_deg != 0.0 or offset_mm != 0.0:
        return Fit(height, (), None, None, "", (), None, (tilted(tilt_deg, offset_mm),), 0)
    model = Model(opening, driver, stack, margins, turn_deg, tuple(tails))
    terms = model.terms()
    if not terms:
        return Fit(height, (), None, None, "", (), None, missing(opening), 0)
    sample = monte_carlo(model, draws, tolerance_mm, seed) if draws else None
    clearances = _clearances(model, sample)
    if sample is None:  # as if independent: less than any of them
        clear, keep = (prod(getattr(c, f"chance_{what}") for c in clearances) for what in ("clear", "margin"))
    else:
        wanted = np.array([c.margin_mm for c in clearances])[:, None]
        clear, keep = (float(np.mean(np.all(sample >= least, axis=0))) for least in (np.nextafter(0.0, 1.0), wanted))
    tightest = min(clearances, key=_room)
    shares = contributions([r for r, _ in tightest.slopes], np.array([s for _, s in tightest.slopes]))
    window = window_of(clearances, height)
    fit = Fit(
        seat_height_mm=height, clearances=clearances, chance_clear=clear, chance_margin=keep, tightest=tightest.name,
        contributions=shares, window=window, checks=(), draws=0 if sample is None else sample.shape[1],
    )  # fmt: skip
    return with_checks(fit, model, stand_in)


def _room(clearance: Clearance) -> tuple[float, float]:
    """Least chance first; among equal chances, the fewest standard uncertainties of room."""
    room = clearance.estimate.value - clearance.margin_mm
    return clearance.chance_margin, room / max(clearance.first_order_u_mm or clearance.estimate.u, 1e-9)


def _clearances(model: Model, sample: Array | None) -> tuple[Clearance, ...]:
    terms, readings = model.terms(), model.readings()
    nears: list[list[Nearest]] = [[] for _ in terms]

    def all_candidates(look: Evaluator) -> Array:
        rows, results = [], []
        for term, near in zip(terms, nears):
            near.clear()
            found = list(term.candidates(look))
            near.extend(where for where, _ in found)
            rows += [values for _, values in found]
            results.append(reduce(np.fmin, (values for _, values in found)))
        return np.stack(np.broadcast_arrays(*(np.atleast_1d(row) for row in [*results, *rows])))

    values, slopes = sensitivities(all_candidates, readings, kinks=sample is None)
    m = len(terms)
    usable = np.isfinite(slopes[m:]).all(axis=1)
    worst = worst_case(model, readings, np.vstack([slopes[:m], slopes[m:][usable]]))
    starts = np.cumsum([m, *map(len, nears)])
    if sample is None:
        judged = _by_first_order(terms, values, first_order(readings, slopes), starts)
        doubts = [e.value - e.low for e, *_ in judged]
    else:
        judged = [
            (e, float(np.mean(row > 0.0)), float(np.mean(row >= term.margin_mm)))
            for term, e, row in zip(terms, estimates(values[:m].tolist(), sample), sample)
        ]
        doubts = None
    spans = spans_of(model, [term.margin_mm for term in terms], readings, doubts)
    found = []
    for k, (term, (estimate, clear, keep)) in enumerate(zip(terms, judged)):
        near = nears[k][int(np.nanargmin(values[starts[k] : starts[k + 1]]))]
        moved = tuple((r, float(s)) for r, s in zip(readings, slopes[k]) if abs(s) > 1e-6)
        u = float(first_order([r for r, _ in moved], np.array([s for _, s in moved])))
        found.append(Clearance(
            name=term.name, code=term.code, part=term.part, rises=term.rises, margin_mm=term.margin_mm,
            estimate=estimate, first_order_u_mm=u, worst_mm=min(float(worst[k]), estimate.value), chance_clear=clear,
            chance_margin=keep, nearest=near, slopes=moved, span=spans[k],
        ))  # fmt: skip
    return tuple(found)


def _by_first_order(
    terms: Sequence[Term], values: Array, u: Array, starts: NDArray[np.intp]
) -> list[tuple[Estimate, float, float]]:
    """Each clearance's interval and its chances to clear and to keep the margin, as normal; its low end is the least of
    all its candidates', so that two that are as near count both."""
    found = []
    for k, term in enumerate(terms):
        own = [k, *range(starts[k], starts[k + 1])]
        low = float(np.nanmin(values[own] - _Z95 * u[own]))
        value = float(values[k])
        spread = max((value - low) / _Z95, 1e-9)
        clear, keep = (erfc((least - value) / (sqrt(2.0) * spread)) / 2.0 for least in (0.0, term.margin_mm))
        found.append((Estimate(value, spread, low, value + _Z95 * spread), clear, keep))
    return found
