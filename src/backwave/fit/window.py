"""The window of seat heights, what closes it, and the thickness to choose in it.  Millimeters.

Seat height enters every clearance as a sum, except the hole's; so a 2.5 % point moves with it one for one and the
window follows from one set of draws without searching."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import CalculationLine, Check, Message, Quantities
from backwave.fit.clearance import Model, driver_line, on_segment, seat_height, seat_height_mm
from backwave.fit.plausible import ENTRIES, row_of
from backwave.fit.types import Choice, Clearance, DriverShape, Fit, Margins, Opening, Stack, Window
from backwave.uncertainty import Evaluator, Reading, contributions, monte_carlo, quantile

Array = NDArray[np.float64]
MAX_THINNER_MM = 500.0  # how much thinner a part is looked at
MOST_SPACED_MM = 30.0  # that a thicker part or a spacer makes up; common trade practice
MOST_NARROWER_MM = 15.0  # between two sizes of speaker, all round; common trade practice
LOW = 0.025  # of a clearance, as its verdict has it
_ALIKE = 1e-4  # chances closer than this are as good as each other
_DEEP = "measure the depth behind the metal and the speaker's own again: {need} is more than any part makes up"
_BEFORE = "measure behind and before the metal again; {need} more is nothing that a spacer makes up"
_HOLE = "measure the hole, and where the speaker passes it, again: {need} all round is another size of speaker"
_ASKS = {
    "fit.glass": _DEEP, "fit.behind": _DEEP, "fit.terminals": _DEEP, "fit.vent": _DEEP, "fit.hole": _HOLE,
    "fit.grille": _BEFORE, "fit.flat": _BEFORE, "fit.window": _BEFORE,
}  # fmt: skip


def asked_instead(code: str, need_mm: float) -> str:
    """What to ask where more is lacking than any right job lacks: a reading is wrong, or the speaker. Else ""."""
    return _ASKS.get(code, "") if need_mm > (MOST_NARROWER_MM if code == "fit.hole" else MOST_SPACED_MM) else ""


def window_of(clearances: Sequence[Clearance], height_mm: float) -> Window:
    """The window of seat heights in which all that is behind and the grille are ok. low(h) = low(h0) + (h - h0) for
    what is behind, low(h0) - (h - h0) for the grille. `clearances`, mm."""
    below = [c for c in clearances if c.rises > 0 and c.code != "fit.vent"]
    above = [c for c in clearances if c.rises < 0]

    def least(c: Clearance) -> float:
        return height_mm + c.margin_mm - c.estimate.low

    def most(c: Clearance) -> float:
        return height_mm + c.estimate.low - c.margin_mm

    return Window(
        low_mm=max((least(c) for c in below), default=None),
        high_mm=min((most(c) for c in above), default=None),
        low_by=max(below, key=least).name if below else "",
        high_by=min(above, key=most).name if above else "",
        bare_mm=(
            max((height_mm + c.margin_mm - c.estimate.value for c in below), default=None),
            min((height_mm + c.estimate.value - c.margin_mm for c in above), default=None),
        ),
        touch_mm=(
            max((height_mm - c.kindest_mm for c in below), default=None),
            min((height_mm + c.kindest_mm for c in above), default=None),
        ),
    )


def choose_thickness(
    opening: Opening, driver: DriverShape, stack: Stack, reachable_mm: Sequence[float], margins: Margins | None = None,
    *, turn_deg: float | None = 0.0, draws: int = 50_000,
) -> Choice:  # fmt: skip
    """The thickness to take among those that can be made (`layer_heights`, `sheet_sums`; the stack's own is not used).
    First those inside the window at which the hole is kept too; where there are none, those inside the window that only
    just clears, then those inside the window alone. Among them the best joint chance of keeping all margins. Where
    several are as good, the middle one; where only one side was read, the thinnest. Where no thickness keeps the
    margins in any draw, the best chance to clear at all decides, then the least shortfall. InputError: nothing
    reachable."""
    reach = np.asarray(sorted(reachable_mm), dtype=np.float64)
    if not len(reach):
        raise InputError("thicknesses that can be made", "none", "one or more")
    base = replace(stack, thickness=replace(stack.thickness, value=float(reach[0])))
    model = Model(opening, driver, base, margins or Margins(), turn_deg)
    rises = _rises(model, draws)
    keep, clear = rises
    rise = reach - reach[0]
    ranked = _ranks(model, rises, rise)
    good = np.flatnonzero(ranked == ranked.min())
    margin, free = _chance(keep.joint, rise), _chance(clear.joint, rise)
    best = margin if margin[good].max() > 0.0 else free
    if best[good].max() > 0.0:
        alike = good[best[good] >= best[good].max() - _ALIKE]
        two_sided = {1, -1} <= {term.rises for term in model.terms()}
        picked = alike[(len(alike) - 1) // 2] if two_sided else alike[0]
    else:
        low, high = (end[:: max(1, len(end) // 2_000)] for end in clear.joint)  # enough to rank by
        short = [float(np.median(np.maximum(np.maximum(low - x, x - high), 0.0))) for x in rise[good]]
        picked = good[int(np.argmin(short))]
        alike = np.array([picked])
    thinner_by = -np.arange(0.1, min(max(reach[0], 0.2), MAX_THINNER_MM), 0.1)
    thinner = _chance(keep.joint if best is margin else clear.joint, thinner_by)
    better = float(thinner.max()) > float(best[0]) + _ALIKE or _ranks(model, rises, thinner_by).min() < ranked[0]
    return Choice(
        thickness_mm=float(reach[picked]), seat_height_mm=seat_height_mm(base) + float(rise[picked]),
        chance_margin=float(margin[picked]), chance_clear=float(free[picked]),
        alike_mm=(float(reach[alike[0]]), float(reach[alike[-1]])),
        held_by="material" if picked == 0 and better else "fit", as_good_mm=tuple(float(x) for x in reach[good]),
    )  # fmt: skip


Interval = tuple[Array, Array]


@dataclass(frozen=True)
class _Kept:
    """The rises of the seat that keep something."""

    joint: Interval  # in every draw, from and to
    window: tuple[float, float]  # at each clearance's own 2.5 % point, from and to
    hole: float  # the hole's own 2.5 % point, from there up


def _ranks(model: Model, rises: tuple[_Kept, _Kept], rise: Array) -> Array:
    """How bad the worst clearance is at each rise: 0 all ok, 1 some only clear, 2 the hole is not kept, 3 more is not."""
    keep, clear = rises
    inside, touch = (((one.window[0] <= rise) & (rise <= one.window[1])) for one in (keep, clear))
    through, past = rise >= keep.hole, rise >= clear.hole
    return np.select([inside & through, touch & past, inside, touch], [0, 1, 2, 3], 4)


def _rises(model: Model, draws: int) -> tuple[_Kept, _Kept]:
    """The rises of the seat that keep all margins, and that keep everything clear."""
    terms = model.terms()
    hole = model.hole_margin_mm()
    rows = len(terms)

    def with_hole(look: Evaluator) -> Array:
        found = model(look)
        if hole is None:
            return found
        height = seat_height(model.stack, look)
        spare = [np.atleast_1d(height - floor) for floor in _floors(model, look, (hole, 0.0))]
        return np.vstack(np.broadcast_arrays(*found, *spare))

    sample = monte_carlo(with_hole, draws)
    at = quantile(sample, LOW)
    wanted = [term.margin_mm for term in terms]
    found = []
    for kept, spare in ((wanted, rows), ([0.0] * rows, rows + 1)):
        low = np.full(sample.shape[1], -np.inf)
        high = np.full(sample.shape[1], np.inf)
        for term, margin, values in zip(terms, kept, sample):
            if term.rises > 0:
                low = np.maximum(low, margin - values)
            elif term.rises < 0:
                high = np.minimum(high, values - margin)
        if hole is not None:
            low = np.maximum(low, -sample[spare])
        bounds = list(zip(terms, kept, at))
        least = max((m - q for t, m, q in bounds if t.rises > 0 and t.code != "fit.vent"), default=-np.inf)
        most = min((q - m for t, m, q in bounds if t.rises < 0), default=np.inf)
        found.append(_Kept((low, high), (least, most), -at[spare] if hole is not None else -np.inf))
    return found[0], found[1]


def _floors(model: Model, look: Evaluator, margins_mm: Sequence[float]) -> Iterator[Array]:
    """The seat height above which all of the driver at or behind the metal keeps each margin to the hole's edge. The
    greatest depth at which the driver, as far as it was measured, is wider than the hole less the margin; far below 0
    where it nowhere is."""
    line, terminals = driver_line(model.driver, look), model.driver.terminals
    edge, corner = model.edge(look, None, 0.0), None
    if terminals is not None and not terminals.radius.assumed:  # what nobody measured pins no thickness
        corner = np.hypot(look(terminals.radius), look(terminals.width) / 2.0)
        toward = model.edge(look, *model.terminal_sector())
    for margin in margins_mm:
        room = edge - margin
        found: list[Array] = [np.asarray(-1e6)]
        found += [np.where(radius > room, depth, np.nan) for radius, depth in line]
        found += [on_segment(room, r0, d0, r1, d1) for (r0, d0), (r1, d1) in pairwise(line)]
        if terminals is not None and corner is not None:
            found.append(np.where(corner > toward - margin, look(terminals.depth), np.nan))
        yield reduce(np.fmax, found)


def _chance(interval: Interval, rise: Array) -> Array:
    """Share of the draws whose interval holds each rise."""
    low, high = interval
    some = low <= high
    opened = np.searchsorted(np.sort(low[some]), rise, side="right")
    closed = np.searchsorted(np.sort(high[some]), rise, side="left")
    return (opened - closed) / len(low)


MONTE_CARLO = "JCGM 101:2008"


def window_checks(fit: Fit) -> list[Check]:
    """The window, in words; nothing where only one side was read."""
    window = fit.window
    if window is None or window.low_mm is None or window.high_mm is None:
        return []
    chosen = fit.seat_height_mm
    steps = (
        CalculationLine("low", f"minimum stand-off, set by {window.low_by}", window.low_mm, "mm", MONTE_CARLO),
        CalculationLine("high", f"maximum stand-off, set by {window.high_by}", window.high_mm, "mm", MONTE_CARLO),
        CalculationLine("low0", "minimum, without uncertainty", window.bare_mm[0], "mm", "best estimates"),
        CalculationLine("high0", "maximum, without uncertainty", window.bare_mm[1], "mm", "best estimates"),
        CalculationLine("h", "stand-off now", chosen, "mm", "the stack"),
    )
    ends: Quantities = (("low", window.low_mm, "mm"), ("high", window.high_mm, "mm"), ("chosen", chosen, "mm"))
    if window.open:
        title = "Stand-offs from {low} to {high} suit both sides; now {chosen}"
        remedy = None
        if chosen > window.high_mm:
            lower = "Lower the speaker by {by}: a thinner adapter, a thinner gasket or one in a groove, a deeper recess"
            remedy = Message(lower, (("by", chosen - window.high_mm, "mm"),))
        elif chosen < window.low_mm:
            remedy = Message("Raise the speaker by {by}: a thicker adapter", (("by", window.low_mm - chosen, "mm"),))
        return [Check(
            "fit.window", "ok" if remedy is None else "caution", Message(title, ends), value=chosen, unit="mm",
            low=window.low_mm, high=window.high_mm, remedy=remedy, working=steps, sources=(MONTE_CARLO,),
        )]  # fmt: skip
    return [_closed(fit, window, steps)]


def _closed(fit: Fit, window: Window, steps: tuple[CalculationLine, ...]) -> Check:
    """No stand-off suits both: what closes the window, by how much, and what would open it."""
    gap = window.gap_mm
    (bare_low, bare_high), (touch_low, touch_high) = window.bare_mm, window.touch_mm
    assert bare_low is not None
    assert bare_high is not None
    assert touch_low is not None
    assert touch_high is not None
    about: Quantities = (
        ("gap", gap, "mm"),
        ("need", gap, "mm"),
        ("below", window.low_by, ""),
        ("above", window.high_by, ""),
    )
    opens = "A speaker shallower by {gap}, or lower at the front by {gap}, or a spacer of {gap} behind the trim"
    if ask := asked_instead("fit.window", gap):
        opens = ask[:1].upper() + ask[1:]
    assumed = [c for c in map(fit.clearance, (window.low_by, window.high_by)) if c is not None and c.span is not None]
    if assumed and touch_low <= touch_high:
        title = "As assumed, no stand-off suits both {below} and {above}: {gap} too little"
        opens = "Measure {missing} first"
        names = [ENTRIES[row_of(c.span.rests_on[0]).entered] for c in assumed if c.span is not None]
        about += (("missing", " and ".join(dict.fromkeys(names)), ""),)
    elif bare_low <= bare_high:
        reading, half = _doubt(fit, window)
        title = "No stand-off suits both {below} and {above}: the readings are too rough by {gap}"
        opens = "Measure {reading} more closely (now out by up to {half}). Or: " + opens
        about += (("reading", reading, ""), ("half", half, "mm"))
    else:
        title = "No stand-off suits both {below} and {above}: {gap} too little"
        about += (("short", bare_low - bare_high, "mm"),)
        opens += "" if ask else "; measuring again will not help: {short} of it is missing at the best estimates"
    return Check(
        "fit.window", "stop" if touch_low > touch_high else "caution", Message(title, about), value=-gap, limit=0.0,
        unit="mm", remedy=Message(opens, about), working=steps, sources=(MONTE_CARLO,),
    )  # fmt: skip


def _doubt(fit: Fit, window: Window) -> tuple[str, float]:
    """The reading that weighs most in the width lost to uncertainty: name and worst-case half-width."""
    slopes: dict[str, tuple[Reading, float]] = {}
    for name in (window.low_by, window.high_by):
        held = fit.clearance(name)
        for reading, slope in held.slopes if held else ():
            slopes[reading.name] = (reading, slopes.get(reading.name, (reading, 0.0))[1] + slope)
    rows = list(slopes.values())
    shares = contributions([r for r, _ in rows], np.array([s for _, s in rows]))
    name = shares[0][0] if shares else ""
    return name, slopes[name][0].bound if name else 0.0
