"""Features become a solid, and the solid triangles: to print from, to look at, to measure on.

Flat shapes are extruded, one union, one cut, cosmetic edges last.  The solid kernel (build123d on OpenCASCADE) is loaded
here, when first used; what it cannot make raises a `BuildError` that names the feature.  Its own tolerance is relative to
a face's size unless told otherwise; here it is absolute, 0.02 mm, and the mesh is watertight: faces share the points of
their common edges.  What is sent to a printer is larger by what a print shrinks, and its round holes wider by what they
close, on the mesh alone: the solid, and so the STEP file, is as drawn.  Millimeters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, sin
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import BuildError
from backwave.part.features import Cone, Feature, Prism, features, plan_volume_mm3, ring_features
from backwave.part.types import AdapterSpec, Printer, RingSpec
from backwave.shape import Outline

if TYPE_CHECKING:
    from build123d import Solid


@contextmanager
def kernel(feature: str) -> Iterator[None]:
    """Whatever the kernel raises inside becomes a `BuildError` that names the feature. It raises kinds of its own
    and, through its Python layer, any built-in one; a person can do nothing with either. BuildError: the kernel
    could not."""
    try:
        yield
    except (BuildError, MemoryError):
        raise
    except OSError as fault:  # a full disk is no fault of the part, and no verdict
        if fault.errno is not None:
            raise
        raise BuildError(feature, str(fault)) from fault
    except Exception as fault:
        raise BuildError(feature, str(fault).strip() or type(fault).__name__) from fault


PAST = 1.0  # mm a through cut reaches past the part, so that no two faces lie in one plane
PIECES = 8  # walls a smooth outline is made of
AGREES = 1e-3  # relative: how near the solid's volume must come to the sections'


@dataclass(frozen=True)
class Built:
    """A solid and what was said while making it."""

    solid: Solid  # mm, one closed body
    plan_mm3: float  # volume from the flat sections, before cosmetic edges
    left_out: tuple[str, ...] = ()  # cosmetic edges the kernel could not break


def build(spec: AdapterSpec, lettering: bool = True) -> Built:
    """The adapter as a solid. `spec`, mm; `lettering`: with what is engraved; a preview does without, it is the slowest
    part; BuildError: A feature could not be made, or what came out is not one body of the volume laid out."""
    made = build_features(features(spec, lettering))
    if spec.edge_mm <= 0.0:
        return made
    broken = _break_edge(made.solid, spec)
    return replace(made, left_out=("outer edge at the front",)) if broken is None else replace(made, solid=broken)


def build_ring(ring: RingSpec) -> Built:
    """A flat ring as a solid. `ring`, mm; BuildError: as for `build`."""
    return build_features(ring_features(ring))


def build_features(made: Sequence[Feature]) -> Built:
    """Any list of features as one solid. `made`, mm: what is added first, what is taken away after; the first is the
    body the others are added to; BuildError: as for `build`."""
    low, high = min(f.z0_mm for f in made if f.add), max(f.z1_mm for f in made if f.add)
    planned = plan_volume_mm3(tuple(made))
    if planned <= 0.0:
        raise BuildError("part", "nothing is left of it after its cuts")
    solid = _quickly(made, low, high)
    if solid is None or abs(solid.volume - planned) > AGREES * planned:
        solid = _one_by_one(made, low, high, planned)
    return Built(solid, planned)


def _wire(outline: Outline) -> Any:
    from build123d import Edge, Plane, Wire

    found = outline.circle
    if found is not None:
        x, y, r = found
        return Wire([Edge.make_circle(r, Plane((x, y, 0.0)))])
    if outline.smooth:
        return Wire([Edge.make_spline(**piece, scale=False) for piece in _runs(outline)])
    edges = []
    for a, b, arc in outline.edges():
        if arc is None:
            edges.append(Edge.make_line((*a, 0.0), (*b, 0.0)))
        else:
            middle = arc.start_rad + arc.sweep_rad / 2.0
            via = (arc.x_mm + arc.radius_mm * cos(middle), arc.y_mm + arc.radius_mm * sin(middle), 0.0)
            edges.append(Edge.make_three_point_arc((*a, 0.0), via, (*b, 0.0)))
    return Wire(edges)


def _runs(outline: Outline) -> list[dict[str, Any]]:
    """A smooth outline in pieces: the box of a wall all round meets every other face's, that of a short wall few. With
    the same parameters and end slopes each piece is the outline's own cubic, to the last digit."""
    h, c = outline.cubics
    n = len(h)
    starts = [n * k // PIECES for k in range(PIECES)] if n >= 2 * PIECES else [0, n // 2]
    return [
        {
            "points": [(float(x), float(y), 0.0) for x, y in (c[k % n, 0] for k in range(a, b + 1))],
            "tangents": [(float(x), float(y), 0.0) for x, y in (c[a, 1], c[b % n, 1])],
            "parameters": [0.0, *(float(s) for s in np.cumsum(h[a:b]))],
        }
        for a, b in pairwise([*starts, n])
    ]


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


def _quickly(made: Sequence[Feature], low: float, high: float) -> Any:
    """One union, one cut, and what lies inside a flat face sunk into it; None where that does not come out."""
    sunk = [f for f in made if isinstance(f, Prism) and f.sunk]
    added = [_tool(f, low, high) for f in made if f.add]
    cuts = [_tool(f, low, high) for f in made if not f.add and f not in sunk]
    try:
        body = added[0]
        for f in sunk:
            if f.sunk == "early":
                body = _sink(body, [f])
        if len(added) > 1:
            body = body.fuse(*added[1:])
        if cuts:
            body = body.cut(*cuts)
        pieces = body.solids()
        late = [f for f in sunk if f.sunk == "late"]
        if len(pieces) != 1 or not late:
            return pieces[0] if len(pieces) == 1 and pieces[0].is_valid else None
        done = _sink(pieces[0], late)
    except Exception:  # noqa: BLE001 the kernel's own kinds; built again one by one to name the culprit
        return None
    return done if done.is_valid else None


def _sink(solid: Any, cuts: list[Prism]) -> Any:
    """Shapes sunk into one flat face: the face gets holes, walls and floors; all of it sewn together again."""
    from build123d import Face, Location, Solid
    from build123d.topology.shape_core import downcast
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid, BRepBuilderAPI_Sewing
    from OCP.BRepLib import BRepLib

    back = cuts[0].z0_mm <= 0.0
    face_z, floor_z = (cuts[0].z0_mm, cuts[0].z1_mm) if back else (cuts[0].z1_mm, cuts[0].z0_mm)
    down, flat = (0.0, 0.0, floor_z - face_z), (1.0 if not back else -1.0)
    faces = solid.faces()
    level = [f for f in faces if abs(f.center().Z - face_z) < 1e-6 and abs(f.normal_at().Z - flat) < 1e-6]
    land = max(level, key=lambda f: f.area)
    there = Location((0.0, 0.0, face_z))
    shapes = [(_wire(c.outer).moved(there), [_wire(hole).moved(there) for hole in c.inner]) for c in cuts]
    new = [Face(land.outer_wire(), [*land.inner_wires(), *(outer for outer, _ in shapes)])]
    for outer, holes in shapes:
        new += [Face(hole) for hole in holes]
        new += [Face.extrude(edge, down) for wire in (outer, *holes) for edge in wire.edges()]
        new.append(Face(outer, holes).moved(Location(down)))
    sewing = BRepBuilderAPI_Sewing(1e-6)
    for face in [*(f for f in faces if f is not land), *new]:
        sewing.Add(face.wrapped)
    sewing.Perform()
    whole = BRepBuilderAPI_MakeSolid(downcast(sewing.SewedShape())).Solid()
    BRepLib.OrientClosedSolid_s(whole)
    return Solid(whole)


def _one_by_one(made: Sequence[Feature], low: float, high: float, planned: float) -> Any:
    """Slowly, to find which feature it is, with the reason."""
    solid: Any = None
    for feature in made:
        tool = _tool(feature, low, high)
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
    top = []
    for edge in solid.edges():
        box, middle = edge.bounding_box(), edge.position_at(0.5)
        at_front = all(abs(z - spec.thickness_mm) < 1e-6 for z in (box.min.Z, box.max.Z))
        if at_front and abs(spec.outline.inside_mm(middle.X, middle.Y)) < 0.01:
            top.append(edge)
    if not top:
        return None
    try:
        found = solid.chamfer(spec.edge_mm, None, top).solids()
    except Exception:  # noqa: BLE001 cosmetic: left out and said
        return None
    sound = len(found) == 1 and found[0].is_valid and 0.0 < solid.volume - found[0].volume < 0.02 * solid.volume
    return found[0] if sound else None


TOLERANCE = 0.02  # mm a chord may lie off a curved face
ANGLE = 0.3  # rad between neighboring facets


@dataclass(frozen=True, eq=False)
class Mesh:
    """Triangles that share their corners."""

    vertices_mm: NDArray[np.float64]  # (n, 3)
    triangles: NDArray[np.int64]  # (m, 3) 1, rows of `vertices_mm`, counter-clockwise seen from outside

    @property
    def corners_mm(self) -> NDArray[np.float64]:
        """Corners of every triangle, (m, 3, 3), mm."""
        found: NDArray[np.float64] = self.vertices_mm[self.triangles]
        return found

    @property
    def volume_mm3(self) -> float:
        """Volume inside, mm3 (divergence theorem); negative where it is inside out."""
        a, b, c = np.moveaxis(self.corners_mm, 1, 0)
        return float(np.sum(np.cross(a, b) * c)) / 6.0

    @property
    def bounds_mm(self) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
        """Least and greatest x, y, z, mm."""
        low, high = self.vertices_mm.min(axis=0), self.vertices_mm.max(axis=0)
        return (float(low[0]), float(low[1]), float(low[2])), (float(high[0]), float(high[1]), float(high[2]))

    @property
    def closed(self) -> bool:
        """Whether every edge belongs to two triangles that run along it in opposite ways (3MF Core, 4.1.4)."""
        t, n = self.triangles, len(self.vertices_mm)
        a, b = t[:, [0, 1, 2]].ravel(), t[:, [1, 2, 0]].ravel()
        forth, back = np.sort(a * n + b), np.sort(b * n + a)
        return bool(len(t) >= 4 and np.all(np.diff(forth) > 0) and np.array_equal(forth, back))


def mesh(solid: Solid, tolerance_mm: float = TOLERANCE, angle_rad: float = ANGLE) -> Mesh:
    """A solid as triangles. `solid`, mm; `tolerance_mm`: how far a facet may lie off a curved face; BuildError: the
    kernel could not mesh a face."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.BRepTools import BRepTools
    from OCP.TopAbs import TopAbs_Orientation
    from OCP.TopLoc import TopLoc_Location

    BRepTools.Clean_s(solid.wrapped)  # an older, coarser mesh would be kept
    BRepMesh_IncrementalMesh(solid.wrapped, tolerance_mm, False, angle_rad, True)
    places: list[tuple[float, float, float]] = []
    corners: list[tuple[int, int, int]] = []
    for face in solid.faces():
        where = TopLoc_Location()
        found = BRep_Tool.Triangulation_s(face.wrapped, where)
        if found is None:
            raise BuildError("mesh", f"a {face.geom_type.name.lower()} face of {face.area:.2f} mm2 has no triangles")
        first, move = len(places) - 1, where.Transformation()
        for k in range(1, found.NbNodes() + 1):
            p = found.Node(k).Transformed(move)
            places.append((p.X(), p.Y(), p.Z()))
        flipped = face.wrapped.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
        for k in range(1, found.NbTriangles() + 1):
            a, b, c = found.Triangle(k).Get()
            corners.append((first + a, first + c, first + b) if flipped else (first + a, first + b, first + c))
    return _shared(np.array(places), np.array(corners, dtype=np.int64))


def preview_mesh(spec: AdapterSpec) -> Mesh:
    """The adapter to look at: without lettering and broken edges, and a little coarser. `spec`, mm; BuildError: as for
    `solid.build`."""
    return mesh(build(replace(spec, edge_mm=0.0), lettering=False).solid, 0.05, 0.3)


def _shared(places: NDArray[np.float64], corners: NDArray[np.int64]) -> Mesh:
    """Faces have points of their own on common edges, the same to the last digits: made one, slivers dropped."""
    _, first, index = np.unique(np.round(places, 6), axis=0, return_index=True, return_inverse=True)
    joined = index.reshape(-1)[corners]
    a, b, c = joined.T
    return Mesh(places[first], joined[(a != b) & (b != c) & (c != a)])


NEAR = 1e-4  # mm from the wall of a hole that still counts as on it


def printed_mesh(part: Mesh, spec: AdapterSpec, printer: Printer) -> Mesh:
    """A mesh as it is to be printed. `part`, mm; `spec`, mm: what it is of: fixing holes, counterbores and threads are
    widened, nut pockets and the bore are not."""
    extra, scale = printer.hole_extra_mm / 2.0, 1.0 + printer.shrinkage
    if extra == 0.0 and scale == 1.0:
        return part
    corners = part.vertices_mm.copy()
    holes = [(f.x_mm, f.y_mm, f.hole_mm, -np.inf) for f in spec.fixings if f.hole_mm]
    top, sunk = spec.thickness_mm, [f for f in spec.fixings if f.counterbore_depth_mm > 0.0]
    holes += [(f.x_mm, f.y_mm, f.counterbore_mm, top - f.counterbore_depth_mm) for f in sunk]
    for t in spec.threads:
        blind = t.depth_mm > 0.0 and t.kind != "nut"
        holes.append((t.x_mm, t.y_mm, t.hole_mm, spec.seat_z_mm - t.depth_mm if blind else -np.inf))
    for x, y, diameter, floor in holes:
        out = part.vertices_mm[:, :2] - (x, y)
        far = np.hypot(out[:, 0], out[:, 1])
        on = (np.abs(far - diameter / 2.0) < NEAR) & (part.vertices_mm[:, 2] > floor - NEAR)
        corners[on, :2] += extra * out[on] / far[on, None]
    return Mesh(corners * scale, part.triangles)
