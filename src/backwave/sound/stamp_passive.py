"""Passive parts, as written in a job, put into a network between an output and a speaker."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import count

from backwave.network.circuit import Network
from backwave.notation.crossover import Branch, CrossoverPart, Group


def place_passive(network: Network, name: str, plus: str, minus: str, branches: Sequence[Branch]) -> str:
    """Put branches from source to speaker, in order; the speaker's node.

    Parts are named `name.1L`, `name.2R` and so on, in the order written.

    `name`, `plus`, `minus`: prefix of their names, the output's node and the return.
    """
    parts, inner = count(1), count(1)
    node = plus
    for k, branch in enumerate(branches, 1):
        if branch.place == "series":
            after = f"{name}.after{k}"
            _place(network, name, node, after, branch.what, parts, inner)
            node = after
        else:
            _place(network, name, node, minus, branch.what, parts, inner)
    return node


def _place(
    network: Network, name: str, a: str, b: str, what: CrossoverPart | Group, parts: Iterator[int], inner: Iterator[int]
) -> None:
    if isinstance(what, CrossoverPart):
        element = f"{name}.{next(parts)}{what.kind}"
        if what.kind == "R":
            network.resistor(element, a, b, what.value)
        elif what.kind == "L":
            network.inductor(element, a, b, what.value, what.ohm)
        else:
            network.capacitor(element, a, b, what.value)
    elif what.how == "parallel":
        for part in what.parts:
            _place(network, name, a, b, part, parts, inner)
    else:
        # Nodes are counted by themselves: a group within a group begins before its parent has placed a part.
        for part in what.parts[:-1]:
            to = f"{name}.in{next(inner)}"
            _place(network, name, a, to, part, parts, inner)
            a = to
        _place(network, name, a, b, what.parts[-1], parts, inner)
