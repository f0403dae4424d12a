"""The window of seat heights, and the thickness to choose in it.  Millimeters.

Seat height enters every clearance as a sum, except the hole's; so a 2.5 % point moves with it one for one and the
window follows from one set of draws without searching.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import reduce
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.fit.clearance import Model, driver_line, on_segment
from backwave.fit.results import Choice, Clearance, Window
from backwave.fit.stack import seat_height, seat_height_mm
from backwave.fit.types import DriverShape, Margins, Opening, Stack
from backwave.uncertainty import Evaluator, monte_carlo

__all__ = ["choose_thickness", "window_of"]

Array = NDArray[np.float64]
MAX_THINNER_MM = 500.0  # how much thinner a part is looked at
_ALIKE = 1e-4  # chances closer than this are as good as each other


def window_of(clearances: Sequence[Clearance], height_mm: float) -> Window:
    """The window of seat heights in which all that is behind and the grille are ok.

    low(h) = low(h0) + (h - h0) for what is behind, low(h0) - (h - h0) for the grille.

    Parameters
    ----------
    clearances : sequence of Clearance, mm
        As judged at one seat height.
    height_mm : float, mm
        That seat height, h0.
    """
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
    opening: Opening,
    driver: DriverShape,
    stack: Stack,
    reachable_mm: Sequence[float],
    margins: Margins | None = None,
    *,
    turn_deg: float | None = 0.0,
    draws: int = 50_000,
) -> Choice:
    """The thickness with the best joint chance of keeping all margins, among those that can be made.

    Where several are as good, the middle one; where only one side was read, the thinnest.  Where no thickness
    keeps the margins in any draw, the best chance to clear at all decides, then the least shortfall.

    Parameters
    ----------
    opening : Opening, mm
        The opening and its surroundings.
    driver : DriverShape, mm
        The driver.
    stack : Stack, mm
        What lifts it; the value of its thickness is not used, its errors are kept.
    reachable_mm : sequence of float, mm
        Thicknesses that can be made and leave enough material, rising (`layer_heights`, `sheet_sums`).
    margins : Margins or None, mm
        What should be kept; None for the defaults.
    turn_deg : float or None, deg
        Added to the driver's own angles; None: not decided.
    draws : int, no unit
        How many draws.

    Returns
    -------
    Choice

    Raises
    ------
    InputError
        Nothing reachable.
    """
    reach = np.asarray(sorted(reachable_mm), dtype=np.float64)
    if not len(reach):
        raise InputError("thicknesses that can be made", "none", "one or more")
    base = replace(stack, thickness=replace(stack.thickness, value=float(reach[0])))
    model = Model(opening, driver, base, margins or Margins(), turn_deg)
    keep, clear = _intervals(model, draws)
    rise = reach - reach[0]
    margin, free = _chance(keep, rise), _chance(clear, rise)
    best = margin if margin.max() > 0.0 else free
    if best.max() > 0.0:
        alike = np.flatnonzero(best >= best.max() - _ALIKE)
        two_sided = {1, -1} <= {term.rises for term in model.terms()}
        picked = alike[(len(alike) - 1) // 2] if two_sided else alike[0]
    else:
        short = [float(np.median(np.maximum(np.maximum(clear[0] - x, x - clear[1]), 0.0))) for x in rise]
        picked = np.argmin(short)
        alike = np.array([picked])
    thinner = _chance(
        keep if best is margin else clear, -np.arange(0.1, min(max(reach[0], 0.2), MAX_THINNER_MM), 0.1)
    )
    held_by_material = picked == 0 and float(thinner.max()) > float(best[0]) + _ALIKE
    return Choice(
        thickness_mm=float(reach[picked]),
        seat_height_mm=seat_height_mm(base) + float(rise[picked]),
        chance_margin=float(margin[picked]),
        chance_clear=float(free[picked]),
        alike_mm=(float(reach[alike[0]]), float(reach[alike[-1]])),
        held_by="material" if held_by_material else "fit",
    )


Interval = tuple[Array, Array]


def _intervals(model: Model, draws: int) -> tuple[Interval, Interval]:
    """For every draw the rises of the seat, from and to, that keep all margins, and that keep everything clear."""
    terms = model.terms()
    hole = model.hole_margin_mm()
    rows = len(terms)

    def with_hole(look: Evaluator) -> Array:
        found = model(look)
        if hole is None:
            return found
        spare = [np.atleast_1d(seat_height(model.stack, look) - _floor(model, look, m)) for m in (hole, 0.0)]
        return np.vstack(np.broadcast_arrays(*found, *spare))

    sample = monte_carlo(with_hole, draws)
    wanted = [term.margin_mm for term in terms]
    intervals = []
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
        intervals.append((low, high))
    return intervals[0], intervals[1]


def _floor(model: Model, look: Evaluator, margin_mm: float) -> Array:
    """The seat height above which all of the driver at or behind the metal keeps a margin to the hole's edge.

    The greatest depth at which the driver is wider than the hole less the margin; far below 0 where it nowhere is.
    """
    line = driver_line(model.driver, look)
    room = model.edge(look, None, 0.0) - margin_mm
    found: list[Array] = [np.asarray(-1e6)]
    found += [np.where(radius > room, depth, np.nan) for radius, depth in line]
    found += [on_segment(room, r0, d0, r1, d1) for (r0, d0), (r1, d1) in pairwise(line)]
    terminals = model.driver.terminals
    if terminals is not None:
        corner = np.hypot(look(terminals.radius), look(terminals.width) / 2.0)
        toward = model.edge(look, *model.terminal_sector()) - margin_mm
        found.append(np.where(corner > toward, look(terminals.depth), np.nan))
    return reduce(np.fmax, found)


def _chance(interval: Interval, rise: Array) -> Array:
    """Share of the draws whose interval holds each rise."""
    low, high = interval
    some = low <= high
    opened = np.searchsorted(np.sort(low[some]), rise, side="right")
    closed = np.searchsorted(np.sort(high[some]), rise, side="left")
    return (opened - closed) / len(low)
