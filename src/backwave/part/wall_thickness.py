"""The least wall of a part, measured on its triangles, not on the numbers it was made from.

Two kinds of rays, each from the middle of a facet's cut inward to the first surface that faces it (within 45
degrees of opposite, so that a corner is not a wall): level rays in sections at several heights, and upright rays
under and over flat faces.  Millimeters.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, linestrings, points, polygons

from backwave.part.mesh import Mesh

OPPOSED = 0.7071  # cosine of 45 degrees
REACH = 60.0  # mm: a wall thicker than this is not looked for


@dataclass(frozen=True)
class Wall:
    """The least wall and where it is."""

    thickness_mm: float  # how thick
    at_mm: tuple[float, float, float]  # (x, y, z), A point on its surface
    upright: bool  # A floor or a lid rather than a wall


def least_wall(part: Mesh, ignore_above_z_mm: float = np.inf) -> Wall | None:
    """The least wall of a closed mesh; None where no two surfaces face each other.

    `part`, mm; `ignore_above_z_mm`: sections above this are not looked at (what lies between two engraved strokes
    is no wall).
    """
    corners = part.corners_mm
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1)
    corners, normals = corners[size > 0.0], normals[size > 0.0] / size[size > 0.0, None]
    found = [_floors(corners, normals)]
    found += [_level(corners, normals, z) for z in _heights(corners, normals) if z < ignore_above_z_mm]
    walls = [w for w in found if w is not None]
    return min(walls, key=lambda w: w.thickness_mm) if walls else None


def _heights(corners: NDArray[np.float64], normals: NDArray[np.float64]) -> list[float]:
    """The middle of every slab between flat faces, and near both its ends where a wall leans."""
    levels = np.unique(np.round(corners[np.abs(normals[:, 2]) > 0.999].reshape(-1, 3)[:, 2], 4))
    leans = corners[(np.abs(normals[:, 2]) > 0.01) & (np.abs(normals[:, 2]) < 0.999)][:, :, 2]
    found: list[float] = []
    for a, b in pairwise(levels):
        found.append(float((a + b) / 2.0))
        if np.any((leans.min(axis=1) < b - 1e-6) & (leans.max(axis=1) > a + 1e-6)):
            near = min(0.02 * (b - a), 0.05)
            found += [float(a + near), float(b - near)]
    return found


def _level(corners: NDArray[np.float64], normals: NDArray[np.float64], z: float) -> Wall | None:
    above = corners[:, :, 2] > z
    cut = (above.sum(axis=1) % 3) != 0
    if not cut.any():
        return None
    c, up, n = corners[cut], above[cut], normals[cut]
    ends = []
    for i, j in ((0, 1), (1, 2), (2, 0)):
        crosses = up[:, i] != up[:, j]
        rise = np.where(crosses, c[:, j, 2] - c[:, i, 2], 1.0)
        share = (z - c[:, i, 2]) / rise
        ends.append(np.where(crosses[:, None], c[:, i, :2] + share[:, None] * (c[:, j, :2] - c[:, i, :2]), np.nan))
    three = np.stack(ends, axis=1)
    order = np.argsort(np.isnan(three[:, :, 0]), axis=1, kind="stable")[:, :2]
    a, b = (np.take_along_axis(three, order[:, [k], None], axis=1)[:, 0] for k in (0, 1))
    flat = np.hypot(n[:, 0], n[:, 1])
    long = (np.hypot(*(b - a).T) > 1e-6) & (flat > 1e-3)
    a, b, facing = a[long], b[long], n[long, :2] / flat[long, None]
    if not len(a):
        return None
    middle, run = (a + b) / 2.0, b - a
    rays = np.stack((middle - 1e-6 * facing, middle - REACH * facing), axis=1)
    i, j = STRtree(linestrings(np.stack((a, b), axis=1))).query(linestrings(rays), predicate="intersects")
    d, gap = -facing[i], a[j] - middle[i]
    across = d[:, 0] * run[j, 1] - d[:, 1] * run[j, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (gap[:, 0] * run[j, 1] - gap[:, 1] * run[j, 0]) / across
    hit = (np.abs(across) > 1e-12) & (t > 1e-6)
    i, j, t = i[hit], j[hit], t[hit]
    order = np.lexsort((t, i))
    first = order[np.unique(i[order], return_index=True)[1]]
    seen = first[np.sum(facing[j[first]] * -facing[i[first]], axis=1) > OPPOSED]
    if not len(seen):
        return None
    least = seen[np.argmin(t[seen])]
    x, y = middle[i[least]]
    return Wall(float(t[least]), (float(x), float(y), z), upright=False)


def _floors(corners: NDArray[np.float64], normals: NDArray[np.float64]) -> Wall | None:
    up, down = normals[:, 2] > OPPOSED, normals[:, 2] < -OPPOSED
    tops, bottoms = corners[up], corners[down]
    if not len(tops) or not len(bottoms):
        return None
    found: list[Wall] = []
    # From above downward and from below upward: a small face over a large one is seen by its own middle alone.
    for ours, theirs, sign in ((tops, bottoms, -1.0), (bottoms, tops, 1.0)):
        middle = ours.mean(axis=1)
        i, j = STRtree(polygons(theirs[:, :, :2])).query(points(middle[:, :2]), predicate="intersects")
        a, b, c = theirs[j, 0], theirs[j, 1], theirs[j, 2]
        e, f, g = (b - a)[:, :2], (c - a)[:, :2], (middle[i] - a)[:, :2]
        area = e[:, 0] * f[:, 1] - e[:, 1] * f[:, 0]
        u, v = (g[:, 0] * f[:, 1] - g[:, 1] * f[:, 0]) / area, (e[:, 0] * g[:, 1] - e[:, 1] * g[:, 0]) / area
        rise = sign * (a[:, 2] + u * (b - a)[:, 2] + v * (c - a)[:, 2] - middle[i, 2])
        rise = np.where(rise > 1e-6, rise, np.inf)
        if len(rise) and np.isfinite(rise.min()):
            least = int(np.argmin(rise))
            x, y, z = (float(value) for value in middle[i[least]])
            found.append(Wall(float(rise[least]), (x, y, z), upright=True))
    return min(found, key=lambda w: w.thickness_mm) if found else None
