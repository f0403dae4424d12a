"""Rattle: sound of a slow low sweep that does not repeat with the drive.

A loudspeaker's own distortion repeats from one period of the drive to the next, changing slowly as the sweep goes on;
a loose clip does not.  Frame by frame the recording is laid on the phase of the drive, which the sweep's formula
gives, the mean and the slow change of each point of the period are taken out, and what is left is compared with what
was there (synchronous averaging: McFadden 1987, Mech. Syst. Signal Proc. 1(1):83-95).

A buzz that repeats exactly, period by period, is distortion here and is told by the harmonics.  Numpy alone."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.measure.sweep import Event, Take
from backwave.measure.synchronize import Clock

Real = NDArray[np.float64]

# sound that does not repeat, against all of the sound, above which a rattle is looked for (common trade practice:
# about what is heard beside music)
BUZZ_DB = -40.0
PERIODS = 16  # of the drive in a frame
POINTS_HZ = 12000.0  # fineness of the period: what is above half of it is not looked at
CLEAR_DB = 6.0  # above the noise of the quiet
TAPS = 8  # of the interpolation


@dataclass(frozen=True)
class Buzz:
    """What does not repeat, along the sweep."""

    f_hz: Real  # (n,), frequency of the drive, frame by frame
    t_s: Real  # (n,), when in the recording to listen
    index_db: Real  # (n,), what does not repeat against all of the sound, the quiet's noise taken off
    level_db: Real  # (n,), what does not repeat, against full scale
    noise_db: Real  # (n,), the same of the quiet: what is not clear of it is not told

    @property
    def heard(self) -> NDArray[np.bool_]:
        """(n,) bool: frames where it is over `BUZZ_DB` and clear of the noise."""
        return np.asarray((self.index_db > BUZZ_DB) & (self.level_db > self.noise_db + CLEAR_DB))


@dataclass(frozen=True)
class RattleRange:
    """A stretch of the sweep in which something rattles."""

    low_hz: float
    high_hz: float
    worst_hz: float
    index_db: float  # there, against all of the sound
    from_s: float  # where in the recording to listen
    to_s: float


def buzz_index(recording: Real, clock: Clock, take: Take, event: Event) -> Buzz:
    """Sound that does not repeat with the drive, along a slow sweep. `recording`, (n,) 1; `event`: one of its sweeps;
    20 to 300 Hz in 60 s is usual."""
    sweep, rate = take.of(event), clock.rate_hz
    if sweep.L * sweep.f1_hz < PERIODS or sweep.f2_hz > 1000:
        raise InputError(
            "sweep for hunting rattles", f"{sweep.f1_hz:g} to {sweep.f2_hz:g} Hz in {sweep.length_s:g} s",
            "a slow low one: 20 to 300 Hz in 60 s",
        )  # fmt: skip
    begin = clock.at(event.start / take.rate_hz)
    end = clock.at(take.pilots[0].start / take.rate_hz) - 0.1 * rate
    quiet = recording[max(0, int(end - 1.2 * rate)) : int(end)]
    turns = sweep.L * sweep.f1_hz  # periods that the sweep has run at its time 0, as its phase counts them
    first = ceil(turns * np.exp(sweep.fade_in_s / sweep.L))
    last = int(turns * np.exp((sweep.length_s - sweep.fade_out_s) / sweep.L)) - PERIODS
    rows = []
    k = float(first)
    while k <= last:
        t = sweep.L * np.log(np.array([k, k + PERIODS]) / turns)
        f = PERIODS / float(t[1] - t[0])
        points = int(POINTS_HZ / f)
        phase = k + np.arange(PERIODS * points) / points
        at = begin + sweep.L * np.log(phase / turns) * rate
        if at[0] < TAPS or at[-1] > recording.size - TAPS:
            break
        whole, left = _parted(_at(recording, at).reshape(PERIODS, points))
        still = _at(quiet, TAPS + (at - at[0]) % max(quiet.size - 2 * TAPS, 1)).reshape(PERIODS, points)
        noise = _parted(still)[1]
        rows.append((f, float(at[0] + at[-1]) / 2 / rate, whole, left, noise))
        k += max(PERIODS / 2, 0.1 * f)  # half a frame, or a tenth of a second
    if not rows:
        raise InputError("the recording", "it does not hold the slow sweep", "the whole take")
    f_hz, t_s, whole, left, noise = np.array(rows).T
    own = np.maximum(left - noise, 1e-3 * left)
    return Buzz(f_hz, t_s, 10 * np.log10(own / whole), 10 * np.log10(left), 10 * np.log10(noise + 1e-20))


def spots(buzz: Buzz) -> tuple[RattleRange, ...]:
    """Stretches that rattle, worst first."""
    found = []
    heard = np.concatenate([[False], buzz.heard, [False]])
    starts, ends = (np.flatnonzero(np.diff(heard.astype(int)) == 1), np.flatnonzero(np.diff(heard.astype(int)) == -1))
    for a, b in zip(starts.tolist(), ends.tolist(), strict=True):
        worst = a + int(np.argmax(buzz.index_db[a:b]))
        edge = PERIODS / 2 / buzz.f_hz
        found.append(RattleRange(
            float(buzz.f_hz[a]), float(buzz.f_hz[b - 1]), float(buzz.f_hz[worst]), float(buzz.index_db[worst]),
            float(buzz.t_s[a] - edge[a]), float(buzz.t_s[b - 1] + edge[b - 1]),
        ))  # fmt: skip
    return tuple(sorted(found, key=lambda s: -s.index_db))


def check_rattle(buzz: Buzz) -> tuple[Check, ...]:
    """One check for each stretch that rattles, or one that says none was heard."""
    sources = ("McFadden 1987, Mech. Syst. Signal Proc. 1(1):83-95", PRACTICE)
    found = spots(buzz)
    if not found:
        worst = int(np.argmax(buzz.index_db))
        return (Check(
            "measure.rattle", "ok", Message("no rattle heard"), value=float(buzz.index_db[worst]), limit=BUZZ_DB,
            unit="dB", sources=sources,
        ),)  # fmt: skip
    return tuple(
        Check(
            "measure.rattle", "caution",
            Message("something rattles at {f}, {low} to {high}", (
                ("f", s.worst_hz, "Hz"), ("low", s.low_hz, "Hz"), ("high", s.high_hz, "Hz"))),
            value=s.index_db, limit=BUZZ_DB, unit="dB", sources=sources, part=f"{s.worst_hz:.0f}-hz",
            remedy=Message("listen at {a} to {b} of the recording; play a tone at {f} and lay a hand on each zone, trim hung "
                        "and trim fixed", (("a", s.from_s, "s"), ("b", s.to_s, "s"), ("f", s.worst_hz, "Hz"))),
            working=(CalculationLine("b", "sound that does not repeat with the drive, against all of it", s.index_db, "dB"),),
        )
        for s in found
    )  # fmt: skip


def quieter(before: Buzz, after: Buzz) -> tuple[Real, Real]:
    """How much less rattles after a treatment, by frequency of the drive; told only where it rattled before. Returns
    (n,) Hz and dB: frames heard before, and the index after less before (negative is better)."""
    f = before.f_hz[before.heard]
    change = np.interp(np.log(f), np.log(after.f_hz), after.index_db) - before.index_db[before.heard]
    return f, change


def _parted(frame: Real) -> tuple[float, float]:
    """Mean square of a frame (periods, points), and of what neither repeats nor drifts evenly. Each point of the period
    is fitted by a constant, a slope and a curvature over the periods; three of the periods go into that, the rest is
    what is left."""
    count = frame.shape[0]
    basis = np.linalg.qr(np.vander(np.linspace(-1, 1, count), 3))[0]
    left = frame - basis @ (basis.T @ frame)
    return float(np.mean(frame**2)) + 1e-20, float((left**2).sum() / (frame.shape[1] * (count - 3))) + 1e-20


def _at(x: Real, at: Real) -> Real:
    """Values between samples, by a windowed sinc of 2 TAPS points."""
    whole = np.floor(at).astype(int)
    part = at - whole
    k = np.arange(-TAPS + 1, TAPS + 1)
    d = part[:, None] - k
    weight = np.sinc(d) * np.cos(np.pi * np.clip(d / (TAPS + 0.5), -1, 1) / 2) ** 2
    return np.asarray((x[np.clip(whole[:, None] + k, 0, x.size - 1)] * weight).sum(axis=1))
