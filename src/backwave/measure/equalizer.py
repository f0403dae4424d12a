"""A few bounded filters that bring a response toward a target: cuts preferred, nothing narrow where it cannot hold.

The fit is greedy and deterministic: the filter that helps most from a fixed list, then all of them moved together by
bounded least squares, as many times as there are filters.  What comes out is rounded to what processors can be set to
and judged after that.  A target is a matter of preference and is said to be.

Peaks and shelves are those of the Audio EQ Cookbook (`acoustics`).  Levels in dB; the whole may move up or down, since a
reading has no level of its own.  Numpy, and `scipy.optimize` inside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import log_frequencies, smoothed
from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Message
from backwave.notation.crossover import Filter

Real = NDArray[np.float64]

SLACK_DB = 3.0  # deeper than the boost by this much and a dip counts as a null
NULL_CUT_DB = 1.0  # a null's neighborhood is left out until it is this near to what boost can do
SHELF_Q = sqrt(0.5)
BOOST_Q = 2.5  # a boost that is narrower fills a dip of one place (common trade practice)
CUT_EFFORT, BOOST_EFFORT = 0.3, 0.5  # what a decibel of one filter counts against one at one point of the grid
DOWN_EFFORT = 0.08  # the same of a decibel by which all filters together turn the whole band down: that is the volume's
EARNED = 0.02  # least that a filter has to save of the mean square, dB2: each one has to be typed in by somebody
MIN_GAIN_DB = 0.5  # a filter that does less is left out
GRID = 12  # points in an octave of the fit


@dataclass(frozen=True)
class FilterLimits:
    """What the equalizer may do; all defaults are common trade practice and can be changed."""

    low_hz: float = 40.0  # band that is brought to the target; above it the place of the head decides
    high_hz: float = 8000.0
    boost_db: float = 3.0  # most gain above 0 of all filters together, at any frequency
    cut_db: float = 12.0  # most cut of one filter
    least_q: float = 0.5  # 1
    most_q: float = 6.0  # 1
    narrow_to_hz: float = 300.0  # up to here a peak may have `most_q`; above it less, in proportion, down to 1.5
    spread_db: float = 4.0  # where places round the head differ by more, a peak has a Q of 1.5 at most

    def __post_init__(self) -> None:
        if not (0 < self.low_hz < self.high_hz and self.boost_db >= 0 and self.cut_db > 0):
            raise InputError("limits of the equalizer", self, "a band that rises, boost 0 or more, cut above 0")
        if not (0 < self.least_q < self.most_q and self.narrow_to_hz > 0):
            raise InputError("limits of the equalizer", self, "qualities that rise, above 0")


@dataclass(frozen=True)
class Null:
    """A dip that boost cannot fill: sound that cancels at this place."""

    low_hz: float  # where it is left out of the fit
    high_hz: float
    f_hz: float  # where it is deepest
    depth_db: float  # below the target there


@dataclass(frozen=True)
class Equalizer:
    """What to set, and what it will do."""

    filters: tuple[Filter, ...]  # in order of frequency
    level_db: float  # level of the target that they bring the response to, on the reading's own scale
    # root mean square from the target, thirds of an octave, nulls left out, without and with them
    before_db: float
    after_db: float
    nulls: tuple[Null, ...]  # what was left out

    def gain_db(self, f_hz: ArrayLike) -> Real:
        """What the filters do together. Returns (n_freq,) dB."""
        f = np.asarray(f_hz, dtype=float)
        return np.asarray(sum((20 * np.log10(np.abs(x.response(f))) for x in self.filters), np.zeros(f.size)))


def fit_equalizer(
    f_hz: ArrayLike, level_db: ArrayLike, target_db: ArrayLike, count: int = 8, limits: FilterLimits | None = None,
    spread_db: ArrayLike | None = None, most_gain_db: ArrayLike | None = None,
) -> Equalizer:  # fmt: skip
    """Filters that bring a response toward a target. `f_hz`, `level_db` (n_freq,): the response at the seat, best the
    mean of several places; `spread_db` (n_freq,): how much places round the head differ (`smoothing.spatial_mean`);
    `most_gain_db` (n_freq,): gain that excursion and headroom leave at each frequency, 0 or more; None is the limits'
    boost everywhere; returns with no filters where none would help."""
    if not 0 <= count <= 20:
        raise InputError("filters", count, "0 to 20")
    problem = _Problem(f_hz, level_db, target_db, limits or FilterLimits(), spread_db, most_gain_db)
    rows = np.zeros((0, 4))  # kind, log f, gain, log Q
    for _ in range(count):
        added = problem.best_next(rows)
        if added is None:
            break
        rows = problem.refined(np.vstack([rows, added]))
    return problem.finished(rows)


def fit_bands(
    f_hz: ArrayLike, level_db: ArrayLike, target_db: ArrayLike, centers_hz: Sequence[float], q: float = 1.4,
    step_db: float = 1.0, limits: FilterLimits | None = None, most_gain_db: ArrayLike | None = None,
) -> Equalizer:  # fmt: skip
    """The best setting of an equalizer whose bands are fixed, as head units have. `q`, 1: their quality; 1.4 is an
    octave each."""
    problem = _Problem(f_hz, level_db, target_db, limits or FilterLimits(), None, most_gain_db)
    if not centers_hz or min(centers_hz) <= 0 or not q > 0 or not step_db > 0:
        raise InputError("bands", tuple(centers_hz), "frequencies above 0 Hz, a quality and a step above 0")
    rows = np.array([[0, log(c), 0.0, log(q)] for c in centers_hz])
    return problem.finished(problem.refined(rows, gains_alone=True), step_db)


def check_nulls(equalizer: Equalizer, low_hz: float = 40.0) -> tuple[Check, ...]:
    """What the equalizer leaves alone, and why."""
    return tuple(
        Check(
            "measure.null", "caution",
            Message("at {f} {depth} is missing, more than boost can give", (
                ("f", n.f_hz, "Hz"), ("depth", n.depth_db, "dB"))),
            value=n.depth_db, unit="dB", sources=(PRACTICE,), part=f"{n.f_hz:.0f}-hz",
            remedy=Message("below this loudspeaker's reach: let a lower one play there, or begin the band higher")
            if n.low_hz <= low_hz * 1.03 else
            Message("sound cancels there: try delay, polarity or crossover first, not boost"),
        )
        for n in equalizer.nulls
    )  # fmt: skip


class _Problem:
    """The curve to be filled on a grid of log frequency, and the bounds of every filter."""

    def __init__(
        self, f_hz: ArrayLike, level_db: ArrayLike, target_db: ArrayLike, limits: FilterLimits,
        spread_db: ArrayLike | None, most_gain_db: ArrayLike | None,
    ) -> None:  # fmt: skip
        f = np.asarray(f_hz, dtype=float)
        self.limits = limits
        low, high = max(limits.low_hz, float(f[0])), min(limits.high_hz, float(f[-1]))
        if high < 2 * low:
            raise InputError("band of the equalizer", f"{low:.4g} to {high:.4g} Hz", "an octave or more of the reading")
        self.f = log_frequencies(low, high, GRID)
        x = np.log(self.f)

        def on_grid(y: ArrayLike) -> Real:
            return np.asarray(np.interp(x, np.log(f), np.asarray(y, dtype=float)))

        self.level, self.third = on_grid(smoothed(f, level_db, 6)), on_grid(smoothed(f, level_db, 3))
        self.target = on_grid(target_db)
        self.spread = np.zeros(x.size) if spread_db is None else on_grid(spread_db)
        self.room = np.full(x.size, limits.boost_db)
        if most_gain_db is not None:
            self.room = np.minimum(self.room, on_grid(most_gain_db))
            if (self.room < 0).any():
                raise InputError("gain that is left", float(self.room.min()), "0 dB or more")
        off = self.third - self.target
        self.shift = float(np.median(off)) - 1.0  # cuts preferred: a little under the middle
        self.weight = np.ones(x.size)
        self.nulls = self._nulls(self.shift + self.target - self.third)
        for n in self.nulls:
            self.weight[(self.f >= n.low_hz) & (self.f <= n.high_hz)] = 0
        if self.weight.sum() < GRID:
            raise InputError("the reading", "nearly all of it is nulls", "a reading with more of its band heard")
        kept = self.weight > 0
        self.shift = float(np.mean(off[kept]))
        self.want = self.target + self.shift - self.level  # gain that would be right, but for one number

    def even(self, y: Real) -> Real:
        """Curves without their mean over what is fitted: a reading has no level of its own."""
        return np.asarray(y - ((y * self.weight).sum(axis=-1) / self.weight.sum())[..., None])

    def most_q(self, log_f: Real) -> Real:
        """Greatest Q of a peak at a frequency, as a logarithm."""
        limits = self.limits
        narrow = np.clip(limits.most_q * limits.narrow_to_hz / np.exp(log_f), 1.5, limits.most_q)
        wild = np.interp(log_f, np.log(self.f), self.spread) > limits.spread_db
        return np.log(np.maximum(np.where(wild, np.minimum(narrow, 1.5), narrow), limits.least_q * 1.01))

    def best_next(self, rows: Real) -> Real | None:
        """The filter of a fixed list that leaves least, or None where none helps."""
        left = self.even(self.want - _gain(rows, np.log(self.f)))
        centers = np.log(self.f[:: GRID // 6])
        peaks = [(0.0, c, q) for c in centers.tolist() for q in np.log([0.7, 1.2, 2.0, 3.5, 6.0]).tolist()
                 if q <= float(self.most_q(np.array([c]))[0])]  # fmt: skip
        shelves = [(k, c, log(SHELF_Q)) for k in (1.0, 2.0) if not (rows[:, 0] == k).any() for c in centers.tolist()]
        list_ = np.array([*peaks, *shelves])
        each = [_gain(np.array([[k, c, 4.0, q]]), np.log(self.f)) for k, c, q in list_.tolist()]
        unit = self.even(np.stack(each) / 4.0)
        dot, square = (unit * self.weight) @ left, (unit**2) @ self.weight
        gain = np.clip(dot / np.maximum(square, 1e-9), -self.limits.cut_db, self.limits.boost_db)
        # a boost has to earn more than a cut
        saved = (2 * gain * dot - gain**2 * square) * np.where(gain > 0, 0.6, 1.0)
        saved[(gain > 0) & (list_[:, 2] > log(BOOST_Q))] = 0.0
        k = int(np.argmax(saved))
        if saved[k] < EARNED * self.weight.sum():
            return None
        return np.array([list_[k, 0], list_[k, 1], gain[k], list_[k, 2]])

    def refined(self, rows: Real, gains_alone: bool = False) -> Real:
        """All filters moved together within their bounds."""
        from scipy.optimize import least_squares

        x, limits = np.log(self.f), self.limits
        free = [2] if gains_alone else [1, 2, 3]
        low = np.tile([0, x[0], -limits.cut_db, log(limits.least_q)], (len(rows), 1))
        high = np.tile([2, x[-1], limits.boost_db + 1e-6, log(limits.most_q)], (len(rows), 1))
        high[:, 3] = np.minimum(high[:, 3], self.most_q(rows[:, 1]))
        shelf = rows[:, 0] > 0
        low[shelf, 3], high[shelf, 3] = log(0.5), log(SHELF_Q)  # steeper ones overshoot: a cut would boost
        if not gains_alone:  # a boost stays one, and broad
            boost = (rows[:, 2] > 0) & ~shelf
            low[boost, 2] = 0.0
            high[boost, 3] = np.minimum(high[boost, 3], log(BOOST_Q))
        root = np.sqrt(self.weight)

        def left(v: Real) -> Real:
            now = rows.copy()
            now[:, free] = v.reshape(len(rows), -1)
            gain = _gain(now, x)
            over = np.maximum(gain - self.room, 0)
            effort = now[:, 2] * np.where(now[:, 2] > 0, BOOST_EFFORT, CUT_EFFORT)
            down = DOWN_EFFORT * sqrt(self.weight.sum()) * float(self.weight @ gain) / self.weight.sum()
            return np.concatenate([root * self.even(self.want - gain), 3 * over, effort, [down]])

        start = np.clip(rows, low + 1e-6, high - 1e-6)[:, free].ravel()
        found = least_squares(left, start, bounds=(low[:, free].ravel(), high[:, free].ravel()), max_nfev=12)
        out = rows.copy()
        out[:, free] = found.x.reshape(len(rows), -1)
        above = np.log(np.exp(out[~shelf, 1]) + 0.05)  # where rounding may take it
        out[~shelf, 3] = np.minimum(out[~shelf, 3], self.most_q(above))
        return out

    def finished(self, rows: Real, step_db: float = 0.1) -> Equalizer:
        """Rounded to what can be set, within every limit, and never worse than nothing."""
        x = np.log(self.f)
        out = rows.copy()
        out[:, 2] = np.clip(np.round(rows[:, 2] / step_db) * step_db, -self.limits.cut_db, self.limits.boost_db)
        out[:, 1] = np.log(np.round(np.exp(rows[:, 1]), 1))
        # rounded down: no narrower than allowed
        out[:, 3] = np.log(np.maximum(np.floor(np.exp(rows[:, 3]) * 100 + 1e-6) / 100, 0.01))
        while (_gain(out, x) > self.room + 1e-9).any() and (out[:, 2] > 0).any():
            boost = out[:, 2] > 0
            out[boost, 2] = np.maximum(np.floor(out[boost, 2] * 0.9 / step_db + 1e-9) * step_db, 0.0)
        out = out[np.abs(out[:, 2]) >= (MIN_GAIN_DB if step_db < MIN_GAIN_DB else step_db / 2)]
        before, after = self._rms(0 * x), self._rms(_gain(out, x))
        if not after < before:
            out, after = out[:0], before
        kept = self.weight > 0
        level = float(np.mean((self.third + _gain(out, x) - self.target)[kept]))
        names = ("peak", "low-shelf", "high-shelf")
        filters = tuple(
            Filter(names[int(k)], round(float(np.exp(c)), 1), "", round(g, 2), round(float(np.exp(q)), 2))
            for k, c, g, q in sorted(out.tolist(), key=lambda r: r[1])
        )
        return Equalizer(filters, level, before, after, self.nulls)

    def _rms(self, gain: Real) -> float:
        """From the target, thirds of an octave, at the level where the two are nearest."""
        off = (self.third + gain - self.target)[self.weight > 0]
        return float(np.sqrt(np.mean((off - off.mean()) ** 2)))

    def _nulls(self, missing: Real) -> tuple[Null, ...]:
        """Stretches that miss more than boost and slack give, widened until boost nearly reaches."""
        found, k, n = [], 0, missing.size
        deep = missing > self.room + SLACK_DB
        while k < n:
            if not deep[k]:
                k += 1
                continue
            a, b = k, k
            while b + 1 < n and missing[b + 1] > self.room[b + 1] + NULL_CUT_DB:
                b += 1
            while a > 0 and missing[a - 1] > self.room[a - 1] + NULL_CUT_DB:
                a -= 1
            worst = a + int(np.argmax(missing[a : b + 1]))
            found.append(Null(float(self.f[a]), float(self.f[b]), float(self.f[worst]), float(missing[worst])))
            k = b + 1
        return tuple(found)


def _gain(rows: Real, x: Real) -> Real:
    """Sum in dB of peaks (0), low shelves (1) and high shelves (2): rows of kind, log f, gain, log Q."""
    if not len(rows):
        return np.zeros(x.size)
    kind, center, gain, q = (rows[:, k, None] for k in range(4))
    w2 = np.exp(2 * (x - center))
    a, q2 = 10 ** (gain / 40), np.exp(-2 * q)
    # squared magnitudes of the cookbook's sections at s = j w/w0
    peak = ((1 - w2) ** 2 + w2 * a**2 * q2) / ((1 - w2) ** 2 + w2 * q2 / a**2)
    w2 = np.where(kind == 2, 1 / w2, w2)
    middle = w2 * a * q2
    shelf = a**2 * ((a - w2) ** 2 + middle) / ((1 - a * w2) ** 2 + middle)
    return np.asarray(10 * np.log10(np.where(kind == 0, peak, shelf)).sum(axis=0))
