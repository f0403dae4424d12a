"""What was measured on a built part, and whether that will do.

Volume and mass from the solid, closed and least wall from its triangles, not from the numbers it was made from.  Two
kinds of rays, each from the middle of a facet's cut inward to the first surface that faces it (within 45 degrees of
opposite, so that a corner is not a wall): level rays in sections at several heights, and upright rays under and over
flat faces.  Findings that need no solid stand in `checks`.  Millimeters."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, linestrings, points, polygons

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.part.solid import Built, Mesh
from backwave.part.types import AdapterSpec, Material

OPPOSED = 0.7071  # cosine of 45 degrees
REACH = 60.0  # mm: a wall thicker than this is not looked for


@dataclass(frozen=True)
class Wall:
    """The least wall and where it is."""

    thickness_mm: float  # how thick
    at_mm: tuple[float, float, float]  # (x, y, z), A point on its surface
    upright: bool  # A floor or a lid rather than a wall


def least_wall(part: Mesh, ignore_above_z_mm: float = np.inf) -> Wall | None:
    """The least wall of a closed mesh; None where no two surfaces face each other. `part`, mm; `ignore_above_z_mm`:
    sections above this are not looked at (what lies between two engraved strokes is no wall)."""
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


@dataclass(frozen=True)
class SolidFacts:
    """What a built part is like."""

    volume_mm3: float  # of the solid, and of its flat sections before cosmetic edges
    plan_mm3: float
    mesh_mm3: float  # of its triangles
    mass_kg: float  # solid all through
    bounds_mm: tuple[float, float, float]  # (x, y, z), size over all
    closed: bool  # whether the triangles close
    bodies: int  # how many bodies the solid is
    wall: Wall | None  # mm
    left_out: tuple[str, ...] = ()  # cosmetic edges that were left out


def facts(built: Built, triangles: Mesh, material: Material, ignore_above_z_mm: float = float("inf")) -> SolidFacts:
    """Measure a part. `built`, mm; `triangles`, mm; `ignore_above_z_mm`: walls above this are not looked for: between
    engraved strokes there are many."""
    low, high = triangles.bounds_mm
    volume, size = float(built.solid.volume), (high[0] - low[0], high[1] - low[1], high[2] - low[2])
    wall = least_wall(triangles, ignore_above_z_mm)
    mass, bodies = volume * 1e-9 * material.density_kg_m3, len(built.solid.solids())
    return SolidFacts(
        volume, built.plan_mm3, triangles.volume_mm3, mass, size, triangles.closed, bodies, wall, built.left_out
    )


def solid_checks(found: SolidFacts, spec: AdapterSpec) -> tuple[Check, ...]:
    """Findings of the solid. `found`, mm; `spec`, mm."""
    return (_whole(found), *_wall(found, spec), *_left_out(found))


def _whole(found: SolidFacts) -> Check:
    off = abs(found.mesh_mm3 - found.volume_mm3) / found.volume_mm3 if found.volume_mm3 > 0.0 else 1.0
    sound = found.closed and found.bodies == 1 and found.volume_mm3 > 0.0 and off < 1e-3
    working = (
        CalculationLine("V", "volume of the solid", found.volume_mm3, "mm3"),
        CalculationLine("V_mesh", "volume of its triangles", found.mesh_mm3, "mm3"),
        CalculationLine("V_plan", "volume of its flat sections, before cosmetic edges", found.plan_mm3, "mm3"),
        CalculationLine("n", "bodies", float(found.bodies), ""),
        CalculationLine("closed", "every edge shared by two triangles: 1", float(found.closed), "", _CLOSED),
    )
    faults = [w for w, bad in (("not closed", not found.closed), ("not one body", found.bodies != 1)) if bad]
    said = " and ".join(faults) or "of another volume than its mesh"
    verdict: Verdict = "stop"
    title = Message("the solid is {faults}", (("faults", said, ""),))
    remedy: Message | None = Message("do not print it; move the cuts that touch, or leave one out, and make it again")
    if sound:
        verdict, remedy = "ok", None
        title = Message("one closed body of {mass}", (("mass", found.mass_kg, "kg"),))
    return Check("part.solid", verdict, title, found.volume_mm3, None, "mm3", remedy=remedy, working=working)


_CLOSED = "3MF Core 1.4.0, 4.1.4"


def _wall(found: SolidFacts, spec: AdapterSpec) -> list[Check]:
    if found.wall is None:
        return []
    wall, limit = found.wall.thickness_mm, spec.least_wall_mm
    lengths = zip(("wall", "limit", "x", "y", "z"), (wall, limit, *found.wall.at_mm))
    about = (*((name, mm, "mm") for name, mm in lengths), ("kind", "floor" if found.wall.upright else "wall", ""))
    title = Message("the thinnest {kind} is {wall}, at {x}, {y}, {z}", about)
    thin = Message("keep {limit} or more: move what is beside it, or make it smaller", about)
    # Facets lie up to 0.02 mm inside a round wall.
    verdict: Verdict = "ok" if wall >= limit - 0.04 else "caution"
    remedy = None if verdict == "ok" else thin
    working = (
        CalculationLine("w", "measured on the triangles, across to the surface that faces it", wall, "mm"),
        CalculationLine("w_least", "two print lines, or the least web in sheet", limit, "mm", PRACTICE),
    )
    sources = (PRACTICE,)
    return [Check("part.wall", verdict, title, wall, limit, "mm", remedy=remedy, working=working, sources=sources)]


def _left_out(found: SolidFacts) -> list[Check]:
    title = "the {edge} is left sharp: the kernel could not break it"
    remedy = Message("break it with a file")
    said = [Message(title, (("edge", edge, ""),)) for edge in found.left_out]
    return [Check("part.build", "caution", message, remedy=remedy, part="edge") for message in said]
