"""Features become a solid: flat shapes extruded, one union, one cut, cosmetic edges last.

The solid kernel (build123d on OpenCASCADE) is loaded here, when first used.  What it cannot make raises a
`BuildError` that names the feature.  Millimeters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from backwave.errors import BuildError
from backwave.part.plan import Cone, Feature, features, plan_volume_mm3, ring_features
from backwave.part.types import AdapterSpec, RingSpec
from backwave.shape import Outline

if TYPE_CHECKING:
    from build123d import Solid

__all__ = ["Built", "build", "build_features", "build_ring"]

PAST = 1.0  # mm a through cut reaches past the part, so that no two faces lie in one plane
AGREES = 1e-3  # relative: how near the solid's volume must come to the sections'


@dataclass(frozen=True)
class Built:
    """A solid and what was said while making it.

    Parameters
    ----------
    solid : build123d Solid, mm
        One closed body.
    plan_mm3 : float, mm3
        Volume from the flat sections, before cosmetic edges.
    left_out : tuple of str, no unit
        Cosmetic edges the kernel could not break.
    """

    solid: Solid
    plan_mm3: float
    left_out: tuple[str, ...] = ()


def build(spec: AdapterSpec, lettering: bool = True) -> Built:
    """The adapter as a solid.

    Parameters
    ----------
    spec : AdapterSpec, mm
        What to build.
    lettering : bool, no unit
        With what is engraved; a preview does without, it is the slowest part.

    Raises
    ------
    BuildError
        A feature could not be made, or what came out is not one body of the volume laid out.
    """
    made = build_features(features(spec, lettering))
    if spec.edge_mm <= 0.0:
        return made
    broken = _break_edge(made.solid, spec)
    if broken is None:
        return Built(made.solid, made.plan_mm3, ("outer edge at the front",))
    return Built(broken, made.plan_mm3)


def build_ring(ring: RingSpec) -> Built:
    """A flat ring as a solid.

    Parameters
    ----------
    ring : RingSpec, mm
        The ring.

    Raises
    ------
    BuildError
        As for `build`.
    """
    return build_features(ring_features(ring))


def build_features(made: Sequence[Feature]) -> Built:
    """Any list of features as one solid.

    Parameters
    ----------
    made : sequence of Feature, mm
        What is added first, what is taken away after; the first is the body the others are added to.

    Raises
    ------
    BuildError
        As for `build`.
    """
    low, high = min(f.z0_mm for f in made if f.add), max(f.z1_mm for f in made if f.add)
    planned = plan_volume_mm3(tuple(made))
    if planned <= 0.0:
        raise BuildError("part", "nothing is left of it after its cuts")
    tools = [(f, _tool(f, low, high)) for f in made]
    added = [t for f, t in tools if f.add]
    cuts = [t for f, t in tools if not f.add]
    solid = _whole(added[0].fuse(*added[1:]) if len(added) > 1 else added[0], cuts)
    if solid is None or abs(solid.volume - planned) > AGREES * planned:
        solid = _one_by_one(tools, planned)
    return Built(solid, planned)


# -- inside -------------------------------------------------------------------------------------------------------


def _wire(outline: Outline) -> Any:
    from build123d import Edge, Plane, Wire

    found = outline.circle
    if found is not None:
        x, y, r = found
        return Wire([Edge.make_circle(r, Plane((x, y, 0.0)))])
    if outline.smooth:
        return Wire([Edge.make_spline([(x, y, 0.0) for x, y, _ in outline.vertices_mm], periodic=True)])
    edges = []
    for a, b, arc in outline.edges():
        if arc is None:
            edges.append(Edge.make_line((*a, 0.0), (*b, 0.0)))
        else:
            from math import cos, sin

            middle = arc.start_rad + arc.sweep_rad / 2.0
            via = (arc.x_mm + arc.radius_mm * cos(middle), arc.y_mm + arc.radius_mm * sin(middle), 0.0)
            edges.append(Edge.make_three_point_arc((*a, 0.0), via, (*b, 0.0)))
    return Wire(edges)


def _tool(feature: Feature, low: float, high: float) -> Any:
    """A feature's own solid; a cut that ends at the part's bottom or top goes past it."""
    from build123d import Face, Location, Plane, Solid

    z0, z1 = feature.z0_mm, feature.z1_mm
    try:
        if isinstance(feature, Cone):
            past = PAST if z0 <= low + 1e-9 else 0.0
            cone = Solid.make_cone(feature.r0_mm, feature.r1_mm, z1 - z0, Plane((0.0, 0.0, z0)))
            return cone.fuse(Solid.make_cylinder(feature.r0_mm, past, Plane((0, 0, z0 - past)))) if past else cone
        if not feature.add:
            z0, z1 = z0 - PAST * (z0 <= low + 1e-9), z1 + PAST * (z1 >= high - 1e-9)
        face = Face(_wire(feature.outer), [_wire(hole) for hole in feature.inner])
        if face.normal_at().Z < 0.0:
            face = -face
        return Solid.extrude(face.moved(Location((0.0, 0.0, z0))), (0.0, 0.0, z1 - z0))
    except Exception as fault:  # the kernel raises its own kinds for a shape it does not like
        raise BuildError(feature.name, f"z {z0:g} to {z1:g} mm: {fault}") from fault


def _whole(body: Any, cuts: list[Any]) -> Any:
    """Body less cuts as one valid solid, or None."""
    try:
        found = (body.cut(*cuts) if cuts else body).solids()
    except Exception:  # noqa: BLE001 the kernel's own kinds; built again one by one to name the culprit
        return None
    return found[0] if len(found) == 1 and found[0].is_valid else None


def _one_by_one(tools: list[tuple[Feature, Any]], planned: float) -> Any:
    """Slowly, to find which feature it is, with the reason."""
    done: list[Feature] = []
    solid: Any = None
    for feature, tool in tools:
        done.append(feature)
        try:
            whole = tool if solid is None else (solid.fuse(tool) if feature.add else solid.cut(tool))
            pieces = whole.solids()
        except Exception as fault:  # the kernel raises its own kinds
            raise BuildError(feature.name, str(fault)) from fault
        if len(pieces) != 1:
            raise BuildError(feature.name, f"it leaves {len(pieces)} pieces, one is wanted")
        solid = pieces[0]
        if not solid.is_valid:
            raise BuildError(feature.name, "the kernel's result is not a valid solid")
    if abs(solid.volume - planned) > AGREES * planned:
        raise BuildError("part", f"volume {solid.volume:.1f} mm3, but its sections add up to {planned:.1f} mm3")
    return solid


def _break_edge(solid: Any, spec: AdapterSpec) -> Any:
    """The outer edge at the front, broken at 45 degrees; None where the kernel cannot."""
    top = [
        e
        for e in solid.edges()
        if abs(e.bounding_box().min.Z - spec.thickness_mm) < 1e-6
        and abs(e.bounding_box().max.Z - spec.thickness_mm) < 1e-6
        and abs(spec.outline.inside_mm(e.position_at(0.5).X, e.position_at(0.5).Y)) < 0.01
    ]
    if not top:
        return None
    try:
        found = solid.chamfer(spec.edge_mm, None, top).solids()
    except Exception:  # noqa: BLE001 cosmetic: left out and said
        return None
    sound = len(found) == 1 and found[0].is_valid and 0.0 < solid.volume - found[0].volume < 0.02 * solid.volume
    return found[0] if sound else None
