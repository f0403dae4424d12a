"""Finding a take and comparing clocks, on made-up chains whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from measure.chain import Path, Shape, butter, cabin_like, echoes, product, record

from backwave.errors import InputError
from backwave.measure.sweep import Sweep, plan_take, take_signal
from backwave.measure.synchronize import cross_lag, find_take

TAKE = plan_take(outputs=("left", "right"), sounding=("left", "right"), sweep=Sweep(length_s=2.5))
SIGNAL = take_signal(TAKE)
REFLECTIONS = echoes((0.004, 0.4), (0.011, -0.3))


@pytest.mark.parametrize(
    ("ppm", "snr_db", "to_hz", "shape"),
    [
        (0.0, 60, 48000, cabin_like()),
        (200.0, 60, 48000, cabin_like()),
        (-200.0, 60, 44100, product(cabin_like(), REFLECTIONS)),
        (63.0, 60, 48000, product(butter("high", 2, 35.0), butter("low", 4, 100.0))),
        (-120.0, 60, 48000, product(butter("high", 4, 3000.0), REFLECTIONS)),
        (-35.0, 40, 48000, product(cabin_like(), REFLECTIONS)),
    ],
)
def test_clock_within_a_tenth_of_a_millionth(ppm: float, snr_db: float, to_hz: int, shape: Shape) -> None:
    got = record(SIGNAL, 48000, [Path(shape, 0.003), Path(shape, 0.0045)], ppm=ppm, snr_db=snr_db, to_hz=to_hz)
    clock = find_take(got.samples, got.rate_hz, TAKE)
    assert abs(got.ppm - ppm) < 1  # the chain made what was asked for
    assert clock.ppm == pytest.approx(got.ppm, abs=0.1)
    # the sound left the player at 0.7313 s and took some milliseconds
    assert -0.001 < clock.origin / clock.rate_hz - 0.7313 < 0.03


def test_stated_uncertainty_of_the_clock_is_met() -> None:
    """Over ten noises the error is within three of its stated standard uncertainties, and not far below them."""
    share = []
    got = record(SIGNAL, 48000, [Path(cabin_like())] * 2, ppm=50, bits=None)
    for seed in range(10):
        noise = np.random.default_rng(seed).normal(0, 0.01, got.samples.size)
        clock = find_take(got.samples + noise, got.rate_hz, TAKE)
        share.append((clock.ppm - got.ppm) / clock.u_ppm)
    assert max(np.abs(share)) < 3.5
    assert 0.3 < np.std(share) < 2.0


def test_rumble_does_not_hide_the_pilots() -> None:
    """A garage: 30 Hz hum at the level of the sweep."""
    got = record(SIGNAL, 48000, [Path(cabin_like())] * 2, ppm=20, snr_db=40, bits=None)
    t = np.arange(got.samples.size) / 48000
    hum = np.abs(got.samples).max() * np.sin(2 * np.pi * 30 * t)
    assert find_take(got.samples + hum, got.rate_hz, TAKE).ppm == pytest.approx(got.ppm, abs=0.1)


def test_cross_lag_of_a_known_fraction_of_a_sample() -> None:
    """A delay made by the shift theorem of the Fourier transform."""
    rng = np.random.default_rng(4)
    x = rng.normal(size=4096) * np.hanning(4096)
    f = np.fft.rfftfreq(8192)
    for delay in (-37.31, 0.0, 0.27, 512.73):
        y = np.fft.irfft(np.fft.rfft(x, 8192) * np.exp(-2j * np.pi * f * (delay + 1000)), 8192)
        z = np.fft.irfft(np.fft.rfft(x, 8192) * np.exp(-2j * np.pi * f * 1000), 8192)
        assert cross_lag(z, y, 48000.0, 100.0, 20000.0)[0] == pytest.approx(delay, abs=1e-3)


def test_what_is_not_there_is_refused() -> None:
    got = record(SIGNAL, 48000, [Path(cabin_like())] * 2, snr_db=40)
    with pytest.raises(InputError, match="goes on to the end"):
        find_take(got.samples[: got.samples.size * 2 // 3], 48000, TAKE)
    with pytest.raises(InputError, match="no pilot"):
        find_take(np.random.default_rng(1).normal(0, 0.1, 10 * 48000), 48000, TAKE)
    with pytest.raises(InputError, match="pieces of the recording are missing"):
        find_take(np.delete(got.samples, np.s_[240000:250000]), 48000, TAKE)
    other = plan_take(outputs=("left", "right"), sounding=("left", "right"), sweep=Sweep(length_s=2.0))
    with pytest.raises(InputError, match="another sweep was played"):
        find_take(got.samples, 48000, other)
