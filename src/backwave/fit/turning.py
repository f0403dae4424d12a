"""Distances between holes that turn with the driver and circles that stay, as functions of the turn.

Seen from the driver, a fixed circle's middle runs round the axis.  Its distance to one hole (a point, or a segment
for a slot) rises and falls between turns that have closed forms; between two neighboring ones every distance is
monotone.  So the least of them, in such a cell, is the lesser of one rising and one falling function: its peak is
where they cross, which bisection finds to the last bit.  `above` needs only a bound on the slope.

Turns in radians, lengths in millimeters, places in the plane as complex numbers (x + iy).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["Pairs", "above", "edge_gaps", "replicated", "symmetry"]

Reals = NDArray[np.float64]
Places = NDArray[np.complex128]
Runs = list[tuple[float, float]]
FULL = 2.0 * np.pi
_FINE = 2e-9  # rad: 1e-7 deg, how finely the end of a range is found


class Pairs:
    """Every hole against every fixed circle.

    Parameters
    ----------
    starts, ends : (n,) complex, mm
        Each hole's segment at turn 0; the same place twice for a round hole.
    radii : (n,) float, mm
        Half of each hole's width.
    places : (m,) complex, mm
        Middles of the fixed circles.
    reaches : (m,) float, mm
        Their radii.
    """

    def __init__(self, starts: Places, ends: Places, radii: Reals, places: Places, reaches: Reals) -> None:
        n, m = len(starts), len(places)
        self.start = np.repeat(starts, m)
        self.run = np.repeat(ends - starts, m)
        self.place = np.tile(places, n)
        self.off = np.repeat(radii, m) + np.tile(reaches, n)
        self._square = np.where(self.run == 0.0, 1.0, np.abs(self.run) ** 2)

    @property
    def slope(self) -> float:
        """No gap changes faster than this with the turn, mm/rad."""
        ends = np.maximum(np.abs(self.start), np.abs(self.start + self.run))
        return float(np.minimum(ends, np.abs(self.place)).max())

    def gaps(self, turns: Reals) -> Reals:
        """Edge-to-edge distance of each pair, mm.

        Parameters
        ----------
        turns : (...) float, rad
            Turns of the driver.

        Returns
        -------
        (..., n m) float, mm
            Negative where they overlap.
        """
        away = self.place * np.exp(-1j * np.asarray(turns))[..., None] - self.start
        along = (away * self.run.conj()).real / self._square
        gaps: Reals = np.abs(away - np.clip(along, 0.0, 1.0) * self.run) - self.off
        return gaps

    def least(self, turns: Reals) -> Reals:
        """Least of all pairs, mm.

        Parameters
        ----------
        turns : (...) float, rad
            Turns of the driver.
        """
        least: Reals = self.gaps(turns).min(axis=-1)
        return least

    def breaks(self) -> Reals:
        """Turns between which every pair's gap is monotone, within one full turn, rising, rad."""
        far, angle = np.abs(self.place), np.angle(self.place)
        seen = []  # directions of the fixed circle's middle, as the driver sees it
        for end in (self.start, self.start + self.run):
            seen += [np.angle(end), np.angle(end) + np.pi]  # nearest to a hole's middle, and farthest
        slots = self.run != 0.0
        if slots.any():
            along = np.where(slots, self.run / np.sqrt(self._square), 1.0)
            side = 1j * along
            seen += [np.angle(side), np.angle(side) + np.pi]  # nearest to the slot's line, and farthest
            with np.errstate(divide="ignore", invalid="ignore"):
                for axis, level in (
                    (side, (self.start * side.conj()).real),  # on the line
                    (along, (self.start * along.conj()).real),  # square off one end
                    (along, ((self.start + self.run) * along.conj()).real),  # and off the other
                ):
                    half = np.arccos(level / far)
                    seen += [np.angle(axis) + half, np.angle(axis) - half]
        turns = np.concatenate([angle - s for s in seen])
        return np.unique(np.mod(turns[np.isfinite(turns)], FULL))

    def peaks(self, runs: Runs, slack: float = 1e-9) -> tuple[Reals, Reals]:
        """Where the least gap is greatest.

        Parameters
        ----------
        runs : list of (from, to) float, rad
            Where to look.
        slack : float, mm
            Peaks that are lower by no more than this are given too.

        Returns
        -------
        (k,) float, rad; (k,) float, mm
            Turns, and the least gap at each.
        """
        low, high = self._cells(runs)
        at_low, at_high = self.gaps(low), self.gaps(high)
        # No cell is better than this bound, and one is at least as good as that value.
        bound = np.maximum(at_low, at_high).min(axis=-1)
        known = max(at_low.min(axis=-1).max(), at_high.min(axis=-1).max(), self.least((low + high) / 2).max())
        keep = bound >= known - slack
        low, high, rises = low[keep], high[keep], at_high[keep] >= at_low[keep]
        for _ in range(64):
            middle = (low + high) / 2.0
            gaps = self.gaps(middle)
            up = np.where(rises, gaps, np.inf).min(axis=-1)
            down = np.where(rises, np.inf, gaps).min(axis=-1)
            low, high = np.where(up < down, middle, low), np.where(up < down, high, middle)
        turns = np.concatenate([low, high])
        values = self.least(turns)
        best = values >= values.max() - slack
        return turns[best], values[best]

    def _cells(self, runs: Runs) -> tuple[Reals, Reals]:
        breaks = self.breaks()
        lows, highs = [], []
        for start, end in runs:
            turns = np.arange(np.floor(start / FULL), np.floor(end / FULL) + 1.0) * FULL
            every = (breaks + turns[:, None]).ravel()
            ends = np.concatenate([[start], every[(every > start) & (every < end)], [end]])
            lows.append(ends[:-1])
            highs.append(ends[1:])
        return np.concatenate(lows), np.concatenate(highs)


def above(function: Callable[[Reals], Reals], level: float, slope: float, length: float) -> Runs:
    """Where a periodic function of the turn is at or above a level.

    Halves what is undecided: with m the middle of an interval of width w, the function stays within slope w / 2 of
    its value at m.  Nothing narrower than 1e-7 degrees is told apart.

    Parameters
    ----------
    function : function of (n,) float rad, returning (n,) float, mm
        It repeats after `length`.
    level : float, mm
        What is asked for.
    slope : float, mm/rad
        No change is faster.
    length : float, rad
        Its period.

    Returns
    -------
    list of (from, to) float, rad
        Beginning in [0, length), rising; one that runs on over the period's end goes beyond `length`.
    """
    count = int(np.ceil(length / np.radians(3.0)))
    width = length / count
    middles = (np.arange(count) + 0.5) * width
    kept: list[Reals] = []
    while len(middles):
        values = function(middles)
        doubt = slope * width / 2.0 if width > _FINE else 0.0
        inside = values - doubt >= level
        kept.append(np.stack([middles[inside] - width / 2, middles[inside] + width / 2], axis=-1))
        middles = middles[~inside & (values + doubt >= level)]
        width /= 2.0
        middles = np.concatenate([middles - width / 2, middles + width / 2])
    return _merged(np.concatenate(kept), length)


def _merged(intervals: Reals, length: float) -> Runs:
    runs: Runs = []
    for low, high in intervals[np.argsort(intervals[:, 0])]:
        if runs and low <= runs[-1][1] + _FINE / 8.0:
            runs[-1] = (runs[-1][0], float(high))
        else:
            runs.append((float(low), float(high)))
    if len(runs) > 1 and runs[0][0] < _FINE and runs[-1][1] > length - _FINE:
        first = runs.pop(0)
        runs[-1] = (runs[-1][0], first[1] + length)
    return runs


def edge_gaps(starts: Places, ends: Places, radii: Reals, ring: Places, turns: Reals) -> Reals:
    """How far the holes stay inside a polygon, at each turn.

    Parameters
    ----------
    starts, ends : (n,) complex, mm
        Each hole's segment at turn 0.
    radii : (n,) float, mm
        Half of each hole's width.
    ring : (m,) complex, mm
        Corners of the polygon, in turn.
    turns : (k,) float, rad
        Turns of the driver.

    Returns
    -------
    (k,) float, mm
        Least distance from a hole's edge to the polygon's; negative where a hole reaches over it.
    """
    spin = np.exp(1j * turns)
    slots = starts != ends
    points = np.concatenate([starts, ends[slots]])
    reach = np.concatenate([radii, radii[slots]])
    side = np.roll(ring, -1) - ring
    least = np.full(len(turns), np.inf)
    for point, radius in zip(points, reach):  # a hole at a time keeps the arrays small
        p = (point * spin)[:, None]
        away = p - ring
        along = np.clip((away * side.conj()).real / np.abs(side) ** 2, 0.0, 1.0)
        distance = np.abs(away - along * side).min(axis=1)
        # Crossings of a ray to the right.
        over = (ring.imag > p.imag) != (np.roll(ring, -1).imag > p.imag)
        with np.errstate(divide="ignore", invalid="ignore"):
            crosses = ring.real + (p.imag - ring.imag) * side.real / side.imag
        inside = (over & (p.real < crosses)).sum(axis=1) % 2 == 1
        least = np.minimum(least, np.where(inside, distance, -distance) - radius)
    if slots.any():  # a corner that points at the side of a slot
        corners = Pairs(starts[slots], ends[slots], radii[slots], ring, np.zeros(len(ring)))
        least = np.minimum(least, corners.least(turns))
    return least


def symmetry(starts: Places, ends: Places, radii: Reals, tolerance: float = 1e-6) -> int:
    """How many times in a full turn the pattern of holes falls on itself.

    Parameters
    ----------
    starts, ends : (n,) complex, mm
        Each hole's segment.
    radii : (n,) float, mm
        Half of each hole's width.
    tolerance : float, mm
        Within which places are the same.
    """
    def same(spin: complex) -> bool:
        a, b = starts * spin, ends * spin
        there = np.abs(a[:, None] - starts) + np.abs(b[:, None] - ends)
        back = np.abs(a[:, None] - ends) + np.abs(b[:, None] - starts)
        match = (np.minimum(there, back) < 2 * tolerance) & (np.abs(radii[:, None] - radii) < tolerance)
        return bool(match.any(axis=1).all())

    return next((k for k in range(len(starts), 1, -1) if same(np.exp(1j * FULL / k))), 1)


def replicated(runs: Sequence[tuple[float, float]], period: float) -> Runs:
    """Ranges of one period, over a full turn.

    Parameters
    ----------
    runs : sequence of (from, to) float, rad
        Ranges in one period.
    period : float, rad
        The period.
    """
    count = round(FULL / period)
    return [(low + k * period, high + k * period) for k in range(count) for low, high in runs]
