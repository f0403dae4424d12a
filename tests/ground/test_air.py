"""Air against ISO 9613-1, the gas law and Sutherland's formula."""

from __future__ import annotations

from math import sqrt

import pytest

from backwave.acoustics import (
    Air,
    air,
    density_ideal_gas,
    saturation_pressure_iso9613,
    speed_of_sound_iso9613,
    viscosity_sutherland,
)
from backwave.errors import InputError


@pytest.mark.parametrize(
    ("celsius", "speed"), [(20, 343.2), (-20, 318.927), (0, 331.286), (25, 346.114), (40, 354.714), (60, 365.866)]
)
def test_speed_of_sound(celsius: float, speed: float) -> None:
    # ISO 9613-1:1993, c = 343.2 sqrt(T/293.15).
    assert speed_of_sound_iso9613(celsius) == pytest.approx(speed, abs=1e-3)


def test_speed_is_near_that_of_an_ideal_gas() -> None:
    # sqrt(1.4 p/rho) = 343.232 m/s at 20 degC, dry; rho c = 413.29.
    rho = density_ideal_gas(20)
    assert sqrt(1.4 * 101325 / rho) == pytest.approx(343.232, abs=1e-3)
    assert speed_of_sound_iso9613(20) == pytest.approx(343.232, abs=0.1)


def test_density() -> None:
    # Gas law, R = 287.05 J/(kg K), 101325 Pa: 1.20412 dry, 1.19886 at half humidity.
    assert density_ideal_gas(20) == pytest.approx(1.20412, abs=1e-5)
    assert density_ideal_gas(20, humidity=0.5) == pytest.approx(1.19886, rel=1e-4)


def test_saturation_pressure() -> None:
    # Steam tables, from memory: 2339 Pa at 20 degC, 611 Pa at 0 degC.
    assert saturation_pressure_iso9613(20) == pytest.approx(2339, rel=2e-3)
    assert saturation_pressure_iso9613(0) == pytest.approx(611, rel=2e-3)


def test_viscosity() -> None:
    # Sutherland: 1.81341e-5 Pa s at 20 degC.
    assert viscosity_sutherland(20) == pytest.approx(1.81341e-5, rel=1e-5)


def test_air_as_the_rooms_use_it() -> None:
    assert air() == Air(343.2, density_ideal_gas(20), viscosity_sutherland(20))
    # The defaults are the rounded constants that the published rows use: 1 L is 7.050873e-9 m5/N.
    assert 1e-3 / Air().stiffness == pytest.approx(7.050873e-9, rel=1e-6)
    assert air(60).density < air(20).density


def test_refusals() -> None:
    for celsius in (-60, 150, float("nan")):
        with pytest.raises(InputError, match="-50 to 100 degree"):
            air(celsius)
    with pytest.raises(InputError, match="above the vapor"):
        density_ideal_gas(20, 100.0, 1.0)
    with pytest.raises(InputError, match="0 to 1"):
        density_ideal_gas(20, humidity=50)
