"""A recording of a take becomes responses: the whole way, in the order it goes.

Usable channel, pilots, clock, then for each sweep: responses of the fundamental and the harmonics, spectrum, signal
over noise, distortion, decay, arrival and polarity; and what is to be said of the recording.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Message
from backwave.measure import recording_checks, sweep_checks
from backwave.measure.arrival import Relation, relation, single_arrival
from backwave.measure.distortion import Distortion, read_distortion
from backwave.measure.response import Impulse, ResponseReading, deconvolve, gated_spectrum, signal_to_noise
from backwave.measure.smoothing import band_centers, corrected, log_frequencies, smoothed, spatial_mean
from backwave.measure.sweep import Take
from backwave.measure.synchronize import Clock, fast_length, find_take

Real = NDArray[np.float64]

STEPS = 48  # points in an octave of a response


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
        """Level through a window so many periods long at each frequency (`response.gated_spectrum`).

        `cycles`, 1: periods after the arrival; returns (n_freq,) dB: without the microphone's correction.
        """
        return np.asarray(20 * np.log10(np.abs(gated_spectrum(self.impulse, self.f_hz, cycles)) + 1e-15))

    def smoothed_db(self, fraction: float) -> Real:
        """Level smoothed to a fraction of an octave.

        `fraction`, 1: 1/3 of an octave is 3; returns (n_freq,) dB.
        """
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
    """Read a recording of a take.

    `samples`, (n,) 1: the recording, against full scale; of several channels the first that is alive is read;
    `microphone`, (frequencies, levels) Hz and dB: what the microphone reads too much; InputError: A recording that
    cannot be used, with what to do.
    `progress`, 1 of 1.
    """
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
        if not sweep_checks.sounded(recording, clock, take, reading):
            checks.append(_silent(event.name))
            continue
        checks += [c for c in (sweep_checks.check_spread(reading), sweep_checks.check_band(reading)) if c is not None]
        checks.append(sweep_checks.check_noise(event.name, f, snr))
        first = readings[0] if readings and len(event.outputs) == 1 else None
        responses.append(_response(reading, f, snr, first, microphone))
        related = responses[-1].relation
        if first is not None and related is not None:
            change = float(np.median(responses[-1].magnitude_db - responses[0].magnitude_db))
            same = sweep_checks.check_channels(related, change, (first.event.name, event.name))
            checks += [same] if same else []
            checks.append(sweep_checks.check_relation(event.name, first.event.name, related))
        readings.append(reading)
    if not responses:
        raise InputError(
            "the recording", "the pilots are in it, but no output sounded alone or with the others",
            "a recording louder than the noise: check the volume, balance and fader, and record again",
        )  # fmt: skip
    tell(1.0)
    return TakeRead(clock, tuple(responses), tuple(checks))


def place_average(reads: Sequence[TakeRead], name: str) -> tuple[Real, Real, Real]:
    """Mean response of one output over several places round the head, each its own recording.

    Recordings have no common level unless gain and volume were left alone; then they may be averaged so.

    Returns (n_freq,) Hz and dB: the mean as power, and the standard deviation between places; InputError: an
    output that did not sound in one of them.
    """
    found = [[r for r in read.responses if r.name == name] for read in reads]
    if not found or not all(found):
        raise InputError(f"readings of {name}", sum(map(bool, found)), f"{name} in each of {len(found)} recordings")
    f = min((rows[0].f_hz for rows in found), key=lambda x: float(x[-1]))
    levels = [np.interp(np.log(f), np.log(rows[0].f_hz), rows[0].magnitude_db) for rows in found]
    return (f, *spatial_mean(levels))


def decay_s(impulse: Impulse, f_hz: float, noise_part: float = 0.2) -> float | None:
    """Time in which an octave band would fall by 60 dB, from -5 to -25 dB of the backward integral (ISO 3382-2: T20).

    `noise_part`, 1: last part of the response that is taken for noise and subtracted; returns s: None where 25 dB
    are not clear of the noise, or the band's own filter decays no faster.
    """
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
    reading: ResponseReading,
    f: Real,
    snr: Real,
    first: ResponseReading | None,
    microphone: tuple[ArrayLike, ArrayLike] | None,
) -> Response:
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
    decay = tuple(
        (float(c), decay_s(reading.linear, float(c))) for c in band_centers(1, max(low * 1.5, 45), high / 1.4)
    )
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
