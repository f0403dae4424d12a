"""Closed outlines in millimeters, made of lines, arcs and smooth runs; shapely judges areas and distances.

An outline is a ring of vertices (x, y, bulge).  The bulge belongs to the edge that starts at its vertex and is
the tangent of a quarter of the angle the edge turns through (0: straight; 1: half a circle to the left), as DXF
has it (DXF reference, LWPOLYLINE, group code 42).  A smooth outline is instead the closed cubic spline through its
vertices (chord-length parameters, the same curve the solid kernel interpolates).  Outlines run
counter-clockwise, x to the right and y up as seen from the cabin.  Ground floor.
"""

from __future__ import annotations

from backwave.shape.offset import band, distance_mm, offset
from backwave.shape.outline import (
    MAX_MM,
    Arc,
    Outline,
    Point,
    Vertex,
    circle,
    ellipse,
    measured,
    path,
    polygon,
    rounded_polygon,
    smooth,
    within_reach,
)

__all__ = [
    "MAX_MM", "Arc", "Outline", "Point", "Vertex", "band", "circle", "distance_mm", "ellipse", "measured", "offset",
    "path", "polygon", "rounded_polygon", "smooth", "within_reach",
]  # fmt: skip
