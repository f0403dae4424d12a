"""What a response sounds like in few numbers, and whether two readings differ by more than readings do.

Five bands by the words fitters use, extension, smoothness.  The limits in hertz are common trade practice.  A
difference no larger than twice its standard uncertainty is called none.  Numpy alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics.listening_bands import BANDS
from backwave.errors import InputError
from backwave.measure.smoothing import band_level, log_frequencies, smoothed

Real = NDArray[np.float64]

ANCHOR_HZ = (300.0, 3000.0)  # where two readings without a calibration are laid on each other
# standard deviation of a band's level from one reading to the next where nobody repeated it (common trade
# practice: about a decibel with the microphone put back by hand)
REPEAT_DB = 1.0
DOWN_DB = 6.0  # extension is told at this much below the anchor


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
        """Whether it is more than twice its uncertainty, no unit."""
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


def repeatability(f_hz: ArrayLike, levels_db: Sequence[ArrayLike]) -> dict[str, float]:
    """Standard deviation of each band's level between readings that ought to be the same.

    `levels_db`: two readings or more, the microphone taken away and put back; returns dB: by band; `REPEAT_DB` is
    what to use where nobody repeated anything.
    """
    if len(levels_db) < 2:
        raise InputError("repeated readings", len(levels_db), "two or more")
    rows = [summary(f_hz, level).levels_db for level in levels_db]
    return {name: float(np.std([row[name] for row in rows], ddof=1)) for name in rows[0]}


def compare(
    before: Summary, after: Summary, u_before: dict[str, float] | float = REPEAT_DB,
    u_after: dict[str, float] | float = REPEAT_DB,
) -> tuple[LevelDifference, ...]:  # fmt: skip
    """Bands after against before, each with its uncertainty.

    `before`, `after`: of the two readings, each against its own anchor; `u_before`, `u_after`, dB: repeatability,
    by band or for all; divide by the root of how many readings were averaged.
    """

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
