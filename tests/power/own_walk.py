"""A walk of its own over every conductor, from the definitions alone: nothing of the room's code or tables is in it.

What a conductor has to carry for good: every set of fuses whose opening would cut it off from all sources bounds it, so
it is the cheapest such set, found by trying all ways to part the nodes in two (for trees: the least fuse on the way).
What a conductor carries: the ampacity table of the National Electrical Code, 310.17 (single conductors in free air,
30 degC, 75 and 90 degC insulation, copper), from memory of its public copies, set to the installation by the temperature rises;
areas by the gauges' definition (ASTM B258).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import inf, sqrt

import numpy as np

# AWG number (0 is 1/0, -1 is 2/0 ...): amperes at 75 and at 90 degC, free air, 30 degC.
NEC_310_17 = {14: (30, 35), 12: (35, 40), 10: (50, 55), 8: (70, 80), 6: (95, 105), 4: (125, 140), 3: (145, 165), 2: (170, 190),
              1: (195, 220), 0: (230, 260), -1: (265, 300), -2: (310, 350), -3: (360, 405)}  # fmt: skip


def gauge_mm2(number: int) -> float:
    return 3.141592653589793 / 4 * (0.127 * 92 ** ((36 - number) / 39)) ** 2


def carries_a(area_mm2: float, class_degc: float, air_degc: float) -> float:
    """By the 90 degC column; areas between two gauges by a power law.

    Other temperatures: heat goes by more than the first power of the rise (still air: 1.25), so I by its 0.55, over the root of
    the hot resistance.
    """
    if class_degc <= air_degc:
        return 0.0
    rows = sorted((gauge_mm2(n), amps[1]) for n, amps in NEC_310_17.items())
    known = np.interp(np.log(area_mm2), np.log([r[0] for r in rows]), np.log([r[1] for r in rows]), left=np.nan)
    if np.isnan(known):  # below the table: heat goes by surface, so the current by the 3/4 power of the area
        known = np.log(rows[0][1]) + 0.625 * np.log(area_mm2 / rows[0][0])
    hot = (1 + 0.00393 * (class_degc - 20)) / (1 + 0.00393 * 70)
    return float(np.exp(known)) * ((class_degc - air_degc) / 60) ** 0.55 / sqrt(hot)


@dataclass(frozen=True)
class Cable:
    """Between two nodes, with what is fitted at either end (inf: nothing)."""

    a: str
    b: str
    fuse_a: float = inf
    fuse_b: float = inf


def most_a(cables: list[Cable], sources: dict[str, float], which: int) -> float:
    """What all sources can push through one cable for good: the worse of its two ends, each cut the cheapest way."""
    me = cables[which]
    others = [c for n, c in enumerate(cables) if n != which]
    return max(min(me.fuse_a, cut_a(others, sources, me.a)), min(me.fuse_b, cut_a(others, sources, me.b)))


def cut_a(cables: list[Cable], sources: dict[str, float], node: str) -> float:
    """The cheapest set of fuses that parts a node from every source, by trying all; sources: their own limits, A."""
    names = sorted({n for c in cables for n in (c.a, c.b)} | set(sources) | {node})
    free = [n for n in names if n != node]
    best = inf
    for picks in product((False, True), repeat=len(free)):
        near = {node, *(n for n, here in zip(free, picks) if here)}  # on the side of the fault
        cost = sum((limit for s, limit in sources.items() if s in near), 0.0)
        cost += sum(min(c.fuse_a, c.fuse_b) for c in cables if (c.a in near) != (c.b in near))
        best = min(best, cost)
    return best


def shorted_a(
    sources: list[tuple[str, float, float | None, float | None]],
    cables: list[Cable],
    ohms: list[float],
    node: str,
    more: float,
) -> float:
    """What sources (node, V, ohm, limit) drive into a short behind some resistance at a node, each alone on its best way.

    Ways by relaxing every cable as often as there are cables (Bellman and Ford).
    """
    best = {node: more}
    for _ in cables:
        for cable, ohm in zip(cables, ohms):
            for a, b in ((cable.a, cable.b), (cable.b, cable.a)):
                if a in best:
                    best[b] = min(best.get(b, inf), best[a] + ohm)
    total = 0.0
    for at, volts, own, limit in sources:
        if at in best:
            total += min(limit or inf, inf if own is None else volts / (own + best[at]))
    return total
