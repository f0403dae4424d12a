"""Curves over frequency: bands, smoothing, the mean of several places, a microphone's correction.

Band centers and edges are those of IEC 61260-1:2014 (base ten).
Levels are averaged as power, over the logarithm of frequency.  Numpy alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError

Real = NDArray[np.float64]

G = 10**0.3  # octave ratio, IEC 61260-1:2014 equation 1


def log_frequencies(low_hz: float = 20.0, high_hz: float = 20000.0, per_octave: int = 24) -> Real:
    """Frequencies at even steps of log frequency, 1 kHz among them."""
    k = np.arange(np.ceil(np.log2(low_hz / 1000) * per_octave), np.floor(np.log2(high_hz / 1000) * per_octave) + 1)
    return np.asarray(1000.0 * 2 ** (k / per_octave))


def band_centers(fraction: int, low_hz: float = 20.0, high_hz: float = 20000.0) -> Real:
    """Exact centers of octave (1) or fractional-octave bands, equations 2 and 3 of IEC 61260-1:2014."""
    if fraction < 1:
        raise InputError("bands in an octave", fraction, "1 or more")
    x = np.arange(-8 * fraction, 8 * fraction)
    f = 1000 * G ** (x / fraction if fraction % 2 else (2 * x + 1) / (2 * fraction))
    half = G ** (1 / (2 * fraction))
    return np.asarray(f[(f * half > low_hz) & (f / half < high_hz)])


def smoothed(f_hz: ArrayLike, level_db: ArrayLike, fraction: float) -> Real:
    """A curve smoothed as power over a band round each frequency.
    `fraction`, 1: 1/3 of an octave is 3; returns (n_freq,) dB: at the ends over what there is of the band.
    """
    if not fraction > 0:
        raise InputError("smoothing", fraction, "bands in an octave, above 0")
    f = np.asarray(f_hz, dtype=float)
    half = 2 ** (1 / (2 * fraction))
    return band_levels(f, level_db, f / half, f * half)


def band_level(f_hz: ArrayLike, level_db: ArrayLike, low_hz: float, high_hz: float) -> float:
    """Mean level of a band, as power over log frequency. Returns dB."""
    return float(band_levels(f_hz, level_db, np.array([low_hz]), np.array([high_hz]))[0])


def band_levels(f_hz: ArrayLike, level_db: ArrayLike, low_hz: ArrayLike, high_hz: ArrayLike) -> Real:
    """Mean levels of many bands, as `band_level`. Returns (n,) dB."""
    f, level = np.asarray(f_hz, dtype=float), np.asarray(level_db, dtype=float)
    if f.ndim != 1 or f.shape != level.shape or f.size < 2 or not (np.diff(f) > 0).all() or f[0] <= 0:
        raise InputError("curve", f"{f.shape} and {level.shape}", "frequencies that rise, and a level for each")
    x, power = np.log(f), 10 ** (level / 10)
    low = np.clip(np.log(np.asarray(low_hz, dtype=float)), x[0], x[-1])
    high = np.clip(np.log(np.asarray(high_hz, dtype=float)), x[0], x[-1])
    if not (high > low).all():
        k = int(np.argmin(high - low))
        band = f"{np.exp(low[k]):.4g} to {np.exp(high[k]):.4g} Hz"
        raise InputError("band", band, f"part of {f[0]:.4g} to {f[-1]:.4g} Hz")
    total = np.concatenate([[0.0], np.cumsum(np.diff(x) * (power[1:] + power[:-1]) / 2)])

    def up_to(at: Real) -> Real:
        k = np.clip(np.searchsorted(x, at, side="right") - 1, 0, x.size - 2)
        here = power[k] + (at - x[k]) / (x[k + 1] - x[k]) * (power[k + 1] - power[k])
        return np.asarray(total[k] + (at - x[k]) * (power[k] + here) / 2)

    return np.asarray(10 * np.log10(np.maximum((up_to(high) - up_to(low)) / (high - low), 1e-30)))


def spatial_mean(levels_db: ArrayLike) -> tuple[Real, Real]:
    """Mean of several places as power, and how much they differ.
    Returns (n_freq,) dB: the spread is the standard deviation between places, 0 for one.
    """
    levels = np.atleast_2d(np.asarray(levels_db, dtype=float))
    mean = 10 * np.log10((10 ** (levels / 10)).mean(axis=0))
    return mean, levels.std(axis=0, ddof=1) if len(levels) > 1 else np.zeros(levels.shape[1])


def corrected(f_hz: ArrayLike, level_db: ArrayLike, mic_hz: ArrayLike, mic_db: ArrayLike) -> tuple[Real, Real]:
    """A curve less the microphone's own response.
    `mic_hz`, `mic_db` (n,): the microphone's response: what it reads too much; returns (n_freq,) dB: corrected; beyond
    the ends of the correction its end value holds.
    """
    f, mic = np.asarray(f_hz, dtype=float), np.asarray(mic_hz, dtype=float)
    if mic.size < 2 or not (np.diff(mic) > 0).all() or mic[0] <= 0:
        raise InputError("microphone correction", f"{mic.size} rows", "two or more, frequencies rising")
    off = np.interp(np.log(f), np.log(mic), np.asarray(mic_db, dtype=float))
    return np.asarray(level_db, dtype=float) - off, (f >= mic[0]) & (f <= mic[-1])
