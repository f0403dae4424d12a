"""A network with elements changed: exact answers without solving all of it again, for tolerances and for single changes.

A change of a few terms of the matrix follows from the nominal answer and a system as large as the number of those terms
(Woodbury; in circuits the compensation theorem); the columns that several changes want go through the equations
together.  Where more terms change than there are unknowns, the whole network is solved again.  Draws go in chunks:
memory is bounded."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from backwave.budget import checkpoint
from backwave.network.circuit import Solution, output_row
from backwave.network.element import Complex, NetworkError, Probe, named
from backwave.network.mna import NetworkPart, Pair, System
from backwave.uncertainty import Error, draw_error

_CHUNK = 16  # draws at a time


def tolerance_draws(
    solution: Solution, output: Probe, spread: Mapping[str, Error], draws: int = 1000, seed: int = 0
) -> Complex:
    """An output for random values of the elements. `spread`: relative error (0.05 is 5 %) by element name, or
    `name.ohm` for the series resistance of an inductor. Two elements that carry an error of one name are drawn
    together, as parts of one batch are; `seed`: another number gives an independent set; the same one always the same
    draws; returns (draws, n_freq) unit of the output."""
    system = solution.system
    names = list(dict.fromkeys(_element_of(solution, key) for key in spread))
    factors = {key: 1.0 + draw_error(error, draws, seed) for key, error in spread.items()}
    for key, factor in factors.items():
        if not (factor > 0).all():
            raise NetworkError(f"spread of {key}", f"a value times {factor.min():.3g}", "errors that leave it above 0")
    x = system.alone(output.of, solution.x) if output.kind == "z" else solution.x
    c = output_row(system, output)
    terms = [(name, rows, columns, sign) for name in names for rows, columns, sign in system.parts[name].live]
    own = next((k for k, t in enumerate(terms) if t[0] == output.of), -1) if output.kind == "i" else -1
    if own >= 0 and system.parts[output.of].branch >= 0:
        own = -1
    few = len(terms) < system.size
    p = columns_of(system, [rows for _, rows, _, _ in terms])
    q = columns_of(system, [columns for _, _, columns, _ in terms])
    if few:
        reached = system.solve(p)  # M^-1 P
        seen, start = np.swapaxes(q, 1, 2) @ reached, np.einsum("fnk,fn->fk", q, x)  # Q^T M^-1 P and Q^T x
        nominal, through = np.einsum("fn,fn->f", c, x), np.einsum("fn,fnk->fk", c, reached)
    else:
        spread_out = np.einsum("nk,mk->knm", p[0], q[0]).reshape(len(terms), -1)  # each term's place in the matrix
        matrix, b = system.matrix(), system.excitation(only=output.of if output.kind == "z" else None)
    result = np.empty((draws, system.f_hz.size), dtype=np.complex128)
    for first in range(0, draws, _CHUNK):
        checkpoint()
        chunk = slice(first, min(first + _CHUNK, draws))
        change = {name: _change(solution, name, factors, chunk) for name in names}
        delta = np.stack([sign * change[name] for name, _, _, sign in terms], axis=-1)  # (draw, freq, term)
        if few:
            across = np.linalg.solve(np.eye(len(terms)) + seen * delta[:, :, None, :], start[None, :, :, None])[..., 0]
            found = nominal - np.einsum("fk,dfk->df", through, delta * across)
        else:
            moved = matrix + (delta @ spread_out).reshape(*delta.shape[:2], system.size, system.size)
            y = np.linalg.solve(moved, b[None, :, :, None])[..., 0]
            found, across = np.einsum("fn,dfn->df", c, y), np.einsum("fnk,dfn->dfk", q[:1], y)
        if own >= 0:  # its own admittance stands in the output row as well
            found += change[output.of] * across[:, :, own]
        result[chunk] = found
    if output.kind == "z":
        result = -1.0 / result if system.parts[output.of].branch >= 0 else -result
    return result


def columns_of(system: System, pairs: list[Pair]) -> Complex:
    """A column of +1 and -1 for each pair of unknowns, the same at every frequency."""
    columns = np.zeros((system.size + 1, len(pairs)), dtype=np.complex128)  # the last row is the reference
    for k, (plus, minus) in enumerate(pairs):
        columns[plus, k] += 1.0
        columns[minus, k] -= 1.0
    return np.broadcast_to(columns[:-1], (system.f_hz.size, system.size, len(pairs)))


def _element_of(solution: Solution, key: str) -> str:
    parts = solution.system.parts
    base = key.removesuffix(".ohm")
    name = base if base in parts and parts[base].element.kind == "inductor" and key != base else key
    if named("element", name, parts) in solution.system.sources:
        raise NetworkError("spread", f"{key}, a source", "an element that is not an independent source")
    return name


def _change(solution: Solution, name: str, factors: Mapping[str, np.ndarray], chunk: slice) -> Complex:
    """(draw, freq) complex: how far a coefficient is from its nominal value."""
    part, one = solution.system.parts[name], np.ones(chunk.stop - chunk.start)
    factor, ohm = (factors[key][chunk][:, None] if key in factors else one[:, None] for key in (name, f"{name}.ohm"))
    if part.element.kind == "inductor":
        return _inductor(solution.system, part, factor, ohm) - part.coefficient
    return (_scale(part, factor) - 1.0) * part.coefficient


def _inductor(system: System, part: NetworkPart, factor: np.ndarray | float, ohm: np.ndarray | float) -> Complex:
    """Coefficient of an inductor whose value and series resistance are multiplied by factors."""
    z = part.element.ohm * ohm + system.jw * float(part.element.value) * factor  # type: ignore[arg-type]  # a float
    return np.asarray(z if part.branch >= 0 else 1.0 / z)


def _scale(part: NetworkPart, factor: np.ndarray | float) -> np.ndarray | float:
    """What a coefficient is multiplied by where the element's value is: an admittance falls as a resistance rises."""
    kind = part.element.kind
    inverse = kind in ("resistor", "impedance", "capacitor") and (kind == "capacitor") == (part.branch >= 0)
    return 1.0 / factor if inverse else factor


def variations(solution: Solution, factors: Mapping[str, Sequence[float]]) -> dict[tuple[str, float], Solution]:
    """The network solved again for each element and each factor on its value, one change at a time. `factors`, 1: by
    element (not a source), what its value (an inductor's resistance stays) is multiplied by; above 0."""
    system = solution.system
    terms = []
    for name, values in factors.items():
        if named("element", name, system.parts) in system.sources:
            raise NetworkError("element to vary", f"{name}, a source", "an element that is not an independent source")
        if not all(np.isfinite(v) and v > 0 for v in values):
            raise NetworkError(f"factor on {name}", values, "finite numbers above 0")
        terms += [(name, rows, columns, sign) for rows, columns, sign in system.parts[name].live]
    if not terms:
        return {}
    reached = system.solve(columns_of(system, [rows for _, rows, _, _ in terms]))
    found: dict[tuple[str, float], Solution] = {}
    for name, values in factors.items():
        own = [k for k, term in enumerate(terms) if term[0] == name]
        part, signs = system.parts[name], np.array([terms[k][3] for k in own])
        across = columns_of(system, [terms[k][2] for k in own])
        mine = reached[:, :, own]
        seen, start = np.swapaxes(across, 1, 2) @ mine, np.einsum("fnk,fn->fk", across, solution.x)
        for factor in values:
            if part.element.kind == "inductor":
                changed = _inductor(system, part, factor, 1.0)
            else:
                changed = np.broadcast_to(part.coefficient * _scale(part, factor), system.jw.shape)
            delta = signs * (changed - part.coefficient)[:, None]
            inner = np.eye(len(own)) + seen * delta[:, None, :]
            back = np.linalg.solve(inner, start[..., None])[..., 0]
            x = solution.x - np.einsum("fnk,fk->fn", mine * delta[:, None, :], back)
            found[name, factor] = _as_solution(solution, name, changed, x)
    return found


def _as_solution(solution: Solution, name: str, coefficient: np.ndarray, x: np.ndarray) -> Solution:
    system = copy.copy(solution.system)
    system.__dict__.pop("_sums", None)  # what was computed from the old value
    system.__dict__.pop("_condition", None)
    system.parts = {**system.parts, name: replace(system.parts[name], coefficient=coefficient)}
    changed = copy.copy(solution)
    changed.system, changed.x = system, x
    return changed
