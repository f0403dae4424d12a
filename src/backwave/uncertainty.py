"""Readings and how sure they are: error terms, draws, first order, Monte Carlo, worst case.

A reading is a value with independent error terms.  An error term has a name; two readings that carry the
same term (one gauge, one datum) share its error: it is drawn once (JCGM 100:2008, 5.2.4).  Values are floats
in whatever unit the caller uses; nothing here knows of units.  Ground floor.

Every error term is drawn once, whoever carries it; a model is evaluated at all draws (JCGM 101:2008), and what the
results come to is told.  First order takes sensitivities, combined uncertainty and the share of each reading in it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import blake2b
from math import hypot, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.budget import checkpoint
from backwave.errors import InputError

Kind = Literal["rectangular", "normal", "disc"]


@dataclass(frozen=True, slots=True)
class Error:
    """One independent source of error. A `disc` is one coordinate of a point that lies anywhere in a circle with equal
    chance: a bolt in its hole."""

    name: str  # the same name in two readings means the same error, drawn once
    kind: Kind  # shape of the distribution (JCGM 101:2008, 6.4)
    size: float  # half-width, standard uncertainty of a normal one, radius of a disc; unit of the reading

    @property
    def u(self) -> float:
        """Standard uncertainty: a/sqrt(3) for a half-width a (JCGM 100:2008, 4.3.7), a/2 for a disc's radius a."""
        return self.size * _U[self.kind]

    @property
    def bound(self) -> float:
        """What a worst case takes: the half-width, 2 u where there is none, a disc's edge in both coordinates."""
        return self.size * _BOUND[self.kind]


_U: dict[Kind, float] = {"rectangular": 1.0 / sqrt(3.0), "normal": 1.0, "disc": 0.5}
_BOUND: dict[Kind, float] = {"rectangular": 1.0, "normal": 2.0, "disc": 1.0 / sqrt(2.0)}


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured or stated number."""

    name: str  # the job key it came from ("front-door.behind[0].clear"): what a person would read again
    value: float  # best estimate, unit of the caller
    errors: tuple[Error, ...] = ()  # independent terms that add up; empty for an exact number
    taken: int = 1  # how many independent times it was read (2 or more satisfies "read twice")
    assumed: bool = False  # a default nobody measured
    plausible: tuple[float, float] | None = None  # what it may be where it is assumed, unit of the caller

    @property
    def u(self) -> float:
        """Combined standard uncertainty of the reading (root sum of squares)."""
        return hypot(*(e.u for e in self.errors))

    @property
    def bound(self) -> float:
        """Worst-case half-width: the terms' bounds added."""
        return sum(e.bound for e in self.errors)


def exact(name: str, value: float) -> Reading:
    """A number with no error, such as a dimension we choose. `value`, unit of the caller."""
    return Reading(name, value)


# Student's t at 97.5 % by degrees of freedom 1..15 (JCGM 100:2008, Table G.2), for `mean_reading`.
_T95 = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131)
_Z95 = 1.959964


def mean(values: Sequence[float]) -> float:
    """The best estimate of several readings of one thing. `values`, unit of the caller: one or more."""
    return sum(values) / len(values)


def mean_reading(name: str, values: Sequence[float], instrument: Error | None) -> Reading:
    """Several readings of one thing: their mean, with s/sqrt(n) widened to Student's 95 %. The scatter is drawn as
    normal, widened so that its normal 95 % equals Student's (t with 2 degrees of freedom has no variance); the
    instrument's error comes once on top. `values`, unit of the caller: two or more readings; `instrument`, unit of the
    caller; ValueError: fewer than two values."""
    n = len(values)
    if n < 2:
        raise ValueError("a list of readings needs two or more")
    middle = mean(values)
    s = hypot(*(v - middle for v in values)) / sqrt(n - 1)
    t = _T95[n - 2] if n - 2 < len(_T95) else _Z95 * (1 + 1.2 / (n - 1))
    scatter = Error(name, "normal", s / sqrt(n) * t / _Z95)
    errors = (scatter,) if instrument is None else (scatter, instrument)
    return Reading(name, middle, errors, taken=n)


_STEP = 1e-6  # of the reading's own unit: far above rounding, far below any kink a person could measure


def draw_error(error: Error, n: int, seed: int = 0) -> NDArray[np.float64]:
    """(n,) draws of one error term; the same name and seed always give the same, so a slider does not jitter.
    Stratified: one draw in each of n equal parts of the distribution, in random order (Latin hypercube; McKay, Beckman,
    Conover 1979, Technometrics 21:239-245), so that no term's mean is off by the luck of its name."""
    make = _unit_draws if n <= _BLOCK else _unit_draws.__wrapped__  # only blocks are worth keeping
    return error.size * make(error.name, error.kind, n, seed)


@lru_cache(maxsize=512)  # 64 MB of blocks: an edited value is judged again with the draws already made
def _unit_draws(name: str, kind: Kind, n: int, seed: int) -> NDArray[np.float64]:
    key = int.from_bytes(blake2b(f"{seed}:{name}".encode(), digest_size=16).digest(), "little")
    rng = np.random.Generator(np.random.SFC64(key))
    draws = rng.random(n)
    ends = draws[[0, -1]] + np.array([0.0, n - 1.0])
    start, width = _parts(kind, n)
    draws *= width
    draws += start
    if kind == "normal":  # its first and its last part have no end
        draws[[0, -1]] = normal_quantile(ends / n)
    draws = draws.take(_order(rng, n))
    draws.flags.writeable = False
    return draws


@lru_cache(maxsize=24)
def _parts(kind: Kind, n: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where each of n equal parts of a distribution starts, and how wide it is; even within a part."""
    share = np.linspace(0.0, 1.0, n + 1)
    if kind == "rectangular":
        edges = 2.0 * share - 1.0
    elif kind == "disc":
        edges = np.interp(share, *_DISC)
    else:
        edges = np.concatenate([[0.0], normal_quantile(share[1:-1]), [0.0]])
    return edges[:-1], np.diff(edges)


def _order(rng: np.random.Generator, n: int) -> NDArray[np.intp]:
    """A random order of 0..n-1: for a block, one of a few shuffled once, turned by a random step, in the order of
    another, which is ten times cheaper than to shuffle for every term."""
    if n > _BLOCK:
        return rng.permutation(n)
    orders = _orders(n)
    first, second, step = rng.integers(len(orders)), rng.integers(len(orders)), rng.integers(n)
    return orders[first, step : step + n].take(orders[second, :n])


@lru_cache(maxsize=8)
def _orders(n: int) -> NDArray[np.intp]:
    rng = np.random.default_rng(n)
    return np.array([np.tile(rng.permutation(n), 2) for _ in range(16)])


# Wichura 1988, algorithm AS 241 (PPND16), Applied Statistics 37:477-484: coefficients from the highest power down.
_MIDDLE = (
    (2509.0809287301226727, 33430.575583588128105, 67265.770927008700853, 45921.953931549871457,
     13731.693765509461125, 1971.5909503065514427, 133.14166789178437745, 3.387132872796366608),
    (5226.495278852854561, 28729.085735721942674, 39307.89580009271061, 21213.794301586595867,
     5394.1960214247511077, 687.1870074920579083, 42.313330701600911252, 1.0),
)  # fmt: skip
_TAIL = (
    (7.7454501427834140764e-4, 0.0227238449892691845833, 0.24178072517745061177, 1.27045825245236838258,
     3.64784832476320460504, 5.7694972214606914055, 4.6303378461565452959, 1.42343711074968357734),
    (1.05075007164441684324e-9, 5.475938084995344946e-4, 0.0151986665636164571966, 0.14810397642748007459,
     0.68976733498510000455, 1.6763848301838038494, 2.05319162663775882187, 1.0),
)  # fmt: skip
_FAR = (
    (2.01033439929228813265e-7, 2.71155556874348757815e-5, 0.0012426609473880784386, 0.026532189526576123093,
     0.29656057182850489123, 1.7848265399172913358, 5.4637849111641143699, 6.6579046435011037772),
    (2.04426310338993978564e-15, 1.4215117583164458887e-7, 1.8463183175100546818e-5, 7.868691311456132591e-4,
     0.0148753612908506148525, 0.13692988092273580531, 0.59983220655588793769, 1.0),
)  # fmt: skip


def normal_quantile(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard normal deviates by their cumulative shares, to 16 figures (Wichura's AS 241). `share`, 1: strictly
    between 0 and 1."""
    q = share - 0.5
    r = 0.180625 - q * q
    z: NDArray[np.float64] = q * np.polyval(_MIDDLE[0], r) / np.polyval(_MIDDLE[1], r)
    outer = np.flatnonzero(r < 0.0)
    p = np.maximum(share[outer], 1e-300)
    root = np.sqrt(-np.log(np.minimum(p, 1.0 - p)))
    near = np.polyval(_TAIL[0], root - 1.6) / np.polyval(_TAIL[1], root - 1.6)
    far = np.polyval(_FAR[0], root - 5.0) / np.polyval(_FAR[1], root - 5.0)
    z[outer] = np.copysign(np.where(root <= 5.0, near, far), q[outer])
    return z


_TURN = np.linspace(-np.pi / 2.0, np.pi / 2.0, 4097)
_DISC = (0.5 + (_TURN + np.sin(_TURN) * np.cos(_TURN)) / np.pi, np.sin(_TURN))  # area of a disc left of x, and x


@dataclass(frozen=True, slots=True)
class Estimate:
    """An uncertain result, in the unit of the caller."""

    value: float  # the model at the best estimates of its readings, unit of the caller
    u: float  # standard uncertainty: the standard deviation of the draws, unit of the caller
    low: float  # 2.5 % point of the draws (JCGM 101:2008, 7.7, probabilistically symmetric), unit of the caller
    high: float  # 97.5 % point, unit of the caller


# what a model is handed instead of numbers: a reading becomes the values to work with (draws, corners, steps)
Evaluator = Callable[[Reading], NDArray[np.float64]]


class ErrorSampler:
    """A look whose error terms are multiples of given arrays; a reading without error stays one number. `multiple`,
    unit of the caller."""

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
    """The look that gives every reading its best estimate."""
    return np.asarray(reading.value, dtype=np.float64)


def drawn(n: int, seed: int = 0) -> Evaluator:
    """A look that gives every reading n draws, each error term drawn once whoever carries it. Another `seed` gives an
    independent set."""
    return ErrorSampler(lambda error: draw_error(error, n, seed))


_BLOCK = 16_000  # 128 kB an array: stays in the processor's cache
_SMALL = 12_500  # while watching the ends: four of them before the first decision
_START = 4 * _SMALL


def monte_carlo(
    model: Callable[[Evaluator], NDArray[np.float64]], n: int = 100_000, tolerance: float | None = None, seed: int = 0
) -> NDArray[np.float64]:
    """Draws of a model's results (JCGM 101:2008, 5.9), in blocks. With a tolerance it stops early, from 50 000 draws
    on, once twice the standard deviation of the mean of the blocks' 2.5 and 97.5 % points is within the tolerance (JCGM
    101:2008, 7.9.4). `model`, unit of the caller: returns (m, n_draws) float: m results at every draw; `n`: how many
    draws; the most, where a tolerance is given; `tolerance`, unit of the results: how far the ends of the intervals may
    be out; returns (m, n_draws)."""
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


def quantile(draws: NDArray[np.float64], point: float) -> NDArray[np.float64]:
    """A point of each row's distribution, by linear interpolation between order statistics. `draws`, (m, n_draws) unit
    of the caller; `point`, 1; returns (m,) unit of the caller."""
    last = draws.shape[1] - 1
    below = int(point * last)
    parted = np.partition(draws, below, axis=1)  # one point at a time is several times faster than several at once
    lower: NDArray[np.float64] = parted[:, below]
    upper = parted[:, below + 1 :].min(axis=1) if below < last else lower
    return lower + (point * last - below) * (upper - lower)


def _ends(draws: NDArray[np.float64]) -> NDArray[np.float64]:
    """The 2.5 and 97.5 % points of each row: (2, m)."""
    return np.array([quantile(draws, 0.025), quantile(draws, 0.975)])


def estimates(values: Sequence[float], draws: NDArray[np.float64]) -> tuple[Estimate, ...]:
    """Results as value, standard uncertainty and 95 % interval. `values`, unit of the caller: (m,) the model at the
    best estimates; `draws`, (m, n_draws) unit of the caller."""
    low, high = _ends(draws)
    u = draws.std(axis=1)
    return tuple(Estimate(float(v), float(s), float(a), float(b)) for v, s, a, b in zip(values, u, low, high))


def sensitivities(
    model: Callable[[Evaluator], NDArray[np.float64]], readings: Sequence[Reading], step: float = _STEP,
    kinks: bool = False,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:  # fmt: skip
    """The model at the best estimates and its sensitivity coefficients (JCGM 100:2008, 5.1.3), numerically. `model`,
    unit of the caller: returns (m, n) float: m results for n looks at once; `readings`, unit of the caller: those to
    step, one at a time, both ways; `step`, unit of the readings: how far to step; a result that is NaN at one of the
    two steps takes the slope of the other; `kinks`: where the two slopes point apart (play, at no play), the steeper
    counts, not their mean; returns (m,) unit of the result per unit of the reading."""
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
    if kinks:
        slopes = np.where(up * down < 0.0, np.where(np.abs(up) > np.abs(down), up, down), slopes)
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


def first_order(readings: Sequence[Reading], slopes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Combined standard uncertainty by first order, shared errors counted as shared (JCGM 100:2008, 5.2.2). `readings`,
    unit of the caller; `slopes`, (n_readings,) or a row a result, unit of the result per unit of the reading, in their
    order."""
    _, table = _terms(readings)
    return np.asarray(np.linalg.norm(slopes @ table, axis=-1))


def contributions(readings: Sequence[Reading], slopes: NDArray[np.float64]) -> tuple[tuple[str, float], ...]:
    """Each reading's share of the first-order variance, largest first; the shares add up to 1. A shared error is given
    to its readings by covariance, cov(part, whole) / var(whole): where two of them cancel, one share is negative.
    Readings without influence are left out; empty where nothing is uncertain. `readings`, unit of the caller; `slopes`,
    (n_readings,) unit of the result per unit of the reading, in their order."""
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
    """The least each result can be with every error term at one of its bounds. For a result that is the least of
    several (a clearance), give the slopes of each of those: the corner that is worst for one of them is tried on all.
    `model`, unit of the caller; `readings`, unit of the caller: what goes in; an error's bound is its half-width, or 2
    u where there is none; `slopes`, (n_corners, n_readings) unit of the result per unit of the reading: A direction
    each: its worst corner is tried; returns (m,) unit of the result."""
    names, table = _terms(readings)
    signs = np.where(
        slopes @ table < 0.0, -1.0, 1.0
    )  # of each error term, in each direction; one without slope goes too
    corner = {name: -signs[:, i] for i, name in enumerate(names)}
    results = model(ErrorSampler(lambda error: error.bound * corner[error.name]))
    return results.min(axis=1)
