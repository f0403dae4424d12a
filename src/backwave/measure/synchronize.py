"""Where a take lies in a recording, and how fast the recorder's clock runs against the player's.

The two pilots went through one and the same chain, so the lag between what was recorded of them is free of it; it is
taken from the phase of their cross-spectrum.  Lag recorded over lag played is the clock.  Nothing is resampled: the
sweep is a formula and is evaluated on the recorder's clock (`response.deconvolve`).

What is looked for first is a whitened match with the pilot at an eighth of the rate.  Numpy, and `scipy.fft` inside."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.measure.sweep import Take

Real = NDArray[np.float64]

# more than any crystal is out by; beyond it samples are missing, or it is another take (common trade practice:
# sound interfaces and phones are within 100 ppm)
MAX_PPM = 500.0
SEARCH_HZ = 8000.0  # rate at which the pilots are looked for
PEAK = 9.0  # of the match, by its own noise: chance alone gives 5 to 6 in a minute of it
LEAD_S, LAG_S = 0.15, 0.35  # recorded round a pilot's place that is compared: its decay is part of it
CANDIDATES = 12
SINK = 30.0  # times the weakest part of the band: what may be noise is trusted less


@dataclass(frozen=True)
class Clock:
    """The take's time in samples of the recording."""

    origin: float  # samples, where the take's time 0 falls, counted from the recording's first sample
    rate_hz: float  # samples taken in one second of the player
    ppm: float  # 1e-6, recorder against player, from nominal rates; positive when the recorder takes more samples
    u_ppm: float  # standard uncertainty of `ppm` from noise

    def at(self, t_s: float) -> float:
        """Sample at which a time of the take falls."""
        return self.origin + t_s * self.rate_hz


def find_take(recording: Real, rate_hz: float, take: Take) -> Clock:
    """Find a take in a recording by its pilots, and compare the clocks. `recording`, (n,) 1."""
    first, last = take.pilots
    step = max(1, int(rate_hz // SEARCH_HZ))
    match = _match(recording, rate_hz, take, step)
    noise = 1 / 0.6745
    if not match.max() > PEAK * noise:
        raise InputError(
            "the recording", "no pilot of this sweep in it",
            "a recording of this very sweep file, its first second and its end included: check the file played, the "
            "volume, and that no voice filter is on",
        )  # fmt: skip
    slow = rate_hz / step
    spacing = (last.start - first.start) / take.rate_hz
    start, end = _pair(match, slow, spacing, noise, take, recording.size / rate_hz)
    whole, lead = round(spacing * rate_hz), round(LEAD_S * rate_hz)
    span = round((take.pilot.length_s + LEAD_S + LAG_S) * rate_hz)
    a = start * step - lead
    b = a + (end - start) * step
    if b + span > recording.size or a < 0:
        shift = max(0, b + span - recording.size)
        a, b, span = max(a, 0), b + max(-a, 0), span - shift - max(-a, 0)
    lag, u = cross_lag(recording[a : a + span], recording[b : b + span], rate_hz, take.pilot.f1_hz, take.pilot.f2_hz)
    measured = b - a + lag
    scale = measured / (spacing * rate_hz)
    if abs(scale - 1) > MAX_PPM * 1e-6:
        raise _missing(measured / rate_hz, spacing)
    true_rate = rate_hz * scale
    seen = _arrival(recording, rate_hz, start * step, take, true_rate)
    return Clock(seen - first.start / take.rate_hz * true_rate, true_rate, (scale - 1) * 1e6, u / whole * 1e6)


def cross_lag(a: Real, b: Real, rate_hz: float, low_hz: float, high_hz: float) -> tuple[float, float]:
    """How much later the same sound is in b than in a, by the phase of the cross-spectrum. The greatest of the
    cross-correlation to a sample, then the weighted slope of what phase is left (the maximum-likelihood delay for even
    noise; Knapp and Carter 1976, IEEE Trans. ASSP 24(4):320-327). `a`, `b`, (n,) 1: two pieces of one length; returns
    (float, float) samples: lag and its standard uncertainty, from the scatter of the phase about the slope."""
    from scipy import fft

    n = fast_length(2 * a.size)
    cross = fft.rfft(b, n) * np.conj(fft.rfft(a, n))
    omega = 2 * pi * np.arange(cross.size) / n
    inside = (omega * rate_hz / (2 * pi) >= low_hz) & (omega * rate_hz / (2 * pi) <= high_hz)
    peak = int(np.argmax(fft.irfft(cross * inside, n)))
    lag = float(peak if peak < n // 2 else peak - n)
    s, w = cross[inside], omega[inside]
    # Weight by signal over noise where the band stands out, by its square where it sinks into the noise.
    level = np.convolve(np.abs(s), np.full(32, 1 / 32), mode="same")
    weight = level * (level / (level + SINK * np.quantile(level, 0.05))) ** 2
    for _ in range(4):
        left = np.angle(s * np.exp(1j * w * lag))
        lag -= float((weight * w * left).sum() / (weight * w * w).sum())
    left = np.angle(s * np.exp(1j * w * lag))
    # neighboring bins of a padded spectrum share their noise: two of them are worth one
    u = float(np.sqrt(2 * (weight**2 * w**2 * left**2).sum()) / (weight * w * w).sum())
    return lag, u


def fast_length(n: int) -> int:
    """The next length that a Fourier transform is quick at. `n`, samples."""
    from scipy import fft

    return int(fft.next_fast_len(n, real=True))


def _match(recording: Real, rate_hz: float, take: Take, step: int) -> Real:
    """How well the pilot matches from each sample on, at the slow rate, by the median of it all."""
    from scipy import fft

    def slowed(x: Real) -> Real:
        return np.asarray(x[: x.size // step * step].reshape(-1, step).mean(axis=1))

    sound = slowed(recording)
    pilot = slowed(take.pilot.samples(rate_hz, int(take.pilot.length_s * rate_hz)))
    n = fast_length(sound.size + pilot.size)
    heard, sent = fft.rfft(sound, n), fft.rfft(pilot, n)
    f = np.arange(heard.size) * rate_hz / step / n
    band = (f > take.pilot.f1_hz) & (f < min(take.pilot.f2_hz, 0.4 * rate_hz / step))
    # smoothed over some hertz: a hum or a rumble then counts no more than the band it stands in
    width = max(3, int(8 * n * step / rate_hz))
    power = np.cumsum(np.concatenate([np.zeros(1), np.abs(heard) ** 2]))
    at = np.arange(heard.size)
    low, high = np.maximum(at - width, 0), np.minimum(at + width + 1, heard.size)
    level = np.sqrt((power[high] - power[low]) / (high - low))
    best = np.zeros(0)
    # Whitened for a wide band in rumble, plain for a channel that plays a small part of the band: the clearer of both.
    for scale in (level * np.abs(sent), np.full(heard.size, np.abs(sent).max())):
        safe = np.where(band & (scale > 0), scale, np.inf)
        match = np.abs(fft.irfft(heard * np.conj(sent) / safe, n)[: sound.size])
        match /= max(float(np.median(match)), 1e-300)
        if not best.size or match.max() > best.max():
            best = match
    return best


def _pair(match: Real, slow: float, spacing: float, noise: float, take: Take, length_s: float) -> tuple[int, int]:
    """First and last pilot, in samples of the match: the candidate whose partner is best."""
    reach = int((MAX_PPM * 1e-6 * spacing + 0.005) * slow) + 2
    apart = int(spacing * slow)
    left, starts = match.copy(), []
    for _ in range(CANDIDATES):
        k = int(np.argmax(left))
        if left[k] < PEAK / 2 * noise:
            break
        starts.append(k)
        left[max(0, k - int(0.05 * slow)) : k + int(0.05 * slow)] = 0
    best, found = 0.0, None
    for k in starts:
        window = match[max(k + apart - reach, 0) : k + apart + reach + 1]
        if window.size and window.max() > PEAK / 2 * noise and match[k] + window.max() > best:
            best = match[k] + float(window.max())
            found = (k, max(k + apart - reach, 0) + int(np.argmax(window)))
    if found is not None:
        return found
    top = min(k for k in starts if match[k] > 0.4 * match.max())  # the earlier of two that are alike
    if top / slow + spacing + take.pilot.length_s > length_s:
        raise InputError(
            "the recording", f"it ends {length_s - top / slow:.1f} s after a pilot",
            f"a recording that goes on to the end of the sweep file, {spacing + take.pilot.length_s:.1f} s after the "
            "first pilot: start recording first, stop it last",
        )  # fmt: skip
    others = [k for k in starts if abs(k - top) > 0.5 * slow and match[k] > PEAK * noise]
    if others:
        raise _missing(abs(others[0] - top) / slow, spacing)
    raise InputError(
        "the recording", "a pilot, but not a second one where it belongs",
        "a recording of this very sweep file (another sweep has its pilots elsewhere), without pauses",
    )  # fmt: skip


def _missing(found_s: float, spacing: float) -> InputError:
    return InputError(
        "time between the pilots", f"{found_s:.4f} s",
        f"{spacing:.4f} s to {MAX_PPM:.0f} ppm: either pieces of the recording are missing (turn off other programs, "
        "record to the device's own memory), or another sweep was played",
    )  # fmt: skip


def _arrival(recording: Real, rate_hz: float, about: int, take: Take, true_rate: float) -> float:
    """Sample at which the first pilot begins: the greatest of its whitened match at the full rate."""
    from scipy import fft

    lead = round(LEAD_S * rate_hz)
    count = int(take.pilot.length_s * true_rate) + 1
    begin = max(about - lead, 0)
    piece = recording[begin : about + count + lead]
    n = fast_length(piece.size + count)
    heard, sent = fft.rfft(piece, n), fft.rfft(take.pilot.samples(true_rate, count), n)
    f = np.arange(heard.size) * true_rate / n
    band = (f > take.pilot.f1_hz) & (f < take.pilot.f2_hz)
    power = np.abs(sent) ** 2
    match = fft.irfft(np.where(band, heard * np.conj(sent) / (power + 1e-3 * power[band].max()), 0), n)
    return float(begin + int(np.argmax(np.abs(match[: 2 * lead]))))
