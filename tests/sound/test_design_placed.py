"""Passive parts put into a network are the branches as written, however deep their groups."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.network.circuit import Network
from backwave.notation.crossover import Branch, CrossoverPart, Group, impedance, parse_branch, parts_of
from backwave.sound.output_network import place_passive

F = np.geomspace(20.0, 20_000.0, 9)

part = st.one_of(
    st.builds(CrossoverPart, st.just("R"), st.floats(0.5, 50)),
    st.builds(CrossoverPart, st.just("C"), st.floats(1e-6, 100e-6)),
    st.builds(CrossoverPart, st.just("L"), st.floats(0.05e-3, 5e-3), st.floats(0.05, 2.0)),
)
tree = st.recursive(
    part,
    lambda inner: st.builds(
        Group, st.sampled_from(["series", "parallel"]), st.lists(inner, min_size=2, max_size=3).map(tuple)
    ),
    max_leaves=8,
)


def seen(branches: tuple[Branch, ...], load: float) -> tuple[np.ndarray, Network, str]:
    network = Network()
    network.voltage("source", "out", "0", 1.0)
    node = place_passive(network, "part", "out", "0", branches)
    network.resistor("load", node, "0", load)
    return np.asarray(-1 / network.solve(F).i("source")), network, node


@given(tree, tree)
def test_the_network_is_the_algebra(first: CrossoverPart | Group, across: CrossoverPart | Group) -> None:
    # Series and parallel by hand (circuit algebra): z = z1 + (z2 | 4 ohm), against the equations of the nodes
    z, network, _ = seen((Branch("series", first), Branch("shunt", across)), 4.0)
    wanted = impedance(first, F) + 1 / (1 / impedance(across, F) + 1 / 4.0)
    np.testing.assert_allclose(z, wanted, rtol=1e-8)
    names = [e.name for e in network.elements if e.name.startswith("part.")]
    parts = (*parts_of(first), *parts_of(across))
    assert names == [f"part.{k}{p.kind}" for k, p in enumerate(parts, 1)]


@pytest.mark.parametrize(
    "text",
    [
        "shunt (R 3 ohm + C 10 uF) | L 1 mH 0.2 ohm + R 2 ohm",
        "shunt (R 3 ohm + C 10 uF + R 7 ohm) | L 1 mH + R 2 ohm",
        "shunt ((R 3 ohm + C 10 uF) | L 1 mH + R 2 ohm) | R 5 ohm",
    ],
)
def test_a_group_that_begins_within_a_group_has_its_own_nodes(text: str) -> None:
    branch = parse_branch(text)
    z, _, node = seen((branch,), 8.0)
    np.testing.assert_allclose(z, 1 / (1 / impedance(branch.what, F) + 1 / 8.0), rtol=1e-10)
    assert node == "out"


def test_without_branches_the_speaker_is_on_the_output() -> None:
    z, _, node = seen((), 4.0)
    assert node == "out"
    np.testing.assert_allclose(z, 4.0)
