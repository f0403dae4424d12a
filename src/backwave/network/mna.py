"""A network as equations: modified nodal analysis (Ho, Ruehli, Brennan 1975), batched over frequency.

Unknowns are the node voltages, and the current of each element that fixes a voltage: voltage sources, controlled
voltages, transformers and impedances that are 0 or next to it.  The matrix is a sum of terms, coefficient times
(row pair) times (column pair); assembly, adjoint and tolerance all read that one table.

Networks that have no one answer are found before solving: floating parts and loops of fixed voltages.  LAPACK does not
notice a floating node (it returns plausible numbers), so this is settled on the graph, domain by domain: the two ports
of a transformer or gyrator do not join, and each part needs its own path to node "0"."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from backwave.network.element import REFERENCE, Complex, Element, NetworkError, Real, at, named

_Row = dict[str, complex]
Pair = tuple[int, int]  # unknown with +, unknown with -; -1 is the reference, or nothing
_PASSIVE = ("resistor", "inductor", "capacitor", "impedance")
_CHUNK = 128  # frequencies at a time: 20 unknowns are then 0.8 MB, which stays near the processor


def require_one_answer(elements: Iterable[Element], shorts: Collection[str], gains: dict[str, complex]) -> None:
    """Raise for what is floating, and for what fixes one voltage or current twice. `shorts`: names of elements whose
    impedance is 0 somewhere; `gains`, 1: gain of each controlled voltage, by name, at one frequency."""
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
                "loop of voltage sources, transformers or joined nodes", ", ".join(loop),
                "an impedance somewhere in the loop, so that its current is settled",
            )  # fmt: skip
        lead = row[pivot]
        done.append((pivot, {n: v / lead for n, v in row.items()}, {n: v / lead for n, v in made_of.items()}))


@dataclass(frozen=True, eq=False)
class NetworkPart:
    """An element placed in the equations."""

    element: Element
    ports: tuple[Pair, ...]  # the unknowns at its one or two ports
    branch: int  # the unknown that is its current, or -1
    # S or as its value, what its live terms are multiplied by: admittance, or impedance, gain, ratio of a branch
    coefficient: Complex
    # 1, rows, columns and sign of the terms that go with the coefficient
    live: tuple[tuple[Pair, Pair, float], ...]


class System:
    """The equations of a network at given frequencies."""

    def __init__(self, elements: tuple[Element, ...], f_hz: ArrayLike) -> None:
        self.f_hz: Real = np.array(f_hz, dtype=float, ndmin=1)
        if self.f_hz.ndim != 1 or not (np.isfinite(self.f_hz) & (self.f_hz > 0)).all() or not self.f_hz.size:
            raise NetworkError("frequencies", np.array2string(self.f_hz), "a row of finite numbers above 0 Hz")
        self.f_hz.flags.writeable = False
        self.jw: Complex = np.asarray(2j * np.pi * self.f_hz, dtype=np.complex128)
        values = {e.name: at(e.name, e.value, self.f_hz) for e in elements}
        z = {e.name: self.impedance(e, values[e.name]) for e in elements if e.kind in _PASSIVE}
        least = {name: float(np.abs(_once(value)).min()) for name, value in z.items()}
        shorts = {name for name, value in least.items() if value < 1e-200}  # below it 1/z overflows
        middle = self.f_hz.size // 2
        gains = {e.name: complex(values[e.name][middle]) for e in elements if e.kind == "controlled voltage"}
        require_one_answer(elements, shorts, gains)
        nodes = dict.fromkeys(n for e in elements for n in e.nodes if n != REFERENCE)
        self.nodes = {n: k for k, n in enumerate(nodes)}
        self.size = len(self.nodes)
        self.sources = {e.name: values[e.name] for e in elements if e.kind in ("voltage", "current")}
        branches = shorts | _stiff(elements, {name: 1 / max(1e-200, value) for name, value in least.items()})
        self.parts = {e.name: self._place(e, values[e.name], e.name in branches) for e in elements}

    def pair(self, node: str, to: str = REFERENCE) -> Pair:
        """The unknowns of a voltage between two nodes."""
        a, b = (-1 if n == REFERENCE else self.nodes[named("node", n, self.nodes)] for n in (node, to))
        return a, b

    def impedance(self, e: Element, value: Complex) -> Complex:
        """Impedance of a two-terminal element. `value`, (n_freq,) SI unit of the element."""
        if e.kind == "inductor":
            return e.ohm + self.jw * value
        return 1.0 / (self.jw * value) if e.kind == "capacitor" else value

    def excitation(self, only: str | None = None) -> Complex:
        """Right-hand side with all sources at their values, or one source at 1 and all others silent."""
        b = np.zeros((self.f_hz.size, self.size + 1), dtype=np.complex128)  # the last column is the reference
        if only is not None and only not in self.sources:
            raise NetworkError("source", only, " or ".join(self.sources) or "nothing: the network has no source")
        for name, value in self.sources.items():
            drive = value if only is None else np.full(value.shape, 1.0 if name == only else 0.0)
            part = self.parts[name]
            if part.branch >= 0:
                b[:, part.branch] += drive
            else:
                p, m = part.ports[0]
                b[:, p] -= drive
                b[:, m] += drive
        return b[:, :-1]

    def alone(self, source: str, x: Complex) -> Complex:
        """The unknowns with one source at 1 and all others silent. `x`, (n_freq, size) V and A: the unknowns with all
        sources acting; only scaled where no other source acts."""
        others = any(value.any() for name, value in self.sources.items() if name != source)
        if others or source not in self.sources or not self.sources[source].all():
            return self.solve(self.excitation(only=source))
        return x / self.sources[source][:, None]

    def matrix(self, chunk: slice = slice(None)) -> Complex:
        """The matrix at each frequency. Returns (n_freq, size, size) 1 and ohm by block."""
        constant, capacitance, places, moving = self._sums
        m = self.jw[chunk, None] * capacitance
        m += constant
        m[:, places] += moving[:, chunk].T
        return m.reshape(-1, self.size, self.size)

    def solve(self, b: Complex, transposed: bool = False) -> Complex:
        """Solve the equations, or their transpose (which is the adjoint network). `b`, (n_freq, size) A and V:
        right-hand side; returns V and A; NetworkError: there is no one answer at some frequency."""
        self._require_regular()
        x = np.empty(b.shape, dtype=np.complex128)
        many = b.ndim == 3
        for start in range(0, self.f_hz.size, _CHUNK):
            chunk = slice(start, start + _CHUNK)
            m = self.matrix(chunk)
            if transposed:
                m = m.transpose(0, 2, 1)
            try:
                found = np.linalg.solve(m, b[chunk] if many else b[chunk, :, None])
            except np.linalg.LinAlgError:
                raise self._no_answer(float(self.f_hz[start])) from None
            x[chunk] = found if many else found[:, :, 0]
        if not np.isfinite(x).all():
            raise self._no_answer(float(self.f_hz[~np.isfinite(x).reshape(self.f_hz.size, -1).all(axis=1)][0]))
        return x

    def across(self, x: Complex, pair: Pair) -> Complex:
        """Difference of two unknowns. `x`, (n_freq, size, ..) V and A."""
        p, m = pair
        positive = x[:, p] if p >= 0 else np.zeros_like(x[:, 0])
        return positive - x[:, m] if m >= 0 else positive.copy()

    def current(self, x: Complex, name: str) -> Complex:
        """Current of an element from its first node to its second. `x`, (n_freq, size) V and A: the unknowns with all
        sources acting."""
        part = self.parts[name]
        if part.branch >= 0:
            return x[:, part.branch].copy()
        if part.element.kind == "current":
            return self.sources[name].copy()
        _, columns, _ = part.live[0]
        return part.coefficient * self.across(x, columns)

    def slopes(self, name: str) -> dict[str, Complex]:
        """Derivative of an element's coefficient by each of its values. Returns unit of the coefficient for each unit
        of the value: by `name`, and `name.ohm` for the series resistance of an inductor."""
        part = self.parts[name]
        kind, one = part.element.kind, np.ones_like(self.jw)
        if kind not in _PASSIVE:
            return {name: one}
        if kind == "capacitor":
            return {name: self.jw if part.branch < 0 else -self.jw * part.coefficient**2}
        by_z = one if part.branch >= 0 else -(part.coefficient**2)
        if kind == "inductor":
            return {name: by_z * self.jw, f"{name}.ohm": by_z}
        return {name: by_z}

    def _place(self, e: Element, value: Complex, as_branch: bool) -> NetworkPart:
        ports = tuple(self.pair(*e.nodes[k : k + 2]) for k in range(0, len(e.nodes), 2))
        branch = -1
        if as_branch or e.kind in ("voltage", "controlled voltage", "transformer"):
            branch, self.size = self.size, self.size + 1
        ab, cd, own = ports[0], ports[-1], (branch, -1)
        if e.kind in _PASSIVE:
            z = self.impedance(e, value)
            if as_branch:
                return NetworkPart(e, ports, branch, z, ((own, own, -1.0),))
            y = self.jw * value if e.kind == "capacitor" else np.broadcast_to(1.0 / _once(z), z.shape)
            return NetworkPart(e, ports, branch, y, ((ab, ab, 1.0),))
        live: dict[str, tuple[tuple[Pair, Pair, float], ...]] = {
            "voltage": (), "current": (),
            "transformer": ((own, cd, -1.0), (cd, own, -1.0)), "gyrator": ((ab, cd, 1.0), (cd, ab, -1.0)),
            "controlled voltage": ((own, cd, -1.0),), "controlled current": ((ab, cd, 1.0),),
        }  # fmt: skip
        return NetworkPart(e, ports, branch, value, live[e.kind])

    @cached_property
    def _sums(self) -> tuple[Complex, Complex, list[int], Complex]:
        """What is constant and what goes with j w, in the flat matrix; places of the rest, and the rest."""
        constant = np.zeros(self.size**2, dtype=np.complex128)
        capacitance = np.zeros_like(constant)
        moving: dict[int, list[tuple[float, Complex]]] = {}
        for part in self.parts.values():
            e, own = part.element, (part.branch, -1)
            if part.branch >= 0:
                for place, sign in (*self._places(own, part.ports[0]), *self._places(part.ports[0], own)):
                    constant[place] += sign
            for rows, columns, factor in part.live:
                for place, sign in self._places(rows, columns):
                    if e.kind == "capacitor" and part.branch < 0:
                        capacitance[place] += factor * sign * complex(e.value)  # type: ignore[arg-type]  # a float
                    elif (one := _once(part.coefficient)).size == 1:
                        constant[place] += factor * sign * one[0]
                    else:
                        moving.setdefault(place, []).append((factor * sign, part.coefficient))
        rest = np.zeros((len(moving), self.f_hz.size), dtype=np.complex128)
        for row, terms in zip(rest, moving.values()):
            for sign, coefficient in terms:
                row += sign * coefficient
        return constant, capacitance, list(moving), rest

    def _places(self, rows: Pair, columns: Pair) -> list[tuple[int, float]]:
        """Where a term of +-1 by +-1 goes in the flat matrix, the reference left out."""
        down, across = ([(k, s) for k, s in zip(pair, (1.0, -1.0)) if k >= 0] for pair in (rows, columns))
        return [(r * self.size + c, s * t) for r, s in down for c, t in across]

    @cached_property
    def _condition(self) -> float:
        """Condition number in the middle of the band after scaling rows and columns to one size."""
        middle = self.f_hz.size // 2
        m = np.abs(one := self.matrix(slice(middle, middle + 1))[0])
        if not (m.any(axis=0).all() and m.any(axis=1).all()):
            return np.inf
        for _ in range(3):
            rows = 1.0 / np.sqrt(np.abs(one).max(axis=1, keepdims=True))
            columns = 1.0 / np.sqrt(np.abs(one).max(axis=0, keepdims=True))
            one = rows * one * columns
        return float(np.linalg.cond(one))

    def _require_regular(self) -> None:
        # The graph sees what floats or loops; this sees what only the numbers show (two gyrators that cancel).
        if self._condition > 1e15:
            raise self._no_answer(float(self.f_hz[self.f_hz.size // 2]))

    def _no_answer(self, f_hz: float) -> NetworkError:
        wanted = "some loss in every resonance, and controlled sources that do not cancel the rest"
        return NetworkError("network", f"no one answer at {f_hz:g} Hz", wanted)


def _once(values: Complex) -> Complex:
    """One number where an array is one number broadcast over the frequencies, else the array."""
    return values[:1] if values.strides == (0,) else values


def _stiff(elements: tuple[Element, ...], greatest: Mapping[str, float]) -> set[str]:
    """Elements so much stiffer than all else at one of their ends that their current would drown in rounding. As an
    admittance the current is a difference of two nearly equal voltages; as a branch it is an unknown itself. What is
    stiff joins its nodes, so that a chain of such elements is found from the end that is not."""
    joined: dict[str, str] = {}

    def root(node: str) -> str:
        while node in joined:
            node = joined[node]
        return node

    found: set[str] = set()
    while True:
        largest: dict[str, list[float]] = {}  # the two largest admittances at each end
        rest = []
        for e in elements:
            ends = {root(n) for n in e.nodes}
            if e.kind == "gyrator" or (e.name in greatest and len(ends) == 2):
                known = greatest.get(e.name) or abs(complex(e.value))  # type: ignore[arg-type]  # a gyrator's is a float
                rest.append((e, known, ends))
                for node in ends:
                    largest[node] = sorted([*largest.get(node, []), known])[-2:]
        new = [
            e
            for e, known, ends in rest
            if e.kind != "gyrator" and any(n != root(REFERENCE) and largest[n][0] < 1e-6 * known for n in ends)
        ]
        if not new:
            return found
        for e in new:
            found.add(e.name)
            one, other = (root(n) for n in e.nodes)
            if one != other:
                joined[one] = other
