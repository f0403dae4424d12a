"""The adapter as a part: a solid, flat patterns, a dummy, what it takes to make, and whether it will do.

From plain numbers (`AdapterSpec` and its kin): outline, bore, seat, threads, grooves, lettering.  First the part
as prisms and cones (`features`): `checks`, `flat_patterns` and `process_checks` need no more.  Then the solid and its
triangles (`solid`: the solid kernel is loaded when first used), and what is measured on them (`solid_checks`).

    plan_checks       findings before anything is built
    least_thickness   what threads, heads and grooves need
    solid.build       the solid; solid.mesh its triangles; solid_checks.solid_checks findings of the solid

Units: millimeters, degrees, kilograms.  The part is of one side; z = 0 is its back face, on the metal.  Not built,
and refused: a tilted seat, a seat that is not round, a part split to fit a bed.  Floor: a room, on the ground.
"""

from __future__ import annotations

from backwave.part.checks import Gap, gaps, least_thickness, plan_checks, shape_checks
from backwave.part.features import section
from backwave.part.flat_patterns import FlatPart, Pocket, check_ring, flat_ring, sheet_layers
from backwave.part.process_checks import PrintEstimate, print_estimate
from backwave.part.types import (
    AdapterSpec,
    Collar,
    Fixing,
    Groove,
    Lettering,
    Material,
    Notch,
    Printer,
    RingSpec,
    SheetStock,
    Spigot,
    StandInSpec,
    Thread,
    Zone,
)

__all__ = [
    "AdapterSpec", "Collar", "Fixing", "FlatPart", "Gap", "Groove", "Lettering", "Material", "Notch", "Pocket",
    "PrintEstimate", "Printer", "RingSpec", "SheetStock", "Spigot", "StandInSpec", "Thread", "Zone", "check_ring",
    "flat_ring", "gaps", "least_thickness", "plan_checks", "print_estimate", "section", "shape_checks",
    "sheet_layers",
]  # fmt: skip
