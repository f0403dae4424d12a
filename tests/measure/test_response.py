"""Recording to response on chains with known truth: magnitude, harmonics, windows, noise, a real room."""

from __future__ import annotations

from functools import cache
from pathlib import Path as File

import numpy as np
import pytest
import scipy.signal
from measure.chain import Path, Recorded, cabin_like, echoes, product, record

from backwave.acoustics import log_frequencies, smoothed
from backwave.errors import InputError
from backwave.files.recordings import read_sound
from backwave.measure.analysis import decay_s, read_take
from backwave.measure.response import (
    Impulse,
    ResponseReading,
    deconvolve,
    gated_spectrum,
    harmonic_levels,
    signal_to_noise,
    window,
)
from backwave.measure.sweep import Sweep, plan_take, take_signal
from backwave.measure.synchronize import find_take

ONE = plan_take(outputs=("left",), sweep=Sweep(length_s=5.0))
F = log_frequencies(30.0, 16000.0, 24)
ROOM = product(cabin_like(), echoes((0.0041, 0.3), (0.0093, -0.25), (0.017, 0.15)))


@cache
def reading(ppm: float, to_hz: int) -> tuple[ResponseReading, Recorded]:
    got = record(take_signal(ONE), 48000, [Path(ROOM, 0.0032)], ppm=ppm, snr_db=60, to_hz=to_hz)
    clock = find_take(got.samples, got.rate_hz, ONE)
    return deconvolve(got.samples, clock, ONE, ONE.sweeps[0]), got


def db(x: np.ndarray) -> np.ndarray:
    return 20 * np.log10(np.abs(x))


@pytest.mark.parametrize(("ppm", "to_hz"), [(0.0, 48000), (200.0, 48000), (-200.0, 44100)])
def test_magnitude_within_a_twentieth_of_a_decibel(ppm: float, to_hz: int) -> None:
    """30 Hz to 16 kHz at 60 dB signal over noise; truth is the chain's own formula."""
    got, _ = reading(ppm, to_hz)
    assert db(got.linear.spectrum(F)) == pytest.approx(db(ROOM(F)), abs=0.05)


def test_phase_is_that_of_the_chain() -> None:
    """Against the chain's own formula with its delay, from the pilots' zero; the zero itself is one number."""
    got, _ = reading(0.0, 48000)
    left = np.unwrap(np.angle(got.linear.spectrum(F, 0.0) / ROOM(F)))
    line = np.polyfit(F, left, 1)
    assert np.abs(left - np.polyval(line, F)).max() < 0.02
    assert abs(line[1] - 2 * np.pi * round(line[1] / (2 * np.pi))) < 0.02


@pytest.mark.slow
def test_harmonics_of_a_known_polynomial() -> None:
    """sin^2 and sin^3 by the angle formulas (Abramowitz and Stegun 4.3.25 ff.): a2 A^2/2 at 2f, a3 A^3/4 at 3f."""
    a = ONE.sweep.amplitude
    a2, a3 = 0.1 / a, 0.05 / a**2
    linear = cabin_like()
    got = record(take_signal(ONE), 48000, [Path(linear, 0.003, 1.0, (1.0, a2, a3))], ppm=120, snr_db=60, over=4)
    sweep = deconvolve(got.samples, find_take(got.samples, 48000, ONE), ONE, ONE.sweeps[0])
    fundamental = linear(F) * (1 + 0.75 * a3 * a**2)
    assert db(sweep.linear.spectrum(F)) == pytest.approx(db(fundamental), abs=0.05)
    levels, _ = harmonic_levels(sweep, F)
    for row, m, part in ((0, 2, a2 * a / 2), (1, 3, a3 * a**2 / 4)):
        inside = m * F < 16000
        truth = db(part * linear(m * F[inside]) / fundamental[inside])
        assert levels[row, inside] == pytest.approx(truth, abs=0.5)
    # there is no fourth or fifth: whatever is told of them is next to the noise
    assert np.nanmax(levels[2:], initial=-200) < -60
    # beyond the sweep's end nothing is known
    assert np.isnan(levels[0, 2 * F > 20000]).all()


def test_without_distortion_none_is_told() -> None:
    got, _ = reading(0.0, 48000)
    levels, floor = harmonic_levels(got, F)
    inside = F < 5000
    assert np.nanmax(levels[:, inside], initial=-200.0) < -55
    assert np.nanmedian(floor[:, inside]) < -60


def test_noise_told_is_the_noise_there_is() -> None:
    """Scatter of the response between ten noises against the signal over noise that one recording states."""
    take = plan_take(outputs=("left",), sweep=Sweep(length_s=2.0))
    clean = record(take_signal(take), 48000, [Path(ROOM)], bits=None).samples
    spectra, stated = [], np.zeros(F.size)
    for seed in range(10):
        noisy = clean + np.random.default_rng(seed).normal(0, 0.002, clean.size)
        sweep = deconvolve(noisy, find_take(noisy, 48000, take), take, take.sweeps[0])
        spectra.append(np.abs(sweep.linear.spectrum(F)))
        stated += signal_to_noise(sweep, F) / 10
    rows = np.array(spectra)
    scatter = 2 * rows.var(axis=0, ddof=1)  # noise in the magnitude is half of the whole
    truth = 10 * np.log10(np.mean(rows**2, axis=0) / scatter)
    smooth = np.convolve(truth - stated, np.full(12, 1 / 12), "valid")
    assert np.abs(smooth).max() < 3.0
    assert abs(smooth.mean()) < 1.0


def test_longer_sweep_is_clearer() -> None:
    """Twice the length is 3 dB over the noise (Farina 2000)."""
    found = []
    for length in (2.0, 4.0, 8.0):
        take = plan_take(outputs=("left",), sweep=Sweep(length_s=length))
        got = record(take_signal(take), 48000, [Path(cabin_like())], bits=None)
        noisy = got.samples + np.random.default_rng(2).normal(0, 1e-4, got.samples.size)
        sweep = deconvolve(noisy, find_take(noisy, 48000, take), take, take.sweeps[0])
        found.append(float(np.median(signal_to_noise(sweep, F))))
    assert np.diff(found) == pytest.approx([3.01, 3.01], abs=0.6)


def test_a_real_room_comes_back() -> None:
    """A measured living room (tests/measure/data/README.md) convolved with the sweep, recorded and recovered."""
    room = read_sound(File(__file__).parent / "data" / "living_room.wav")
    h = room.samples[:, 0].astype(float)[:20000] * np.interp(np.arange(20000), [0, 15000, 19999], [1, 1, 0])
    take = plan_take(44100, outputs=("left",), sweep=Sweep(length_s=4.0))

    def shape(f: np.ndarray) -> np.ndarray:
        n = 1 << 19
        return np.interp(f, np.fft.rfftfreq(n, 1 / 44100), np.fft.rfft(h, n).real) + 1j * np.interp(
            f, np.fft.rfftfreq(n, 1 / 44100), np.fft.rfft(h, n).imag
        )

    got = record(take_signal(take), 44100, [Path(shape, 0.002)], ppm=-43, snr_db=60)
    whole = read_take(got.samples, 44100, take)
    response = whole.responses[0]
    truth = np.fft.rfft(h, 1 << 18)
    f = log_frequencies(40.0, 15000.0, 12)
    n = np.fft.rfftfreq(1 << 18, 1 / 44100)
    assert response.polarity in (0, 1 if h[np.argmax(np.abs(h) > 0.2 * np.abs(h).max())] > 0 else -1)
    true_db = np.interp(f, n[1:], smoothed(n[1:], db(truth)[1:], 6))
    got_db = np.interp(f, response.f_hz, response.smoothed_db(6))
    assert got_db == pytest.approx(true_db, abs=0.6)  # 48 points an octave against every bin of a room's comb
    assert np.abs(np.mean(got_db - true_db)) < 0.05
    # decay, T20 by backward integration (ISO 3382-2) through another library's octave filter; the room falls fast
    # at first and slowly after, so filters of other shapes differ by a tenth or two
    for center in (1000.0, 3981.07):
        sos = scipy.signal.butter(3, [center / 2**0.5, center * 2**0.5], "band", fs=44100, output="sos")
        energy = scipy.signal.sosfilt(sos, h) ** 2
        level = 10 * np.log10(np.cumsum(energy[::-1])[::-1] / energy.sum())
        start, end = int(np.argmax(level < -5)), int(np.argmax(level < -25))
        t20 = -60 / np.polyfit(np.arange(start, end) / 44100, level[start:end], 1)[0]
        assert min(response.decay, key=lambda d: abs(d[0] - center))[1] == pytest.approx(t20, rel=0.25)


def test_decay_of_a_known_exponential() -> None:
    """Noise under exp(-6.91 t/T) falls 60 dB in T (ISO 3382-2)."""
    rng = np.random.default_rng(5)
    t = np.arange(30000) / 48000
    for time in (0.1, 0.25):
        h = rng.normal(size=t.size) * np.exp(-6.908 * t / time)
        got = decay_s(Impulse(h, 48000.0, 0.0, 0), 2000.0)
        assert got == pytest.approx(time, rel=0.15)
    assert decay_s(Impulse(rng.normal(size=t.size), 48000.0, 0.0, 0), 2000.0) is None


def test_window_in_periods_leaves_out_late_sound() -> None:
    """A reflection 10 ms late combs a whole response; three periods at 2 kHz end before it."""
    h = np.zeros(24000)
    h[4800], h[4800 + 480] = 1.0, 0.7
    impulse = Impulse(h, 48000.0, 0.0, 4800)
    f = np.array([2000.0, 2050.0, 4100.0])
    assert np.abs(gated_spectrum(impulse, f, 3.0)) == pytest.approx(np.ones(3), abs=1e-9)
    whole = np.abs(gated_spectrum(impulse, f, 500.0))
    # |1 + 0.7 exp(-j 2 pi f 10 ms)|: 1.7 at 2000 and 4100 Hz, 0.3 half a comb between
    assert whole == pytest.approx([1.7, 0.3, 1.7], abs=0.02)
    with pytest.raises(InputError):
        gated_spectrum(impulse, f, 0.0)


def test_window_is_one_at_the_arrival_and_soft_at_its_ends() -> None:
    w = window(100, 600)
    assert w[100] == 1.0
    assert w[0] < 0.01
    assert w[-1] < 0.01
    assert ((w >= 0) & (w <= 1)).all()


def test_a_recording_without_its_beginning_is_refused() -> None:
    got = record(take_signal(ONE), 48000, [Path(cabin_like())])
    clock = find_take(got.samples, 48000, ONE)
    with pytest.raises(InputError, match="does not hold all"):
        deconvolve(got.samples[: int(clock.at(6.0))], clock, ONE, ONE.sweeps[0])
