"""What a part is made of, how, and where it lives, as far as its checks and estimates ask."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backwave.finding import PRACTICE


@dataclass(frozen=True)
class Material:
    """What a part is made of, as far as its checks ask."""

    name: str  # "ASA", "MDF"
    density_kg_m3: float  # density of the solid material
    # deflection temperature at 0.45 MPa (ISO 75-2, method B), low end; None where heat does not govern
    hdt_degc: float | None = None
    laser_unsafe: str = ""  # why it must not be laser cut, or ""
    swells: bool = False  # whether it swells in water unless sealed
    source: str = ""  # where these numbers are from


@dataclass(frozen=True)
class Printer:
    """A printer and how it is set; the defaults are common trade practice and shown as such."""

    bed_mm: tuple[float, float, float] = (220.0, 220.0, 250.0)  # (x, y, z), room to print in
    layer_mm: float = 0.2  # height of a layer and of the first; width of a line
    first_layer_mm: float = 0.2
    line_mm: float = 0.45
    walls: int = 6  # lines side by side in a wall
    filament_mm: float = 1.75
    flow_mm3_s: float = 6.0  # plastic laid down a second, as an average over the whole print
    layer_s: float = 8.0  # lost at each layer, and before the first
    start_s: float = 360.0
    shrinkage: float = 0.0  # 1, linear shrinkage made up for: printed meshes are 1 + shrinkage as large
    hole_extra_mm: float = 0.0  # added to the diameter of round holes in printed meshes


@dataclass(frozen=True)
class SheetStock:
    """Sheet stock and how it is cut."""

    # thicknesses from the back face to the front; they must add up to the part's thickness
    layers_mm: tuple[float, ...]
    cutter: Literal["router", "saw", "laser"] = "router"
    sealed: bool = False  # whether its edges and faces are sealed against water
    least_web_mm: float = 3.0  # least material between two cuts


@dataclass(frozen=True)
class Zone:
    """Where in the vehicle the part lives."""

    name: str  # "door", "shelf"
    service_degc: float  # how hot it gets there
    wet: bool = False  # whether it is on the wet side of the vapor barrier
    source: str = PRACTICE  # where the temperature is from
