"""The mesh that is sent to a printer: larger by what a print shrinks, round holes wider by what they close.

The solid, and so the STEP file, is as drawn.  Holes are widened on the mesh itself: corners that lie on the wall
of a round hole move outward from its axis, nothing else does, and no second solid has to be built.
"""

from __future__ import annotations

import numpy as np

from backwave.part.mesh import Mesh
from backwave.part.process import Printer
from backwave.part.types import AdapterSpec

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
