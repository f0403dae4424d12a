"""A solid as triangles: to print from, to look at, to measure on.

The kernel's own tolerance is relative to a face's size unless told otherwise; here it is absolute, 0.02 mm.  The
mesh is watertight: faces share the points of their common edges.  What is sent to a printer is larger by what a print
shrinks, and its round holes wider by what they close, on the mesh alone: the solid, and so the STEP file, is as drawn.
Millimeters.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from backwave.errors import BuildError
from backwave.part.solid import build
from backwave.part.types import AdapterSpec, Printer

if TYPE_CHECKING:
    from build123d import Solid


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
    """A solid as triangles.

    `solid`, mm; `tolerance_mm`: how far a facet may lie off a curved face; BuildError: the kernel could not mesh a
    face.
    """
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
    """The adapter to look at: without lettering and broken edges, and a little coarser.

    `spec`, mm; BuildError: as for `solid.build`.
    """
    return mesh(build(replace(spec, edge_mm=0.0), lettering=False).solid, 0.05, 0.3)


def _shared(places: NDArray[np.float64], corners: NDArray[np.int64]) -> Mesh:
    """Faces have points of their own on common edges, the same to the last digits: made one, slivers dropped."""
    _, first, index = np.unique(np.round(places, 6), axis=0, return_index=True, return_inverse=True)
    joined = index.reshape(-1)[corners]
    a, b, c = joined.T
    return Mesh(places[first], joined[(a != b) & (b != c) & (c != a)])


NEAR = 1e-4  # mm from the wall of a hole that still counts as on it


def printed_mesh(part: Mesh, spec: AdapterSpec, printer: Printer) -> Mesh:
    """A mesh as it is to be printed.

    `part`, mm; `spec`, mm: what it is of: fixing holes, counterbores and threads are widened, nut pockets and the
    bore are not.
    """
    extra, scale = printer.hole_extra_mm / 2.0, 1.0 + printer.shrinkage
    if extra == 0.0 and scale == 1.0:
        return part
    corners = part.vertices_mm.copy()
    holes = [(f.x_mm, f.y_mm, f.hole_mm, -np.inf) for f in spec.fixings if f.hole_mm]
    holes += [
        (f.x_mm, f.y_mm, f.counterbore_mm, spec.thickness_mm - f.counterbore_depth_mm)
        for f in spec.fixings
        if f.counterbore_depth_mm > 0.0
    ]
    holes += [
        (t.x_mm, t.y_mm, t.hole_mm, spec.seat_z_mm - t.depth_mm if t.depth_mm > 0.0 and t.kind != "nut" else -np.inf)
        for t in spec.threads
    ]
    for x, y, diameter, floor in holes:
        out = part.vertices_mm[:, :2] - (x, y)
        far = np.hypot(out[:, 0], out[:, 1])
        on = (np.abs(far - diameter / 2.0) < NEAR) & (part.vertices_mm[:, 2] > floor - NEAR)
        corners[on, :2] += extra * out[on] / far[on, None]
    return Mesh(corners * scale, part.triangles)
