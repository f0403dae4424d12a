"""What to set: the target, the table of settings, delay and level of each channel, the crossover that adds up best.

Everything comes from readings at one seat and holds there.  A target is a preference.  Times in ms and s, distances in
cm, levels in dB.  Numpy alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import band_level, biquad, smoothed
from backwave.errors import InputError
from backwave.measure.equalizer import Equalizer
from backwave.notation.crossover import Filter, write_filter

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

# A target in a vehicle, Hz and dB (preference: common trade practice, more bass against road noise; edit it)
HOUSE_CURVE: tuple[tuple[float, float], ...] = (
    (20.0, 6.0), (60.0, 6.0), (200.0, 1.0), (500.0, 0.0), (2000.0, 0.0), (20000.0, -4.0),
)  # fmt: skip


@dataclass(frozen=True)
class SettingRow:
    """One row of the settings table."""

    words: str  # the filter as `notation.filters` writes it
    filter: Filter  # its numbers
    b: tuple[float, ...]  # 1, coefficients of z^0, z^-1, z^-2 at the processor's rate; a[0] is 1
    a: tuple[float, ...]  # 1


@dataclass(frozen=True)
class ChannelSetting:
    """What to set on one channel."""

    name: str
    delay_ms: float  # delay, 0 or more, in both ways that processors ask for it
    delay_cm: float  # cm
    gain_db: float  # 0 or less
    invert: bool  # whether its polarity is to be turned


@dataclass(frozen=True)
class Joint:
    """One way to join two channels at a crossover."""

    low: tuple[Filter, ...]  # filters of the lower and of the upper channel
    high: tuple[Filter, ...]
    f0_hz: float  # where they meet
    invert: bool = False  # whether the upper channel's polarity is turned
    delay_s: float = 0.0  # by which the upper channel is delayed; negative delays the lower


@dataclass(frozen=True)
class JoinedSum:
    """How a joint turned out, from the measured responses."""

    joint: Joint
    sum_db: Real  # (n_freq,), both together
    # the sum against both as energies, over an octave each way of the joint: 3 at best, negative where they cancel
    adds_db: float
    worst_db: float  # the same at its worst third of an octave


def target_curve(f_hz: ArrayLike, points: Sequence[tuple[float, float]] = HOUSE_CURVE) -> Real:
    """A target from points, straight over log frequency between them and level beyond. `points`, Hz and dB: frequency
    and level, rising in frequency; returns (n_freq,) dB."""
    x = np.array([p[0] for p in points], dtype=float)
    if x.size < 1 or not (x > 0).all() or not (np.diff(x) > 0).all():
        raise InputError("points of the target", points, "frequencies above 0 Hz that rise, and a level for each")
    return np.asarray(np.interp(np.log(np.asarray(f_hz, dtype=float)), np.log(x), [p[1] for p in points]))


def settings_table(equalizer: Equalizer, rate_hz: float = 48000.0) -> tuple[SettingRow, ...]:
    """The filters in words and as coefficients, for whatever processor there is."""
    rows = []
    for x in equalizer.filters:
        kind = {"peak": "peak", "low-shelf": "low shelf", "high-shelf": "high shelf"}[x.kind]
        b, a = biquad(kind, x.f0_hz, x.gain_db, x.q).digital(rate_hz)  # type: ignore[arg-type]  # one of three words
        rows.append(SettingRow(write_filter(x), x, tuple(b.tolist()), tuple(a.tolist())))
    return tuple(rows)


def align_channels(
    names: Sequence[str], delays_s: Sequence[float], levels_db: Sequence[float],
    polarities: Sequence[int] | None = None, speed: float = 343.2, step_ms: float = 0.01, step_db: float = 0.5,
) -> tuple[ChannelSetting, ...]:  # fmt: skip
    """Delays and levels that let all channels arrive together and equally loud: the last and the softest stay as is.
    `delays_s`: when each arrives, against any one of them (`analysis.Response.delay_s`; 0 for the first); `levels_db`:
    how loud each is, over a band that all of them play; `polarities`: 1, -1, or 0 not sure, against the first; only -1
    is turned; `speed`, m/s."""
    polarities = [1] * len(names) if polarities is None else polarities
    if not len(names) == len(delays_s) == len(levels_db) == len(polarities) or not names:
        raise InputError("channels", f"{len(names)}, {len(delays_s)}, {len(levels_db)}", "a delay and a level for each")
    apart = float(np.ptp(delays_s))
    if not (np.isfinite(delays_s).all() and np.isfinite(levels_db).all() and apart <= 0.05):
        raise InputError("arrivals", f"{1e3 * apart:.1f} ms apart", "50 ms or less: read the take again")
    late, soft = max(delays_s), min(levels_db)
    out = []
    for name, t, level, polarity in zip(names, delays_s, levels_db, polarities, strict=True):
        ms = round(1e3 * (late - t) / step_ms) * step_ms
        gain = round((soft - level) / step_db) * step_db
        out.append(ChannelSetting(name, round(ms, 6), round(ms * speed / 10, 3), round(gain, 6) + 0.0, polarity == -1))
    return tuple(out)


def joints_between(
    low_hz: float, high_hz: float, alignments: Sequence[str] = ("LR2", "LR4"), delays_s: Sequence[float] = (0.0,)
) -> tuple[Joint, ...]:
    """Ways to join two channels: by third of an octave, each alignment, either polarity, each delay."""
    if not 0 < low_hz <= high_hz:
        raise InputError("where two channels may meet", f"{low_hz:g} to {high_hz:g} Hz", "a range that rises")
    f = 1000 * 2 ** (np.arange(-18, 15) / 3)
    middles = f[(f >= low_hz) & (f <= high_hz)]
    middles = middles if middles.size else np.array([np.sqrt(low_hz * high_hz)])
    return tuple(
        Joint((Filter("low-pass", f0, name),), (Filter("high-pass", f0, name),), f0, invert, delay)
        for f0 in (round(float(f0), 1) for f0 in middles)
        for name in alignments
        for invert in (False, True)
        for delay in delays_s
    )


def choose_joint(f_hz: ArrayLike, low: ArrayLike, high: ArrayLike, joints: Sequence[Joint]) -> tuple[JoinedSum, ...]:
    """Joints by the sum of two measured responses, the one that adds up best first. `low`, `high`, (n_freq,) 1:
    responses of the lower and upper channel without these filters, on one zero of time (`Impulse.spectrum` with the
    same `zero_s` in one take)."""
    f = np.asarray(f_hz, dtype=float)
    one, two = np.asarray(low, dtype=complex), np.asarray(high, dtype=complex)
    if not joints or not one.shape == two.shape == f.shape:
        raise InputError("joints", len(joints), "one or more, and two responses on one list of frequencies")
    found = []
    for joint in joints:
        a, b = one, two * (-1 if joint.invert else 1) * np.exp(-2j * np.pi * f * joint.delay_s)
        for x in joint.low:
            a = a * x.response(f)
        for x in joint.high:
            b = b * x.response(f)
        together, apart = np.abs(a + b) ** 2 + 1e-30, np.abs(a) ** 2 + np.abs(b) ** 2 + 1e-30
        sum_db, apart_db = 10 * np.log10(together), 10 * np.log10(apart)
        ends = (joint.f0_hz / 2, joint.f0_hz * 2)
        adds = band_level(f, sum_db, *ends) - band_level(f, apart_db, *ends)
        inside = (f >= ends[0]) & (f <= ends[1])
        worst = float((smoothed(f, sum_db, 3) - smoothed(f, apart_db, 3))[inside].min())
        found.append(JoinedSum(joint, sum_db, adds, worst))
    return tuple(sorted(found, key=lambda s: -(s.adds_db + s.worst_db)))
