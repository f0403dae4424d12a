"""From a recording to responses: deconvolution, harmonics, windows, spectra, signal over noise, arrival, polarity.

The recording of a sweep is divided by the sweep as it would be on the recorder's clock, in the band that the sweep
covers and nowhere else (a tiny fixed floor there lets the noise below and above the band through).  The response of
the m-th harmonic comes out L ln(m) before that of the fundamental (Farina 2000; Novak and others 2015).

Arrival and polarity are each read by two methods; where they disagree the answer is "not sure".  With an unknown
microphone and two clocks only what differs between channels of one take is known of arrival; the polarity of a channel
alone is that of the whole chain.  The sign of the largest peak is no method: it is wrong for most subwoofers.

Impulse responses are gains against the player's full scale; times in s of the player after the start of the sweep as
the pilots place it, so that events of one take share one clock.  Numpy, and `scipy.fft` inside."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import band_levels, log_frequencies
from backwave.errors import InputError
from backwave.measure.sweep import TAIL_S, Event, Sweep, Take
from backwave.measure.synchronize import Clock, cross_lag, fast_length

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
ORDERS = (2, 3, 4, 5)  # harmonics that are read
LEAD_S = 0.2  # before the sweep is due: another channel may be nearer than the pilot's
BEFORE_S, AFTER_S = 0.3, 0.8  # kept round the arrival
EDGE = 2 ** (1 / 3)  # ratio over which the band of the division fades, outside the sweep's own
HARMONIC_S = 0.25  # longest piece of a harmonic's response
NOISE_MARGIN = 1.5  # a band counts from so much above the noise expected in it
SEEN_DB = 6.0  # a harmonic nearer to its noise than this is not told
FIRST = 0.2  # part of the greatest sample that the first excursion has to exceed
BELL_HZ = 7000.0
ALIKE = 0.8  # correlation above which two channels count as like each other
EARLY_S = 0.012  # after the arrival that two channels are compared over, or two periods of their middle frequency
FLOOR = 10 ** (-50 / 20)  # of the greatest magnitude: below it is noise, and a logarithm would follow it


@dataclass(frozen=True)
class Impulse:
    """An impulse response."""

    samples: Real  # (n,) 1, gain against full scale, by sample
    rate_hz: float  # samples in one second of the player
    start_s: float  # time of the first sample after the start of the sweep
    arrival: int  # index of the greatest sample

    @property
    def arrival_s(self) -> float:
        """Time of the greatest sample after the start of the sweep, s."""
        return self.start_s + self.arrival / self.rate_hz

    def spectrum(self, f_hz: ArrayLike, zero_s: float | None = None) -> Complex:
        """Complex response."""
        f = np.asarray(f_hz, dtype=float)
        # turned so that the arrival is at zero: the spectrum is then smooth enough to be read between its points
        whole, n = self._whole()
        at = f * n / self.rate_hz
        low = np.clip(at.astype(int), 0, whole.size - 2)
        h = whole[low] + (at - low) * (whole[low + 1] - whole[low])
        shift = 0.0 if zero_s is None else self.arrival_s - zero_s
        return np.asarray(h * np.exp(-2j * pi * f * shift))

    def level_db(self, f_hz: ArrayLike, fraction: float = 48.0) -> Real:
        """Level over a band round each frequency, as power: fine structure between the frequencies is in it.
        `fraction`, 1; returns (n_freq,) dB."""
        whole, n = self._whole()
        f, half = np.asarray(f_hz, dtype=float), 2 ** (1 / (2 * fraction))
        at = np.arange(1, whole.size) * self.rate_hz / n
        size = 20 * np.log10(np.abs(whole[1:]) + 1e-15)
        return band_levels(at, size, f / half, np.minimum(f * half, at[-1]))

    def _whole(self) -> tuple[Complex, int]:
        n = fast_length(4 * self.samples.size)
        return np.fft.rfft(np.roll(np.pad(self.samples, (0, n - self.samples.size)), -self.arrival)), n


@dataclass(frozen=True)
class ResponseReading:
    """One sweep of a take as it was received."""

    event: Event
    sweep: Sweep  # what was played
    linear: Impulse  # of the fundamental, windowed
    # the same with each band weighted by how far it stands out of the noise: for arrival and polarity
    clear: Impulse
    harmonics: tuple[Impulse, ...]  # of the orders in `ORDERS`, as far as they can be kept apart
    noise: Real  # (2, n) Hz and full scale squared by Hz, frequencies and power density of the quiet before


def deconvolve(recording: Real, clock: Clock, take: Take, event: Event, after_s: float = AFTER_S) -> ResponseReading:
    """The impulse responses of one sweep of a take. `recording`, (n,) 1; `after_s`: how much is kept after the arrival,
    up to the tail between two sweeps."""
    from scipy import fft

    sweep, rate = take.of(event), clock.rate_hz
    begin = clock.at(event.start / take.rate_hz)
    whole = int(np.ceil(begin))  # first sample of the sweep; what is left of a sample is in its formula
    lead = int(LEAD_S * rate)
    last = whole + int((sweep.length_s + TAIL_S - LEAD_S) * rate)
    if whole < lead or last > recording.size + int(0.3 * rate):
        raise InputError("the recording", f"it does not hold all of the sweep {event.name!r}", "the whole take")
    piece = recording[whole - lead : last]
    n = fast_length(piece.size)
    sent = fft.rfft(sweep.samples(rate, int(sweep.length_s * rate) + 1, (whole - begin) / rate), n)
    response = fft.irfft(fft.rfft(piece, n) * _inverse(sent, rate, n, sweep), n)
    keep = (min(BEFORE_S, 0.4 * sweep.L * log(2)), min(after_s, TAIL_S - LEAD_S))
    noise = noise_power(recording, clock, take)
    # a first cut where the pilots put the sweep; the arrival is sought in what of it stands out of the noise
    near = _cut(response, rate, -lead, lead, *keep)
    clear = _clear(near, noise, sweep)
    due = near.arrival
    arrival = lead - due + int(np.argmax(np.abs(clear[: due + 2 * lead])))
    linear = _cut(response, rate, -lead, arrival, *keep)
    harmonics = []
    for m in ORDERS:
        # the next order comes L ln((m+1)/m) before this one, the order below it L ln(m/(m-1)) after
        before = min(0.1, 0.3 * sweep.L * log((m + 1) / m))
        after = min(HARMONIC_S, 0.6 * sweep.L * log(m / (m - 1)))
        harmonics.append(_cut(response, rate, -lead, arrival - round(sweep.L * log(m) * rate), before, after))
    clear_linear = Impulse(_clear(linear, noise, sweep), rate, linear.start_s, linear.arrival)
    return ResponseReading(event, sweep, linear, clear_linear, tuple(harmonics), noise)


def window(before: int, after: int) -> Real:
    """A window with a raised cosine over its first half before the arrival and over its last third after it. `before`,
    `after`, samples."""
    rise, fall = max(before // 2, 1), max(after // 3, 1)
    w = np.ones(before + after)
    w[:rise] = 0.5 - 0.5 * np.cos(pi * (np.arange(rise) + 0.5) / rise)
    w[-fall:] = 0.5 + 0.5 * np.cos(pi * (np.arange(fall) + 0.5) / fall)
    return w


def gated_spectrum(impulse: Impulse, f_hz: ArrayLike, cycles: float, most_s: float = 0.5) -> Complex:
    """Spectrum through a window that is so many cycles long at each frequency: what comes late counts less. `cycles`,
    1: length of the window after the arrival, in periods; before it a quarter of that."""
    if not cycles > 0:
        raise InputError("length of the window", cycles, "above 0 periods")
    out = []
    for f in np.asarray(f_hz, dtype=float).tolist():
        after = max(8, min(int(min(cycles / f, most_s) * impulse.rate_hz), impulse.samples.size - impulse.arrival))
        before = min(max(4, after // 4), impulse.arrival)
        piece = impulse.samples[impulse.arrival - before : impulse.arrival + after] * window(before, after)
        turn = np.exp(-2j * pi * f / impulse.rate_hz * np.arange(-before, after))
        out.append(piece @ turn)
    return np.asarray(out)


def noise_power(recording: Real, clock: Clock, take: Take) -> Real:
    """Power density of the quiet before the first pilot, by averaged periodograms (Welch 1967, IEEE Trans. AU-15).
    `recording`, (n,) 1; returns (2, n) Hz and full scale squared by Hz."""
    end = int(clock.at(take.pilots[0].start / take.rate_hz) - 0.2 * clock.rate_hz)
    quiet = recording[max(0, end - int(5 * clock.rate_hz)) : max(end, 0)]
    size = 1 << 14
    while size > 256 and quiet.size < size:
        size //= 2
    if quiet.size < size:
        raise InputError("the recording", "no quiet before the sweep", "recording begun a second or more before it")
    w = np.hanning(size)
    pieces = np.lib.stride_tricks.sliding_window_view(quiet, size)[:: size // 2]
    power = (np.abs(np.fft.rfft(pieces * w)) ** 2).mean(axis=0) * 2 / (clock.rate_hz * (w**2).sum())
    return np.stack([np.fft.rfftfreq(size, 1 / clock.rate_hz), power])


def signal_to_noise(reading: ResponseReading, f_hz: ArrayLike) -> Real:
    """Signal over noise of the response, in the third of an octave round each frequency. Returns (n_freq,) dB."""
    f = np.asarray(f_hz, dtype=float)
    around = f[:, None] * 2 ** np.linspace(-1 / 6, 1 / 6, 9)
    # at the very ends the sweep's fades lift the noise: what is told there is read just inside
    around = np.clip(around, reading.sweep.f1_hz * 2 ** (1 / 12), reading.sweep.f2_hz * 2 ** (-1 / 6))
    signal = (np.abs(reading.linear.spectrum(around.ravel())) ** 2).reshape(around.shape).mean(axis=1)
    noise = _noise(reading.linear, reading.noise, reading.sweep, around).mean(axis=1)
    return np.asarray(10 * np.log10(np.maximum(signal / noise - 1, 1e-3)))


def harmonic_levels(reading: ResponseReading, f_hz: ArrayLike) -> tuple[Real, Real]:
    """Levels of the harmonics of each frequency against the fundamental, and the lowest that could have been seen.
    Returns (n_orders, n_freq) dB: the level at m f against that at f, by order as in `ORDERS`; nan where m f is beyond
    the sweep or the rate, or where the harmonic is not clear of the noise."""
    f = np.asarray(f_hz, dtype=float)
    fundamental = np.abs(reading.linear.spectrum(f))
    levels, floors = [], []
    for m, harmonic in zip(ORDERS, reading.harmonics, strict=True):
        # short of the sweep's end, where its fade is spread over all times
        top = min(reading.sweep.f2_hz, 0.47 * harmonic.rate_hz) * 2 ** (-1 / 8)
        reach = (m * f < top) & (f > reading.sweep.f1_hz)
        noise = _noise(harmonic, reading.noise, reading.sweep, m * f)
        floor = 10 * np.log10(noise / fundamental**2)
        # over a twelfth of an octave, so that noise averages out
        around = np.where(reach, m * f, 1e3)[:, None] * 2 ** np.linspace(-1 / 24, 1 / 24, 7)
        power = (np.abs(harmonic.spectrum(around.ravel())) ** 2).reshape(around.shape).mean(axis=1)
        level = 10 * np.log10(np.maximum(power - noise, 1e-30) / fundamental**2)
        levels.append(np.where(reach & (level > floor + SEEN_DB), level, np.nan))
        floors.append(np.where(reach, floor, np.nan))
    return np.asarray(levels), np.asarray(floors)


def _noise(impulse: Impulse, noise: Real, sweep: Sweep, f: Real) -> Real:
    """Mean square that the quiet's noise leaves in the spectrum of a windowed response. The sweep's spectrum is half
    its amplitude times sqrt(L/f) (Novak and others 2015); `samples` is windowed, and its noise lasts as long as the
    window's square adds up to."""
    before, after = impulse.arrival, impulse.samples.size - impulse.arrival
    lasting = float((window(before, after) ** 2).sum())
    power = np.interp(f, noise[0], noise[1])
    return np.asarray(2 * lasting * power * f / (sweep.amplitude**2 * sweep.L * impulse.rate_hz)) + 1e-30


def _clear(impulse: Impulse, noise: Real, sweep: Sweep) -> Real:
    """A response weighted by signal over signal and noise, by thirds of an octave (Wiener's filter, zero phase)."""
    n = impulse.samples.size
    spectrum = np.fft.rfft(impulse.samples)
    at = np.fft.rfftfreq(n, 1 / impulse.rate_hz)[1:]
    # short of both ends, where the sweep's fades lift the noise
    low, high = (max(sweep.f1_hz, 2 * at[0]) * 2 ** (1 / 4), min(sweep.f2_hz, 0.47 * impulse.rate_hz) * 2 ** (-1 / 4))
    f = log_frequencies(low, high, 6)
    level = band_levels(at, 20 * np.log10(np.abs(spectrum[1:]) + 1e-15), f * 2 ** (-1 / 6), f * 2 ** (1 / 6))
    signal = 10 ** (level / 10) / NOISE_MARGIN - _noise(impulse, noise, sweep, f)
    weight = np.maximum(signal * NOISE_MARGIN, 0) / 10 ** (level / 10)
    spectrum[1:] *= np.interp(np.log(at), np.log(f), weight)
    return np.asarray(np.fft.irfft(spectrum, n))


def _inverse(sent: Complex, rate: float, n: int, sweep: Sweep) -> Complex:
    """1 over the sweep inside its band, faded out just outside it where there is little of it."""

    def index(f_hz: float) -> int:
        return min(sent.size, int(np.ceil(min(f_hz, 0.4999 * rate) * n / rate)))

    low, high = sweep.f1_hz, sweep.f2_hz
    first, begin, end, last = index(low / EDGE), index(low), index(high), index(high * EDGE)
    x = sent[first:last]
    power = x.real**2 + x.imag**2
    # outside f1 to f2 the sweep itself fades: no more gain there than at the edge
    ends = (slice(0, begin - first), low / EDGE, low), (slice(end - first, last - first), high * EDGE, high)
    for part, edge, inside in ends:
        f = np.arange(first, last)[part] * rate / n
        least = (sweep.amplitude / 2 * rate) ** 2 * sweep.L / np.maximum(f, low) * 0.1
        share = 0.5 - 0.5 * np.cos(pi * np.clip(np.log(f / edge) / log(inside / edge), 0, 1))
        power[part] = np.maximum(power[part], least) / np.maximum(share, 1e-30)
    inverse = np.zeros(sent.size, dtype=complex)
    np.divide(np.conj(x), power, out=inverse[first:last])
    return inverse


def _cut(response: Real, rate: float, first: int, centre: int, before_s: float, after_s: float) -> Impulse:
    """A windowed piece of a circular response whose first sample is `first` samples after the start of the sweep."""
    before, after = int(before_s * rate), int(after_s * rate)
    piece = response[np.arange(centre - before, centre + after) % response.size] * window(before, after)
    return Impulse(piece, rate, (first + centre - before) / rate, before)


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
        """1, -1, or 0 where the two methods disagree."""
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
    three times the response."""
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
    """Delay and polarity of a channel against the first of the same take. Channels that are like each other are
    compared directly, by the cross-spectrum of their early sound; others by what each arrives later than its own
    least-phase twin. Each is checked by the other."""
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
