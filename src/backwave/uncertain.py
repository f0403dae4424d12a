"""Readings and how sure they are: error terms, draws, first order, Monte Carlo, worst case.

A reading is a value with independent error terms.  An error term has a name; two readings that carry the
same term (one gauge, one datum) share its error: it is drawn once (JCGM 100:2008, 5.2.4).  Values are floats
in whatever unit the caller uses; nothing here knows of units.  Ground floor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import blake2b
from math import sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError

__all__ = [
    "Error",
    "Estimate",
    "Look",
    "Reading",
    "at_estimates",
    "contributions",
    "draw_error",
    "draw_reading",
    "drawn",
    "estimates",
    "exact",
    "first_order",
    "mean_reading",
    "monte_carlo",
    "sensitivities",
    "worst_case",
]

Kind = Literal["rectangular", "normal"]


@dataclass(frozen=True, slots=True)
class Error:
    """One independent source of error.

    Parameters
    ----------
    name : str, no unit
        Names the source; the same name in two readings means the same error, drawn once.
    kind : "rectangular" or "normal", no unit
        Shape of the distribution (JCGM 101:2008, 6.4).
    size : float, unit of the reading
        Half-width of a rectangular error, standard uncertainty of a normal one.
    """

    name: str
    kind: Kind
    size: float

    @property
    def u(self) -> float:
        """Standard uncertainty: a/sqrt(3) for a half-width a (JCGM 100:2008, 4.3.7)."""
        return self.size / sqrt(3.0) if self.kind == "rectangular" else self.size

    @property
    def bound(self) -> float:
        """What a worst case takes: the half-width, or 2 u where there is none."""
        return self.size if self.kind == "rectangular" else 2.0 * self.size


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured or stated number.

    Parameters
    ----------
    name : str, no unit
        The job key it came from ("front-door.behind[0].clear"): what a person would read again.
    value : float, unit of the caller
        Best estimate.
    errors : tuple of Error, unit of the caller
        Independent error terms that add up; empty for an exact number.
    taken : int, no unit
        How many independent times it was read (2 or more satisfies "read twice").
    assumed : bool, no unit
        True where the number is a default nobody measured.
    """

    name: str
    value: float
    errors: tuple[Error, ...] = ()
    taken: int = 1
    assumed: bool = False

    @property
    def u(self) -> float:
        """Combined standard uncertainty of the reading (root sum of squares)."""
        return sqrt(sum(e.u**2 for e in self.errors))

    @property
    def bound(self) -> float:
        """Worst-case half-width: the terms' bounds added."""
        return sum(e.bound for e in self.errors)


def exact(name: str, value: float) -> Reading:
    """A number with no error, such as a dimension we choose.

    Parameters
    ----------
    name : str, no unit
        What it is.
    value : float, unit of the caller
        The number.
    """
    return Reading(name, value)


# Student's t at 97.5 % by degrees of freedom 1..15 (JCGM 100:2008, Table G.2), for `mean_reading`.
_T95 = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131)
_Z95 = 1.959964


def mean_reading(name: str, values: Sequence[float], instrument: Error | None) -> Reading:
    """Several readings of one thing: their mean, with s/sqrt(n) widened to Student's 95 %.

    The scatter is drawn as normal, widened so that its normal 95 % equals Student's (t with 2 degrees of
    freedom has no variance); the instrument's error comes once on top.

    Parameters
    ----------
    name : str, no unit
        The job key.
    values : sequence of float, unit of the caller
        Two or more readings.
    instrument : Error or None, unit of the caller
        The shared error of the instrument used.

    Raises
    ------
    ValueError
        Fewer than two values.
    """
    n = len(values)
    if n < 2:
        raise ValueError("a list of readings needs two or more")
    mean = sum(values) / n
    s = sqrt(sum((v - mean) ** 2 for v in values) / (n - 1))
    t = _T95[n - 2] if n - 2 < len(_T95) else _Z95 * (1 + 1.2 / (n - 1))
    scatter = Error(name, "normal", s / sqrt(n) * t / _Z95)
    errors = (scatter,) if instrument is None else (scatter, instrument)
    return Reading(name, mean, errors, taken=n)


def draw_error(error: Error, n: int, seed: int = 0) -> NDArray[np.float64]:
    """Draws of one error term; the same name always gives the same draws, so a slider does not jitter.

    Parameters
    ----------
    error : Error, unit of the caller
        What to draw.
    n : int, no unit
        How many draws.
    seed : int, no unit
        Another number gives an independent set.

    Returns
    -------
    (n,) float, unit of the caller
    """
    make = _unit_draws if n <= _BLOCK else _unit_draws.__wrapped__  # only blocks are worth keeping
    return error.size * make(error.name, error.kind, n, seed)


@lru_cache(maxsize=256)  # 32 MB of blocks: an edited value is judged again with the draws already made
def _unit_draws(name: str, kind: Kind, n: int, seed: int) -> NDArray[np.float64]:
    key = int.from_bytes(blake2b(f"{seed}:{name}".encode(), digest_size=16).digest(), "little")
    rng = np.random.Generator(np.random.SFC64(key))
    draws = 2.0 * rng.random(n) - 1.0 if kind == "rectangular" else rng.standard_normal(n)
    draws.flags.writeable = False
    return draws


def draw_reading(reading: Reading, n: int, seed: int = 0) -> NDArray[np.float64]:
    """Draws of a reading: its value plus the draws of each of its error terms.

    Parameters
    ----------
    reading : Reading, unit of the caller
        What to draw.
    n : int, no unit
        How many draws.
    seed : int, no unit
        Another number gives an independent set.

    Returns
    -------
    (n,) float, unit of the caller
    """
    total = np.full(n, reading.value)
    for error in reading.errors:
        total += draw_error(error, n, seed)
    return total


@dataclass(frozen=True, slots=True)
class Estimate:
    """An uncertain result.

    Parameters
    ----------
    value : float, unit of the caller
        The model at the best estimates of its readings.
    u : float, unit of the caller
        Standard uncertainty: the standard deviation of the draws.
    low, high : float, unit of the caller
        The 2.5 and 97.5 % points of the draws (JCGM 101:2008, 7.7, probabilistically symmetric).
    """

    value: float
    u: float
    low: float
    high: float


Look = Callable[[Reading], NDArray[np.float64]]
"""What a model is handed instead of numbers: a reading becomes the values to work with (draws, corners, steps)."""


class _Units:
    """A look whose error terms are multiples of given arrays; a reading without error stays one number."""

    def __init__(self, multiple: Callable[[Error], NDArray[np.float64]]) -> None:
        self._multiple, self._seen = multiple, dict[str, tuple[Reading, NDArray[np.float64]]]()

    def __call__(self, reading: Reading) -> NDArray[np.float64]:
        held = self._seen.get(reading.name)
        if held is not None and (held[0] is reading or held[0] == reading):
            return held[1]
        if held is not None:
            raise InputError(f"reading {reading.name}", reading.value, "one value for one name")
        values: NDArray[np.float64] = np.asarray(reading.value, dtype=np.float64)
        for error in reading.errors:
            if error.size:
                values = values + self._multiple(error)
        self._seen[reading.name] = (reading, values)
        return values


def at_estimates(reading: Reading) -> NDArray[np.float64]:
    """The look that gives every reading its best estimate.

    Parameters
    ----------
    reading : Reading, unit of the caller
        What to look at.

    Returns
    -------
    () float, unit of the caller
    """
    return np.asarray(reading.value, dtype=np.float64)


def drawn(n: int, seed: int = 0) -> Look:
    """A look that gives every reading n draws, each error term drawn once whoever carries it.

    Parameters
    ----------
    n : int, no unit
        How many draws.
    seed : int, no unit
        Another number gives an independent set.
    """
    return _Units(lambda error: draw_error(error, n, seed))


_BLOCK = 16_000  # 128 kB an array: stays in the processor's cache
_SMALL = 12_500  # while watching the ends: four of them before the first decision
_START = 4 * _SMALL


def monte_carlo(
    model: Callable[[Look], NDArray[np.float64]],
    n: int = 100_000,
    tolerance: float | None = None,
    seed: int = 0,
) -> NDArray[np.float64]:
    """Draws of a model's results (JCGM 101:2008, 5.9), in blocks.

    With a tolerance it stops early, from 50 000 draws on, once twice the standard deviation of the mean of the
    blocks' 2.5 and 97.5 % points is within the tolerance (JCGM 101:2008, 7.9.4).

    Parameters
    ----------
    model : function of a Look, unit of the caller
        Returns (m, n_draws) float: m results at every draw.
    n : int, no unit
        How many draws; the most, where a tolerance is given.
    tolerance : float or None, unit of the results
        How far the ends of the intervals may be out.
    seed : int, no unit
        Another number gives an independent set.

    Returns
    -------
    (m, n_draws) float, unit of the caller
    """
    blocks: list[NDArray[np.float64]] = []
    ends: list[NDArray[np.float64]] = []
    done = 0
    while done < n:
        size = min(_BLOCK if tolerance is None else _SMALL, n - done)
        blocks.append(model(drawn(size, seed * 4096 + len(blocks))))
        done += size
        if tolerance is not None:
            ends.append(_ends(blocks[-1]))
            if done >= _START:
                spread = np.std(np.array(ends), axis=0, ddof=1) / sqrt(len(ends))
                if bool(np.all(2.0 * spread <= tolerance)):
                    break
    return np.concatenate(blocks, axis=1)


def _ends(draws: NDArray[np.float64]) -> NDArray[np.float64]:
    """The 2.5 and 97.5 % points of each row, by linear interpolation between order statistics: (2, m)."""
    last, found = draws.shape[1] - 1, []
    for point in (0.025, 0.975):
        below = int(point * last)
        parted = np.partition(
            draws, below, axis=1
        )  # one point at a time is several times faster than both at once
        lower = parted[:, below]
        upper = parted[:, below + 1 :].min(axis=1) if below < last else lower
        found.append(lower + (point * last - below) * (upper - lower))
    return np.array(found)


def estimates(values: Sequence[float], draws: NDArray[np.float64]) -> tuple[Estimate, ...]:
    """Results as value, standard uncertainty and 95 % interval.

    Parameters
    ----------
    values : sequence of float, unit of the caller
        (m,) the model at the best estimates.
    draws : (m, n_draws) float, unit of the caller
        What `monte_carlo` returned.
    """
    low, high = _ends(draws)
    u = draws.std(axis=1)
    return tuple(Estimate(float(v), float(s), float(a), float(b)) for v, s, a, b in zip(values, u, low, high))


_STEP = 1e-6  # of the reading's own unit: far above rounding, far below any kink a person could measure


def sensitivities(
    model: Callable[[Look], NDArray[np.float64]], readings: Sequence[Reading], step: float = _STEP
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The model at the best estimates and its sensitivity coefficients (JCGM 100:2008, 5.1.3), numerically.

    Parameters
    ----------
    model : function of a Look, unit of the caller
        Returns (m, n) float: m results for n looks at once.
    readings : sequence of Reading, unit of the caller
        Those to step, one at a time, both ways.
    step : float, unit of the readings
        How far to step; a result that is NaN at one of the two steps takes the slope of the other.

    Returns
    -------
    (m,) float, unit of the result, and (m, n_readings) float, unit of the result per unit of the reading
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

    Parameters
    ----------
    readings : sequence of Reading, unit of the caller
        What went in.
    slopes : (n_readings,) float, unit of the result per unit of the reading
        Sensitivity coefficients, in the same order.

    Raises
    ------
    InputError
        One error name with two distributions.
    """
    _, table = _terms(readings)
    return float(np.linalg.norm(slopes @ table))


def contributions(readings: Sequence[Reading], slopes: NDArray[np.float64]) -> tuple[tuple[str, float], ...]:
    """Each reading's share of the first-order variance, largest first; the shares add up to 1.

    A shared error is given to its readings by covariance, cov(part, whole) / var(whole): where two of them
    cancel, one share is negative.

    Parameters
    ----------
    readings : sequence of Reading, unit of the caller
        What went in.
    slopes : (n_readings,) float, unit of the result per unit of the reading
        Sensitivity coefficients, in the same order.

    Returns
    -------
    tuple of (name, share), no unit
        Readings without influence are left out; empty where nothing is uncertain.
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
    model: Callable[[Look], NDArray[np.float64]], readings: Sequence[Reading], slopes: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The least each result can be with every error term at one of its bounds.

    For a result that is the least of several (a clearance), give the slopes of each of those: the corner that is
    worst for one of them is tried on all.

    Parameters
    ----------
    model : function of a Look, unit of the caller
        Returns (m, n) float.
    readings : sequence of Reading, unit of the caller
        What goes in; an error's bound is its half-width, or 2 u where there is none.
    slopes : (n_corners, n_readings) float, unit of the result per unit of the reading
        A direction each: its worst corner is tried.

    Returns
    -------
    (m,) float, unit of the result
    """
    names, table = _terms(readings)
    signs = np.sign(slopes @ table)  # of each error term, in each direction
    corner = {name: -signs[:, i] for i, name in enumerate(names)}
    results = model(_Units(lambda error: error.bound * corner[error.name]))
    return results.min(axis=1)
