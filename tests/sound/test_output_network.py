"""A whole output: boxes against Small's transfer functions, power balance, loads in parallel, variations."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest
from sound.textbook import efficiency, vented_response

from backwave.acoustics import Air
from backwave.notation.crossover import parse_branch
from backwave.sound.box import closed_box, port_length
from backwave.sound.driver import Unit, free_air_impedance, from_parameters
from backwave.sound.enclosures import Baffle, InBox, Port
from backwave.sound.output_network import Load, channel_network, channel_response

AIR = Air()
F = np.geomspace(10.0, 20_000.0, 200)
DRIVER = from_parameters({"fs": 60.0, "Qes": 0.60, "Qms": 3.5, "Vas": 12e-3, "Re": 3.4, "Sd": 133e-4})
UNIT = Unit(DRIVER)


def far_pressure(flow: np.ndarray) -> np.ndarray:
    """At 1 m on the axis in half space, without its delay: j w rho U/(2 pi)."""
    return np.asarray(2j * pi * F * AIR.density * flow / (2 * pi))


def reference(volts: float = 1.0) -> float:
    """Passband pressure by Small's reference efficiency (JAES 20(5):383-395), 1 m in half space."""
    return sqrt(efficiency(DRIVER) * volts**2 / DRIVER.Re * AIR.density * AIR.speed / (2 * pi))


def test_a_closed_box_is_smalls_second_order_high_pass() -> None:
    volume = 8e-3
    box = closed_box(DRIVER, volume)
    found = channel_response(F, 0.0, (Load(UNIT, InBox(volume)),)).loads[0]
    s = 1j * F / box.fc
    small = reference() * s**2 / (s**2 + s / box.Qtc + 1)
    low = F < 600  # the radiation resistance that Small leaves out is felt above
    np.testing.assert_allclose(np.abs(far_pressure(found.flow[0]))[low], np.abs(small)[low], rtol=6e-3)
    # Excursion well below resonance is that of the stiffness: Bl V/Re times the joint compliance.
    still = sqrt(2) * DRIVER.Bl / DRIVER.Re * DRIVER.Cms / (1 + box.alpha)
    assert channel_response(np.array([1.0]), 0.0, (Load(UNIT, InBox(volume)),)).loads[0].excursion[0] == pytest.approx(
        still, rel=2e-3
    )


def test_a_vented_box_is_smalls_fourth_order_high_pass() -> None:
    volume, tuning, area = 20e-3, 45.0, pi * 0.03**2
    mount = InBox(volume, tuning, Port(area), leak_q=7.0, port_q=1e6)
    found = channel_response(F, 0.0, (Load(UNIT, mount),)).loads[0]
    assert [o.kind for o in found.outlets] == ["cone", "port"]
    # The box radiates with the sum of cone and port, and its leak (Small 1973, part I: all of it reaches the air).
    leak = _leak(mount, found.flow)
    total = np.abs(far_pressure(found.flow.sum(axis=0) + leak))
    small = reference() * np.abs(
        vented_response(F, DRIVER.fs, DRIVER.Qts, DRIVER.Vas / volume, tuning / DRIVER.fs, 7.0)
    )
    low = F < 800
    np.testing.assert_allclose(total[low], small[low], rtol=5e-3)
    assert found.port_speed is not None
    assert found.port_speed == pytest.approx(np.abs(found.flow[1]) * sqrt(2) / area)


def _leak(mount: InBox, flow: np.ndarray) -> np.ndarray:
    """Through the leak: the pressure in the box is that across the port's mass."""
    assert mount.port is not None
    assert mount.tuning_hz is not None
    ends = (0.8217 + 0.6133) * mount.port.radius
    mass = AIR.density * (mount.length(AIR) + ends) / mount.port.area
    compliance = mount.volume / AIR.stiffness
    ql = mount.leak_q / (2 * pi * mount.tuning_hz * compliance)
    return np.asarray(2j * pi * F * mass * flow[1] / ql)


def test_two_ports_tune_as_one_of_their_share_does() -> None:
    area = pi * 0.02**2
    two = InBox(20e-3, 45.0, Port(2 * area, 2))
    assert two.length(AIR) == pytest.approx(port_length(10e-3, 45.0, area))


def test_the_impedance_is_the_drivers_own_behind_its_parts() -> None:
    unit = Unit(DRIVER, le_henry=0.3e-3)
    bare = channel_response(F, 0.3, (Load(unit, Baffle()),))
    np.testing.assert_allclose(
        np.abs(bare.z), np.abs(free_air_impedance(F, unit)), rtol=2e-2
    )  # radiation damps the peak
    passive = tuple(map(parse_branch, ("series L 0.4 mH 0.2 ohm", "shunt R 3.3 ohm + C 26 uF")))
    jw = 2j * pi * F
    shunt = 3.3 + 1 / (jw * 26e-6)
    expected = 0.2 + jw * 0.4e-3 + 1 / (1 / shunt + 1 / bare.z)
    np.testing.assert_allclose(channel_response(F, 0.3, (Load(unit, Baffle(), passive),)).z, expected, rtol=1e-8)
    both = channel_response(F, 0.3, (Load(unit, Baffle()), Load(unit, Baffle(), passive)))
    np.testing.assert_allclose(1 / both.z, 1 / bare.z + 1 / expected, rtol=1e-8)


def test_power_in_is_power_turned_to_heat_and_sound() -> None:
    passive = tuple(map(parse_branch, ("series C 10 uF", "shunt L 0.3 mH 0.2 ohm")))
    unit = Unit(DRIVER, le_henry=0.3e-3)
    load = Load(unit, InBox(8e-3, leak_q=10.0, absorption_q=30.0), passive)
    solution = channel_network(0.3, (load,), AIR)[0].solve(F)
    parts = [name for name in solution.system.parts if name != "source"]
    spent = sum(solution.power(name) for name in parts)
    np.testing.assert_allclose(spent, -solution.power("source"), rtol=1e-9)
    assert all((solution.power(name) > -1e-9).all() for name in parts)


def test_a_variation_is_the_output_built_with_that_driver() -> None:
    found = channel_response(F, 0.3, (Load(UNIT, InBox(8e-3)), Load(UNIT, Baffle())))
    moved = {(m.load, m.element): m for m in found.moved}
    assert {(0, "Cms"), (1, "Bl"), (0, "mount.air")} <= set(moved)
    stiff = from_parameters(
        {
            "Re": DRIVER.Re,
            "Sd": DRIVER.Sd,
            "Mms": DRIVER.Mms,
            "Rms": DRIVER.Rms,
            "Bl": DRIVER.Bl,
            "Cms": DRIVER.Cms * np.exp(0.15),
        }
    )
    anew = channel_response(F, 0.3, (Load(Unit(stiff), InBox(8e-3)), Load(UNIT, Baffle())), spread=False)
    for k in (0, 1):
        np.testing.assert_allclose(moved[0, "Cms"].more[k], anew.loads[k].flow, rtol=1e-6)


def test_a_measured_residual_is_in_series_with_the_coil() -> None:
    residual = np.full(len(F), 1.0 + 0.5j)
    found = channel_response(F, 0.0, (Load(Unit(DRIVER, residual=residual), Baffle()),))
    plain = channel_response(F, 0.0, (Load(UNIT, Baffle()),))
    np.testing.assert_allclose(found.z, plain.z + residual, rtol=1e-9)
    assert found.loads[0].volts == pytest.approx(1.0)
