"""The stand-in as a solid: turned about its axis, the terminals' block, a plate with a hole to look through.

Printed plate down, hollow (two walls, no filling).  The solid kernel is loaded when first used.  Millimeters.
"""

from __future__ import annotations

from backwave.errors import BuildError
from backwave.part.fit_gauge import half_section, terminal_box
from backwave.part.solid import Built
from backwave.part.types import StandInSpec

__all__ = ["SIGHT", "build_standin"]

SIGHT = 8.0  # mm: radius of the hole to look through, and to hold it by


def build_standin(spec: StandInSpec) -> Built:
    """The gauge as a solid.

    Parameters
    ----------
    spec : StandInSpec, mm
        What it stands in for.

    Raises
    ------
    BuildError
        It does not reach behind the metal, or the kernel cannot make it.
    """
    from build123d import Axis, Face, Location, Plane, Solid, Wire

    section, block = half_section(spec), terminal_box(spec)
    low = min(z for _, z in section)
    wide = max(spec.rim_mm, *(r for r, _ in section))
    sight = min(SIGHT, 0.4 * max(r for r, z in section if z < low + 0.5))
    try:
        wire = Wire.make_polygon([(r, 0.0, z) for r, z in section], close=True)
        body = Solid.revolve(Face(wire), 360.0, Axis.Z)
        parts = [Solid.make_cylinder(wide, spec.plate_mm, Plane((0.0, 0.0, 0.0)))]
        if block is not None:
            angle, width, radius, end = block
            low = min(low, end)
            box = Solid.make_box(radius, width, -end, Plane((0.0, -width / 2.0, end)))
            parts.append(box.moved(Location((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), angle)))
        hole = Solid.make_cylinder(sight, spec.plate_mm - low + 2.0, Plane((0.0, 0.0, low - 1.0)))
        found = body.fuse(*parts).cut(hole).solids()
    except Exception as fault:  # the kernel raises its own kinds for a shape it does not like
        raise BuildError("stand-in", f"{len(section)} points down to {low:.1f} mm: {fault}") from fault
    if len(found) != 1 or not found[0].is_valid:
        raise BuildError("stand-in", f"{len(found)} pieces where one is wanted")
    return Built(found[0], float(found[0].volume))
