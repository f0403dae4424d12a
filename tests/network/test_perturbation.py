"""One element changed: against the same network built anew (numpy's solve of the whole is the reference)."""

from __future__ import annotations

import numpy as np
import pytest

from backwave.network import Network, NetworkError
from backwave.network.perturbation import variations
from backwave.sound.driver import from_parameters, place_driver

F = np.geomspace(20.0, 20_000.0, 60)
DRIVER = from_parameters({"Re": 3.3, "fs": 58.0, "Qms": 6.1, "Qes": 0.68, "Vas": 13.5e-3, "Sd": 133e-4})


def built(changed: str = "", factor: float = 1.0) -> Network:
    value = {"source.R": 0.3, "coil": 0.4e-3, "cap": 26e-6, "pad": 3.3, "leak": 3.0e5, "air": 1.4e-7}
    value |= {changed: value.get(changed, 1.0) * factor}
    network = Network()
    network.voltage("source", "in", "0", 2.83)
    network.resistor("source.R", "in", "out", value["source.R"])
    network.inductor("coil", "out", "plus", value["coil"], 0.15)
    network.capacitor("cap", "plus", "x", value["cap"])
    network.resistor("pad", "x", "0", value["pad"])
    place_driver(network, "w", DRIVER, "plus", "0", "0", "rear", 0.28e-3)
    network.capacitor("air", "rear", "0", value["air"])
    network.impedance("leak", "rear", "0", lambda f: value["leak"] * (1 + 1j * f / 200))
    return network


@pytest.mark.parametrize("name", ["source.R", "coil", "cap", "pad", "air", "leak"])
@pytest.mark.parametrize("factor", [0.3, 1.0, 4.0])
def test_as_if_built_anew(name: str, factor: float) -> None:
    base = built().solve(F)
    found = variations(base, {name: (factor,)})[name, factor]
    anew = built(name, factor).solve(F)
    for element in ("coil", "w.cone", "leak", "cap", "source"):
        np.testing.assert_allclose(found.i(element), anew.i(element), rtol=1e-9, atol=1e-15)
    np.testing.assert_allclose(found.v("plus"), anew.v("plus"), rtol=1e-9)
    np.testing.assert_allclose(found.power("pad"), anew.power("pad"), rtol=1e-8)


def test_a_gyrator_and_the_base_stays_as_it_was() -> None:
    base = built().solve(F)
    before = base.i("w.cone").copy()
    found = variations(base, {"w.Bl": (1.0, 1.2)})
    np.testing.assert_allclose(found["w.Bl", 1.0].i("w.cone"), before, rtol=1e-9)
    assert np.abs(found["w.Bl", 1.2].i("w.cone") / before - 1).max() > 0.05
    np.testing.assert_array_equal(base.i("w.cone"), before)


def test_what_cannot_be_varied() -> None:
    base = built().solve(F)
    assert variations(base, {}) == {}
    for name, factor in (("nothing", 1.0), ("source", 1.0), ("pad", 0.0)):
        with pytest.raises(NetworkError):
            variations(base, {name: (factor,)})
