"""Cutting runs of lines at the edges of a rectangle, and curves as runs of lines."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from math import acos, ceil, cos, pi, sin

from backwave.drawing.sheet import BoxStroke, Point

MAX_CHORDS = 4096  # of a circle


def clip(points: Sequence[Point], box: BoxStroke) -> list[list[Point]]:
    """The parts of a run of straight lines inside a rectangle (Liang and Barsky, segment by segment)."""
    runs: list[list[Point]] = []
    for a, b in itertools.pairwise(points):
        dx, dy = b[0] - a[0], b[1] - a[1]
        t0, t1 = 0.0, 1.0
        for step, room in (
            (-dx, a[0] - box.left),
            (dx, box.right - a[0]),
            (-dy, a[1] - box.top),
            (dy, box.bottom - a[1]),
        ):
            if step == 0:
                if room < 0:
                    t0 = 2.0
            elif step < 0:
                t0 = max(t0, room / step)
            else:
                t1 = min(t1, room / step)
        if t0 > t1:
            continue
        p = a if t0 == 0 else (a[0] + t0 * dx, a[1] + t0 * dy)
        q = b if t1 == 1 else (a[0] + t1 * dx, a[1] + t1 * dy)
        if runs and runs[-1][-1] == p:
            runs[-1].append(q)
        else:
            runs.append([p, q])
    return runs


def circle_points(x: float, y: float, radius: float, error: float = 0.01) -> list[Point]:
    """A circle as a closed run of lines, first point repeated."""
    n = max(16, min(MAX_CHORDS, ceil(pi / acos(1 - min(max(error / radius, 1e-9), 0.5))))) if radius > 0 else 16
    return [(x + radius * cos(2 * pi * k / n), y + radius * sin(2 * pi * k / n)) for k in range(n + 1)]
