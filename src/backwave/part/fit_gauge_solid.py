"""The dummy as a solid: turned about its axis, the terminals' block, screw tails, a plate with a hole to look through.

Its code is engraved in the plate.  Printed plate down, hollow (two walls, no filling).  The solid kernel is loaded when
first used.  Millimeters.
"""

from __future__ import annotations

from math import hypot
from typing import Any

from backwave.errors import BuildError
from backwave.part.engraving import Mark, inked, strokes_of
from backwave.part.fit_gauge import half_section, terminal_box
from backwave.part.solid import Built
from backwave.part.types import StandInSpec

SIGHT = 8.0  # mm: radius of the hole to look through, and to hold it by
CODE, LEAST, DEEP = 7.0, 2.5, 0.6  # mm: height of the code's letters, wished for and at least, and how deep they are
PLATE = 16.0  # mm: least radius of a plate with a code


def build_standin(spec: StandInSpec) -> Built:
    """The dummy as a solid. BuildError: it does not reach behind the metal, or the kernel cannot make it."""
    from build123d import Axis, Face, Location, Plane, Solid, Wire

    section, block = half_section(spec), terminal_box(spec)
    sectors = [(a, (b - a) % 360.0 or 360.0, half_section(spec, a)) for a, b, _ in spec.deeper]
    low = min(z for points in (section, *(p for _, _, p in sectors)) for _, z in points)
    wide = max(
        spec.rim_mm,
        PLATE if spec.code else 0.0,
        *(r for r, _ in section),
        *(hypot(x, y) + d for x, y, d, _ in spec.tails_mm),
    )
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
    """What is cut for the code: its letters above the hole to look through, its stand-off below, as large as goes."""
    from build123d import Face, Solid, Vector, Wire

    if not spec.code:
        return []
    top, cut = spec.plate_mm - DEEP, []
    for text, middle in zip(spec.code.partition("-")[::2], (0.5 * (wide + sight), -0.5 * (wide + sight))):
        _, long = strokes_of(text, 1.0)
        height = CODE
        while height > LEAST and (
            0.6 * (wide - sight) < height or hypot(0.5 * height * long, abs(middle) + 0.5 * height) > wide - 1.0
        ):
            height -= 0.1
        strokes, length = strokes_of(text, height)
        moved = tuple(tuple((x - length / 2.0, y + middle - height / 2.0) for x, y in s) for s in strokes)
        for shape in inked(Mark(text, moved, max(0.5, height / 7.0))):
            edges = [[(x, y, top) for x, y in ring.coords[:-1]] for ring in (shape.exterior, *shape.interiors)]
            outer, *inner = (Wire.make_polygon(edge, close=True) for edge in edges)
            cut.append(Solid.extrude(Face(outer, inner), Vector(0.0, 0.0, DEEP + 1.0)))
    return cut
