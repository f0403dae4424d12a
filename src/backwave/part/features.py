"""The part as prisms and cones added and taken away, its section at any height and in a half-plane (ISO 128-3).

All that does not need the solid kernel is worked out from these: ligaments, sheet layers, the flat pattern, and a
volume that the solid is later compared with.  Millimeters; z = 0 is the back face."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import cos, hypot, radians, sin, sqrt
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from backwave.errors import BuildError, InputError
from backwave.part.engraving import Marks, inked, place_marks
from backwave.part.types import AdapterSpec, Groove, Lettering, Notch, RingSpec, Thread
from backwave.shape import Outline, circle, offset, path, polygon

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry


LIP_RELIEF = "relief for the lip"


@dataclass(frozen=True)
class Prism:
    """A flat shape carried through a range of heights."""

    name: str
    outer: Outline  # mm, its edge
    z0_mm: float
    z1_mm: float
    inner: tuple[Outline, ...] = ()  # mm
    add: bool = False  # material added; False: taken away
    # A cut that lies wholly inside one flat face: of the bare flange (early), or of the finished part (late). The
    # kernel can then sink it without intersecting walls, which is slow where splines run side by side.
    sunk: Literal["", "early", "late"] = ""

    def at(self, z_mm: float) -> Polygon | None:
        """Its flat shape at a height, None outside its range."""
        if not self.z0_mm < z_mm < self.z1_mm:
            return None
        import shapely

        return shapely.Polygon(self.outer.points(), [hole.points() for hole in self.inner])


@dataclass(frozen=True)
class Cone:
    """A round hole about the axis that changes its radius with height; always taken away."""

    name: str
    z0_mm: float
    z1_mm: float
    r0_mm: float  # radius there
    r1_mm: float

    add = False

    def at(self, z_mm: float) -> Polygon | None:
        """Its flat shape at a height, None outside its range."""
        if not self.z0_mm < z_mm < self.z1_mm:
            return None
        share = (z_mm - self.z0_mm) / (self.z1_mm - self.z0_mm)
        return circle(self.r0_mm + share * (self.r1_mm - self.r0_mm)).polygon()


Feature = Prism | Cone


@lru_cache(maxsize=64)
def features(spec: AdapterSpec, lettering: bool = True) -> tuple[Feature, ...]:
    """All that makes up an adapter: what is added, then what is taken away. Cuts from the front run up to the highest
    point of the part. `spec`, mm; BuildError: A feature that cannot be laid out, with its numbers."""
    if spec.tilt_deg:
        raise BuildError("tilted seat", f"a seat tilted by {spec.tilt_deg:g} deg is not built yet")
    t, seat, top, bore = spec.thickness_mm, spec.seat_z_mm, spec.top_mm, spec.bore_mm
    low = -spec.spigot.length_mm if spec.spigot is not None and spec.keeps_spigot else 0.0
    made: list[Feature] = [Prism("flange", spec.outline, 0.0, t, add=True)]
    made += [
        Prism(f"boss of {x.name}", circle(x.boss_mm / 2.0, x.x_mm, x.y_mm), 0.0, seat, add=True)
        for x in spec.threads
        if x.boss_mm > 0.0
    ]
    if spec.spigot is not None and spec.keeps_spigot:
        wide = circle(bore + spec.relief_mm)
        made.append(Prism("spigot", circle(spec.spigot.radius_mm), low, 0.0, (wide,), add=True))
    if spec.collar is not None:
        c = spec.collar
        made.append(Prism("collar", circle(c.outer_mm), t, top, (circle(c.inner_mm),), add=True))
    made.append(Prism("bore", circle(bore), low, top))
    if spec.relief_mm > 0.0:
        high = min(spec.relief_mm, seat)
        made.append(Cone("relief", 0.0, high, bore + spec.relief_mm, bore + spec.relief_mm - high))
    if spec.recess_mm > 0.0:
        made.append(Prism("recessed seat", circle(spec.seat_mm), seat, top))
    if spec.lip is not None:
        stays = (circle(spec.spigot.radius_mm),) if spec.spigot is not None and spec.keeps_spigot else ()
        made.append(Prism(LIP_RELIEF, spec.lip.outline, 0.0, spec.lip.depth_mm, stays))
    made += [Prism(f"notch at {n.angle_deg:g} deg", _notch(spec, n), low, seat) for n in spec.notches]
    for f in spec.fixings:
        if f.hole_mm > 0.0:
            made.append(Prism(f"hole of {f.name}", circle(f.hole_mm / 2.0, f.x_mm, f.y_mm), low, top))
        if f.pocket_depth_mm > 0.0:
            edge = circle(f.pocket_mm / 2.0, f.x_mm, f.y_mm)
            made.append(Prism(f"pocket of {f.name}", edge, low, f.pocket_depth_mm))
        if f.counterbore_depth_mm > 0.0:
            edge = circle(f.counterbore_mm / 2.0, f.x_mm, f.y_mm)
            made.append(Prism(f"counterbore of {f.name}", edge, t - f.counterbore_depth_mm, top))
    for x in spec.threads:
        floor = low if x.kind == "nut" or x.depth_mm == 0.0 else seat - x.depth_mm
        made.append(Prism(f"hole of {x.name}", circle(x.hole_mm / 2.0, x.x_mm, x.y_mm), floor, top))
        if x.kind == "nut":
            made.append(Prism(f"nut pocket of {x.name}", nut_pocket(x), low, x.nut_height_mm))
    made += [_groove(spec, g) for g in spec.grooves]
    if lettering and spec.lettering is not None:
        found = marks(spec)
        for mark in found.placed:
            for shape in inked(mark):
                edge, inner = _ring(shape.exterior), tuple(map(_ring, shape.interiors))
                made.append(Prism(f"mark {mark.text}", edge, t - found.depth_mm, top, inner))
    return tuple(made)


@lru_cache(maxsize=64)
def marks(spec: AdapterSpec) -> Marks:
    """What is engraved, and what found no room. `spec`, mm."""
    import shapely

    if spec.lettering is None:
        return Marks()
    land = section(spec, spec.thickness_mm - spec.lettering.depth_mm / 2.0, lettering=False)
    biggest = max(shapely.get_parts(land), key=lambda p: p.area)
    free = biggest.buffer(-spec.least_wall_mm)
    for taken in (max(spec.frame_radius_mm, spec.seat_mm), spec.collar.outer_mm if spec.collar is not None else 0.0):
        free = free.difference(shapely.Point(0.0, 0.0).buffer(taken, quad_segs=48))
    # The same room at another thickness or turn takes the same marks: finding it is most of a check.
    return _placed(spec.lettering, shapely.to_wkb(shapely.normalize(free)))


@lru_cache(maxsize=64)
def _placed(wanted: Lettering, free_wkb: bytes) -> Marks:
    import shapely

    return place_marks(wanted, shapely.from_wkb(free_wkb))


def ring_features(ring: RingSpec) -> tuple[Feature, ...]:
    """A flat ring with its holes. `ring`, mm."""
    t = ring.thickness_mm
    holes = [Prism("hole", circle(d / 2.0, x, y), 0.0, t) for x, y, d in ring.holes_mm]
    return (Prism(ring.name, ring.outer, 0.0, t, add=True), Prism("inside", ring.inner, 0.0, t), *holes)


def section(spec: AdapterSpec, z_mm: float, lettering: bool = False) -> Polygon:
    """The material at a height, as a flat shape (several pieces where it falls apart). `spec`, mm."""
    return _cut(features(spec, lettering), z_mm)


def plan_volume_mm3(made: tuple[Feature, ...]) -> float:
    """Volume from sections, slab by slab; the solid is compared with it. `made`, mm; returns the sections being fine
    polygons."""
    node, weight = np.polynomial.legendre.leggauss(3)
    heights = sorted({z for f in made for z in (f.z0_mm, f.z1_mm)})
    total = 0.0
    for a, b in pairwise(heights):
        middle, half = (a + b) / 2.0, (b - a) / 2.0
        if any(isinstance(f, Cone) and f.z0_mm < b and f.z1_mm > a for f in made):
            total += half * sum(float(w) * _cut(made, middle + half * float(n)).area for n, w in zip(node, weight))
        else:
            total += (b - a) * _cut(made, middle).area
    return total


def nut_pocket(thread: Thread) -> Outline:
    """The hexagon of a nut pocket, a flat toward the axis. `thread`, mm."""
    base = float(np.arctan2(thread.y_mm, thread.x_mm)) + radians(30.0)
    r = thread.nut_flats_mm / sqrt(3.0)
    corners = [base + k * radians(60.0) for k in range(6)]
    return polygon([(thread.x_mm + r * cos(a), thread.y_mm + r * sin(a)) for a in corners])


def _cut(made: tuple[Feature, ...], z_mm: float) -> Any:
    import shapely

    here = [(f.add, f.at(z_mm)) for f in made]
    added = shapely.union_all([p for add, p in here if add and p is not None])
    return added.difference(shapely.union_all([p for add, p in here if not add and p is not None]))


def _ring(line: Any) -> Outline:
    return polygon([(float(x), float(y)) for x, y in line.coords])


def _notch(spec: AdapterSpec, notch: Notch) -> Outline:
    """From inside the bore outward, its far corners round (a sharp one starts cracks)."""
    half, far = notch.width_mm / 2.0, spec.bore_mm + notch.depth_mm
    if half >= spec.bore_mm:
        raise BuildError(f"notch at {notch.angle_deg:g} deg", f"{notch.width_mm:g} mm is wider than the bore")
    near = 0.5 * sqrt(spec.bore_mm**2 - half**2)
    r = min(2.0, 0.999 * half, 0.999 * (far - near))
    quarter = sqrt(2.0) - 1.0
    ring = [(near, -half, 0.0), (far - r, -half, quarter), (far, -half + r, 0.0), (far, half - r, quarter)]
    return path([*ring, (far - r, half, 0.0), (near, half, 0.0)]).turned(notch.angle_deg)


def _groove(spec: AdapterSpec, groove: Groove) -> Prism:
    name = f"{groove.face} gasket groove"
    seated = groove.face == "front" and groove.along == "bore" and spec.recess_mm > 0.0
    face = spec.seat_z_mm if seated else spec.thickness_mm
    try:
        if groove.along == "flange":
            outer = offset(spec.outline, -groove.inset_mm + groove.width_mm / 2.0)
            inner = offset(spec.outline, -groove.inset_mm - groove.width_mm / 2.0)
        else:
            edge = spec.bore_mm + (spec.relief_mm if groove.face == "back" else 0.0)
            outer = circle(edge + groove.inset_mm + groove.width_mm / 2.0)
            inner = circle(edge + groove.inset_mm - groove.width_mm / 2.0)
    except InputError as fault:
        raise BuildError(name, f"{groove.inset_mm:g} mm from the {groove.along} leaves no ring ({fault})") from fault
    if groove.face == "back":
        return Prism(name, outer, 0.0, groove.depth_mm, (inner,), sunk="early" if groove.along == "flange" else "")
    early: Literal["", "early"] = "early" if groove.along == "flange" and spec.collar is None else ""
    return Prism(name, outer, face - groove.depth_mm, face if seated else spec.top_mm, (inner,), sunk=early)


Loop = tuple[tuple[float, float], ...]


def radial_section(spec: AdapterSpec, angle_deg: float) -> tuple[tuple[Loop, tuple[Loop, ...]], ...]:
    """The material in a half-plane from the axis outward, as flat pieces with their holes; without what is engraved.
    `spec`, mm; `angle_deg`: direction of the half-plane, from +x toward +y as seen from the cabin; returns first point
    not repeated; BuildError: A feature that cannot be laid out, with its numbers."""
    import shapely

    made = features(spec, lettering=False)
    left, low, right, high = spec.outline.bounds_mm
    reach = 2.0 * (hypot(max(-left, right), max(-low, high)) + 1.0)
    cuts = [(f.add, shape) for f in made for shape in _in_plane(f, angle_deg, reach)]
    added, taken = (shapely.union_all([s for add, s in cuts if add == kind]) for kind in (True, False))
    whole = added.difference(taken)
    pieces = [p for p in shapely.get_parts(whole) if p.geom_type == "Polygon" and p.area > 1e-9]
    pieces.sort(key=lambda piece: tuple(map(float, piece.bounds)))
    return tuple((_loop(p.exterior), tuple(_loop(h) for h in p.interiors)) for p in pieces)


def inner_walls(spec: AdapterSpec) -> tuple[tuple[str, float, float, float, float], ...]:
    """What a driver goes through from the back up: name, height and radius where it begins, height and radius where it
    ends, in mm; straight between, notches and gasket grooves left out."""
    seat, bore, top = spec.seat_z_mm, spec.bore_mm, spec.thickness_mm
    high = min(spec.relief_mm, seat)
    found = []
    if spec.spigot is not None and spec.keeps_spigot:
        wide = bore + spec.relief_mm
        found.append(("spigot", -spec.spigot.length_mm, wide, 0.0, wide))
    if high > 0.0:
        found.append(("relief", 0.0, bore + spec.relief_mm, high, bore + spec.relief_mm - high))
    if seat > high:
        found.append(("bore", high, bore, seat, bore))
    if spec.recess_mm > 0.0:
        found.append(("recess", seat, spec.seat_mm, top, spec.seat_mm))
    if spec.collar is not None:
        found.append(("collar", top, spec.collar.inner_mm, spec.top_mm, spec.collar.inner_mm))
    return tuple(found)


def _in_plane(feature: Feature, angle_deg: float, reach: float) -> list[BaseGeometry]:
    """A feature in the half-plane: boxes of a prism, the trapezoid of a cone."""
    import shapely

    if isinstance(feature, Cone):
        ends = ((feature.r0_mm, feature.z0_mm), (feature.r1_mm, feature.z1_mm))
        return [shapely.Polygon([(0.0, feature.z0_mm), *ends, (0.0, feature.z1_mm)])]
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    flat = shapely.Polygon(feature.outer.points(), [hole.points() for hole in feature.inner])
    runs = shapely.get_parts(flat.intersection(shapely.LineString([(0.0, 0.0), (reach * c, reach * s)])))
    found = []
    for run in runs:
        along = [x * c + y * s for x, y in run.coords]
        if along and max(along) - min(along) > 1e-9:
            found.append(shapely.box(min(along), feature.z0_mm, max(along), feature.z1_mm))
    return found


def _loop(ring: BaseGeometry) -> Loop:
    return tuple((round(float(r), 9), round(float(z), 9)) for r, z in list(ring.coords)[:-1])
