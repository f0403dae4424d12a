"""Two predictions against each other: the difference is known far better than either, and has its own band.

What is uncertain in both alike cancels: each uncertain element moves both at once.  What the model is out by
cancels as far as the same outlets carry the sound in both.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log10

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.sound.stage import COVERAGE, StageLevels

Real = NDArray[np.float64]
# dB that a difference of two predictions is out by at best, standard deviation (common trade practice)
REST_SD = 0.3


@dataclass(frozen=True, eq=False)
class Difference:
    """One prediction less another, by frequency."""

    f_hz: Real  # (n_freq,)
    delta: Real  # (n_seat, n_freq) dB, best estimate and its 2.5 and 97.5 % points
    low: Real  # (n_seat, n_freq) dB
    high: Real  # (n_seat, n_freq) dB


@dataclass(frozen=True)
class BandDifference:
    """One prediction less another at one seat, the mean over a band in log frequency."""

    low_hz: float
    high_hz: float
    delta: float  # dB, best estimate and its 2.5 and 97.5 % points
    low: float  # dB
    high: float  # dB

    @property
    def sure(self) -> bool:
        """Whether the band leaves no doubt of the sign."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True)
class Relief:
    """What a change does to the excursion of one driver, for the same drive."""

    before_mm: float  # greatest excursion over the band, peak, one way
    after_mm: float
    at_hz: float  # where it was greatest before
    db: float  # dB, how much less


def difference(before: StageLevels, after: StageLevels) -> Difference:
    """After less before, with its band. InputError: other frequencies, seats or outlets."""
    delta, sides, sd = _parts(before, after)
    down, up = _quadrature(sides, sd)
    return Difference(after.f_hz, delta, delta - COVERAGE * down, delta + COVERAGE * up)


def band_difference(
    before: StageLevels, after: StageLevels, low_hz: float, high_hz: float, seat: int = 0
) -> BandDifference:
    """Mean difference over a band at one seat; what is uncertain is taken as out by the same all over the band.

    InputError: other frequencies, seats or outlets, or no frequency in the band.
    """
    inside = (after.f_hz >= low_hz) & (after.f_hz <= high_hz)
    if not inside.any():
        raise InputError("band", f"{low_hz:g} to {high_hz:g} Hz", "one that holds frequencies of the prediction")
    delta, sides, sd = _parts(before, after)
    mean = float(delta[seat, inside].mean())
    down, up = _quadrature(
        {name: pair[:, seat, inside].mean(axis=-1)[:, None] for name, pair in sides.items()},
        np.array([sd[seat, inside].mean()]),
    )
    return BandDifference(low_hz, high_hz, mean, mean - COVERAGE * float(down[0]), mean + COVERAGE * float(up[0]))


def relief(f_hz: Real, before: Real, after: Real, low_hz: float = 20.0, high_hz: float = 300.0) -> Relief:
    """What a change does to a driver's excursion over a band.

    `before`, `after`, (n_freq,) m: excursion for the same drive.
    """
    inside = (f_hz >= low_hz) & (f_hz <= high_hz)
    one, other = before[inside], after[inside]
    most = int(np.argmax(one))
    return Relief(
        float(one[most] * 1e3),
        float(other.max() * 1e3),
        float(f_hz[inside][most]),
        20 * log10(max(float(one[most]), 1e-15) / max(float(other.max()), 1e-15)),
    )


def _parts(before: StageLevels, after: StageLevels) -> tuple[Real, dict[str, Real], Real]:
    if before.level.shape != after.level.shape or before.shares.shape != after.shares.shape:
        raise InputError("predictions to compare", before.level.shape, f"of one shape, {after.level.shape}")
    none = np.zeros((2, *after.level.shape))
    labels = dict.fromkeys((*before.moved, *after.moved))
    sides = {name: after.moved.get(name, none) - before.moved.get(name, none) for name in labels}
    apart = np.abs(after.shares - before.shares).sum(axis=-1) / 2  # 0 the same outlets alike, 1 others altogether
    sd = np.sqrt(2.0) * np.maximum(before.model_sd, after.model_sd) * apart
    return after.level - before.level, sides, np.hypot(sd, REST_SD)


def _quadrature(sides: dict[str, Real], sd: Real) -> tuple[Real, Real]:
    down, up = sd**2, sd**2
    for pair in sides.values():
        down = down + np.maximum(-pair.min(axis=0), 0) ** 2
        up = up + np.maximum(pair.max(axis=0), 0) ** 2
    return np.sqrt(down), np.sqrt(up)
