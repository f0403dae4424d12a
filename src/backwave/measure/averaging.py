"""What a response sounds like in few numbers, several readings of one thing as one, and what differs by more than chance.

Five bands by the words fitters use, extension, smoothness; the limits in hertz are common trade practice.  Readings of
one place (the microphone taken away and put back) tell how well a reading repeats; those of several places round the
head are averaged as power.  A few repeats say little of their own scatter, so that it is pooled with what is usual in
practice, which counts as `PRIOR_DOF` repeats (conjugate prior of a variance: Gelman and others, Bayesian Data Analysis,
3rd ed., 2.6; from memory).  A difference no larger than twice its standard uncertainty is called none.

Recordings have no common level unless each is calibrated; they are laid on each other at the anchor then.  Levels in
dB.  Numpy alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import BANDS, band_level, log_frequencies, smoothed, spatial_mean
from backwave.errors import InputError
from backwave.measure.analysis import Distortion, matched

Real = NDArray[np.float64]
ANCHOR_HZ = (300.0, 3000.0)  # where two readings without a calibration are laid on each other
# standard deviation of a band's level from one reading to the next where nobody repeated it (common trade
# practice: about a decibel with the microphone put back by hand)
REPEAT_DB = 1.0
DOWN_DB = 6.0  # extension is told at this much below the anchor
PRIOR_DOF = 3.0
REPEAT_SMOOTH_DB = 0.3
# standard deviations from one reading to the next of smoothness and of distortion, where nobody repeated it
# (common trade practice)
REPEAT_THD_DB = 2.0
# ranges of the drive over which distortion is told; above them its harmonics leave what a microphone hears
THD_HZ: dict[str, tuple[float, float]] = {
    "deep bass": (30.0, 60.0), "mid-bass": (60.0, 250.0), "vocal": (250.0, 1000.0),
}  # fmt: skip
MIN_POINTS = 3


@dataclass(frozen=True)
class Summary:
    """A response in few numbers."""

    # mean level of each band of `BANDS` that the curve reaches, against the level of the anchor
    levels_db: dict[str, float]
    # extension: how far down and up the curve stays within 6 dB of the anchor, smoothed to a third of an octave;
    # None where the curve ends before it falls
    low_hz: float | None
    high_hz: float | None
    # root mean square of what is left of the curve (a sixth of an octave) without its trend (two octaves), 80 Hz
    # to 8 kHz
    smooth_db: float
    anchor_db: float


@dataclass(frozen=True)
class LevelDifference:
    """One number after against before."""

    name: str
    change_db: float  # after less before
    u_db: float  # its standard uncertainty from the readings' repeatability

    @property
    def real(self) -> bool:
        """Whether it is more than twice its uncertainty."""
        return abs(self.change_db) > 2 * self.u_db


def summary(f_hz: ArrayLike, level_db: ArrayLike, anchor_hz: tuple[float, float] = ANCHOR_HZ) -> Summary:
    """Bands, extension and smoothness of a response."""
    f, level = np.asarray(f_hz, dtype=float), np.asarray(level_db, dtype=float)
    anchor = band_level(f, level, *anchor_hz)
    levels = {
        name: band_level(f, level, *limits) - anchor
        for name, limits in BANDS.items()
        if f[0] <= limits[0] * 1.2 and f[-1] >= limits[1] / 1.2
    }
    third = smoothed(f, level, 3) - anchor
    middle = sqrt(anchor_hz[0] * anchor_hz[1])
    below, above = third[f <= middle], third[f >= middle]
    low, high = np.flatnonzero(below < -DOWN_DB), np.flatnonzero(above < -DOWN_DB)
    grid = log_frequencies(max(80.0, f[0]), min(8000.0, f[-1]), 24)
    inside = np.interp(np.log(grid), np.log(f), smoothed(f, level, 6) - smoothed(f, level, 0.5))
    return Summary(
        levels,
        _crossing(f, third, int(low[-1])) if low.size else None,
        _crossing(f, third, int(high[0]) + int((f < middle).sum()) - 1) if high.size else None,
        float(np.sqrt(np.mean((inside - inside.mean()) ** 2))),
        anchor,
    )


def compare(
    before: Summary, after: Summary, u_before: dict[str, float] | float = REPEAT_DB,
    u_after: dict[str, float] | float = REPEAT_DB,
) -> tuple[LevelDifference, ...]:  # fmt: skip
    """Bands after against before, each with its uncertainty. `before`, `after`: of the two readings, each against its
    own anchor; `u_before`, `u_after`, dB: repeatability, by band or for all; divide by the root of how many readings
    were averaged."""

    def u(of: dict[str, float] | float, name: str) -> float:
        return of.get(name, REPEAT_DB) if isinstance(of, dict) else of

    return tuple(
        LevelDifference(name, after.levels_db[name] - level, sqrt(u(u_before, name) ** 2 + u(u_after, name) ** 2))
        for name, level in before.levels_db.items()
        if name in after.levels_db
    )


def _crossing(f: Real, level: Real, k: int) -> float:
    """Frequency between points k and k + 1 at which the curve passes the limit."""
    k = min(max(k, 0), f.size - 2)
    share = (-DOWN_DB - level[k]) / (level[k + 1] - level[k])
    return float(f[k] * (f[k + 1] / f[k]) ** min(max(share, 0.0), 1.0))


@dataclass(frozen=True, eq=False)
class One:
    """One reading that goes into a mean."""

    f_hz: Real  # (n_freq,), its curve
    level_db: Real  # (n_freq,)
    place: str = ""  # where round the head; readings of one place are repeats
    calibrated: bool = False  # whether its levels are sound pressure levels
    distortion: Distortion | None = None  # its harmonics
    sweep_db: float = 0.0  # level of what was played, against full scale


@dataclass(frozen=True, eq=False)
class Gathered:
    """The mean of several readings."""

    f_hz: Real  # (n_freq,), the mean as power over the places, and the standard deviation between them
    level_db: Real  # (n_freq,)
    spread_db: Real  # (n_freq,)
    summary: Summary  # in few numbers
    u_db: dict[str, float]  # standard uncertainty of each band of the mean
    u_low: float  # octave, of its extension
    u_high: float  # octave
    u_smooth_db: float  # of its smoothness
    takes: int  # how many readings, of how many places, and how many of them repeat another
    places: int
    repeats: int
    calibrated: bool  # whether levels are sound pressure levels


@dataclass(frozen=True)
class MatchedDistortion:
    """Distortion of two groups of readings over a range of the drive."""

    name: str  # of the range, in `THD_HZ`
    low_hz: float  # its limits
    high_hz: float
    before_db: float  # against the fundamental
    after_db: float
    u_db: float  # standard uncertainty of their difference
    # sound pressure level of the fundamental at which both are; None where the readings have no common level, and
    # each stands at the level it was taken at
    at_db: float | None

    @property
    def real(self) -> bool:
        """Whether they differ by more than readings do; never where the levels are not the same."""
        return self.at_db is not None and abs(self.after_db - self.before_db) > 2 * self.u_db


def pooled(groups: Sequence[Sequence[float]], prior: float, dof: float = PRIOR_DOF) -> float:
    """Standard deviation of one reading, from repeats and from what is usual. `groups`, unit of the reading: repeats of
    each place; a place with one counts for nothing; `prior`, unit of the reading; `dof`, 1: how many repeats that
    counts for."""
    squares, own = 0.0, 0
    for group in groups:
        values = np.asarray(group, dtype=float)
        if values.size > 1:
            squares += float(((values - values.mean()) ** 2).sum())
            own += values.size - 1
    return sqrt((dof * prior**2 + squares) / (dof + own))


def gather(readings: Sequence[One], anchor_hz: tuple[float, float] = ANCHOR_HZ) -> Gathered:
    """The mean of several readings, with how well it repeats. `anchor_hz` (float, float): where readings without a
    calibration are laid on each other."""
    if not readings:
        raise InputError("readings", 0, "one or more")
    low, high = max(float(r.f_hz[0]) for r in readings), min(float(r.f_hz[-1]) for r in readings)
    if high < 2 * low:
        raise InputError("readings of one seat", f"{low:.0f} to {high:.0f} Hz in common", "an octave or more")
    f = log_frequencies(low, high, 48)
    ends = _anchor(f, anchor_hz)
    calibrated = all(r.calibrated for r in readings)
    levels = [np.interp(np.log(f), np.log(r.f_hz), r.level_db) for r in readings]
    if not calibrated:
        first = band_level(f, levels[0], *ends)
        levels = [level + first - band_level(f, level, *ends) for level in levels]
    where: dict[str, list[int]] = {}
    for k, r in enumerate(readings):
        where.setdefault(r.place, []).append(k)
    by_place = [spatial_mean([levels[k] for k in ks])[0] for ks in where.values()]
    mean, spread = spatial_mean(by_place)
    rows = [summary(f, level, ends) for level in levels]
    groups = list(where.values())
    n = sqrt(len(readings))

    def u(values: Sequence[float | None], prior: float) -> float:
        kept = [[v for k in ks if (v := values[k]) is not None] for ks in groups]
        return pooled(kept, prior) / n

    whole = summary(f, mean, ends)
    u_db = {name: u([row.levels_db.get(name) for row in rows], REPEAT_DB) for name in whole.levels_db}
    slopes = _slopes(f, mean, whole)
    return Gathered(
        f, mean, spread, whole, u_db,
        u([None if row.low_hz is None else float(np.log2(row.low_hz)) for row in rows], REPEAT_DB / slopes[0]),
        u([None if row.high_hz is None else float(np.log2(row.high_hz)) for row in rows], REPEAT_DB / slopes[1]),
        u([row.smooth_db for row in rows], REPEAT_SMOOTH_DB),
        len(readings), len(where), len(readings) - len(where), calibrated,
    )  # fmt: skip


def match_distortion(before: Sequence[One], after: Sequence[One]) -> tuple[MatchedDistortion, ...]:
    """Distortion before and after, at one level where the readings have one."""
    found = []
    for name, (low, high) in THD_HZ.items():
        rows = [_levels(group, low, high) for group in (before, after)]
        if not all(rows):
            continue
        u = REPEAT_THD_DB * sqrt(sum(1 / sum(count for _, _, count in row) for row in rows))
        one, other = rows
        top = min(one[-1][0], other[-1][0])
        alike = top >= max(one[0][0], other[0][0]) - 0.5 and all(r.calibrated for r in (*before, *after))
        at = top if alike else None
        if at is None:
            values = [row[-1][1] for row in rows]
        else:
            values = [matched([r[0] for r in row], [r[1] for r in row], at) for row in rows]
        found.append(MatchedDistortion(name, low, high, values[0], values[1], u, at))
    return tuple(found)


def _levels(readings: Sequence[One], low: float, high: float) -> list[tuple[float, float, int]]:
    """Level of the fundamental, distortion and how many readings, by the level that was played, rising."""
    by_sweep: dict[float, list[tuple[float, float]]] = {}
    for r in readings:
        if r.distortion is None:
            continue
        inside = (r.distortion.f_hz >= low) & (r.distortion.f_hz <= high) & np.isfinite(r.distortion.thd_db)
        if inside.sum() < MIN_POINTS or r.f_hz[0] > low * 1.3 or r.f_hz[-1] < high:
            continue
        thd = float(10 * np.log10(np.mean(10 ** (r.distortion.thd_db[inside] / 10))))
        by_sweep.setdefault(round(r.sweep_db, 1), []).append((band_level(r.f_hz, r.level_db, low, high), thd))
    means = [(np.mean(values, axis=0), len(values)) for values in by_sweep.values()]
    return sorted((float(mean[0]), float(mean[1]), count) for mean, count in means)


def _anchor(f: Real, wanted: tuple[float, float]) -> tuple[float, float]:
    """The anchor as far as a reading reaches; all of a reading that does not."""
    low, high = max(wanted[0], float(f[0])), min(wanted[1], float(f[-1]))
    return (low, high) if high > 1.2 * low else (float(f[0]), float(f[-1]))


def _slopes(f: Real, level: Real, whole: Summary) -> tuple[float, float]:
    """How steeply the curve falls at either end of its extension, dB by octave, at least 3."""
    third = smoothed(f, level, 3)

    def slope(at: float | None) -> float:
        if at is None:
            return DOWN_DB
        a, b = np.interp(np.log([at / 2**0.25, at * 2**0.25]), np.log(f), third)
        return max(2 * abs(float(b - a)), 3.0)

    return slope(whole.low_hz), slope(whole.high_hz)
