"""A recording of a take becomes responses: the whole way, in the order it goes.

Usable channel, pilots, clock, then for each sweep: responses of the fundamental and the harmonics, spectrum, signal
over noise, distortion, decay, arrival and polarity; for a slow low sweep what rattled; and what is to be said of the
recording.  Harmonics in dB against the fundamental (-20 dB is a tenth), nan where one is beyond the sweep or under the
noise.  Numpy alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import band_centers, corrected, log_frequencies, smoothed, spatial_mean
from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Message
from backwave.measure import recording_checks
from backwave.measure.rattle import PERIODS, Buzz, buzz_index
from backwave.measure.response import (
    ORDERS,
    Impulse,
    Relation,
    ResponseReading,
    deconvolve,
    gated_spectrum,
    harmonic_levels,
    relation,
    signal_to_noise,
    single_arrival,
)
from backwave.measure.sweep import Take, take_from
from backwave.measure.synchronize import Clock, fast_length, find_take

Real = NDArray[np.float64]
SOURCES = (PRACTICE,)
# all harmonics together, above which a loudspeaker counts as overdriven (common trade practice: a tenth)
OVERLOAD_THD_DB = -20.0
STEPS = 48  # points in an octave of a response
SLOW_HZ = 1000.0


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
    """Harmonics of a sweep, with the microphone's response taken off at each. `microphone`, (frequencies, levels) Hz
    and dB: what the microphone reads too much."""
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
    """Stretches of the drive in which distortion is above a limit. Returns Hz and dB: from low to high; empty where
    there is none."""
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
    return tuple(
        Check(
            "measure.distortion", "caution",
            Message("{name}: distorts above {limit:0} from {low} to {high}" if high > low else "{name}: distorts above {limit:0} at {low}", (
                ("name", said, ""), ("low", low, "Hz"), ("high", high, "Hz"), ("limit", limit, "%"))),
            value=100 * 10 ** (worst / 20), limit=limit, unit="%", sources=SOURCES, part=f"{name}-{low:.0f}-hz",
            remedy=Message("Less volume, or a high-pass above it; the same at half the volume means something touches"),
        )
        for low, high, worst in found
    )  # fmt: skip


def onset_db(level_db: ArrayLike, rows: Sequence[Distortion], limit_db: float = OVERLOAD_THD_DB) -> Real:
    """Level of the drive at which distortion passes a limit, by frequency, from readings at several levels. Returns
    (n_freq,) dB: straight between two readings; nan where no reading reaches the limit, the lowest level where all are
    above."""
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
    """Distortion at a level, between readings taken at several, so that before and after compare at one loudness."""
    level, thd = np.asarray(level_db, dtype=float), np.asarray(thd_db, dtype=float)
    if not (level.size >= 1 and level[0] - 0.5 <= at_db <= level[-1] + 0.5):
        wanted = "a level that readings of both bracket"
        raise InputError("level at which distortion is compared", f"{at_db:.1f} dB", wanted)
    return float(np.interp(at_db, level, thd))


@dataclass(frozen=True)
class Response:
    """What one sweep of a take says."""

    name: str  # the output that sounded, or "all"
    f_hz: Real  # (n_freq,), frequencies, 48 in an octave over the sweep's range
    # (n_freq,), against full scale, or against the microphone's calibration where there is one
    magnitude_db: Real
    phase_deg: Real  # (n_freq,)
    snr_db: Real  # (n_freq,), signal over noise in the third of an octave
    delay_s: float | None  # against the first of the take; None for the first
    polarity: int  # 1, -1, or 0 not sure: of the chain for the first of a take, against the first for the others
    relation: Relation | None  # both methods' delays
    distortion: Distortion
    # Hz and s, octave band, and the time in which it would fall by 60 dB; None where noise hides it
    decay: tuple[tuple[float, float | None], ...]
    impulse: Impulse  # the response in time

    def gated_db(self, cycles: float) -> Real:
        """Level through a window so many periods long at each frequency (`response.gated_spectrum`). `cycles`, 1:
        periods after the arrival; returns (n_freq,) dB: without the microphone's correction."""
        return np.asarray(20 * np.log10(np.abs(gated_spectrum(self.impulse, self.f_hz, cycles)) + 1e-15))

    def smoothed_db(self, fraction: float) -> Real:
        """Level smoothed to a fraction of an octave. `fraction`, 1: 1/3 of an octave is 3; returns (n_freq,) dB."""
        return smoothed(self.f_hz, self.magnitude_db, fraction)


@dataclass(frozen=True)
class TakeRead:
    """What a recording says."""

    clock: Clock  # place and clock of the take
    responses: tuple[Response, ...]  # one for each sweep that sounded
    checks: tuple[Check, ...]  # what is to be said of it


def read_take(
    samples: ArrayLike, rate_hz: float, take: Take, microphone: tuple[ArrayLike, ArrayLike] | None = None,
    progress: Callable[[float], None] | None = None,
) -> TakeRead:  # fmt: skip
    """Read a recording of a take. `samples`, (n,) 1: the recording, against full scale; of several channels the first
    that is alive is read; `microphone`, (frequencies, levels) Hz and dB: what the microphone reads too much;
    `progress`, 1: called with the share that is done."""
    tell = progress or (lambda _: None)
    recording, found = recording_checks.usable_channel(samples, rate_hz)
    checks = list(found)
    clock = find_take(recording, rate_hz, take)
    checks += [recording_checks.check_clock(clock), recording_checks.check_gain(recording, clock, take)]
    checks.append(recording_checks.check_holes(recording, clock, take))
    readings: list[ResponseReading] = []
    responses: list[Response] = []
    for k, event in enumerate(take.sweeps):
        tell((k + 0.5) / (len(take.sweeps) + 0.5))
        reading = deconvolve(recording, clock, take, event)
        f = log_frequencies(reading.sweep.f1_hz, min(reading.sweep.f2_hz, 0.47 * clock.rate_hz), STEPS)
        snr = signal_to_noise(reading, f)
        if not recording_checks.sounded(recording, clock, take, reading):
            checks.append(_silent(event.name))
            continue
        checks += filter(None, (recording_checks.check_spread(reading), recording_checks.check_band(reading)))
        checks.append(recording_checks.check_noise(event.name, f, snr))
        first = readings[0] if readings and len(event.outputs) == 1 else None
        responses.append(_response(reading, f, snr, first, microphone))
        related = responses[-1].relation
        if first is not None and related is not None:
            change = float(np.median(responses[-1].magnitude_db - responses[0].magnitude_db))
            same = recording_checks.check_channels(related, change, (first.event.name, event.name))
            checks += [same] if same else []
            checks.append(recording_checks.check_relation(event.name, first.event.name, related))
        readings.append(reading)
    if not responses:
        raise InputError(
            "the recording", "the pilots are in it, but no output sounded alone or with the others",
            "a recording louder than the noise: check the volume, balance and fader, and record again",
        )  # fmt: skip
    tell(1.0)
    return TakeRead(clock, tuple(responses), tuple(checks))


def place_average(reads: Sequence[TakeRead], name: str) -> tuple[Real, Real, Real]:
    """Mean response of one output over several places round the head, each its own recording. Recordings have no common
    level unless gain and volume were left alone; then they may be averaged so. Returns (n_freq,) Hz and dB: the mean as
    power, and the standard deviation between places."""
    found = [[r for r in read.responses if r.name == name] for read in reads]
    if not found or not all(found):
        raise InputError(f"readings of {name}", sum(map(bool, found)), f"{name} in each of {len(found)} recordings")
    f = min((rows[0].f_hz for rows in found), key=lambda x: float(x[-1]))
    levels = [np.interp(np.log(f), np.log(rows[0].f_hz), rows[0].magnitude_db) for rows in found]
    return (f, *spatial_mean(levels))


def decay_s(impulse: Impulse, f_hz: float, noise_part: float = 0.2) -> float | None:
    """Time in which an octave band would fall by 60 dB, from -5 to -25 dB of the backward integral (ISO 3382-2: T20).
    `noise_part`, 1: last part of the response that is taken for noise and subtracted; returns s: None where 25 dB are
    not clear of the noise, or the band's own filter decays no faster."""
    n, rate = impulse.samples.size, impulse.rate_hz
    size = fast_length(n + n // 4)  # the filter is shorter than a quarter of what is kept
    f = np.fft.rfftfreq(size, 1 / rate)
    bell = np.exp(-0.5 * (np.log2(np.maximum(f, 1.0) / f_hz) / 0.42) ** 4)
    band = np.fft.irfft(np.fft.rfft(impulse.samples, size) * bell, size)
    band = band[max(0, impulse.arrival - int(1.5 * rate / f_hz)) : n]  # the filter is spread to both sides
    energy = band[: int(band.size * 2 / 3)] ** 2  # beyond it the window falls
    tail = energy[-int(noise_part * energy.size) :].mean()
    left = np.cumsum((energy - tail)[::-1])[::-1]
    if not left[0] > 0:
        return None
    level = 10 * np.log10(np.maximum(left, 1e-30) / left[0])
    start, end = int(np.argmax(level < -5)), int(np.argmax(level < -25))
    if end <= start or energy[: max(end, 1)].max() < 300 * tail or energy[start:end].mean() < 2 * tail:
        return None
    t = np.arange(start, end) / rate
    slope = float(np.polyfit(t, level[start:end], 1)[0]) if t.size > 2 else 0.0
    time = -60 / slope if slope < 0 else None
    # a band of one octave rings for some periods of its own
    return time if time is not None and time * f_hz > 4 else None


def _response(
    reading: ResponseReading, f: Real, snr: Real, first: ResponseReading | None,
    microphone: tuple[ArrayLike, ArrayLike] | None,
) -> Response:  # fmt: skip
    low, high = reading.sweep.f1_hz, float(f[-1])
    h = reading.linear.spectrum(f)
    level = reading.linear.level_db(f, STEPS)
    if microphone is not None:
        level = corrected(f, level, *microphone)[0]
    if first is None:
        related, delay = None, None
        polarity = single_arrival(reading.clear, low).polarity
    else:
        related = relation(first.clear, reading.clear, low, high)
        delay, polarity = related.delay_s, related.polarity
    centers = band_centers(1, max(low * 1.5, 45), high / 1.4).tolist()
    decay = tuple((c, decay_s(reading.linear, c)) for c in centers)
    return Response(
        reading.event.name, f, level, np.degrees(np.angle(h)), snr, delay, polarity, related,
        read_distortion(reading, f[:: STEPS // 12], microphone), decay, reading.linear,
    )  # fmt: skip


def _silent(name: str) -> Check:
    return Check(
        "measure.silent", "caution", Message("{name} did not sound", (("name", name, ""),)),
        sources=(PRACTICE,), part=name,
        remedy=Message("check the balance and fader, the plug and the channel's fuse, and that this file was played"),
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Recording:
    """What a recording says."""

    take: Take  # what was played
    read: TakeRead  # responses, arrivals, distortion, and what is to be said of the recording
    buzz: Buzz | None = None  # what did not repeat with the drive; None but for a slow low sweep


def hunts_rattles(take: Take) -> bool:
    """Whether a take is for hunting rattles: a sweep slow and low enough for its periods to be compared."""
    sweep = take.sweep
    return sweep.f2_hz <= SLOW_HZ and sweep.L * sweep.f1_hz >= PERIODS


def read_recording(
    samples: ArrayLike, rate_hz: float, description: dict[str, Any],
    microphone: tuple[ArrayLike, ArrayLike] | None = None, channel: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> Recording:  # fmt: skip
    """Read a recording of a described take. `samples`, (n,) 1: against full scale; `microphone`, (frequencies, levels)
    Hz and dB: what the microphone reads too much; `progress`, 1: called with the share that is done; what it raises
    ends the work."""
    take = take_from(description)
    sound = np.asarray(samples)
    sound = sound[:, None] if sound.ndim == 1 else sound
    if channel is not None:
        if not 1 <= channel <= sound.shape[1]:
            raise InputError("channel of the recording", channel, f"1 to {sound.shape[1]}")
        sound = sound[:, channel - 1 : channel]
    read = read_take(sound, rate_hz, take, microphone, progress)
    if not hunts_rattles(take):
        return Recording(take, read)
    used, _ = recording_checks.usable_channel(sound, rate_hz)
    event = next((e for e in take.sweeps if e.name == "all"), take.sweeps[0])
    return Recording(take, read, buzz_index(used, read.clock, take, event))
