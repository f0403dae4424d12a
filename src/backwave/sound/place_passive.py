"""Passive parts, as written in a job, put into a network between an output and a speaker."""

from __future__ import annotations

from collections.abc import Sequence

from backwave.network.circuit import Network
from backwave.passive import Branch, Group, Part

__all__ = ["place_passive"]


def place_passive(network: Network, name: str, plus: str, minus: str, branches: Sequence[Branch]) -> str:
    """Put branches from source to speaker, in order; the speaker's node.

    Parts are named `name.1L`, `name.2R` and so on, in the order written.

    Parameters
    ----------
    network : Network, no unit
        Receives the elements.
    name, plus, minus : str, no unit
        Prefix of their names, the output's node and the return.
    branches : sequence of Branch, no unit
        In the order of the job.

    Returns
    -------
    str, no unit
    """
    count = [0]
    node = plus
    for k, branch in enumerate(branches, 1):
        if branch.place == "series":
            after = f"{name}.after{k}"
            _place(network, name, node, after, branch.what, count)
            node = after
        else:
            _place(network, name, node, minus, branch.what, count)
    return node


def _place(network: Network, name: str, a: str, b: str, what: Part | Group, count: list[int]) -> None:
    if isinstance(what, Part):
        count[0] += 1
        element = f"{name}.{count[0]}{what.kind}"
        if what.kind == "R":
            network.resistor(element, a, b, what.value)
        elif what.kind == "L":
            network.inductor(element, a, b, what.value, what.ohm)
        else:
            network.capacitor(element, a, b, what.value)
    elif what.how == "parallel":
        for part in what.parts:
            _place(network, name, a, b, part, count)
    else:
        for k, part in enumerate(what.parts):
            last = k == len(what.parts) - 1
            to = b if last else f"{name}.in{count[0]}.{k}"
            _place(network, name, a, to, part, count)
            a = to
