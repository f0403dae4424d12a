"""A driver as a prediction needs it: parameters, coil, limits, and what was measured of it.

In SI units, frequencies in Hz, excursion peak.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from backwave.acoustics.air import Air
from backwave.network.acoustic_elements import semi_inductance, semi_inductance_factor
from backwave.network.circuit import Network
from backwave.network.element import Complex
from backwave.sound.driver import SEMI_INDUCTANCE_N, Driver, place_driver

# how far a driver is from its data sheet, as a standard deviation of the logarithm (common trade practice)
DATA_SHEET_SPREAD: dict[str, float] = {"Re": 0.03, "Bl": 0.05, "cone": 0.05, "Cms": 0.15}
# above k a = 2 a cone is no rigid piston any more and the line of a prediction ends (common trade practice)
PISTON_KA = 2.0

# rated impedance of a driver by its Re, where nobody rated it (common trade practice: 1.15 to 1.3)
RATED_PER_RE = 1.2


@dataclass(frozen=True)
class Unit:
    """A driver with its coil, limits and measurements."""

    driver: Driver  # thiele-Small parameters
    kind: str = "woofer"  # "woofer", "tweeter" and so on
    rated_ohm: float | None = None
    le_henry: float = 0.0  # H, inductance at 1 kHz; 0 leaves it out
    exponent: float = SEMI_INDUCTANCE_N  # 1, of the semi-inductance
    x_max: float | None = None  # m, linear excursion, peak, one way
    power_w: float | None = None  # what its coil stands
    # (n_freq,) ohm, measured less modeled impedance in free air, in series with the coil
    residual: Complex | None = None
    correction: Complex | None = None  # (n_freq,) 1, measured by modeled pressure in half space
    measured_to_hz: float = 0.0  # up to where `correction` rests on measurement; 0 without

    @property
    def nominal_ohm(self) -> float:
        """Its rated impedance, or `RATED_PER_RE` of its Re where nobody rated it, ohm."""
        return self.driver.Re * RATED_PER_RE if self.rated_ohm is None else self.rated_ohm

    def limit_hz(self, air: Air) -> float:
        """Up to where the model of it holds, Hz."""
        return max(self.measured_to_hz, PISTON_KA * air.speed / (2 * pi * self.driver.radius))


def place_unit(
    network: Network, name: str, unit: Unit, plus: str, minus: str, front: str, rear: str, mass_kg: float | None
) -> None:
    """Put a driver, with what was measured of its impedance, into a network (see `place_driver`).

    `network`: receives the elements; `name.residual` as well where there is one.
    """
    if unit.residual is not None:
        network.impedance(f"{name}.residual", plus, f"{name}.in", unit.residual)
        plus = f"{name}.in"
    place_driver(network, name, unit.driver, plus, minus, front, rear, unit.le_henry, unit.exponent, mass_kg=mass_kg)


def free_air_impedance(f_hz: NDArray[np.float64], unit: Unit) -> Complex:
    """Impedance of a driver in free air, Re + Le part + Bl^2/Zm (Small 1972). Returns (n_freq,) ohm."""
    d, jw = unit.driver, 2j * pi * np.asarray(f_hz, dtype=float)
    z = d.Re + d.Bl**2 / (jw * d.Mms + d.Rms + 1 / (jw * d.Cms))
    if unit.le_henry:
        z = z + semi_inductance(f_hz, semi_inductance_factor(unit.le_henry, unit.exponent), unit.exponent)
    return np.asarray(z)
