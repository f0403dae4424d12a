"""Properties of air: speed of sound, density, viscosity.  Ground floor.

Each formula names its source; `Air` holds the four numbers that the rooms use.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from backwave.errors import InputError

_ZERO_C = 273.15
_R_DRY, _R_VAPOR = 287.05, 461.5  # J/(kg K)


@dataclass(frozen=True)
class Air:
    """Air at rest."""

    speed: float = 343.2  # m/s
    density: float = 1.2041  # kg/m3, mass by volume
    viscosity: float = 1.813e-5  # Pa s

    @property
    def stiffness(self) -> float:
        """Adiabatic bulk modulus rho c^2, Pa: volume over acoustical compliance."""
        return self.density * self.speed**2


def air(temperature_c: float = 20.0, pressure_pa: float = 101325.0, humidity: float = 0.0) -> Air:
    """Air of a given temperature, pressure and relative humidity.

    `temperature_c`, degree Celsius; `humidity`, 1: relative humidity, 0 to 1; it moves the density alone (what it
    does to the speed is left out).
    """
    return Air(
        speed_of_sound_iso9613(temperature_c),
        density_ideal_gas(temperature_c, pressure_pa, humidity),
        viscosity_sutherland(temperature_c),
    )


def speed_of_sound_iso9613(temperature_c: float) -> float:
    """Speed of sound, 343.2 sqrt(T/293.15) m/s (ISO 9613-1:1993). `temperature_c`, degree Celsius; returns m/s."""
    return 343.2 * sqrt(_kelvin(temperature_c) / 293.15)


def density_ideal_gas(temperature_c: float, pressure_pa: float = 101325.0, humidity: float = 0.0) -> float:
    """Density of dry or moist air as a mixture of ideal gases.

    `temperature_c`, degree Celsius; `humidity`, 1: relative humidity, 0 to 1; returns kg/m3.
    """
    if not 0 <= humidity <= 1:
        raise InputError("relative humidity", humidity, "0 to 1")
    vapor = humidity * saturation_pressure_iso9613(temperature_c)
    if not vapor < pressure_pa:
        raise InputError("static pressure", pressure_pa, f"pascal, above the vapor's {vapor:.0f}")
    return ((pressure_pa - vapor) / _R_DRY + vapor / _R_VAPOR) / _kelvin(temperature_c)


def saturation_pressure_iso9613(temperature_c: float) -> float:
    """Vapor pressure of water at saturation (ISO 9613-1:1993, annex B; from memory).

    `temperature_c`, degree Celsius; returns Pa.
    """
    return 101325.0 * 10 ** (-6.8346 * (273.16 / _kelvin(temperature_c)) ** 1.261 + 4.6151)


def viscosity_sutherland(temperature_c: float) -> float:
    """Dynamic viscosity, 1.458e-6 T^1.5/(T + 110.4) Pa s (Sutherland's formula).

    `temperature_c`, degree Celsius; returns Pa s.
    """
    t = _kelvin(temperature_c)
    return 1.458e-6 * t**1.5 / (t + 110.4)


def _kelvin(temperature_c: float) -> float:
    if not -50 <= temperature_c <= 100:
        raise InputError("air temperature", temperature_c, "-50 to 100 degree Celsius")
    return temperature_c + _ZERO_C
