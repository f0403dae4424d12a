"""An outline: its edges, exact area, points along it, what lies inside; and the ways to make one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache
from itertools import pairwise
from math import acos, atan, ceil, cos, hypot, isfinite, pi, radians, sin, tan
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.uncertainty import Reading

if TYPE_CHECKING:
    from shapely import Polygon

# A kilometer: squares and cubes of it are still exact enough, and no raster is made any finer for it
MAX_MM = 1e6
Point = tuple[float, float]
Vertex = tuple[float, float, float]
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)
_GAUSS = (_NODES + 1.0) / 2.0, _WEIGHTS / 2.0  # on 0..1
FINE = 0.002  # mm: chord error of the polygons that areas and distances are judged on
MIN_STEP = pi / 4096  # of one chord: it is off by more than FINE where a radius exceeds 6.8 m


def within_reach(what: str, value: object) -> None:
    """Refuse a length beyond `MAX_MM`, or one that is no number, anywhere in a value: the fence behind the bounds of
    the job's keys, for whoever uses the rooms without a job. `value`, mm: A number, a `Reading`, an array, a tuple of
    such, or a dataclass of such; its angles are not looked at."""
    if isinstance(value, bool | str) or value is None:
        return
    if isinstance(value, float | int):
        if not -MAX_MM <= value <= MAX_MM:
            raise InputError(what, f"{float(value):.3g} mm", f"lengths up to {MAX_MM / 1e6:g} km")
    elif isinstance(value, Reading):
        within_reach(what, value.value)
        within_reach(f"{what}: what it may be out by", value.bound)
    elif isinstance(value, np.ndarray):
        if value.size and not np.abs(value).max() <= MAX_MM:
            raise InputError(what, "a length that is too large or no number", f"lengths up to {MAX_MM / 1e6:g} km")
    elif isinstance(value, tuple):
        for one in value:
            within_reach(what, one)
    elif is_dataclass(value):
        for field in fields(value):
            if not field.name.endswith("_deg"):
                words = field.name.removesuffix("_mm").replace("_", " ")
                within_reach(f"{what}: {words}", getattr(value, field.name))


@dataclass(frozen=True)
class Arc:
    """A bulged edge as a circle sees it."""

    x_mm: float  # center and radius
    y_mm: float
    radius_mm: float
    start_rad: float  # angle at its start, and how far it turns (positive to the left)
    sweep_rad: float


@dataclass(frozen=True)
class Outline:
    """A closed outline. InputError: fewer than three vertices (two with bulges), a number that is not finite, no area,
    or an edge that crosses another."""

    # the ring, its first vertex not repeated; turned counter-clockwise if given otherwise
    vertices_mm: tuple[Vertex, ...]
    smooth: bool = False  # the closed cubic spline through the vertices instead of lines and arcs

    def __post_init__(self) -> None:
        ring = tuple((float(x), float(y), float(b)) for x, y, b in self.vertices_mm)
        if len(ring) < 2 or (len(ring) < 3 and (self.smooth or not any(b for _, _, b in ring))):
            raise InputError("outline", len(ring), "three or more points")
        if not all(isfinite(n) for v in ring for n in v):
            raise InputError("outline", "a number that is not finite", "millimeters")
        if (far := max(max(abs(x), abs(y)) for x, y, _ in ring)) > MAX_MM:
            raise InputError("outline", f"a point {far:.3g} mm out", f"lengths up to {MAX_MM / 1e6:g} km")
        if any(hypot(a[0] - b[0], a[1] - b[1]) < 1e-9 for a, b in pairwise((*ring, ring[0]))):
            raise InputError("outline", "two points in one place", "points that differ")
        object.__setattr__(self, "vertices_mm", ring)
        if self.circle is not None:
            return
        area = _area(self)
        if abs(area) < 1e-9:
            raise InputError("outline", "no area inside", "a ring that encloses something")
        if area < 0.0:
            object.__setattr__(self, "vertices_mm", _reversed(ring))
        if not self.polygon().is_valid:
            raise InputError("outline", "edges that cross", "a ring that does not cross itself")

    @property
    def circle(self) -> tuple[float, float, float] | None:
        """(x, y, radius) in mm where the outline is one circle, else None."""
        ring = self.vertices_mm
        if self.smooth or len(ring) != 2 or ring[0][2] != 1.0 or ring[1][2] != 1.0:
            return None
        (ax, ay, _), (bx, by, _) = ring
        return (ax + bx) / 2.0, (ay + by) / 2.0, hypot(ax - bx, ay - by) / 2.0

    @property
    def area_mm2(self) -> float:
        """Area inside, mm2; exact for lines, arcs and the spline."""
        return _area(self)

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y, mm."""
        found = self.circle
        if found is not None:
            x, y, r = found
            return x - r, y - r, x + r, y + r
        (x0, y0), (x1, y1) = self.points().min(axis=0), self.points().max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    @property
    def cubics(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The cubics of a smooth outline: length of each run (n,), mm; coefficients (n, 4, 2) of x and y in it."""
        return _coefficients(self)

    def points(self, tolerance_mm: float = FINE) -> NDArray[np.float64]:
        """Points along the outline, first not repeated. `tolerance_mm`: how far a chord may lie off the curve; returns
        (n, 2) mm."""
        return _points(self, tolerance_mm)

    def polygon(self, tolerance_mm: float = FINE) -> Polygon:
        """The outline as a shapely polygon. `tolerance_mm`: how far a chord may lie off the curve."""
        return _polygon(self, tolerance_mm)

    def edges(self) -> tuple[tuple[Point, Point, Arc | None], ...]:
        """Its edges in turn: start, end, and the arc where it is one.  Not for smooth outlines."""
        ring = self.vertices_mm
        return tuple(
            ((a[0], a[1]), (b[0], b[1]), _arc(a, b) if a[2] else None) for a, b in zip(ring, (*ring[1:], ring[0]))
        )

    def contains(self, x_mm: float, y_mm: float) -> bool:
        """Whether a point lies inside."""
        return self.inside_mm(x_mm, y_mm) > 0.0

    def inside_mm(self, x_mm: float, y_mm: float) -> float:
        """How far inside a point lies: distance to the edge, negative outside."""
        found = self.circle
        if found is not None:
            return found[2] - hypot(x_mm - found[0], y_mm - found[1])
        import shapely

        shape, spot = self.polygon(), shapely.Point(x_mm, y_mm)
        away = float(shape.exterior.distance(spot))
        return away if shape.contains(spot) else -away

    def mirrored(self) -> Outline:
        """The outline of the other side: x to -x."""
        return Outline(_reversed(tuple((-x, y, -b) for x, y, b in self.vertices_mm)), self.smooth)

    def moved(self, dx_mm: float, dy_mm: float) -> Outline:
        """The outline somewhere else."""
        return Outline(tuple((x + dx_mm, y + dy_mm, b) for x, y, b in self.vertices_mm), self.smooth)

    def turned(self, angle_deg: float) -> Outline:
        """The outline turned about the origin."""
        c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
        return Outline(tuple((x * c - y * s, x * s + y * c, b) for x, y, b in self.vertices_mm), self.smooth)


def _reversed(ring: tuple[Vertex, ...]) -> tuple[Vertex, ...]:
    """The same ring the other way round: an edge's bulge moves to what is now its start, with the other sign."""
    back = ring[::-1]
    return tuple((x, y, -b) for (x, y, _), (_, _, b) in zip(back, (*back[1:], back[0])))


def _arc(a: Vertex, b: Vertex) -> Arc:
    dx, dy, bulge = b[0] - a[0], b[1] - a[1], a[2]
    up = (1.0 / bulge - bulge) / 4.0  # from the chord's middle to the center, in chords, to the left
    x, y = (a[0] + b[0]) / 2.0 - dy * up, (a[1] + b[1]) / 2.0 + dx * up
    return Arc(x, y, hypot(a[0] - x, a[1] - y), float(np.arctan2(a[1] - y, a[0] - x)), 4.0 * atan(bulge))


@lru_cache(maxsize=512)
def _coefficients(outline: Outline) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Knots (n,) as lengths of the runs, and (n, 4, 2) coefficients of the closed cubic spline."""
    p = np.array([v[:2] for v in outline.vertices_mm])
    h = np.hypot(*(np.roll(p, -1, axis=0) - p).T)
    n, k = len(p), np.arange(len(p))
    slope = (np.roll(p, -1, axis=0) - p) / h[:, None]
    hb = np.roll(h, 1)
    m = np.zeros((n, n))  # second derivatives: continuous everywhere, the end included
    m[k, k] = 2.0 * (hb + h)
    m[k, (k - 1) % n] += hb
    m[k, (k + 1) % n] += h
    second = np.linalg.solve(m, 6.0 * (slope - np.roll(slope, 1, axis=0)))
    after = np.roll(second, -1, axis=0)
    first = slope - h[:, None] * (2.0 * second + after) / 6.0
    third = (after - second) / (6.0 * h[:, None])
    return h, np.stack((p, first, second / 2.0, third), axis=1)


def _spline(outline: Outline, u: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places and slopes at fractions `u` (m,) of every run: (n, m, 2) each."""
    h, c = _coefficients(outline)
    c0, c1, c2, c3 = (c[:, None, k] for k in range(4))
    t = (h[:, None] * u)[..., None]
    return c0 + t * (c1 + t * (c2 + t * c3)), c1 + t * (2.0 * c2 + 3.0 * t * c3)


@lru_cache(maxsize=512)
def _area(outline: Outline) -> float:
    """Signed area by Green's theorem, mm2; five Gauss points are exact for cubics (degree 8)."""
    if outline.circle is not None:
        return pi * outline.circle[2] ** 2
    if outline.smooth:
        u, w = _GAUSS
        h, _ = _coefficients(outline)
        place, slope = _spline(outline, u)
        x, y, dx, dy = place[..., 0], place[..., 1], slope[..., 0] * h[:, None], slope[..., 1] * h[:, None]
        return float(np.sum((x * dy - y * dx) * w)) / 2.0
    x, y, bulges = np.array(outline.vertices_mm).T
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2.0
    for k in np.flatnonzero(bulges):  # the circular segment between chord and arc
        arc = _arc(outline.vertices_mm[k], outline.vertices_mm[(k + 1) % len(x)])
        area += arc.radius_mm**2 * (arc.sweep_rad - sin(arc.sweep_rad)) / 2.0
    return area


@lru_cache(maxsize=512)
def _points(outline: Outline, tolerance_mm: float) -> NDArray[np.float64]:
    if outline.smooth:
        h, c = _coefficients(outline)
        bend = float(np.max(np.hypot(*(2.0 * c[:, 2]).T) * h * h))  # chord error is bend / 8 m^2
        pieces = min(64, max(2, ceil((bend / (8.0 * tolerance_mm)) ** 0.5)))
        found = _spline(outline, np.arange(pieces) / pieces)[0].reshape(-1, 2)
    else:
        runs = []
        for start, _, arc in outline.edges():
            if arc is None:
                runs.append(np.array([start]))
                continue
            step = 2.0 * acos(1.0 - min(1.0, tolerance_mm / arc.radius_mm))
            chords = max(2, ceil(abs(arc.sweep_rad) / max(step, MIN_STEP)))
            turn = arc.start_rad + arc.sweep_rad * np.linspace(0.0, 1.0, chords + 1)[:-1]
            along = np.column_stack((np.cos(turn), np.sin(turn)))
            runs.append(np.array([arc.x_mm, arc.y_mm]) + arc.radius_mm * along)
        found = np.concatenate(runs)
    found.setflags(write=False)
    return found


@lru_cache(maxsize=512)
def _polygon(outline: Outline, tolerance_mm: float) -> Polygon:
    import shapely

    made = shapely.Polygon(outline.points(tolerance_mm))
    shapely.prepare(made)
    return made


def circle(radius_mm: float, x_mm: float = 0.0, y_mm: float = 0.0) -> Outline:
    """A circle."""
    if not radius_mm > 0.0:
        raise InputError("radius of a circle", radius_mm, "more than 0 mm")
    return Outline(((x_mm + radius_mm, y_mm, 1.0), (x_mm - radius_mm, y_mm, 1.0)))


def ellipse(x_radius_mm: float, y_radius_mm: float, angle_deg: float = 0.0, points: int = 72) -> Outline:
    """An ellipse about the origin, as a smooth run through points on it. With 72 points the run leaves the ellipse by
    less than 0.001 mm at 200 x 120 mm. `x_radius_mm`, `y_radius_mm`: half of its length along each axis."""
    if not min(x_radius_mm, y_radius_mm) > 0.0:
        raise InputError("ellipse", (x_radius_mm, y_radius_mm), "two radii above 0 mm")
    turn = np.linspace(0.0, 2.0 * pi, points, endpoint=False)
    ring = np.column_stack((x_radius_mm * np.cos(turn), y_radius_mm * np.sin(turn)))
    return Outline(_flat(ring), smooth=True).turned(angle_deg)


def polygon(points_mm: Sequence[Point] | NDArray[np.float64]) -> Outline:
    """Straight edges between points. `points_mm` (n, 2): corners, the first not repeated (a repeated one is
    dropped)."""
    return Outline(_flat(_distinct(points_mm)))


def rounded_polygon(points_mm: Sequence[Point] | NDArray[np.float64], radius_mm: float) -> Outline:
    """A polygon with a true arc at every corner."""
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
    """A smooth closed run through points, thinned evenly along its length where there are many. `most`: most points
    kept: the solid kernel is slow on hundreds, and 60 to 90 hold a traced ring to 0.004 mm."""
    ring = _distinct(points_mm)
    return Outline(_flat(ring if len(ring) <= most else _evenly(ring, most)), smooth=True)


def measured(points_mm: Sequence[Point] | NDArray[np.float64], corner_deg: float = 30.0) -> Outline:
    """Points a person measured or traced: smooth where no point is a corner, else straight edges. `corner_deg`: A turn
    sharper than this at any point makes it a corner (a default of ours: a ring measured at twelve even places turns by
    30 degrees at each)."""
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
