"""The part cut by a half-plane through its axis: what a sectional view shows (ISO 128-3)."""

from __future__ import annotations

from math import cos, hypot, radians, sin
from typing import TYPE_CHECKING

from backwave.part.features import Cone, Feature, Prism, features
from backwave.part.types import AdapterSpec

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Loop = tuple[tuple[float, float], ...]


def radial_section(spec: AdapterSpec, angle_deg: float) -> tuple[tuple[Loop, tuple[Loop, ...]], ...]:
    """The material in a half-plane from the axis outward, as flat pieces with their holes; without what is engraved.

    `spec`, mm; `angle_deg`: direction of the half-plane, from +x toward +y as seen from the cabin; returns first
    point not repeated; BuildError: A feature that cannot be laid out, with its numbers.
    """
    import shapely

    made = features(spec, lettering=False)
    left, low, right, high = spec.outline.bounds_mm
    reach = 2.0 * (hypot(max(-left, right), max(-low, high)) + 1.0)
    cuts = [(f.add, shape) for f in made for shape in _cut(f, angle_deg, reach)]
    whole = shapely.union_all([s for add, s in cuts if add]).difference(
        shapely.union_all([s for add, s in cuts if not add])
    )
    pieces = [p for p in shapely.get_parts(whole) if p.geom_type == "Polygon" and p.area > 1e-9]
    return tuple((_loop(p.exterior), tuple(_loop(h) for h in p.interiors)) for p in sorted(pieces, key=_first))


def inner_walls(spec: AdapterSpec) -> tuple[tuple[str, float, float, float, float], ...]:
    """What a driver goes through from the back up: name, height and radius where it begins, height and radius where
    it ends, in mm; straight between, notches and gasket grooves left out."""
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


def _cut(feature: Feature, angle_deg: float, reach: float) -> list[BaseGeometry]:
    """A feature in the half-plane: boxes of a prism, the trapezoid of a cone."""
    import shapely

    if isinstance(feature, Cone):
        corners = (
            (0.0, feature.z0_mm),
            (feature.r0_mm, feature.z0_mm),
            (feature.r1_mm, feature.z1_mm),
            (0.0, feature.z1_mm),
        )
        return [shapely.Polygon(corners)]  # fmt: skip
    assert isinstance(feature, Prism)
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


def _first(piece: BaseGeometry) -> tuple[float, ...]:
    return tuple(map(float, piece.bounds))
