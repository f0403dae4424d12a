"""What a part is made of, how, and where it lives, as far as its checks and estimates ask."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Material", "Printer", "SheetStock", "Zone"]


@dataclass(frozen=True)
class Material:
    """What a part is made of, as far as its checks ask.

    Parameters
    ----------
    name : str, no unit
        "ASA", "MDF".
    density_kg_m3 : float, kg/m3
        Density of the solid material.
    hdt_degc : float or None, degC
        Deflection temperature at 0.45 MPa (ISO 75-2, method B), low end; None where heat does not govern.
    laser_unsafe : str, no unit
        Why it must not be laser cut, or "".
    swells : bool, no unit
        Whether it swells in water unless sealed.
    source : str, no unit
        Where these numbers are from.
    """

    name: str
    density_kg_m3: float
    hdt_degc: float | None = None
    laser_unsafe: str = ""
    swells: bool = False
    source: str = ""


@dataclass(frozen=True)
class Printer:
    """A printer and how it is set; the defaults are common trade practice and shown as such.

    Parameters
    ----------
    bed_mm : (x, y, z) float, mm
        Room to print in.
    layer_mm, first_layer_mm, line_mm : float, mm
        Height of a layer and of the first; width of a line.
    walls : int, no unit
        Lines side by side in a wall.
    filament_mm : float, mm
        Diameter of the filament.
    flow_mm3_s : float, mm3/s
        Plastic laid down a second, as an average over the whole print.
    layer_s, start_s : float, s
        Lost at each layer, and before the first.
    shrinkage : float, no unit
        Linear shrinkage made up for: printed meshes are 1 + shrinkage as large.
    hole_extra_mm : float, mm
        Added to the diameter of round holes in printed meshes.
    """

    bed_mm: tuple[float, float, float] = (220.0, 220.0, 250.0)
    layer_mm: float = 0.2
    first_layer_mm: float = 0.2
    line_mm: float = 0.45
    walls: int = 6
    filament_mm: float = 1.75
    flow_mm3_s: float = 6.0
    layer_s: float = 8.0
    start_s: float = 360.0
    shrinkage: float = 0.0
    hole_extra_mm: float = 0.0


@dataclass(frozen=True)
class SheetStock:
    """Sheet stock and how it is cut.

    Parameters
    ----------
    layers_mm : tuple of float, mm
        Thicknesses from the back face to the front; they must add up to the part's thickness.
    cutter : "router", "saw" or "laser", no unit
        What cuts it.
    sealed : bool, no unit
        Whether its edges and faces are sealed against water.
    least_web_mm : float, mm
        Least material between two cuts.
    """

    layers_mm: tuple[float, ...]
    cutter: Literal["router", "saw", "laser"] = "router"
    sealed: bool = False
    least_web_mm: float = 3.0


@dataclass(frozen=True)
class Zone:
    """Where in the vehicle the part lives.

    Parameters
    ----------
    name : str, no unit
        "door", "shelf".
    service_degc : float, degC
        How hot it gets there.
    wet : bool, no unit
        Whether it is on the wet side of the vapor barrier.
    source : str, no unit
        Where the temperature is from.
    """

    name: str
    service_degc: float
    wet: bool = False
    source: str = "common trade practice"
