"""Ways to make an outline: circle, ellipse, polygon, rounded polygon, lines and arcs, measured points."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, pi, radians, tan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.shape.outline import Outline, Point, Vertex


def circle(radius_mm: float, x_mm: float = 0.0, y_mm: float = 0.0) -> Outline:
    """A circle."""
    if not radius_mm > 0.0:
        raise InputError("radius of a circle", radius_mm, "more than 0 mm")
    return Outline(((x_mm + radius_mm, y_mm, 1.0), (x_mm - radius_mm, y_mm, 1.0)))


def ellipse(x_radius_mm: float, y_radius_mm: float, angle_deg: float = 0.0, points: int = 72) -> Outline:
    """An ellipse about the origin, as a smooth run through points on it.

    With 72 points the run leaves the ellipse by less than 0.001 mm at 200 x 120 mm.

    `x_radius_mm`, `y_radius_mm`: half of its length along each axis.
    """
    if not min(x_radius_mm, y_radius_mm) > 0.0:
        raise InputError("ellipse", (x_radius_mm, y_radius_mm), "two radii above 0 mm")
    turn = np.linspace(0.0, 2.0 * pi, points, endpoint=False)
    ring = np.column_stack((x_radius_mm * np.cos(turn), y_radius_mm * np.sin(turn)))
    return Outline(_flat(ring), smooth=True).turned(angle_deg)


def polygon(points_mm: Sequence[Point] | NDArray[np.float64]) -> Outline:
    """Straight edges between points.

    `points_mm` (n, 2): corners, the first not repeated (a repeated one is dropped).
    """
    return Outline(_flat(_distinct(points_mm)))


def rounded_polygon(points_mm: Sequence[Point] | NDArray[np.float64], radius_mm: float) -> Outline:
    """A polygon with a true arc at every corner. InputError: an edge is too short for the arcs at its ends."""
    if radius_mm <= 0.0:
        return polygon(points_mm)
    ring = np.array([v[:2] for v in polygon(points_mm).vertices_mm])
    before, after = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    la, lb = np.hypot(*before.T), np.hypot(*after.T)
    ua, ub = before / la[:, None], after / lb[:, None]
    cross, dot = ub[:, 0] * ua[:, 1] - ub[:, 1] * ua[:, 0], np.sum(ua * ub, axis=1)
    turn = pi - np.abs(np.arctan2(cross, dot))  # how far the edge turns at the corner
    cut = radius_mm * np.tan(turn / 2.0)
    if np.any(cut + np.roll(cut, -1) > lb + 1e-9):
        raise InputError("corner radius", radius_mm, "arcs that fit on the edges they join")
    vertices: list[Vertex] = []
    for k, corner in enumerate(ring):
        start, end = corner + ua[k] * cut[k], corner + ub[k] * cut[k]
        bulge = float(np.sign(cross[k]) * tan(turn[k] / 4.0))
        if cut[k] < 1e-9:
            vertices.append((float(corner[0]), float(corner[1]), 0.0))
        elif vertices and hypot(start[0] - vertices[-1][0], start[1] - vertices[-1][1]) < 1e-6:
            vertices[-1] = (float(start[0]), float(start[1]), bulge)
            vertices.append((float(end[0]), float(end[1]), 0.0))
        else:
            vertices += [(float(start[0]), float(start[1]), bulge), (float(end[0]), float(end[1]), 0.0)]
    if hypot(vertices[0][0] - vertices[-1][0], vertices[0][1] - vertices[-1][1]) < 1e-6:
        vertices.pop()
    return Outline(tuple(vertices))


def path(vertices_mm: Sequence[Vertex]) -> Outline:
    """Lines and arcs."""
    return Outline(tuple(vertices_mm))


def smooth(points_mm: Sequence[Point] | NDArray[np.float64], most: int = 90) -> Outline:
    """A smooth closed run through points, thinned evenly along its length where there are many.

    `most`: most points kept: the solid kernel is slow on hundreds, and 60 to 90 hold a traced ring to 0.004 mm.
    """
    ring = _distinct(points_mm)
    return Outline(_flat(ring if len(ring) <= most else _evenly(ring, most)), smooth=True)


def measured(points_mm: Sequence[Point] | NDArray[np.float64], corner_deg: float = 30.0) -> Outline:
    """Points a person measured or traced: smooth where no point is a corner, else straight edges.

    `corner_deg`: A turn sharper than this at any point makes it a corner (a default of ours: a ring measured at
    twelve even places turns by 30 degrees at each).
    """
    ring = _distinct(points_mm)
    run = np.roll(ring, -1, axis=0) - ring
    heading = np.arctan2(run[:, 1], run[:, 0])
    turn = np.abs((heading - np.roll(heading, 1) + pi) % (2.0 * pi) - pi)
    return polygon(ring) if len(ring) < 8 or turn.max() > radians(corner_deg) + 1e-6 else smooth(ring)


def _flat(ring: NDArray[np.float64]) -> tuple[Vertex, ...]:
    return tuple((float(x), float(y), 0.0) for x, y in ring)


def _distinct(points_mm: Any) -> NDArray[np.float64]:
    ring = np.asarray(points_mm, dtype=np.float64)
    if ring.ndim != 2 or ring.shape[1] != 2 or len(ring) < 3:
        raise InputError("points of an outline", ring.shape, "(n, 2) with three or more points")
    return ring[np.hypot(*(ring - np.roll(ring, 1, axis=0)).T) > 1e-9]


def _evenly(ring: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    closed = np.vstack((ring, ring[:1]))
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))))
    at = np.linspace(0.0, along[-1], count, endpoint=False)
    return np.column_stack([np.interp(at, along, closed[:, k]) for k in (0, 1)])
