"""Parallel outlines, bands along them, distances between them."""

from __future__ import annotations

from functools import lru_cache
from math import atan2, hypot, tan

import numpy as np

from backwave.errors import InputError
from backwave.shape.outline import Outline, Point, Vertex, circle, polygon, smooth


def offset(outline: Outline, outward_mm: float) -> Outline:
    """A parallel outline; convex corners become round when it goes outward. Circles and nearly all line-and-arc rings
    stay exact (the rest become a polygon, 0.005 mm off at most). A smooth outline goes through a polygon and comes back
    as a smooth run of 90 points, because a spline offset in the solid kernel loses faces on export. `outline`, mm;
    InputError: nothing is left, or it falls apart."""
    if outward_mm == 0.0:
        return outline
    found = outline.circle
    if found is not None and found[2] + outward_mm > 0.0:
        return circle(found[2] + outward_mm, found[0], found[1])
    return _offset(outline, outward_mm)


def band(outline: Outline, offset_mm: float, width_mm: float) -> tuple[Outline, Outline]:
    """The two edges of a band that runs along an outline. `outline`, mm; returns (outer, inner) mm."""
    return offset(outline, offset_mm + width_mm / 2.0), offset(outline, offset_mm - width_mm / 2.0)


def distance_mm(a: Outline, b: Outline) -> float:
    """Least distance between the edges of two outlines; 0 where they cross. `a`, `b`, mm."""
    ca, cb = a.circle, b.circle
    if ca is not None and cb is not None:
        apart = hypot(ca[0] - cb[0], ca[1] - cb[1])
        return max(0.0, apart - ca[2] - cb[2], ca[2] - cb[2] - apart, cb[2] - ca[2] - apart)
    return float(a.polygon().exterior.distance(b.polygon().exterior))


@lru_cache(maxsize=512)
def _offset(outline: Outline, out: float) -> Outline:
    import shapely

    whole = outline.polygon().buffer(out, quad_segs=48)
    if whole.is_empty or whole.geom_type != "Polygon" or whole.interiors:
        raise InputError("offset of an outline", out, "one that leaves a single piece")
    if not outline.smooth:
        exact = _offset_path(outline, out)
        # Trusted only where the polygon agrees: edges may vanish or run into each other.
        if exact is not None and shapely.hausdorff_distance(exact.polygon().exterior, whole.exterior) < 0.02:
            return exact
    ring = np.array(whole.exterior.coords)[:-1]
    return smooth(ring) if outline.smooth else polygon(np.array(whole.exterior.simplify(0.005).coords)[:-1])


def _offset_path(outline: Outline, out: float) -> Outline | None:
    """Each edge moved along its normal; outer corners rounded, inner ones cut; None where that needs more."""
    moved: list[Vertex] = []  # start of each edge that is left, with its bulge
    ends: list[Point] = []
    corners: list[Point | None] = []  # what the edge ends at; None where an arc after it has shrunk to nothing
    first_lost = False
    for a, b, arc in outline.edges():
        if arc is None:
            size = hypot(b[0] - a[0], b[1] - a[1])
            nx, ny = out * (b[1] - a[1]) / size, -out * (b[0] - a[0]) / size
            moved.append((a[0] + nx, a[1] + ny, 0.0))
            ends.append((b[0] + nx, b[1] + ny))
            corners.append(b)
            continue
        grow = 1.0 + (out if arc.sweep_rad > 0.0 else -out) / arc.radius_mm
        if grow <= 1e-9:
            if corners:
                corners[-1] = None
            else:
                first_lost = True
            continue
        x, y = arc.x_mm, arc.y_mm
        moved.append((x + (a[0] - x) * grow, y + (a[1] - y) * grow, tan(arc.sweep_rad / 4.0)))
        ends.append((x + (b[0] - x) * grow, y + (b[1] - y) * grow))
        corners.append(b)
    if len(moved) < 2:
        return None
    if first_lost:
        corners[-1] = None
    joined: list[tuple[Point, float, Point] | Point | None] = []  # at the end of each edge
    for k, (corner, end) in enumerate(zip(corners, ends)):
        start = moved[(k + 1) % len(moved)]
        turn = -out  # an arc that shrank to nothing leaves an inner corner
        if corner is not None:
            ex, ey, sx, sy = end[0] - corner[0], end[1] - corner[1], start[0] - corner[0], start[1] - corner[1]
            turn = atan2(ex * sy - ey * sx, ex * sx + ey * sy)
        if hypot(end[0] - start[0], end[1] - start[1]) < 1e-9:
            joined.append(None)
        elif turn * out > 0.0:
            joined.append((end, tan(turn / 4.0), start[:2]))
        elif moved[k][2] or start[2]:
            return None  # an inner corner of an arc
        else:
            meeting = _meeting(moved[k][:2], end, start[:2], ends[(k + 1) % len(ends)])
            if meeting is None:
                return None
            joined.append(meeting)
    vertices: list[Vertex] = []
    for k, start in enumerate(moved):
        before, after = joined[k - 1], joined[k]
        vertices.append((*(before if before is not None and len(before) == 2 else start[:2]), start[2]))
        if after is not None and len(after) == 3:
            vertices.append((*after[0], after[1]))
    try:
        return Outline(tuple(vertices))
    except InputError:
        return None  # edges ran through each other


def _meeting(a: Point, b: Point, c: Point, d: Point) -> Point | None:
    """Where the lines through a, b and through c, d meet; None where they run side by side."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    across = ux * vy - uy * vx
    if abs(across) < 1e-9:
        return None
    share = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / across
    return a[0] + share * ux, a[1] + share * uy
