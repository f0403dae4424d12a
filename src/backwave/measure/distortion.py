"""Harmonic distortion by order and level: what there is, where it breaks up, and at one level before and after.

Levels in dB against the fundamental; -20 dB is a tenth.  nan where a harmonic is beyond the sweep or under the noise.
Numpy alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Message
from backwave.measure.response import ORDERS, ResponseReading, harmonic_levels
from backwave.measure.smoothing import corrected

Real = NDArray[np.float64]
SOURCES = (PRACTICE,)

# all harmonics together, above which a loudspeaker counts as overdriven (common trade practice: a tenth)
OVERLOAD_THD_DB = -20.0


@dataclass(frozen=True)
class Distortion:
    """Harmonics of each frequency of the drive against the fundamental; nan where not known."""

    f_hz: Real  # (n_freq,), frequencies of the drive
    orders: tuple[int, ...]
    # (n_orders, n_freq), level at m f against that at f, and the lowest that could have been seen
    levels_db: Real
    floor_db: Real  # (n_orders, n_freq)
    thd_db: Real  # (n_freq,), all known orders together; nan where there is none


def read_distortion(
    reading: ResponseReading, f_hz: ArrayLike, microphone: tuple[ArrayLike, ArrayLike] | None = None
) -> Distortion:
    """Harmonics of a sweep, with the microphone's response taken off at each.

    `microphone`, (frequencies, levels) Hz and dB: what the microphone reads too much.
    """
    f = np.asarray(f_hz, dtype=float)
    levels, floor = harmonic_levels(reading, f)
    if microphone is not None:
        zero = np.zeros(f.size)
        own = corrected(f, zero, *microphone)[0]
        shift = np.array([corrected(m * f, zero, *microphone)[0] - own for m in ORDERS])
        levels, floor = levels + shift, floor + shift
    power = np.nansum(10 ** (levels / 10), axis=0)
    thd = np.where(power > 0, 10 * np.log10(np.maximum(power, 1e-30)), np.nan)
    return Distortion(f, ORDERS, levels, floor, thd)


def overload_ranges(
    distortion: Distortion, limit_db: float = OVERLOAD_THD_DB
) -> tuple[tuple[float, float, float], ...]:
    """Stretches of the drive in which distortion is above a limit.

    Returns Hz and dB: from low to high; empty where there is none.
    """
    over = np.nan_to_num(distortion.thd_db, nan=-np.inf) > limit_db
    edges = np.diff(np.concatenate([[0], over.astype(int), [0]]))
    f, thd = distortion.f_hz, distortion.thd_db
    return tuple(
        (float(f[a]), float(f[b - 1]), float(thd[a:b].max()))
        for a, b in zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True)
    )


def check_overload(name: str, distortion: Distortion, limit_db: float = OVERLOAD_THD_DB) -> tuple[Check, ...]:
    """One check for each stretch in which distortion is above a limit, or one that says there is none."""
    found, limit = overload_ranges(distortion, limit_db), 100 * 10 ** (limit_db / 20)
    if not found:
        known = distortion.thd_db[np.isfinite(distortion.thd_db)]
        if not known.size:
            return ()
        return (Check(
            "measure.distortion", "ok", Message("{name}: no distortion above the limit", (("name", name, ""),)),
            value=100 * 10 ** (float(known.max()) / 20), limit=limit, unit="%", sources=SOURCES, part=name,
        ),)  # fmt: skip
    said = "all together" if name == "all" else name
    rows = []
    for low, high, worst in found:
        title = "{name}: breaks up from {low} to {high}" if high > low else "{name}: breaks up at {low}"
        rows.append(Check(
            "measure.distortion", "caution",
            Message(title, (("name", said, ""), ("low", low, "Hz"), ("high", high, "Hz"))),
            value=100 * 10 ** (worst / 20), limit=limit, unit="%", sources=SOURCES, part=f"{name}-{low:.0f}-hz",
            remedy=Message("Less volume, or a high-pass above it; the same at half the volume means something touches"),
        ))  # fmt: skip
    return tuple(rows)


def onset_db(level_db: ArrayLike, rows: Sequence[Distortion], limit_db: float = OVERLOAD_THD_DB) -> Real:
    """Level of the drive at which distortion passes a limit, by frequency, from readings at several levels.

    Returns (n_freq,) dB: straight between two readings; nan where no reading reaches the limit, the lowest level
    where all are above.
    """
    level = np.asarray(level_db, dtype=float)
    if level.size != len(rows) or level.size < 2 or not (np.diff(level) > 0).all():
        raise InputError("levels", level.tolist(), "two or more that rise, and a reading for each")
    thd = np.nan_to_num(np.array([row.thd_db for row in rows]), nan=-120.0)
    over = thd > limit_db
    first = np.argmax(over, axis=0)
    k, at = np.maximum(first, 1), np.arange(thd.shape[1])
    low, high = thd[k - 1, at], thd[k, at]
    share = np.clip((limit_db - low) / np.where(high > low, high - low, 1.0), 0, 1)
    found = np.where(first > 0, level[k - 1] + share * (level[k] - level[k - 1]), level[0])
    return np.asarray(np.where(over.any(axis=0), found, np.nan))


def matched(level_db: ArrayLike, thd_db: ArrayLike, at_db: float) -> float:
    """Distortion at a level, between readings taken at several, so that before and after compare at one loudness.

    InputError: the readings do not reach it: nothing is extrapolated.
    """
    level, thd = np.asarray(level_db, dtype=float), np.asarray(thd_db, dtype=float)
    if not (level.size >= 1 and level[0] - 0.5 <= at_db <= level[-1] + 0.5):
        raise InputError(
            "level at which distortion is compared", f"{at_db:.1f} dB", "a level that readings of both bracket"
        )
    return float(np.interp(at_db, level, thd))
