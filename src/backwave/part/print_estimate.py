"""What a print takes: layers, mass, filament, and an estimate of the time.

The part counts as solid all through (walls and 100 % filling), as a ring that shall not ring is printed.
The time is an estimate and called one:

    time = before the first layer + layers x time lost at each + volume / flow

with the flow an average over the whole print.  It knows no travel, no acceleration, no supports.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, pi

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine
from backwave.part.process import Material, Printer

MODEL = "time = start + layers x time per layer + volume / flow; an estimate"


@dataclass(frozen=True)
class PrintEstimate:
    """What a print takes."""

    layers: int  # how many
    mass_kg: float
    filament_m: float
    time_s: float
    solid_walls: int  # lines side by side, all round, that alone fill the widest wall
    working: tuple[CalculationLine, ...]  # every number that went in


def layer_count(height_mm: float, printer: Printer) -> int:
    """Layers to a height, the last one counted whole."""
    if not height_mm > 0.0:
        raise InputError("height of a print", height_mm, "more than 0 mm")
    return 1 + max(0, ceil((height_mm - printer.first_layer_mm) / printer.layer_mm - 1e-6))


def print_estimate(
    volume_mm3: float, height_mm: float, material: Material, printer: Printer, widest_mm: float = 0.0
) -> PrintEstimate:
    """Layers, mass, filament and time of a print.

    `volume_mm3`: volume of the solid as drawn; shrinkage is made up for in what is laid down, not in what it
    weighs cold; `widest_mm`: widest wall of the part in plan; 0: not known.
    """
    mass = volume_mm3 * 1e-9 * material.density_kg_m3
    layers = layer_count(height_mm * (1.0 + printer.shrinkage), printer)
    area = pi * printer.filament_mm**2 / 4.0
    # What is weighed cold was laid down: the same plastic, whatever it shrank by.
    filament = volume_mm3 / area / 1e3
    seconds = printer.start_s + layers * printer.layer_s + volume_mm3 / printer.flow_mm3_s
    walls = max(printer.walls, ceil(widest_mm / (2.0 * printer.line_mm) - 1e-9))
    common = PRACTICE
    working = (
        CalculationLine("V", "volume of the solid", volume_mm3, "mm3"),
        CalculationLine("rho", f"density of {material.name}", material.density_kg_m3, "kg/m3", material.source),
        CalculationLine("m", "mass = V rho", mass, "kg"),
        CalculationLine("d", "diameter of the filament", printer.filament_mm, "mm"),
        CalculationLine("L", "length of filament = V / (pi d^2 / 4)", filament, "m"),
        CalculationLine("n", "layers", float(layers), ""),
        CalculationLine("t0", "before the first layer", printer.start_s, "s", common),
        CalculationLine("t1", "lost at each layer", printer.layer_s, "s", common),
        CalculationLine("q", "plastic laid down, on average", printer.flow_mm3_s, "mm3/s", common),
        CalculationLine("t", "time, an estimate = t0 + n t1 + V / q", seconds, "s", MODEL),
    )
    return PrintEstimate(layers, mass, filament, seconds, walls, working)
