"""First order and worst case: sensitivities, combined uncertainty, shares of it (JCGM 100:2008)."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.uncertainty.monte_carlo import ErrorSampler, Evaluator
from backwave.uncertainty.reading import Kind, Reading

_STEP = 1e-6  # of the reading's own unit: far above rounding, far below any kink a person could measure


def sensitivities(
    model: Callable[[Evaluator], NDArray[np.float64]], readings: Sequence[Reading], step: float = _STEP
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The model at the best estimates and its sensitivity coefficients (JCGM 100:2008, 5.1.3), numerically.

    `model`, unit of the caller: returns (m, n) float: m results for n looks at once; `readings`, unit of the
    caller: those to step, one at a time, both ways; `step`, unit of the readings: how far to step; a result that
    is NaN at one of the two steps takes the slope of the other; returns (m,) unit of the result per unit of the
    reading.
    """
    count = len(readings)
    steps = np.zeros((count, 2 * count + 1))
    steps[np.arange(count), 1 + np.arange(count)] = step
    steps[np.arange(count), 1 + count + np.arange(count)] = -step
    index = {reading.name: i for i, reading in enumerate(readings)}

    def look(reading: Reading) -> NDArray[np.float64]:
        values: NDArray[np.float64] = np.asarray(reading.value, dtype=np.float64)
        i = index.get(reading.name)
        return values if i is None else values + steps[i]

    results = model(look)
    if results.shape[1] == 1:  # nothing depends on any reading
        results = np.repeat(results, 2 * count + 1, axis=1)
    value = results[:, :1]
    up, down = (results[:, 1 : count + 1] - value) / step, (value - results[:, count + 1 :]) / step
    # Where one step leaves the range in which a result exists, the other side's slope stands.
    slopes = np.where(np.isnan(up), down, np.where(np.isnan(down), up, (up + down) / 2.0))
    return value[:, 0], slopes


def _terms(readings: Sequence[Reading]) -> tuple[tuple[str, ...], NDArray[np.float64]]:
    """Names of the distinct error terms and (n_readings, n_terms) standard uncertainties."""
    kinds: dict[str, Kind] = {}
    for reading in readings:
        for error in reading.errors:
            if kinds.setdefault(error.name, error.kind) != error.kind:
                raise InputError(f"error {error.name}", error.kind, "one distribution for one name")
    names = tuple(kinds)
    table = np.zeros((len(readings), len(names)))
    for i, reading in enumerate(readings):
        for error in reading.errors:
            table[i, names.index(error.name)] += error.u
    return names, table


def first_order(readings: Sequence[Reading], slopes: NDArray[np.float64]) -> float:
    """Combined standard uncertainty by first order, shared errors counted as shared (JCGM 100:2008, 5.2.2).

    `readings`, unit of the caller; `slopes`, (n_readings,) unit of the result per unit of the reading: sensitivity
    coefficients, in the same order; InputError: one error name with two distributions.
    """
    _, table = _terms(readings)
    return float(np.linalg.norm(slopes @ table))


def contributions(readings: Sequence[Reading], slopes: NDArray[np.float64]) -> tuple[tuple[str, float], ...]:
    """Each reading's share of the first-order variance, largest first; the shares add up to 1.

    A shared error is given to its readings by covariance, cov(part, whole) / var(whole): where two of them
    cancel, one share is negative.

    `readings`, unit of the caller; `slopes`, (n_readings,) unit of the result per unit of the reading: sensitivity
    coefficients, in the same order; returns readings without influence are left out; empty where nothing is
    uncertain.
    """
    _, table = _terms(readings)
    parts = slopes[:, None] * table
    whole = parts.sum(axis=0)
    variance = float(whole @ whole)
    if variance <= 0.0:
        return ()
    shares = parts @ whole / variance
    rows = [(reading.name, float(share)) for reading, share in zip(readings, shares) if abs(share) > 1e-9]
    return tuple(sorted(rows, key=lambda row: -row[1]))


def worst_case(
    model: Callable[[Evaluator], NDArray[np.float64]], readings: Sequence[Reading], slopes: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The least each result can be with every error term at one of its bounds.

    For a result that is the least of several (a clearance), give the slopes of each of those: the corner that is
    worst for one of them is tried on all.

    `model`, unit of the caller; `readings`, unit of the caller: what goes in; an error's bound is its half-width,
    or 2 u where there is none; `slopes`, (n_corners, n_readings) unit of the result per unit of the reading: A
    direction each: its worst corner is tried; returns (m,) unit of the result.
    """
    names, table = _terms(readings)
    signs = np.where(
        slopes @ table < 0.0, -1.0, 1.0
    )  # of each error term, in each direction; one without slope goes too
    corner = {name: -signs[:, i] for i, name in enumerate(names)}
    results = model(ErrorSampler(lambda error: error.bound * corner[error.name]))
    return results.min(axis=1)
