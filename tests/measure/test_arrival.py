"""Arrival and polarity: hundreds of made-up chains, and through the whole of a take."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from measure.chain import Path, Shape, butter, cabin_like, echoes, product, record

from backwave.measure.analysis import read_take
from backwave.measure.response import Impulse, minimum_phase_twin, relation, single_arrival, window
from backwave.measure.sweep import Sweep, plan_take, take_signal

RATE, N = 48000.0, 1 << 16
F = np.fft.rfftfreq(N, 1 / RATE)
BAND = np.interp(np.log(np.maximum(F, 1.0)), np.log([16, 20, 20000, 23900]), [0, 1, 1, 0])
FAMILIES = ("full", "low", "high")


def impulse(shape: Shape, polarity: int = 1, delay_s: float = 0.0, noise: float = 1e-4, seed: int = 0) -> Impulse:
    """As a sweep would bring it out: in the sweep's band, with noise, windowed."""
    h = np.fft.irfft(shape(F) * BAND * polarity * np.exp(-2j * np.pi * F * (0.25 + delay_s)), N)
    h += np.random.default_rng(seed).normal(0, noise * np.abs(h).max(), N)
    k = int(np.abs(h).argmax())
    return Impulse(h[k - 5000 : k + 25000] * window(5000, 25000), RATE, (k - 5000) / RATE, 5000)


def family(name: str, rng: np.random.Generator) -> Shape:
    bass = butter("high", int(rng.integers(1, 5)), rng.uniform(25, 80))
    if name == "low":
        return product(bass, butter("low", int(rng.integers(1, 5)), rng.uniform(90, 300)))
    if name == "high":
        crossover = butter("high", int(rng.integers(1, 5)), rng.uniform(1500, 5000))
        return product(crossover, butter("low", 2, rng.uniform(12e3, 20e3)))
    return product(bass, butter("low", 2, rng.uniform(8e3, 20e3)))


@pytest.mark.parametrize("name", FAMILIES)
def test_polarity_is_right_or_not_sure(name: str) -> None:
    """100 chains a family with reflections; the sign of the largest peak, tried beside it, is often wrong."""
    rng = np.random.default_rng(7)
    found, by_peak = [], []
    for seed in range(100):
        sign = int(rng.choice([-1, 1]))
        late = echoes(*((rng.uniform(0.0005, 0.02), rng.uniform(-0.35, 0.35)) for _ in range(5)))
        h = impulse(product(family(name, rng), late), sign, seed=seed)
        found.append(single_arrival(h, 20.0).polarity * sign)
        by_peak.append(int(np.sign(h.samples[h.arrival])) * sign)
    assert -1 not in found
    assert found.count(1) >= 95
    if name == "low":
        assert by_peak.count(1) < 90


def test_twin_of_a_least_phase_chain_is_the_chain() -> None:
    """Poles and zeros inside the unit circle: least phase (Oppenheim and Schafer 1975, chapter 7); scipy's filter."""
    pulse = np.zeros(8000)
    pulse[0] = -1.0
    h = scipy.signal.lfilter([1.0, -0.9, 0.5], [1.0, -1.6, 0.75], pulse)
    late = np.concatenate([np.zeros(300), h])
    twin = minimum_phase_twin(Impulse(late, RATE, 0.0, int(np.argmax(np.abs(late)))), 20.0)
    assert twin[:2000] == pytest.approx(-h[:2000], abs=1e-3)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(
    "shape", [cabin_like(), product(butter("high", 2, 30.0), butter("low", 4, 110.0)), butter("high", 4, 3000.0)]
)
def test_delay_within_two_microseconds(shape: Shape, sign: int) -> None:
    """Through a whole take: 60 dB signal over noise, 150 ppm, 16 bit; full-range, low-passed, high-passed."""
    take = plan_take(outputs=("left", "right"), sounding=("left", "right"), sweep=Sweep(length_s=2.5))
    late = product(shape, echoes((0.0052, 0.25)))
    paths = [Path(late, 0.003), Path(late, 0.0030 + 0.00152137, 0.6 * sign)]
    got = record(take_signal(take), 48000, paths, ppm=150, snr_db=60)
    first, second = read_take(got.samples, 48000, take).responses
    assert second.delay_s == pytest.approx(0.00152137, abs=2e-6)
    assert second.polarity == sign
    assert second.relation is not None
    assert second.relation.sure
    assert first.delay_s is None
    assert first.polarity in (0, 1)


def test_unlike_channels_are_compared_by_their_twins() -> None:
    """A midbass and a tweeter, least phase both: what is left is the delay put in."""
    woofer = product(butter("high", 2, 60.0), butter("low", 4, 2500.0))
    tweeter = butter("high", 4, 2500.0)
    for sign in (1, -1):
        got = relation(impulse(woofer, 1), impulse(tweeter, sign, 0.0007), 20.0, 20000.0)
        assert got.alike < 0.8
        assert got.polarity == sign
        assert got.delay_s == pytest.approx(0.0007, abs=1e-4)


def test_methods_that_disagree_say_not_sure() -> None:
    """Two reflections of opposite sign, the later louder: no one can say which is the sound itself."""
    h = np.zeros(20000)
    h[5000], h[5020] = -0.3, 1.0
    got = single_arrival(Impulse(h, RATE, 0.0, 5020), 20.0)
    assert got.twin != got.first
    assert got.polarity == 0
