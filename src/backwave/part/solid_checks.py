"""What was measured on a built part, and whether that will do.

Volume and mass from the solid, closed and least wall from its triangles.  These findings need the solid; what
needs none stands in `checks`.  Millimeters.
"""

from __future__ import annotations

from dataclasses import dataclass

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.part.mesh import Mesh
from backwave.part.process import Material
from backwave.part.solid import Built
from backwave.part.types import AdapterSpec
from backwave.part.wall_thickness import Wall, least_wall


@dataclass(frozen=True)
class SolidFacts:
    """What a built part is like."""

    volume_mm3: float  # of the solid, and of its flat sections before cosmetic edges
    plan_mm3: float
    mesh_mm3: float  # of its triangles
    mass_kg: float  # solid all through
    bounds_mm: tuple[float, float, float]  # (x, y, z), size over all
    closed: bool  # whether the triangles close
    bodies: int  # how many bodies the solid is
    wall: Wall | None  # mm
    left_out: tuple[str, ...] = ()  # cosmetic edges that were left out


def facts(built: Built, triangles: Mesh, material: Material, ignore_above_z_mm: float = float("inf")) -> SolidFacts:
    """Measure a part.

    `built`, mm; `triangles`, mm; `ignore_above_z_mm`: walls above this are not looked for: between engraved
    strokes there are many.
    """
    low, high = triangles.bounds_mm
    volume = float(built.solid.volume)
    return SolidFacts(
        volume,
        built.plan_mm3,
        triangles.volume_mm3,
        volume * 1e-9 * material.density_kg_m3,
        (high[0] - low[0], high[1] - low[1], high[2] - low[2]),
        triangles.closed,
        len(built.solid.solids()),
        least_wall(triangles, ignore_above_z_mm),
        built.left_out,
    )


def solid_checks(found: SolidFacts, spec: AdapterSpec) -> tuple[Check, ...]:
    """Findings of the solid. `found`, mm; `spec`, mm."""
    return (_whole(found), *_wall(found, spec), *_left_out(found))


def _whole(found: SolidFacts) -> Check:
    off = abs(found.mesh_mm3 - found.volume_mm3) / found.volume_mm3 if found.volume_mm3 > 0.0 else 1.0
    sound = found.closed and found.bodies == 1 and found.volume_mm3 > 0.0 and off < 1e-3
    working = (
        CalculationLine("V", "volume of the solid", found.volume_mm3, "mm3"),
        CalculationLine("V_mesh", "volume of its triangles", found.mesh_mm3, "mm3"),
        CalculationLine("V_plan", "volume of its flat sections, before cosmetic edges", found.plan_mm3, "mm3"),
        CalculationLine("n", "bodies", float(found.bodies), ""),
        CalculationLine(
            "closed", "every edge shared by two triangles: 1", float(found.closed), "", "3MF Core 1.4.0, 4.1.4"
        ),
    )
    if sound:
        title = Message("one closed body of {mass}", (("mass", found.mass_kg, "kg"),))
        return Check("part.solid", "ok", title, found.volume_mm3, None, "mm3", working=working)
    faults = [w for w, bad in (("not closed", not found.closed), ("not one body", found.bodies != 1)) if bad]
    said = " and ".join(faults) or "of another volume than its mesh"
    return Check(
        "part.solid",
        "stop",
        Message("the solid is {faults}", (("faults", said, ""),)),
        found.volume_mm3,
        None,
        "mm3",
        remedy=Message("do not print it; move the cuts that touch, or leave one out, and make it again"),
        working=working,
    )


def _wall(found: SolidFacts, spec: AdapterSpec) -> list[Check]:
    if found.wall is None:
        return []
    wall, limit = found.wall.thickness_mm, spec.least_wall_mm
    x, y, z = found.wall.at_mm
    quantities = (
        ("wall", wall, "mm"),
        ("limit", limit, "mm"),
        ("x", x, "mm"),
        ("y", y, "mm"),
        ("z", z, "mm"),
        ("kind", "floor" if found.wall.upright else "wall", ""),
    )
    # Facets lie up to 0.02 mm inside a round wall.
    verdict: Verdict = "ok" if wall >= limit - 0.04 else "caution"
    thin = Message("keep {limit} or more: move what is beside it, or make it smaller", quantities)
    return [
        Check(
            "part.wall",
            verdict,
            Message("the thinnest {kind} is {wall}, at {x}, {y}, {z}", quantities),
            wall,
            limit,
            "mm",
            remedy=None if verdict == "ok" else thin,
            working=(
                CalculationLine("w", "measured on the triangles, across to the surface that faces it", wall, "mm"),
                CalculationLine("w_least", "two print lines, or the least web in sheet", limit, "mm", PRACTICE),
            ),
            sources=(PRACTICE,),
        )
    ]


def _left_out(found: SolidFacts) -> list[Check]:
    return [
        Check(
            "part.build",
            "caution",
            Message("the {edge} is left sharp: the kernel could not break it", (("edge", edge, ""),)),
            remedy=Message("break it with a file"),
            part="edge",
        )
        for edge in found.left_out
    ]
