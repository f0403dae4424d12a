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

__all__ = ["DATA_SHEET_SPREAD", "PISTON_KA", "RATED_PER_RE", "Unit", "free_air_impedance", "place_unit"]

DATA_SHEET_SPREAD: dict[str, float] = {"Re": 0.03, "Bl": 0.05, "cone": 0.05, "Cms": 0.15}
"""How far a driver is from its data sheet, as a standard deviation of the logarithm (common trade practice)."""
PISTON_KA = 2.0
"""Above k a = 2 a cone is no rigid piston any more and the line of a prediction ends (common trade practice)."""

RATED_PER_RE = 1.2
"""Rated impedance of a driver by its Re, where nobody rated it (common trade practice: 1.15 to 1.3)."""


@dataclass(frozen=True)
class Unit:
    """A driver with its coil, limits and measurements.

    Parameters
    ----------
    driver : Driver, no unit
        Thiele-Small parameters.
    kind : str, no unit
        "woofer", "tweeter" and so on.
    rated_ohm : float or None, ohm
        Rated load.
    le_henry : float, H
        Inductance at 1 kHz; 0 leaves it out.
    exponent : float, no unit
        Of the semi-inductance.
    x_max : float or None, m
        Linear excursion, peak, one way.
    power_w : float or None, W
        What its coil stands.
    residual : (n_freq,) complex or None, ohm
        Measured less modeled impedance in free air, in series with the coil.
    correction : (n_freq,) complex or None, no unit
        Measured by modeled pressure in half space.
    measured_to_hz : float, Hz
        Up to where `correction` rests on measurement; 0 without.
    """

    driver: Driver
    kind: str = "woofer"
    rated_ohm: float | None = None
    le_henry: float = 0.0
    exponent: float = SEMI_INDUCTANCE_N
    x_max: float | None = None
    power_w: float | None = None
    residual: Complex | None = None
    correction: Complex | None = None
    measured_to_hz: float = 0.0

    @property
    def nominal_ohm(self) -> float:
        """Its rated impedance, or `RATED_PER_RE` of its Re where nobody rated it, ohm."""
        return self.driver.Re * RATED_PER_RE if self.rated_ohm is None else self.rated_ohm

    def limit_hz(self, air: Air) -> float:
        """Up to where the model of it holds, Hz.

        Parameters
        ----------
        air : Air, no unit
            The air.
        """
        return max(self.measured_to_hz, PISTON_KA * air.speed / (2 * pi * self.driver.radius))


def place_unit(
    network: Network, name: str, unit: Unit, plus: str, minus: str, front: str, rear: str, mass_kg: float | None
) -> None:
    """Put a driver, with what was measured of its impedance, into a network (see `place_driver`).

    Parameters
    ----------
    network : Network, no unit
        Receives the elements; `name.residual` as well where there is one.
    name : str, no unit
        Prefix of their names.
    unit : Unit, no unit
        The driver.
    plus, minus, front, rear : str, no unit
        Electrical and acoustical nodes.
    mass_kg : float or None, kg
        Moving mass; None is Mms.
    """
    if unit.residual is not None:
        network.impedance(f"{name}.residual", plus, f"{name}.in", unit.residual)
        plus = f"{name}.in"
    place_driver(
        network, name, unit.driver, plus, minus, front, rear, unit.le_henry, unit.exponent, mass_kg=mass_kg
    )


def free_air_impedance(f_hz: NDArray[np.float64], unit: Unit) -> Complex:
    """Impedance of a driver in free air, Re + Le part + Bl^2/Zm (Small 1972).

    Parameters
    ----------
    f_hz : (n_freq,) float, Hz
        Frequencies.
    unit : Unit, no unit
        The driver; what was measured of it is left out.

    Returns
    -------
    (n_freq,) complex, ohm
    """
    d, jw = unit.driver, 2j * pi * np.asarray(f_hz, dtype=float)
    z = d.Re + d.Bl**2 / (jw * d.Mms + d.Rms + 1 / (jw * d.Cms))
    if unit.le_henry:
        z = z + semi_inductance(f_hz, semi_inductance_factor(unit.le_henry, unit.exponent), unit.exponent)
    return np.asarray(z)
