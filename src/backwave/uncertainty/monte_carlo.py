"""Draws: every error term once, whoever carries it; a model at all of them; what the results come to (JCGM 101:2008)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import blake2b
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from backwave.budget import checkpoint
from backwave.errors import InputError
from backwave.uncertainty.reading import Error, Kind, Reading

__all__ = [
    "ErrorSampler",
    "Estimate",
    "Evaluator",
    "at_estimates",
    "draw_error",
    "draw_reading",
    "drawn",
    "estimates",
    "monte_carlo",
]


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


Evaluator = Callable[[Reading], NDArray[np.float64]]
"""What a model is handed instead of numbers: a reading becomes the values to work with (draws, corners, steps)."""


class ErrorSampler:
    """A look whose error terms are multiples of given arrays; a reading without error stays one number.

    Parameters
    ----------
    multiple : function of an Error, unit of the caller
        The values an error term takes, as an array.
    """

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


def drawn(n: int, seed: int = 0) -> Evaluator:
    """A look that gives every reading n draws, each error term drawn once whoever carries it.

    Parameters
    ----------
    n : int, no unit
        How many draws.
    seed : int, no unit
        Another number gives an independent set.
    """
    return ErrorSampler(lambda error: draw_error(error, n, seed))


_BLOCK = 16_000  # 128 kB an array: stays in the processor's cache
_SMALL = 12_500  # while watching the ends: four of them before the first decision
_START = 4 * _SMALL


def monte_carlo(
    model: Callable[[Evaluator], NDArray[np.float64]],
    n: int = 100_000,
    tolerance: float | None = None,
    seed: int = 0,
) -> NDArray[np.float64]:
    """Draws of a model's results (JCGM 101:2008, 5.9), in blocks.

    With a tolerance it stops early, from 50 000 draws on, once twice the standard deviation of the mean of the
    blocks' 2.5 and 97.5 % points is within the tolerance (JCGM 101:2008, 7.9.4).

    Parameters
    ----------
    model : function of a Evaluator, unit of the caller
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
        checkpoint()
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
