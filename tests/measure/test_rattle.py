"""Rattles found where they were put; a loudspeaker's own distortion is none."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from measure.chain import Path, butter, record

from backwave.errors import InputError
from backwave.measure.rattle import Buzz, buzz_index, check_rattle, quieter, spots
from backwave.measure.sweep import Sweep, plan_take, take_signal
from backwave.measure.synchronize import Clock, find_take

TAKE = plan_take(outputs=("left",), sweep=Sweep(20.0, 300.0, 18.0), pilot_hz=(50.0, 8000.0))
EVENT = TAKE.sweeps[0]


@cache
def clean(distortion: float) -> tuple[np.ndarray, Clock]:
    a = TAKE.sweep.amplitude
    path = Path(butter("high", 2, 45.0), 0.003, 1.0, (1.0, distortion / a, distortion / a**2))
    got = record(take_signal(TAKE), 48000, [path], ppm=30, snr_db=60)
    return got.samples, find_take(got.samples, 48000, TAKE)


@cache
def with_rattle(low: float, high: float, level: float, distortion: float = 0.05) -> Buzz:
    """Bursts of a struck clip, 1.5 ms of 3 kHz, once or twice a period at random moments, while f is in range."""
    samples, clock = clean(distortion)
    rng = np.random.default_rng(3)
    out = samples.copy()
    burst = np.exp(-np.arange(200) / 40) * np.sin(2 * np.pi * 3000 * np.arange(200) / 48000)
    t = float(TAKE.sweep.time(low))
    begin = clock.at(EVENT.start / 48000)
    while t < float(TAKE.sweep.time(high)):
        k = int(begin + t * clock.rate_hz)
        out[k : k + 200] += level * np.abs(samples).max() * rng.uniform(0.5, 1.5) * burst
        t += rng.uniform(0.3, 1.5) / float(TAKE.sweep.frequency(t))
    return buzz_index(out, clock, TAKE, EVENT)


def test_a_rattle_is_found_where_it_is() -> None:
    found = spots(with_rattle(70.0, 90.0, 0.15))
    assert found
    assert found[0].low_hz == pytest.approx(70.0, rel=0.12)
    assert found[-1].high_hz == pytest.approx(90.0, rel=0.12)
    assert all(60 < s.worst_hz < 100 for s in found)
    # where to listen: the moment the drive passes it, by the chain's own offset
    true = 0.7313 + EVENT.start / 48000 + float(TAKE.sweep.time(80.0))
    assert min(s.from_s for s in found) < true < max(s.to_s for s in found)
    assert {c.verdict for c in check_rattle(with_rattle(70.0, 90.0, 0.15))} == {"caution"}


def test_distortion_alone_is_no_rattle() -> None:
    """Ten per cent of second and third order repeats with the drive."""
    samples, clock = clean(0.2)
    buzz = buzz_index(samples, clock, TAKE, EVENT)
    assert not buzz.heard.any()
    assert buzz.index_db.max() < -45
    assert [c.verdict for c in check_rattle(buzz)] == ["ok"]


def test_index_is_the_share_that_was_put_in() -> None:
    """White noise of a known power added in one stretch: index 10 log10(noise/(signal + noise))."""
    samples, clock = clean(0.05)
    begin = clock.at(EVENT.start / 48000)
    a, b = (int(begin + float(TAKE.sweep.time(f)) * clock.rate_hz) for f in (100.0, 160.0))
    out = samples.copy()
    rng = np.random.default_rng(1)
    rms = np.sqrt(np.mean(samples[a:b] ** 2))
    out[a:b] += rng.normal(0, 0.1 * rms, b - a)
    buzz = buzz_index(out, clock, TAKE, EVENT)
    inside = (buzz.f_hz > 108) & (buzz.f_hz < 148)
    assert np.median(buzz.index_db[inside]) == pytest.approx(10 * np.log10(0.01 / 1.01), abs=0.7)


def test_before_and_after_treatment() -> None:
    f, change = quieter(with_rattle(70.0, 90.0, 0.3), with_rattle(70.0, 90.0, 0.15))
    assert ((f > 60) & (f < 100)).all()
    assert np.median(change) == pytest.approx(-6.0, abs=1.0)  # half the amplitude


def test_a_fast_sweep_is_refused() -> None:
    take = plan_take(outputs=("left",), sweep=Sweep(length_s=5.0))
    with pytest.raises(InputError, match="hunting rattles"):
        buzz_index(np.zeros(500000), Clock(0.0, 48000.0, 0.0, 0.0), take, take.sweeps[0])
