"""The same network with one element changed, for each of several: exact answers for the price of about one solve.

As for the tolerances, a changed element follows from the nominal answer and a system as large as the number of its
terms (Woodbury); all the columns that are wanted for that go through the equations together.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from backwave.network.circuit import Solution
from backwave.network.element import NetworkError, named
from backwave.network.tolerance import columns_of


def variations(solution: Solution, factors: Mapping[str, Sequence[float]]) -> dict[tuple[str, float], Solution]:
    """The network solved again for each element and each factor on its value, one change at a time.

    `factors`, 1: by element (not a source), what its value (an inductor's resistance stays) is multiplied by;
    above 0; NetworkError: an unknown name, a source, or a factor that is not above 0.
    """
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
            changed = _coefficient(solution, name, factor)
            delta = signs * (changed - part.coefficient)[:, None]
            inner = np.eye(len(own)) + seen * delta[:, None, :]
            x = solution.x - np.einsum(
                "fnk,fk->fn", mine * delta[:, None, :], np.linalg.solve(inner, start[..., None])[..., 0]
            )
            found[name, factor] = _as_solution(solution, name, changed, x)
    return found


def _coefficient(solution: Solution, name: str, factor: float) -> np.ndarray:
    system, part = solution.system, solution.system.parts[name]
    kind = part.element.kind
    if kind == "inductor":
        z = part.element.ohm + system.jw * float(part.element.value) * factor  # type: ignore[arg-type]  # a float
        return np.asarray(z if part.branch >= 0 else 1.0 / z)
    inverse = kind in ("resistor", "impedance", "capacitor") and (kind == "capacitor") == (part.branch >= 0)
    return np.asarray(np.broadcast_to(part.coefficient * (1.0 / factor if inverse else factor), system.jw.shape))


def _as_solution(solution: Solution, name: str, coefficient: np.ndarray, x: np.ndarray) -> Solution:
    system = copy.copy(solution.system)
    system.__dict__.pop("_sums", None)  # what was computed from the old value
    system.__dict__.pop("_condition", None)
    system.parts = {**system.parts, name: replace(system.parts[name], coefficient=coefficient)}
    changed = copy.copy(solution)
    changed.system, changed.x = system, x
    return changed
