"""Arrival and polarity, each by two methods; where they disagree the answer is "not sure".

With an unknown microphone and two clocks only what differs between channels of one take is known of arrival; the
polarity of a channel alone is that of the whole chain.  The sign of the largest peak is no method: it is wrong for
most subwoofers.  Numpy alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from backwave.measure.response import Impulse, window
from backwave.measure.synchronize import cross_lag, fast_length

Real = NDArray[np.float64]

FIRST = 0.2  # part of the greatest sample that the first excursion has to exceed
BELL_HZ = 7000.0
ALIKE = 0.8  # correlation above which two channels count as like each other
EARLY_S = 0.012  # after the arrival that two channels are compared over, or two periods of their middle frequency
FLOOR = 10 ** (-50 / 20)  # of the greatest magnitude: below it is noise, and a logarithm would follow it


@dataclass(frozen=True)
class Arrival:
    """When the sound of one channel arrives and which way it pushes first."""

    twin_s: float  # after the start of the sweep: by the least-phase twin, and by the first excursion
    first_s: float
    twin: int  # polarity by each method, 1 or -1
    first: int
    middle_hz: float  # middle of its energy over log frequency

    @property
    def polarity(self) -> int:
        """1, -1, or 0 where the two methods disagree, no unit."""
        return self.twin if self.twin == self.first else 0


@dataclass(frozen=True)
class Relation:
    """A channel against the first of its take."""

    delay_s: float  # how much later it arrives
    other_s: float  # the same by the other method
    alike: float  # 1, correlation of the early sound, 0 to 1
    polarity: int  # 1 or -1 against the first; 0 not sure
    sure: bool  # whether the two delays agree within a quarter period of the channels' middle


def minimum_phase_twin(impulse: Impulse, low_hz: float) -> Real:
    """The response of the same magnitude and least phase, by folding the cepstrum (Oppenheim and Schafer, 1975).

    `low_hz`: below it nothing was measured: the magnitude is held; returns (n,): from its time zero on, n at least
    three times the response.
    """
    n = 2 * fast_length(3 * impulse.samples.size // 2)
    size = np.abs(np.fft.rfft(impulse.samples, n))
    edge = int(np.ceil(low_hz * n / impulse.rate_hz))
    size[:edge] = size[edge]
    cepstrum = np.fft.irfft(np.log(np.maximum(size, FLOOR * size.max())), n)
    cepstrum[1 : n // 2] *= 2
    cepstrum[n // 2 + 1 :] = 0
    return np.asarray(np.fft.irfft(np.exp(np.fft.rfft(cepstrum)), n))


def single_arrival(impulse: Impulse, low_hz: float) -> Arrival:
    """Arrival and polarity of one channel by both methods."""
    impulse = _shortened(impulse)
    h, rate = impulse.samples, impulse.rate_hz
    twin = minimum_phase_twin(impulse, low_hz)
    n = twin.size
    cross = np.fft.irfft(np.fft.rfft(h, n) * np.conj(np.fft.rfft(twin)), n)
    k = int(np.argmax(np.abs(cross)))
    lag = k + _vertex(np.abs(cross[[k - 1, k, (k + 1) % n]]))
    lag -= n if lag > n / 2 else 0
    # the edge of the band at 20 kHz rings before the arrival too: a bell in frequency has no such ringing
    bell = np.exp(-0.5 * (np.fft.rfftfreq(n, 1 / rate) / BELL_HZ) ** 2)
    h = np.fft.irfft(np.fft.rfft(h, n) * bell, n)[: h.size]
    least = FIRST * float(np.abs(h).max())
    first = int(np.argmax(np.abs(h) > least))
    before = abs(h[first - 1]) if first and h[first - 1] * h[first] > 0 else 0.0
    crossing = first - (abs(h[first]) - least) / max(abs(h[first]) - before, 1e-300) if first else 0.0
    f = np.geomspace(max(low_hz, 10.0), 0.45 * rate, 400)
    energy = np.abs(impulse.spectrum(f)) ** 2
    middle = float(np.exp((np.log(f) * energy).sum() / energy.sum()))
    return Arrival(
        impulse.start_s + lag / rate, impulse.start_s + crossing / rate,
        1 if cross[k] > 0 else -1, 1 if h[first] > 0 else -1, middle,
    )  # fmt: skip


def relation(first: Impulse, other: Impulse, low_hz: float, high_hz: float) -> Relation:
    """Delay and polarity of a channel against the first of the same take.

    Channels that are like each other are compared directly, by the cross-spectrum of their early sound; others by
    what each arrives later than its own least-phase twin.  Each is checked by the other.
    """
    a, b = single_arrival(first, low_hz), single_arrival(other, low_hz)
    period = 1 / min(a.middle_hz, b.middle_hz)
    by_twin = b.twin_s - a.twin_s
    size = int(max(EARLY_S, 2 * period) * first.rate_hz)
    one, two = _early(first, size), _early(other, size)
    n = fast_length(2 * one.size)
    cross = np.fft.irfft(np.fft.rfft(two, n) * np.conj(np.fft.rfft(one, n)), n)
    k = int(np.argmax(np.abs(cross)))
    sign = 1 if cross[k] > 0 else -1
    alike = float(abs(cross[k]) / np.sqrt((one @ one) * (two @ two)))
    lag, _ = cross_lag(one, sign * two, first.rate_hz, low_hz, high_hz)
    direct = (other.start_s + other.arrival / other.rate_hz) - first.arrival_s + lag / first.rate_hz
    known = a.polarity * b.polarity
    if alike >= ALIKE:
        # a strong likeness settles it; where both are known besides, they have to say the same
        return Relation(direct, by_twin, alike, sign if known in (0, sign) else 0, abs(direct - by_twin) < period / 4)
    by_first = b.first_s - a.first_s
    return Relation(by_twin, by_first, alike, known, abs(by_twin - by_first) < period / 4)


def _shortened(impulse: Impulse) -> Impulse:
    """What is within a tenth of a second before and a quarter after the arrival: later sound says nothing of it."""
    before = min(impulse.arrival, int(0.1 * impulse.rate_hz))
    after = min(impulse.samples.size - impulse.arrival, int(0.25 * impulse.rate_hz))
    begin = impulse.arrival - before
    piece = impulse.samples[begin : impulse.arrival + after] * window(before, after)
    return Impulse(piece, impulse.rate_hz, impulse.start_s + begin / impulse.rate_hz, before)


def _early(impulse: Impulse, size: int) -> Real:
    """The sound round the arrival, which stands at a quarter of it, faded at both ends."""
    begin = impulse.arrival - size // 4
    at = np.arange(begin, begin + size)
    inside = (at >= 0) & (at < impulse.samples.size)
    piece = np.where(inside, impulse.samples[np.clip(at, 0, impulse.samples.size - 1)], 0)
    edge = size // 8
    fade = 0.5 - 0.5 * np.cos(pi * (np.arange(edge) + 0.5) / edge)
    piece[:edge] *= fade
    piece[-edge:] *= fade[::-1]
    return np.asarray(piece)


def _vertex(y: Real) -> float:
    """Where the parabola through three even points has its vertex, from the middle one."""
    curve = y[0] - 2 * y[1] + y[2]
    return float((y[0] - y[2]) / (2 * curve)) if curve < 0 else 0.0
