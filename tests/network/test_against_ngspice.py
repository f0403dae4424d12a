"""The solver against ngspice, an independent program (Debian's package)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.network import Network, NetworkError
from backwave.network.circuit import netlist
from backwave.network.element import hole, piston_radiation, semi_inductance, slit
from tests.network.ngspice import analyse


def random_network(rng: np.random.Generator, coupled: bool = False) -> tuple[Network, list[str]]:
    """A connected network of audio-sized parts, each node with a resistive path: ngspice wants a bias point."""
    count = int(rng.integers(2, 13))
    nodes = ["0", *(f"node {k}" for k in range(count))]
    n = Network()
    n.voltage("source", nodes[1], "0", complex(*rng.normal(size=2)))
    for k in range(2, len(nodes)):
        a, b = nodes[k], nodes[int(rng.integers(0, k))]
        add(n, rng, f"tree {k}", a, b)
        n.resistor(f"leak {k}", a, "0", float(10 ** rng.uniform(2, 5)))
    for k in range(count):
        a, b = rng.choice(nodes, 2, replace=False)
        add(n, rng, f"more {k}", str(a), str(b))
    if coupled:
        n.transformer("transformer", "t1", "0", "t2", "0", float(rng.uniform(0.1, 10)))
        n.gyrator("gyrator", "t2", "0", "t3", "0", float(rng.uniform(0.05, 1)))
        n.controlled_voltage("filter", "t4", "0", nodes[-1], "0", float(rng.normal()))
        n.controlled_current("drain", "t5", "0", nodes[1], nodes[-1], float(rng.normal()))
        n.current("push", "0", "t5", complex(*rng.normal(size=2)))
        for k, (a, b) in enumerate([(nodes[-1], "t1"), ("t3", "0"), ("t4", "t5"), ("t5", "0"), ("t2", "0")]):
            n.resistor(f"join {k}", a, b, float(10 ** rng.uniform(0, 2)))
        nodes += [f"t{k}" for k in range(1, 6)]
    return n, nodes[1:]


def add(n: Network, rng: np.random.Generator, name: str, a: str, b: str) -> None:
    match rng.integers(3):
        case 0:
            n.resistor(name, a, b, float(10 ** rng.uniform(-1, 3)))
        case 1:
            n.inductor(name, a, b, float(10 ** rng.uniform(-5, -1)), float(10 ** rng.uniform(-2, 1)))
        case _:
            n.capacitor(name, a, b, float(10 ** rng.uniform(-7, -3)))


def greatest_difference(n: Network, nodes: list[str], folder: Path, sweep: str, at_hz: float | None = None) -> float:
    text = netlist(n, at_hz)
    number = {line.split(" is ", 1)[1]: line.split()[2] for line in text.splitlines() if line.startswith("* node ")}
    f, found, _ = analyse(text, [*(f"v({number[m]})" for m in nodes)], sweep, folder)
    solution = n.solve(f)
    ours = np.array([solution.v(m) for m in nodes])
    theirs = np.array([found[f"v({number[m]})"] for m in nodes])
    # A node that is exactly silent is rounding noise in both: 1e-13 of the loudest node counts as nothing.
    return float((np.abs(ours - theirs) / (np.abs(theirs) + 1e-4 * np.abs(theirs).max(axis=0))).max())


@pytest.mark.parametrize("block", range(8))
def test_two_hundred_random_networks_over_frequency(block: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(20 + block)
    for _ in range(25):
        n, nodes = random_network(rng)
        assert greatest_difference(n, nodes, tmp_path, "dec 10 10 20000") < 1e-9


def test_transformers_gyrators_and_controlled_sources(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    for _ in range(25):
        n, nodes = random_network(rng, coupled=True)
        assert greatest_difference(n, nodes, tmp_path, "dec 10 10 20000") < 1e-9


@pytest.mark.parametrize("hertz", [20.0, 160.0, 1000.0, 9000.0])
def test_impedances_that_depend_on_frequency_one_frequency_at_a_time(hertz: float, tmp_path: Path) -> None:
    rho, mu, c = 1.2041, 1.813e-5, 343.2
    n = Network()
    n.voltage("amplifier", "in", "0", 2.83)
    n.resistor("Re", "in", "coil", 3.4)
    n.impedance("coil", "coil", "motor", lambda f: semi_inductance(f, 0.0235, 0.688))
    n.gyrator("Bl", "motor", "0", "force", "0", 1 / 5.605803)
    n.inductor("cone", "force", "spring", 14.71e-3, 1.584)
    n.capacitor("suspension", "spring", "moved", 4.783e-4)
    n.transformer("Sd", "moved", "0", "front", "rear", 0.0133)
    n.impedance("radiation", "front", "0", lambda f: piston_radiation(f, 0.065, rho, c))
    n.impedance("ring gap", "front", "rear", lambda f: slit(f, 5e-3, 0.5, 1e-3, rho, mu))
    n.impedance("hole", "rear", "0", lambda f: hole(f, 2e-3, 1e-2, rho, mu))
    n.capacitor("door", "rear", "0", 38e-3 / (rho * c**2))
    n.resistor("leak", "rear", "0", 1e7)
    nodes = ["in", "coil", "motor", "force", "spring", "moved", "front", "rear"]
    assert greatest_difference(n, nodes, tmp_path, f"lin 1 {hertz} {hertz}", hertz) < 1e-6


def test_no_resistance_is_a_short_there_too(tmp_path: Path) -> None:
    n = Network()
    n.voltage("v", "a", "0")
    n.resistor("joined", "a", "b", 0.0)
    n.inductor("nothing", "b", "c", 0.0)
    n.inductor("coil", "c", "d", 1e-3)
    n.resistor("r", "d", "0", 4.0)
    assert greatest_difference(n, ["b", "c", "d"], tmp_path, "dec 5 10 20000") < 1e-9


def test_what_spice_has_no_word_for_is_refused() -> None:
    n = Network()
    n.voltage("v", "a", "0")
    n.impedance("z", "a", "0", lambda f: 4.0 + 0 * f)
    with pytest.raises(InputError, match="no frequency"):
        netlist(n)
    m = Network()
    m.voltage("v", "a", "0")
    m.controlled_voltage("late", "b", "0", "a", "0", lambda f: np.exp(-1j * f))
    m.resistor("r", "b", "0", 4.0)
    with pytest.raises(NetworkError, match="phase"):
        netlist(m, 100.0)
