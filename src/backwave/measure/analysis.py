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
from backwave.finding import Check, Message
from backwave.measure import recording_checks, sweep_checks
from backwave.measure.arrival import Relation, relation, single_arrival
from backwave.measure.distortion import Distortion, read_distortion
from backwave.measure.response import (
    Impulse,
    ResponseReading,
    deconvolve,
    gated_spectrum,
    signal_to_noise,
)
from backwave.measure.smoothing import band_centers, corrected, log_frequencies, smoothed, spatial_mean
from backwave.measure.sweep import Take
from backwave.measure.synchronize import Clock, fast_length, find_take

__all__ = ["Response", "TakeRead", "decay_s", "place_average", "read_take"]

Real = NDArray[np.float64]

STEPS = 48  # points in an octave of a response


@dataclass(frozen=True)
class Response:
    """What one sweep of a take says.

    Parameters
    ----------
    name : str, no unit
        The output that sounded, or "all".
    f_hz : (n_freq,) float, Hz
        Frequencies, 48 in an octave over the sweep's range.
    magnitude_db : (n_freq,) float, dB
        Against full scale, or against the microphone's calibration where there is one.
    phase_deg : (n_freq,) float, deg
        From the arrival.
    snr_db : (n_freq,) float, dB
        Signal over noise in the third of an octave.
    delay_s : float or None, s
        Against the first of the take; None for the first.
    polarity : int, no unit
        1, -1, or 0 not sure: of the chain for the first of a take, against the first for the others.
    relation : Relation or None, no unit
        Both methods' delays.
    distortion : Distortion, no unit
        Harmonics.
    decay : tuple of (float, float or None), Hz and s
        Octave band, and the time in which it would fall by 60 dB; None where noise hides it.
    impulse : Impulse, no unit
        The response in time.
    """

    name: str
    f_hz: Real
    magnitude_db: Real
    phase_deg: Real
    snr_db: Real
    delay_s: float | None
    polarity: int
    relation: Relation | None
    distortion: Distortion
    decay: tuple[tuple[float, float | None], ...]
    impulse: Impulse

    def gated_db(self, cycles: float) -> Real:
        """Level through a window so many periods long at each frequency (`response.gated_spectrum`).

        Parameters
        ----------
        cycles : float, no unit
            Periods after the arrival.

        Returns
        -------
        (n_freq,) float, dB
            Without the microphone's correction.
        """
        return np.asarray(20 * np.log10(np.abs(gated_spectrum(self.impulse, self.f_hz, cycles)) + 1e-15))

    def smoothed_db(self, fraction: float) -> Real:
        """Level smoothed to a fraction of an octave.

        Parameters
        ----------
        fraction : float, no unit
            1/3 of an octave is 3.

        Returns
        -------
        (n_freq,) float, dB
        """
        return smoothed(self.f_hz, self.magnitude_db, fraction)


@dataclass(frozen=True)
class TakeRead:
    """What a recording says.

    Parameters
    ----------
    clock : Clock, no unit
        Place and clock of the take.
    responses : tuple of Response, no unit
        One for each sweep that sounded.
    checks : tuple of Check, no unit
        What is to be said of it.
    """

    clock: Clock
    responses: tuple[Response, ...]
    checks: tuple[Check, ...]


def read_take(
    samples: ArrayLike, rate_hz: float, take: Take, microphone: tuple[ArrayLike, ArrayLike] | None = None,
    progress: Callable[[float], None] | None = None,
) -> TakeRead:  # fmt: skip
    """Read a recording of a take.

    Parameters
    ----------
    samples : (n,) or (n, n_channels) float, no unit
        The recording, against full scale; of several channels the first that is alive is read.
    rate_hz : float, Hz
        Its nominal rate.
    take : Take, no unit
        What was played, from its description.
    microphone : (frequencies, levels) or None, Hz and dB
        What the microphone reads too much.
    progress : function or None, no unit
        Called with the share that is done, 0 to 1.

    Raises
    ------
    InputError
        A recording that cannot be used, with what to do.
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
        checks += [
            c for c in (sweep_checks.check_spread(reading), sweep_checks.check_band(reading)) if c is not None
        ]
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

    Parameters
    ----------
    reads : sequence of TakeRead, no unit
        Of the same take.
    name : str, no unit
        The output, or "all".

    Returns
    -------
    f_hz, mean_db, spread_db : (n_freq,) float, Hz and dB
        The mean as power, and the standard deviation between places.

    Raises
    ------
    InputError
        An output that did not sound in one of them.
    """
    found = [[r for r in read.responses if r.name == name] for read in reads]
    if not found or not all(found):
        raise InputError(
            f"readings of {name}", sum(map(bool, found)), f"{name} in each of {len(found)} recordings"
        )
    f = min((rows[0].f_hz for rows in found), key=lambda x: float(x[-1]))
    levels = [np.interp(np.log(f), np.log(rows[0].f_hz), rows[0].magnitude_db) for rows in found]
    return (f, *spatial_mean(levels))


def decay_s(impulse: Impulse, f_hz: float, noise_part: float = 0.2) -> float | None:
    """Time in which an octave band would fall by 60 dB, from -5 to -25 dB of the backward integral (ISO 3382-2: T20).

    Parameters
    ----------
    impulse : Impulse, no unit
        The response.
    f_hz : float, Hz
        Middle of the octave.
    noise_part : float, no unit
        Last part of the response that is taken for noise and subtracted.

    Returns
    -------
    float or None, s
        None where 25 dB are not clear of the noise, or the band's own filter decays no faster.
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
        sources=("common trade practice",), part=name,
        remedy=Message("check the balance and fader, the plug and the channel's fuse, and that this file was played"),
    )  # fmt: skip
