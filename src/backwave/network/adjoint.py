"""Exact sensitivities by the adjoint network (Director and Rohrer 1969): one transposed solve gives all of them.

For M x = b and an output c x, the change with a value p is  -y (dM/dp) x + y db/dp + (dc/dp) x  with M^T y = c.
"""

from __future__ import annotations

import numpy as np

from backwave.network.element import Complex, NetworkError, Probe, named
from backwave.network.mna import Pair, System


def output_row(system: System, output: Probe) -> Complex:
    """The row c that picks an output from the unknowns; for "z" the current or voltage of the source.

    Returns (n_freq, size) 1 or S; NetworkError: the impedance of what is not a source, or the current of a current
    source, which depends on nothing.
    """
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
        raise NetworkError(
            "current asked for", f"{output.of}, a current source", "an element whose current is not given"
        )
    return c[:, :-1]


def sensitivities(system: System, x: Complex, output: Probe) -> dict[str, Complex]:
    """Derivative of an output by the value of every element.

    `x`, (n_freq, size) V and A: the unknowns with all sources acting; returns unit of the output for each unit of
    the value: by element name; `name.ohm` is the series resistance of an inductor.
    """
    c = output_row(system, output)
    if output.kind == "z":
        x = system.alone(output.of, x)
    y = system.solve(c, transposed=True)
    found: dict[str, Complex] = {}
    for name, part in system.parts.items():
        if name in system.sources:
            if output.kind == "z":  # a ratio: no source's value moves it
                found[name] = np.zeros_like(system.jw)
            else:
                found[name] = y[:, part.branch].copy() if part.branch >= 0 else -system.across(y, part.ports[0])
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


def _put(c: Complex, pair: Pair, value: Complex | float) -> None:
    p, m = pair  # -1 falls into the last column, which is dropped
    c[:, p] += value
    c[:, m] -= value
