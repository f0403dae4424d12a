"""The dummy as a solid: turned about its axis, the terminals' block, screw tails, a plate with a hole to look through.

Its code is engraved in the plate.  Printed plate down, hollow (two walls, no filling).  The solid kernel is loaded when
first used.  Millimeters.
"""

from __future__ import annotations

from math import hypot, sqrt
from typing import Any

from backwave.errors import BuildError
from backwave.part.engraving import Mark, inked, strokes_of
from backwave.part.fit_gauge import half_section, terminal_box
from backwave.part.solid import Built
from backwave.part.types import StandInSpec

SIGHT = 8.0  # mm: radius of the hole to look through, and to hold it by
CODE, DEEP = 7.0, 0.6  # mm: height of the code's letters, and how deep they are


def build_standin(spec: StandInSpec) -> Built:
    """The dummy as a solid. BuildError: it does not reach behind the metal, or the kernel cannot make it."""
    from build123d import Axis, Face, Location, Plane, Solid, Wire

    section, block = half_section(spec), terminal_box(spec)
    sectors = [(a, (b - a) % 360.0 or 360.0, half_section(spec, a)) for a, b, _ in spec.deeper]
    low = min(z for points in (section, *(p for _, _, p in sectors)) for _, z in points)
    wide = max(spec.rim_mm, *(r for r, _ in section), *(hypot(x, y) + d for x, y, d, _ in spec.tails_mm))
    sight = min(SIGHT, 0.4 * max(r for r, z in section if z < min(z for _, z in section) + 0.5))
    try:

        def turned(points: tuple[tuple[float, float], ...], sweep: float) -> Any:
            wire = Wire.make_polygon([(r, 0.0, z) for r, z in points], close=True)
            return Solid.revolve(Face(wire), sweep, Axis.Z)

        about = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)
        body = turned(section, 360.0)
        parts = [Solid.make_cylinder(wide, spec.plate_mm, Plane((0.0, 0.0, 0.0)))]
        parts += [turned(points, sweep).moved(Location(*about, start)) for start, sweep, points in sectors]
        if block is not None:
            angle, width, radius, end = block
            low = min(low, end)
            box = Solid.make_box(radius, width, -end, Plane((0.0, -width / 2.0, end)))
            parts.append(box.moved(Location(*about, angle)))
        parts += [Solid.make_cylinder(d / 2.0, long, Plane((x, y, -long))) for x, y, d, long in spec.tails_mm]
        low = min(low, *(-long for *_, long in spec.tails_mm)) if spec.tails_mm else low
        hole = Solid.make_cylinder(sight, spec.plate_mm - low + 2.0, Plane((0.0, 0.0, low - 1.0)))
        found = body.fuse(*parts).cut(hole, *_letters(spec, wide, sight)).solids()
    except Exception as fault:  # the kernel raises its own kinds for a shape it does not like
        raise BuildError("dummy", f"{len(section)} points down to {low:.1f} mm: {fault}") from fault
    if len(found) != 1 or not found[0].is_valid:
        raise BuildError("dummy", f"{len(found)} pieces where one is wanted")
    return Built(found[0], float(found[0].volume))


def _letters(spec: StandInSpec, wide: float, sight: float) -> list[Any]:
    """What is cut for the code: above the hole to look through, as large as there is room."""
    from build123d import Face, Solid, Vector, Wire

    if not spec.code:
        return []
    middle = (wide + sight) / 2.0
    room = 1.9 * sqrt(max(wide**2 - (middle + CODE / 2.0) ** 2, 1.0))
    _, long = strokes_of(spec.code, 1.0)
    height = min(CODE, 0.6 * (wide - sight), room / long)
    strokes, length = strokes_of(spec.code, height)
    moved = tuple(tuple((x - length / 2.0, y + middle - height / 2.0) for x, y in s) for s in strokes)
    top = spec.plate_mm - DEEP
    return [
        Solid.extrude(
            Face(
                Wire.make_polygon([(x, y, top) for x, y in shape.exterior.coords[:-1]], close=True),
                [Wire.make_polygon([(x, y, top) for x, y in r.coords[:-1]], close=True) for r in shape.interiors],
            ),
            Vector(0.0, 0.0, DEEP + 1.0),
        )
        for shape in inked(Mark(spec.code, moved, max(0.5, height / 7.0)))
    ]
