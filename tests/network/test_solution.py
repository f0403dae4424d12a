"""Conventions, conservation laws and sensitivities of the solver."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.network import Network, NetworkError, Probe, tolerance_draws
from backwave.network.element import Element
from backwave.uncertainty import Error, draw_error
from tests.network.test_against_ngspice import random_network

F = np.geomspace(10, 20000, 40)


def rebuilt(n: Network, change: dict[str, float]) -> Network:
    """The same network with values multiplied; `name.ohm` is an inductor's resistance."""
    other = Network()
    for e in n.elements:
        value = e.value if callable(e.value) else np.asarray(e.value) * change.get(e.name, 1.0)
        ohm = e.ohm * change.get(f"{e.name}.ohm", 1.0)
        if e.kind == "inductor":
            other.inductor(e.name, *e.nodes, float(np.real(value)), ohm)
        elif e.kind in ("resistor", "capacitor", "transformer", "gyrator"):
            getattr(other, e.kind)(e.name, *e.nodes, float(np.real(value)))
        else:
            getattr(other, e.kind.replace(" ", "_"))(e.name, *e.nodes, value)
    return other


def driver() -> Network:
    n = Network()
    n.voltage("amplifier", "plus", "0", 2.83)
    n.resistor("wire", "plus", "in", 1e-8)  # so stiff that its current is an unknown itself; so is "big"
    n.resistor("Re", "in", "coil", 3.4)
    n.inductor("Le", "coil", "motor", 0.28e-3, 0.1)
    n.gyrator("Bl", "motor", "0", "force", "0", 1 / 5.605803)
    n.inductor("Mms", "force", "spring", 14.710144e-3, 1.584455)
    n.capacitor("Cms", "spring", "0", 4.783225e-4)
    n.transformer("pad", "x", "0", "in", "0", 0.5)
    n.impedance("load", "x", "0", lambda f: 8.0 + 0.02j * f**0.7)
    n.controlled_current("tap", "y", "0", "in", "coil", 0.2)
    n.capacitor("big", "y", "z", 1e4)
    n.resistor("ry", "z", "0", 10.0)
    return n


def answer(n: Network, o: Probe) -> np.ndarray:
    s = n.solve(F)
    return {"v": lambda: s.v(o.of, o.to), "i": lambda: s.i(o.of), "z": lambda: s.z(o.of)}[o.kind]()


OUTPUTS = [
    Probe("v", "force"), Probe("v", "in", "coil"), Probe("i", "Le"), Probe("i", "Bl"), Probe("i", "pad"),
    Probe("i", "tap"), Probe("i", "wire"), Probe("i", "big"), Probe("i", "amplifier"),
    Probe("z", "amplifier"),
]  # fmt: skip


def test_divider_signs_and_power() -> None:
    # Ohm's law: 10 V on 2 + 3 ohm is 2 A, 20 W.
    n = Network()
    n.voltage("v", "a", "0", 10.0)
    n.resistor("r1", "a", "b", 2.0)
    n.resistor("r2", "b", "0", 3.0)
    s = n.solve(50.0)
    assert s.v("b") == pytest.approx(6.0, rel=1e-14)
    assert s.v("a", "b") == pytest.approx(4.0, rel=1e-14)
    assert s.v("0", "b") == pytest.approx(-6.0, rel=1e-14)
    assert s.v("0") == 0
    assert s.i("r1") == pytest.approx(2.0, rel=1e-14)
    assert s.i("v") == pytest.approx(-2.0, rel=1e-14), "a source that delivers has a negative current"
    assert s.power("v") == pytest.approx(-20.0, rel=1e-14)
    assert s.z("v") == pytest.approx(5.0, rel=1e-14)


def test_transformer_and_gyrator_conventions() -> None:
    n = Network()
    n.voltage("v", "a", "0", 6.0)
    n.transformer("t", "a", "0", "b", "0", 3.0)
    n.resistor("r", "b", "0", 4.0)
    s = n.solve(50.0)
    assert s.v("b") == pytest.approx(2.0, rel=1e-14)  # v(ab) = ratio v(cd)
    assert s.z("t") == pytest.approx(36.0, rel=1e-14)  # ratio^2 R
    m = Network()
    m.voltage("v", "a", "0", 6.0)
    m.gyrator("g", "a", "0", "b", "0", 0.5)
    m.resistor("r", "b", "0", 4.0)
    s = m.solve(50.0)
    assert s.i("g") == pytest.approx(0.5 * s.v("b"), rel=1e-14)
    assert s.i("r") == pytest.approx(0.5 * s.v("a"), rel=1e-14)  # current into c is -g v(ab), so out of c into r
    assert s.z("g") == pytest.approx(1 / (0.5**2 * 4.0), rel=1e-14)


def test_motional_peak() -> None:
    # Zmax = Re (1 + Qms/Qes): 23.23333 ohm for Re 3.4, Qes 0.6, Qms 3.5 (Small 1972, JAES 20(5):383-395).
    # One wrong sign gives Re - Bl^2/Rms = -16.4 ohm.
    n = Network()
    n.voltage("amplifier", "in", "0")
    n.resistor("Re", "in", "motor", 3.4)
    n.gyrator("Bl", "motor", "0", "force", "0", 1 / 5.605803)
    n.inductor("Mms", "force", "spring", 14.710144e-3, 1.584455)
    n.capacitor("Cms", "spring", "0", 4.783225e-4)
    z = n.solve(np.array([10.0, 60.0, 1000.0])).z("amplifier")
    assert z[1] == pytest.approx(23.23333, rel=1e-5)
    assert (z.real > 0).all()


@pytest.mark.parametrize("seed", range(12))
def test_power_balances_and_passive_impedance_has_no_negative_real_part(seed: int) -> None:
    n, _ = random_network(np.random.default_rng(seed), coupled=seed % 2 == 0)
    s = n.solve(F)
    powers = np.array([s.power(e.name) for e in n.elements])
    assert np.abs(powers.sum(axis=0)).max() < 1e-10 * np.abs(powers).sum(axis=0).max()  # Tellegen
    if seed % 2:
        assert (s.z("source").real >= 0).all()
        assert (powers[1:] >= -1e-12 * np.abs(powers).max()).all()


@pytest.mark.parametrize("seed", range(12))
def test_reciprocity(seed: int) -> None:
    """A current into one node moves another as much as the other way round (Rayleigh): no gyrator, no control."""
    rng = np.random.default_rng(100 + seed)
    n, nodes = random_network(rng)
    one, two = rng.choice(nodes[1:], 2, replace=False) if len(nodes) > 2 else (nodes[0], nodes[1])
    transfer = []
    for push, look in ((one, two), (two, one)):
        m = Network()
        for e in n.elements:
            if e.kind == "voltage":
                m.resistor(e.name, *e.nodes, 1.0)
            else:
                m._elements[e.name] = e
        m.current("push", "0", str(push))
        transfer.append(m.solve(F).v(str(look)))
    assert np.allclose(*transfer, rtol=1e-9, atol=0)


@pytest.mark.parametrize("output", OUTPUTS, ids=str)
def test_adjoint_sensitivities_against_finite_differences(output: Probe) -> None:
    n = driver()
    found = n.solve(F).sensitivity(output)
    step = 1e-5
    for key, slope in found.items():
        e: Element = next(e for e in n.elements if e.name == key.removesuffix(".ohm"))
        if key == output.of and e.kind == "voltage" and output.kind == "z":
            assert not slope.any()
            continue
        value = e.ohm if key.endswith(".ohm") else e.value(F) if callable(e.value) else e.value
        if callable(e.value):  # multiplied as a whole: the derivative along its own value
            up, down = (answer(scaled(n, key, s), output) for s in (1 + step, 1 - step))
        else:
            up, down = (answer(rebuilt(n, {key: s}), output) for s in (1 + step, 1 - step))
        difference = (up - down) / (2 * step)
        size = np.abs(up).max()  # central difference: step^2, and rounding over the step
        assert np.abs(difference - slope * value).max() < 1e-9 * size, key


def test_the_current_of_a_near_short_does_not_drown_in_rounding() -> None:
    for ohm in (0.0, 1e-15, 1e-9, 1e-6, 1e-3):
        n = Network()
        n.voltage("v", "a", "0", 1.0)
        n.resistor("wire", "a", "b", ohm)
        n.capacitor("bank", "b", "c", 1e9)
        n.resistor("load", "c", "0", 4.0)
        s = n.solve(F)
        assert np.abs(s.i("wire") - s.i("load")).max() < 1e-12
        assert np.abs(s.i("bank") - s.i("load")).max() < 1e-12


def scaled(n: Network, name: str, factor: float) -> Network:
    m = Network()
    m._elements |= {e.name: e for e in n.elements}
    inner = m._elements[name].value
    m._elements[name] = replace(m._elements[name], value=lambda f: factor * inner(f))  # type: ignore[operator]
    return m


SIZES = {
    "Re": 0.1,
    "Le": 0.2,
    "Le.ohm": 0.3,
    "Bl": 0.1,
    "Mms": 0.05,
    "Cms": 0.2,
    "pad": 0.1,
    "tap": 0.2,
    "ry": 0.1,
    "wire": 0.2,
    "big": 0.3,
}


@pytest.mark.parametrize("output", OUTPUTS, ids=str)
@pytest.mark.parametrize(
    "keys", [slice(4), slice(-4, None), slice(None)], ids=["first", "last", "all"]
)  # two ways of computing
def test_tolerance_draws_are_the_network_solved_again(output: Probe, keys: slice) -> None:
    n = driver()
    spread = {key: Error(key, "rectangular", size) for key, size in list(SIZES.items())[keys]}
    found = tolerance_draws(n.solve(F), output, spread, 20, seed=3)
    for k in range(20):
        again = rebuilt(n, {key: 1 + draw_error(e, 20, 3)[k] for key, e in spread.items()})
        assert np.allclose(found[k], answer(again, output), rtol=1e-11, atol=0)


def test_parts_of_one_batch_are_drawn_together() -> None:
    n = Network()
    n.voltage("v", "a", "0", 1.0)
    n.resistor("r1", "a", "b", 100.0)
    n.resistor("r2", "b", "0", 100.0)
    batch = Error("batch", "rectangular", 0.2)
    s = n.solve(100.0)
    together = tolerance_draws(s, Probe("v", "b"), {"r1": batch, "r2": batch}, 50)
    apart = tolerance_draws(s, Probe("v", "b"), {"r1": batch, "r2": Error("other", "rectangular", 0.2)}, 50)
    assert np.ptp(together.real) < 1e-12 < 0.05 < np.ptp(apart.real)
    with pytest.raises(NetworkError, match="above 0"):
        tolerance_draws(s, Probe("v", "b"), {"r1": Error("x", "normal", 1.0)}, 100)
    with pytest.raises(NetworkError, match="a source"):
        tolerance_draws(s, Probe("v", "b"), {"v": batch}, 5)


def test_impedance_seen_with_other_sources_silent() -> None:
    n = Network()
    n.voltage("v", "a", "0", 10.0)
    n.resistor("r", "a", "b", 4.0)
    n.current("i", "0", "b", 3.0)
    n.resistor("s", "b", "0", 4.0)
    s = n.solve([100.0, 200.0])
    assert np.allclose(s.z("v"), 8.0, rtol=1e-14)
    assert np.allclose(s.z("i"), 2.0, rtol=1e-14)  # the voltage source is then a short


@given(st.integers(0, 10**6), st.floats(0.1, 10), st.floats(-3, 3))
def test_linear_in_its_source(seed: int, size: float, turn: float) -> None:
    n, nodes = random_network(np.random.default_rng(seed))
    k = size * np.exp(1j * turn)
    once, again = n.solve(F[::8]), rebuilt(n, {"source": k}).solve(F[::8])
    assert np.allclose(again.v(nodes[-1]), k * once.v(nodes[-1]), rtol=1e-10, atol=1e-13)


# --- what has no answer ---


def floating() -> Network:
    n = Network()
    n.voltage("v", "a", "0")
    n.resistor("r", "a", "0", 4.0)
    return n


def test_a_floating_part_is_named() -> None:
    n = floating()
    n.resistor("lost", "x", "y", 1.0)
    with pytest.raises(NetworkError, match=r"node x, y \(on lost\)"):
        n.solve(F)


def test_each_domain_needs_its_own_reference() -> None:
    n = floating()
    n.gyrator("motor", "a", "0", "force", "back", 0.2)
    n.inductor("cone", "force", "back", 0.01, 1.0)
    with pytest.raises(NetworkError, match="node force, back"):
        n.solve(F)
    m = floating()
    m.transformer("t", "a", "0", "s", "t", 2.0)
    m.resistor("load", "s", "t", 4.0)
    with pytest.raises(NetworkError, match="node s, t"):
        m.solve(F)


def test_a_current_source_alone_is_no_path() -> None:
    n = floating()
    n.current("push", "0", "x")
    with pytest.raises(NetworkError, match="node x"):
        n.solve(F)


def test_loops_are_named() -> None:
    n = floating()
    n.voltage("w", "b", "a")
    n.resistor("short", "b", "0", 0.0)
    n.resistor("fine", "b", "a", 3.0)
    with pytest.raises(NetworkError, match="loop") as caught:
        n.solve(F)
    assert set(str(caught.value.found).split(", ")) == {"v", "w", "short"}
    m = floating()
    m.transformer("t1", "a", "0", "b", "0", 2.0)
    m.transformer("t2", "a", "0", "b", "0", 3.0)
    with pytest.raises(NetworkError, match="loop"):
        m.solve(F)
    k = floating()
    k.controlled_voltage("e", "a", "0", "b", "0", 2.0)
    k.resistor("rb", "b", "0", 1.0)
    with pytest.raises(NetworkError, match="loop"):
        k.solve(F)


def test_what_only_the_numbers_show() -> None:
    n = floating()
    n.resistor("rx", "x", "0", 2.0)
    n.controlled_current("active", "x", "0", "x", "0", -0.5)  # cancels rx
    with pytest.raises(NetworkError, match="no one answer"):
        n.solve(F)


def test_bad_values_say_what_is_accepted() -> None:
    n = floating()
    for bad in (-1.0, np.nan, np.inf):
        with pytest.raises(NetworkError, match="0 or more"):
            n.resistor("bad", "a", "0", bad)
    with pytest.raises(NetworkError, match="more than 0"):
        n.capacitor("bad", "a", "0", 0.0)
    with pytest.raises(NetworkError, match="not 0"):
        n.gyrator("bad", "a", "0", "b", "0", 0.0)
    with pytest.raises(NetworkError, match="two different nodes"):
        n.resistor("bad", "a", "a", 1.0)
    with pytest.raises(NetworkError, match="not yet used"):
        n.resistor("r", "a", "0", 1.0)
    for f in (0.0, -1.0, np.nan, [], [[1.0]]):
        with pytest.raises(NetworkError, match="above 0 Hz"):
            n.solve(f)
    with pytest.raises(NetworkError, match="at least one element"):
        Network().solve(F)
    n.impedance("open", "a", "0", lambda f: np.where(f > 100, np.inf, 1.0))
    with pytest.raises(NetworkError, match="not finite at"):
        n.solve(F)
    m = floating()
    m.impedance("short row", "a", "0", np.ones(3))
    with pytest.raises(NetworkError, match="one for each of 40"):
        m.solve(F)


def test_unknown_names_offer_the_nearest() -> None:
    s = floating().solve(F)
    with pytest.raises(NetworkError, match=r"accepted: r$"):
        s.i("rr")
    with pytest.raises(NetworkError, match="node of the network"):
        s.v("nowhere")
    with pytest.raises(NetworkError, match="name of a source"):
        s.sensitivity(Probe("z", "r"))
    n = floating()
    n.current("i", "a", "0")
    with pytest.raises(NetworkError, match="not given"):
        n.solve(F).sensitivity(Probe("i", "i"))


def test_errors_cross_a_process() -> None:
    error = pickle.loads(pickle.dumps(NetworkError("node", "x", "y")))
    assert str(error) == "node: found 'x'; accepted: y"
