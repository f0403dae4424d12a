"""Networks that have no one answer, found before solving: floating parts and loops of fixed voltages.

LAPACK does not notice a floating node (it returns plausible numbers), so this is settled on the graph, domain by
domain: the two ports of a transformer or gyrator do not join, and each part needs its own path to node "0".
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from backwave.network.element import REFERENCE, Element, NetworkError

_Row = dict[str, complex]


def require_one_answer(elements: Iterable[Element], shorts: Collection[str], gains: dict[str, complex]) -> None:
    """Raise for what is floating, and for what fixes one voltage or current twice.

    `shorts`: names of elements whose impedance is 0 somewhere; `gains`, 1: gain of each controlled voltage, by
    name, at one frequency; NetworkError: naming the nodes and elements of a floating part, or the elements of a
    loop.
    """
    elements = tuple(elements)
    if not elements:
        raise NetworkError("network", "no element", "at least one element with a path to node '0'")
    _require_reference(elements)
    voltages = [e for e in elements if e.kind in ("voltage", "controlled voltage", "transformer") or e.name in shorts]
    _require_no_loop({e.name: _voltage_row(e, gains) for e in voltages})
    if gains:  # the currents of controlled voltages do not follow from their voltages: look at them too
        _require_no_loop({e.name: _voltage_row(e, {}) for e in voltages})


def _require_reference(elements: tuple[Element, ...]) -> None:
    parent: dict[str, str] = {REFERENCE: REFERENCE}

    def root(node: str) -> str:
        parent.setdefault(node, node)
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for e in elements:
        for node in e.nodes:
            root(node)
        if e.kind == "current":  # fixes no voltage between its ends
            continue
        ports = (e.nodes[:2], e.nodes[2:]) if e.kind in ("transformer", "gyrator") else (e.nodes[:2],)
        for first, second in ports:
            parent[root(first)] = root(second)
    floating = [n for n in parent if root(n) != root(REFERENCE)]
    if floating:
        part = [n for n in floating if root(n) == root(floating[0])]
        names = [e.name for e in elements if set(e.nodes) & set(part)]
        raise NetworkError(
            f"part of the network with no path to node {REFERENCE!r}",
            f"node {', '.join(part)} (on {', '.join(names)})",
            f"a path from each part to node {REFERENCE!r}, in every domain, through more than current sources",
        )


def _voltage_row(e: Element, gains: dict[str, complex]) -> _Row:
    row: _Row = {e.nodes[0]: 1.0}
    row[e.nodes[1]] = row.get(e.nodes[1], 0.0) - 1.0
    if len(e.nodes) == 4 and (e.kind == "transformer" or e.name in gains):
        k = gains[e.name] if e.name in gains else complex(e.value)  # type: ignore[arg-type]  # a transformer's is a float
        row[e.nodes[2]] = row.get(e.nodes[2], 0.0) - k
        row[e.nodes[3]] = row.get(e.nodes[3], 0.0) + k
    row.pop(REFERENCE, None)
    return row


def _require_no_loop(rows: dict[str, _Row]) -> None:
    """Eliminate row by row; the first row that vanishes names, with those that made it vanish, one loop."""
    done: list[tuple[str, _Row, dict[str, complex]]] = []
    for name, start in rows.items():
        row, made_of = dict(start), {name: 1.0 + 0.0j}
        scale = max((abs(v) for v in row.values()), default=0.0)
        for pivot, other, other_made_of in done:
            if factor := row.get(pivot, 0.0):
                for node, v in other.items():
                    row[node] = row.get(node, 0.0) - factor * v
                row[pivot] = 0.0
                for n, v in other_made_of.items():
                    made_of[n] = made_of.get(n, 0.0) - factor * v
        pivot = max(row, key=lambda n: abs(row[n]), default="")
        if not row or abs(row[pivot]) <= 1e-12 * scale:
            loop = [n for n, v in made_of.items() if abs(v) > 1e-12]
            raise NetworkError(
                "loop of voltage sources, transformers or joined nodes",
                ", ".join(loop),
                "an impedance somewhere in the loop, so that its current is settled",
            )
        lead = row[pivot]
        done.append((pivot, {n: v / lead for n, v in row.items()}, {n: v / lead for n, v in made_of.items()}))
