"""Hatching: straight lines at an angle, clipped to a shape (ISO 128-3 manners).

Lines are laid out on the whole sheet, not on the shape, so that two cuts of one part carry one hatching.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin

import numpy as np

Point = tuple[float, float]


def hatch(loops: Sequence[Sequence[Point]], spacing: float, angle_deg: float = 45.0) -> list[tuple[Point, Point]]:
    """Segments of parallel lines inside closed loops; a loop inside another is a hole (even-odd)."""
    c, s = cos(radians(angle_deg)), -sin(radians(angle_deg))  # the sheet's y runs down
    turned = [np.asarray(loop, dtype=float) @ np.array([[c, -s], [s, c]]) for loop in loops if len(loop) > 2]
    if not turned:
        return []
    a = np.concatenate(turned)
    b = np.concatenate([np.roll(loop, -1, axis=0) for loop in turned])
    low, high = a[:, 1].min(), a[:, 1].max()
    found = []
    # Half a line off the grid: a corner that lies on the grid itself is not met twice.
    for level in (np.arange(np.floor(low / spacing), np.ceil(high / spacing)) + 0.5013) * spacing:
        meets = (a[:, 1] <= level) != (b[:, 1] <= level)
        p, q = a[meets], b[meets]
        at = np.sort(p[:, 0] + (level - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0]))
        for u1, u2 in zip(at[::2], at[1::2], strict=True):
            found.append(((u1 * c - level * s, u1 * s + level * c), (u2 * c - level * s, u2 * s + level * c)))
    return [((float(x1), float(y1)), (float(x2), float(y2))) for (x1, y1), (x2, y2) in found]
