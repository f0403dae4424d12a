"""A plain opening and driver to change one thing of at a time, and clearances worked out another way."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np
from shapely.geometry import LineString, Polygon

from backwave.fit import DepthReading, DriverShape, FrontHeights, Obstacle, Opening, Stack, Terminals
from backwave.uncertainty import Error, Reading


def rd(name: str, value: float, half: float = 0.0, shared: str = "", taken: int = 1) -> Reading:
    errors = (Error(shared or name, "rectangular", half),) if half else ()
    return Reading(name, value, errors, taken)


def obstacle(
    points: Iterable[tuple[float, float]], half: float = 0.0, what: str = "glass", window: str = "down",
    angle: float | None = None, radius_half: float = 0.0, taken: int = 1, name: str = "",
) -> Obstacle:  # fmt: skip
    name = name or f"{what}.{window}.{angle}"
    spots = tuple(
        DepthReading(rd(f"{name}[{i}].radius", r, radius_half), rd(f"{name}[{i}].clear", c, half, taken=taken))
        for i, (r, c) in enumerate(points)
    )
    return Obstacle(what, spots, window, angle)  # type: ignore[arg-type]


def profile(points: Iterable[tuple[float, float]], half: float = 0.0) -> tuple[tuple[Reading, Reading], ...]:
    return tuple(
        (rd(f"profile[{i}].radius", r, half), rd(f"profile[{i}].depth", d, half)) for i, (r, d) in enumerate(points)
    )


POINTS = ((70.0, 0.0), (66.0, 14.0), (46.0, 38.0), (46.0, 64.0))


def driver(points: Iterable[tuple[float, float]] = POINTS, half: float = 0.0, **other: object) -> DriverShape:
    given = {
        "front": FrontHeights(moving=rd("front", 9.0, half)),
        "xmech": rd("Xmech", 9.0, half),
        "rim": rd("rim", 5.2, half),
    }
    return DriverShape(profile(points, half), **(given | other))  # type: ignore[arg-type]


def terminals(half: float = 0.0, angle: float | None = 225.0) -> Terminals:
    return Terminals(rd("terminals.radius", 62.0, half), rd("terminals.width", 34.0, half),
                     rd("terminals.depth", 26.0, half), angle)  # fmt: skip


def opening(*behind: Obstacle, half: float = 0.0, trim: float | None = 37.0, taken: int = 1) -> Opening:
    behind = behind or (obstacle([(0.0, 58.0), (60.0, 55.0)], half, taken=taken),)
    clear = None if trim is None else rd("trim.clear", trim, half, taken=taken)
    hole = rd("hole", 143.5, half / 20)
    return Opening(hole=hole, skin=rd("skin", 0.8), behind=behind, trim_clear=clear, window="none")


def stack(thickness: float = 13.0, gasket: float = 1.5, half: float = 0.0) -> Stack:
    return Stack(rd("thickness", thickness), gasket=rd("gasket closed", gasket, half))


def dense_glass(
    seat: float, points: Iterable[tuple[float, float]], spots: Iterable[tuple[float, float]], step: float = 0.01
) -> float:
    """Least room by scanning the driver's own line in small steps; obstacles by numpy's interpolation."""
    points = [*points]
    line = [*points, (0.0, points[-1][1])]
    along = [np.linspace(a, b, max(2, int(np.hypot(a[0] - b[0], a[1] - b[1]) / step)))
             for a, b in pairwise(line)]  # fmt: skip
    r, d = np.concatenate(along).T
    radii, clears = zip(*sorted(spots))
    return float(np.min(seat + np.interp(r, radii, clears) - d))


def touching(
    seat: float, points: Iterable[tuple[float, float]], spots: Iterable[tuple[float, float]], push: float
) -> bool:
    """Whether the driver pushed back by `push` meets the obstacle, by exact geometry (shapely)."""
    points = [*points]
    back = [(r, d - seat + push) for r, d in [*points, (0.0, points[-1][1])]]
    spots = sorted(spots)
    surface = [(-1.0, spots[0][1]), (spots[0][0], spots[0][1]), *spots, (500.0, spots[-1][1])]
    beyond = Polygon([*surface, (500.0, 1000.0), (-1.0, 1000.0)])
    return bool(beyond.intersects(LineString(back)))
