"""Speaker cable: its closed forms against circuits solved by the network room, and the choice of a size."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.network import Network
from backwave.power.cable import sizes_of
from backwave.power.speaker_cable import LOSS_DB, speaker_cable
from tests.power.own_walk import carries_a

RE, FS, QMS, QES = 3.3, 58.0, 6.1, 0.68  # a woofer


def voltage(n: Network, f_hz: np.ndarray, node: str) -> np.ndarray:
    return np.abs(np.asarray(n.solve(f_hz).v(node)).reshape(-1))


def total_q(series_ohm: float) -> float:
    """Q of the cone's velocity from its half-power band, driven through a resistance: a driver as its electrical circuit.

    Velocity is the voltage across the motional part: Rp = Re Qms/Qes, resonant with C and L (Small 1972, fig. 3).
    """
    rp, w = RE * QMS / QES, 2 * pi * FS
    n = Network()
    n.voltage("e", "amp", "0", 1.0)
    n.resistor("cable", "amp", "post", series_ohm)
    n.resistor("coil", "post", "cone", RE)
    n.resistor("loss", "cone", "0", rp)
    n.capacitor("mass", "cone", "0", QMS / (w * rp))
    n.inductor("spring", "cone", "0", rp / (w * QMS))
    f = np.geomspace(FS / 8, FS * 8, 40_001)
    v = voltage(n, f, "cone")
    band = f[v >= v.max() / np.sqrt(2)]
    return FS / float(band[-1] - band[0])


@pytest.mark.parametrize("length_m", [1.0, 5.0, 20.0])
def test_damping_is_that_of_the_solved_circuit(length_m: float) -> None:
    """Qes grows by (Re + Rs + Rc)/Re (Small 1972, J. AES 20:383), read off the circuit's half-power band."""
    found = speaker_cable(length_m, 4, "0.75 mm2", RE, source_ohm=0.05)
    assert found.qes_factor is not None
    qes = QES * found.qes_factor
    assert total_q(0.05 + found.loop_ohm) == pytest.approx(1 / (1 / QMS + 1 / qes), rel=2e-3)


@pytest.mark.parametrize("kind", ["low", "high"])
def test_a_corner_before_the_cable_moves_as_the_solved_circuit_does(kind: str) -> None:
    """A first-order corner, 3 dB below the pass band, with the cable and without."""
    found = speaker_cable(6, 4, "0.5 mm2")

    def corner(cable_ohm: float) -> float:
        n = Network()
        n.voltage("e", "amp", "0", 1.0)
        if kind == "low":
            n.inductor("part", "amp", "box", 0.4e-3)
        else:
            n.capacitor("part", "amp", "box", 10e-6)
        n.resistor("cable", "box", "post", cable_ohm)
        n.resistor("load", "post", "0", 4.0)
        f = np.geomspace(200, 40_000, 40_001)
        v = voltage(n, f, "post")
        passed = 4 / (4 + cable_ohm)
        return float(f[np.argmin(np.abs(v / passed - np.sqrt(0.5)))])

    factor = found.low_pass_factor if kind == "low" else found.high_pass_factor
    assert corner(found.loop_ohm) / corner(1e-9) == pytest.approx(factor, rel=1e-3)
    assert abs(factor - 1) > 0.1  # half a square millimeter over six meters is no wire for this


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.3, 30), st.sampled_from([2.0, 4.0, 8.0]), st.floats(0.5, 15), st.sampled_from(["metric", "awg"]),
    st.sampled_from(["copper", "copper-clad aluminum"]),
)  # fmt: skip
def test_the_least_size_neither_loses_nor_burns_and_nothing_smaller_will_do(
    length: float, load: float, amps: float, series: str, material: str
) -> None:
    found = speaker_cable(length, load, material=material, current_a=amps, series=series)
    for one in found.tried:
        assert (not one.fails) == (-one.loss_db <= LOSS_DB and one.ampacity_a >= amps)
    passing = [one for one in found.tried if not one.fails]
    assert found.least == (passing[0].size if passing else "")
    assert found.checks[0].verdict == ("ok" if passing else "caution")
    if passing:
        assert found.size == found.least
        thicker = speaker_cable(length * 1.5, load, material=material, current_a=amps, series=series)
        assert thicker.area_mm2 >= found.area_mm2  # a longer way never takes a thinner pair


def test_a_size_that_is_there_is_judged_and_the_least_named() -> None:
    thin = speaker_cable(8, 4, "0.5 mm2", current_a=2.0)
    assert thin.checks[0].verdict == "caution"
    assert thin.checks[0].remedy is not None
    assert ("least", thin.least, "size") in thin.checks[0].remedy.quantities
    assert any(step.meaning == "loses more than 0.3 dB" for step in thin.checks[0].working)


def test_a_guess_says_what_it_does() -> None:
    found = speaker_cable(None, 4, "1.5 mm2")
    check = next(c for c in found.checks if c.code == "power.length")
    # 13.3 mohm/m out and back: each meter more into 4.133 ohm is 20 lg (4.1596/4.133) = 0.0557 dB
    said = {name: value for name, value, _ in check.title.quantities}
    assert said["m"] == pytest.approx(0.0557, abs=2e-4)
    assert check.limit is not None
    assert -speaker_cable(check.limit, 4, "1.5 mm2").loss_db == pytest.approx(LOSS_DB)
    assert found.guessed


@pytest.mark.parametrize("bad", [{"length_m": 0}, {"load_ohm": -4}, {"size": "16"}, {"material": "gold"}])
def test_what_cannot_be_is_refused(bad: dict[str, object]) -> None:
    with pytest.raises(InputError) as error:
        speaker_cable(**({"length_m": 3.0, "load_ohm": 4.0} | bad))  # type: ignore[arg-type]  # wrong on purpose
    assert error.value.accepted


def test_every_size_of_its_series_is_tried() -> None:
    names = [one.size for one in speaker_cable(3, 4, series="awg").tried]
    assert names == [row.name for row in sizes_of(series="awg")]


def test_a_lead_that_its_amplifier_burns_is_a_stop() -> None:
    """1000 W into 1 ohm are 31.6 A; ampacities by the National Electrical Code's table, two cables that touch 0.8."""
    amps, seen = 31.6, set()
    for area in (0.5, 1.0, 4.0, 25.0):
        verdict = speaker_cable(2.0, 1.0, size=f"{area:g} mm2", current_a=amps, loss_db=9).checks[0].verdict
        rated, burns = (0.8 * carries_a(area, degc, 60) for degc in (70, 120))
        expected = "stop" if amps > burns else "caution" if amps > rated else "ok"
        assert max(amps / rated, rated / amps) > 1.22  # else the two could differ
        assert verdict == expected
        seen.add(verdict)
    assert seen == {"ok", "caution", "stop"}
