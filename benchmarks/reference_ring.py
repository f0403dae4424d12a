"""A flange as straight beam elements that twist, on springs: another way to the lift that backwave.fit.gasket gives."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray


def lifts_mm(
    radius: float, width: float, thick: float, fixings_deg: Sequence[float], e_mpa: float, foam_mpa: float,
    strip: float, free: float, closed: float, count: int = 36,
) -> NDArray[np.float64]:  # fmt: skip
    """Lift at each of `count` nodes round the ring; three freedoms a node, the foam at the nodes."""
    slim = min(width, thick) / max(width, thick)
    torsion = max(width, thick) * min(width, thick) ** 3 * (1 / 3 - 0.21 * slim * (1 - slim**4 / 12))
    ei, gj = e_mpa * width * thick**3 / 12.0, e_mpa / 2.7 * torsion
    turns = np.arange(count) * 2 * pi / count
    nodes = radius * np.column_stack([np.cos(turns), np.sin(turns)])
    stiff = np.zeros((3 * count, 3 * count))  # up, turn about x, turn about y
    load = np.zeros(3 * count)
    for i, j in pairwise([*range(count), 0]):
        d = nodes[j] - nodes[i]
        long = float(np.hypot(*d))
        c, s = d / long
        local = np.zeros((6, 6))
        local[np.ix_([0, 2, 3, 5], [0, 2, 3, 5])] = ei / long**3 * np.array([
            [12, 6 * long, -12, 6 * long], [6 * long, 4 * long**2, -6 * long, 2 * long**2],
            [-12, -6 * long, 12, -6 * long], [6 * long, 2 * long**2, -6 * long, 4 * long**2],
        ])  # fmt: skip
        local[np.ix_([1, 4], [1, 4])] = gj / long * np.array([[1, -1], [-1, 1]])
        turn = np.zeros((6, 6))  # to the element's own line and across it; its slope is minus the turn across
        turn[:3, :3] = turn[3:, 3:] = np.array([[1, 0, 0], [0, c, s], [0, s, -c]])
        where = [3 * i, 3 * i + 1, 3 * i + 2, 3 * j, 3 * j + 1, 3 * j + 2]
        stiff[np.ix_(where, where)] += turn.T @ local @ turn
    share = 2 * pi * radius / count
    k = foam_mpa * strip / free
    for i, angle in enumerate(turns):
        stiff[3 * i, 3 * i] += k * share
        load[3 * i] += k * share * (free - closed)
        roll = np.array([-sin(angle), cos(angle)])  # about the ring's own line
        stiff[3 * i + 1 : 3 * i + 3, 3 * i + 1 : 3 * i + 3] += k * strip**2 / 12.0 * share * np.outer(roll, roll)
    held = [3 * round(a / 360.0 * count) % (3 * count) for a in fixings_deg]
    loose = np.setdiff1d(np.arange(3 * count), held)
    found = np.zeros(3 * count)
    found[loose] = np.linalg.solve(stiff[np.ix_(loose, loose)], load[loose])
    lift: NDArray[np.float64] = found[0::3]
    return lift
