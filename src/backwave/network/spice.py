"""A network as a SPICE netlist, the open and general format, so that it can be checked elsewhere."""

from __future__ import annotations

from math import pi

import numpy as np

from backwave.network.circuit import Network
from backwave.network.element import REFERENCE, Element, NetworkError, at


def netlist(network: Network, f_hz: float | None = None, title: str = "network") -> str:
    """The network in SPICE, ready for an analysis line and `.end`.
    Nodes are numbered and every name stands in a comment.  An impedance becomes, at one frequency, a resistor in series
    with the inductor or capacitor of its imaginary part, which is right at that frequency alone.  Values carry 17
    digits. `f_hz`: the frequency for impedances and for sources that depend on it; None where there are none;
    NetworkError: something that depends on frequency and no frequency given, or a controlled source with a complex
    gain.
    """
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
