"""The network as it is built, its solution, exact sensitivities by the adjoint network, and the same network in SPICE.

One transposed solve gives all sensitivities of an output (Director and Rohrer 1969): for M x = b and an output c x, the
change with a value p is  -y (dM/dp) x + y db/dp + (dc/dp) x  with M^T y = c."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import ArrayLike

from backwave.network.element import REFERENCE, Complex, Element, Kind, NetworkError, Probe, Real, Value, at, named
from backwave.network.mna import Pair, System


def output_row(system: System, output: Probe) -> Complex:
    """The row c that picks an output from the unknowns; for "z" the current or voltage of the source. Returns (n_freq,
    size) 1 or S."""
    c = np.zeros((system.f_hz.size, system.size + 1), dtype=np.complex128)
    if output.kind == "v":
        _put(c, system.pair(output.of, output.to), 1.0)
        return c[:, :-1]
    part = system.parts[named("element", output.of, system.parts)]
    kind = part.element.kind
    if output.kind == "z" and kind not in ("voltage", "current"):
        raise NetworkError("impedance asked for", f"{output.of}, a {kind}", "the name of a source")
    if part.branch >= 0:
        c[:, part.branch] = 1.0
    elif kind != "current":
        _put(c, part.live[0][1], part.coefficient)
    elif output.kind == "z":
        _put(c, part.ports[0], 1.0)
    else:
        given = f"{output.of}, a current source"
        raise NetworkError("current asked for", given, "an element whose current is not given")
    return c[:, :-1]


def _put(c: Complex, pair: Pair, value: Complex | float) -> None:
    p, m = pair  # -1 falls into the last column, which is dropped
    c[:, p] += value
    c[:, m] -= value


class Network:
    """A linear network; elements are added by name between nodes, node "0" is the reference of every domain. A voltage
    may as well be a force (N) or a pressure (Pa), and a current a velocity (m/s) or a volume velocity (m3/s);
    impedances are then in N s/m or Pa s/m3. Phasors are rms. The current of an element flows from its first node to its
    second through it, so a source that delivers power has a negative current."""

    def __init__(self) -> None:
        self._elements: dict[str, Element] = {}

    @property
    def elements(self) -> tuple[Element, ...]:
        """The elements, in the order they were added."""
        return tuple(self._elements.values())

    def resistor(self, name: str, a: str, b: str, ohm: float) -> None:
        """Add a resistor. `ohm`, ohm: resistance, 0 or more (0 joins the nodes)."""
        self._add("resistor", name, (a, b), _not_negative(name, "ohm", ohm))

    def inductor(self, name: str, a: str, b: str, henry: float, ohm: float = 0.0) -> None:
        """Add an inductor with its series resistance. `henry`, H: inductance, 0 or more; `ohm`, ohm: series resistance,
        0 or more."""
        self._add("inductor", name, (a, b), _not_negative(name, "henry", henry), _not_negative(name, "ohm", ohm))

    def capacitor(self, name: str, a: str, b: str, farad: float) -> None:
        """Add a capacitor. `farad`, F: capacitance, more than 0."""
        if _not_negative(name, "farad", farad) == 0.0:
            raise NetworkError(f"{name}: farad", farad, "more than 0; leave out a capacitor that is not there")
        self._add("capacitor", name, (a, b), float(farad))

    def impedance(self, name: str, a: str, b: str, z: Value) -> None:
        """Add any two-terminal impedance. `z`, ohm: impedance, finite; a real part below 0 is taken as it is (the
        element is then active)."""
        self._add("impedance", name, (a, b), z)

    def voltage(self, name: str, a: str, b: str, v: Value = 1.0) -> None:
        """Add an ideal voltage source: v(a) - v(b) = v. `v`, V rms."""
        self._add("voltage", name, (a, b), v)

    def current(self, name: str, a: str, b: str, i: Value = 1.0) -> None:
        """Add an ideal current source that drives i from a to b through itself. `i`, A rms."""
        self._add("current", name, (a, b), i)

    def transformer(self, name: str, a: str, b: str, c: str, d: str, ratio: float) -> None:
        """Add an ideal transformer: v(ab) = ratio v(cd), and the current into c is -ratio times that into a. `ratio`,
        1: not 0 (between domains it has one: m2 for an area that turns pressure into force)."""
        self._add("transformer", name, (a, b, c, d), _not_zero(name, "ratio", ratio))

    def gyrator(self, name: str, a: str, b: str, c: str, d: str, g: float) -> None:
        """Add an ideal gyrator: the current into a is g v(cd), the current into c is -g v(ab). A voice coil in a magnet
        with its electrical side at a, b and force as voltage at c, d has g = 1/Bl. `g`, S."""
        self._add("gyrator", name, (a, b, c, d), _not_zero(name, "g", g))

    def controlled_voltage(self, name: str, a: str, b: str, c: str, d: str, gain: Value) -> None:
        """Add a voltage source controlled by a voltage: v(ab) = gain v(cd); c and d draw no current. `name`, `a`, `b`,
        `c`, `d`: its name, the nodes of its output and those that control it; `gain`, 1: the gain; a callable makes it
        a filter or a delay."""
        self._add("controlled voltage", name, (a, b, c, d), gain)

    def controlled_current(self, name: str, a: str, b: str, c: str, d: str, siemens: Value) -> None:
        """Add a current source controlled by a voltage: the current from a to b through it is siemens v(cd). `name`,
        `a`, `b`, `c`, `d`: its name, the nodes of its output and those that control it; `siemens`, S."""
        self._add("controlled current", name, (a, b, c, d), siemens)

    def solve(self, f_hz: ArrayLike) -> Solution:
        """Solve at each frequency, with all sources acting together. Refused: no element, a part without a path to node
        "0", a loop of voltage sources, transformers or joined nodes, or a network that has no one answer at some
        frequency."""
        return Solution(self.elements, f_hz)

    def _add(self, kind: Kind, name: str, nodes: tuple[str, ...], value: Value, ohm: float = 0.0) -> None:
        if name in self._elements:
            raise NetworkError("element name", name, "a name not yet used in this network")
        for first, second in zip(nodes[::2], nodes[1::2], strict=True):
            if first == second:
                raise NetworkError(f"{name}: both ends of a port", first, "two different nodes")
        self._elements[name] = Element(kind, name, nodes, value, ohm)


class Solution:
    """What a network does at each frequency; results are (n_freq,) complex unless said."""

    def __init__(self, elements: tuple[Element, ...], f_hz: ArrayLike) -> None:
        self.system = System(elements, f_hz)
        self.x: Complex = self.system.solve(self.system.excitation())
        self.x.flags.writeable = False

    @property
    def f_hz(self) -> Real:
        """(n_freq,) float, Hz: the frequencies solved at."""
        return self.system.f_hz

    def v(self, node: str, to: str = REFERENCE) -> Complex:
        """Voltage of a node, from another node if named."""
        return self.system.across(self.x, self.system.pair(node, to))

    def i(self, name: str) -> Complex:
        """Current through an element from its first node to its second, A."""
        return self.system.current(self.x, named("element", name, self.system.parts))

    def z(self, name: str) -> Complex:
        """Impedance that a source sees with every other source silent; of any other element v/i at its first port."""
        part = self.system.parts[named("element", name, self.system.parts)]
        kind, port = part.element.kind, part.ports[0]
        if kind in ("voltage", "current"):
            x = self.system.alone(name, self.x)
            if kind == "current":
                return -self.system.across(x, port)
            v, i = np.full(self.f_hz.shape, -1.0 + 0.0j), x[:, part.branch]
        else:
            v, i = self.system.across(self.x, port), self.i(name)
        if not i.all():
            none = f"no current at {self.f_hz[i == 0][0]:g} Hz"
            raise NetworkError(f"impedance at {name}", none, "an element that a current flows through")
        return v / i

    def power(self, name: str) -> Real:
        """(n_freq,) float, W: real power that goes into an element over all its ports; negative where it delivers."""
        part = self.system.parts[named("element", name, self.system.parts)]
        if part.element.kind in ("transformer", "gyrator"):
            return np.zeros(self.f_hz.size)
        return np.real(self.system.across(self.x, part.ports[0]) * np.conj(self.i(name)))

    def sensitivity(self, output: Probe) -> dict[str, Complex]:
        """Exact derivative of an output by the value of every element, by one adjoint solve. Returns unit of the output
        for each unit of the value: by element name; `name.ohm` is the series resistance of an inductor."""
        system, x = self.system, self.x
        c = output_row(system, output)
        if output.kind == "z":
            x = system.alone(output.of, x)
        y = system.solve(c, transposed=True)
        found: dict[str, Complex] = {}
        for name, part in system.parts.items():
            if name in system.sources:
                found[name] = y[:, part.branch].copy() if part.branch >= 0 else -system.across(y, part.ports[0])
                if output.kind == "z":  # a ratio: no source's value moves it
                    found[name] = np.zeros_like(system.jw)
                continue
            by_coefficient = np.zeros_like(system.jw)
            for rows, columns, sign in part.live:
                by_coefficient -= sign * system.across(y, rows) * system.across(x, columns)
            if output.kind == "i" and output.of == name and part.branch < 0:
                by_coefficient += system.across(x, part.live[0][1])
            found |= {key: by_coefficient * slope for key, slope in system.slopes(name).items()}
        if output.kind == "z":
            part = system.parts[output.of]
            # z is -1/i at a voltage source of 1, -v at a current source of 1.
            outer = 1.0 / x[:, part.branch] ** 2 if part.branch >= 0 else np.full_like(system.jw, -1.0)
            found = {key: outer * value for key, value in found.items()}
        return found


def _not_negative(name: str, key: str, value: float) -> float:
    if not (np.isfinite(value) and value >= 0):
        raise NetworkError(f"{name}: {key}", value, "a finite number, 0 or more")
    return float(value)


def _not_zero(name: str, key: str, value: float) -> float:
    if not (np.isfinite(value) and value != 0):
        raise NetworkError(f"{name}: {key}", value, "a finite number that is not 0")
    return float(value)


def netlist(network: Network, f_hz: float | None = None, title: str = "network") -> str:
    """The network in SPICE, ready for an analysis line and `.end`. Nodes are numbered and every name stands in a
    comment. An impedance becomes, at one frequency, a resistor in series with the inductor or capacitor of its
    imaginary part, which is right at that frequency alone. Values carry 17 digits. `f_hz`: the frequency for impedances
    and for sources that depend on it; None where there are none; NetworkError: something that depends on frequency and
    no frequency given, or a controlled source with a complex gain."""
    nodes = {REFERENCE: "0"}
    for e in network.elements:
        for node in e.nodes:
            nodes.setdefault(node, str(len(nodes)))
    lines = [f"* {_plain(title)}", *(f"* node {number} is {_plain(name)}" for name, number in nodes.items())]
    for k, e in enumerate(network.elements, 1):
        lines += [f"* {k} is {_plain(e.name)}, {e.kind}", *_lines(k, e, [nodes[n] for n in e.nodes], f_hz)]
    return "\n".join(lines) + "\n"


def _lines(k: int, e: Element, n: list[str], f_hz: float | None) -> list[str]:
    here = " ".join(n)
    value = _value(e, f_hz)
    match e.kind:
        case "resistor":
            return _resistor(k, n[0], n[1], value.real)
        case "inductor":
            return _series(k, n, e.ohm, "L", value.real)
        case "capacitor":
            return [f"C{k} {here} {value.real:.17g}"]
        case "impedance":
            w = 2 * pi * (f_hz or 0.0)
            if value.imag > 0:
                return _series(k, n, value.real, "L", value.imag / w)
            if value.imag < 0:
                return _series(k, n, value.real, "C", -1 / (w * value.imag))
            return _resistor(k, n[0], n[1], value.real)
        case "voltage" | "current":
            letter = "V" if e.kind == "voltage" else "I"
            return [f"{letter}{k} {here} dc 0 ac {abs(value):.17g} {np.degrees(np.angle(value)):.17g}"]
        case "transformer":
            a, b, c, d = n  # v(ab) = ratio v(cd) by E; the current into c is -ratio times what V senses
            return [
                f"E{k} {a} x{k} {c} {d} {value.real:.17g}",
                f"V{k} x{k} {b} dc 0",
                f"F{k} {c} {d} V{k} {-value.real:.17g}",
            ]
        case "gyrator":
            a, b, c, d = n
            return [f"G{k} {a} {b} {c} {d} {value.real:.17g}", f"G{k}b {c} {d} {a} {b} {-value.real:.17g}"]
        case "controlled voltage":
            return [f"E{k} {here} {value.real:.17g}"]
        case "controlled current":
            return [f"G{k} {here} {value.real:.17g}"]


def _value(e: Element, f_hz: float | None) -> complex:
    depends = callable(e.value) or np.ndim(e.value) > 0 or e.kind == "impedance"
    if f_hz is None and depends:
        raise NetworkError(f"{e.name} depends on frequency", "no frequency", "f_hz, at which it is to be written")
    value = complex(at(e.name, e.value, np.array([1.0 if f_hz is None else f_hz]))[0])
    if e.kind.startswith("controlled") and value.imag:
        raise NetworkError(f"{e.name}: its gain", value, "a real gain; SPICE has no source with a phase")
    return value


def _resistor(k: int, a: str, b: str, ohm: float) -> list[str]:
    return [f"R{k} {a} {b} {ohm:.17g}" if ohm else f"V{k} {a} {b} dc 0"]  # SPICE would make 0 ohm a milliohm


def _series(k: int, n: list[str], ohm: float, letter: str, value: float) -> list[str]:
    if not value:
        return _resistor(k, n[0], n[1], ohm)
    middle = f"x{k}" if ohm else n[1]
    first = [f"{letter}{k} {n[0]} {middle} {value:.17g}"]
    return first + ([f"R{k} {middle} {n[1]} {ohm:.17g}"] if ohm else [])


def _plain(text: str) -> str:
    return " ".join(text.split())
