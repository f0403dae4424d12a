"""Recordings that cannot be used, or only with care: each has its own message."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from measure.chain import Path, butter, cabin_like, record

from backwave.errors import InputError
from backwave.measure.analysis import TakeRead, place_average, read_take
from backwave.measure.recording_checks import check_holes, check_spread, clipping
from backwave.measure.response import deconvolve
from backwave.measure.sweep import Sweep, plan_take, take_signal
from backwave.measure.synchronize import find_take

TAKE = plan_take(outputs=("left", "right"), sounding=("left", "right"), sweep=Sweep(length_s=2.5))
SIGNAL = take_signal(TAKE)
GOOD = record(SIGNAL, 48000, [Path(cabin_like(), 0.003), Path(cabin_like(), 0.0041, 0.8)], ppm=40, snr_db=50).samples
RATE = 48000.0


def said(read: TakeRead) -> set[str]:
    return {c.code for c in read.checks if c.verdict != "ok"}


def test_a_good_recording_raises_nothing() -> None:
    read = read_take(GOOD, RATE, TAKE)
    assert not said(read)
    assert [r.name for r in read.responses] == ["left", "right"]
    assert all(c.remedy for c in read.checks if c.verdict != "ok")


@pytest.mark.parametrize(
    ("samples", "rate", "words"),
    [
        (0 * GOOD, RATE, "silence"),
        (GOOD[:20000], RATE, "a second or more"),
        (np.where(np.arange(GOOD.size) == 9, np.nan, GOOD), RATE, "finite"),
        (np.clip(GOOD, -0.02, 0.02), RATE, "clipped"),
        (GOOD[::6], 8000.0, "phone-call quality"),
        (scipy.signal.fftconvolve(GOOD, scipy.signal.firwin(801, 3600, fs=RATE), "same"), RATE, "phone-call quality"),
        (GOOD[: GOOD.size // 2], RATE, "to the end"),
        (np.random.default_rng(1).normal(0, 0.1, GOOD.size), RATE, "no pilot"),
    ],
)
def test_what_cannot_be_used_is_refused_with_what_to_do(samples: np.ndarray, rate: float, words: str) -> None:
    with pytest.raises(InputError, match=words) as refused:
        read_take(samples, rate, TAKE)
    assert refused.value.accepted


def test_another_sweep_between_the_same_pilots_is_refused() -> None:
    other = plan_take(outputs=("left", "right"), sounding=("left", "right"), sweep=Sweep(40, 15000, 2.5))
    got = record(take_signal(other), 48000, [Path(cabin_like())] * 2, snr_db=50)
    with pytest.raises(InputError, match="this sweep is not"):
        read_take(got.samples, RATE, TAKE)


def test_automatic_gain_is_seen_and_measured() -> None:
    gain = np.interp(np.arange(GOOD.size) / RATE, [0, 3, 8, 20], [1, 1, 0.5, 0.5])
    read = read_take(GOOD * gain, RATE, TAKE)
    assert "measure.gain" in said(read)
    change = next(c for c in read.checks if c.code == "measure.gain")
    assert change.value == pytest.approx(20 * np.log10(0.5), abs=0.1)


def test_holes_and_lost_pieces() -> None:
    held = GOOD.copy()
    held[200000:200300] = held[200000]
    held[300000:300100] = 0.0
    holes = next(c for c in read_take(held, RATE, TAKE).checks if c.part == "holes")
    assert holes.value == 2


def test_a_lost_piece_sets_highs_and_lows_apart() -> None:
    """7 ms gone while the sweep is at 1.5 kHz, the clock as it was: what came after is 7 ms early."""
    clock, event = find_take(GOOD, RATE, TAKE), TAKE.sweeps[0]
    start = int(clock.at(event.start / 48000 + float(TAKE.sweep.time(1500.0))))
    assert check_spread(deconvolve(GOOD, clock, TAKE, event)) is None
    found = check_spread(deconvolve(np.delete(GOOD, np.s_[start : start + 336]), clock, TAKE, event))
    assert found is not None
    assert found.value == pytest.approx(7.0, abs=1.5)
    # through the whole of it, the clock alone gives it away: 3 ms in 9 s is 350 ppm, more is refused
    assert "measure.clock" in said(read_take(np.delete(GOOD, np.s_[start : start + 150]), RATE, TAKE))
    with pytest.raises(InputError, match="pieces of the recording are missing"):
        read_take(np.delete(GOOD, np.s_[start : start + 336]), RATE, TAKE)


def test_quiet_is_no_hole() -> None:
    """A tweeter's recording stands still at 16 bit while the sweep is in the bass."""
    got = record(SIGNAL, 48000, [Path(butter("high", 4, 3000.0))] * 2)
    assert check_holes(got.samples, find_take(got.samples, RATE, TAKE), TAKE).verdict == "ok"


def test_slight_clipping_is_told_a_sine_is_not() -> None:
    found = clipping(np.clip(GOOD, -0.9 * np.abs(GOOD).max(), 0.9 * np.abs(GOOD).max()))
    assert found is not None
    assert found.verdict == "caution"
    assert clipping(GOOD) is None
    slow = 0.25 * np.sin(2 * np.pi * 21 * np.arange(96000) / RATE)
    assert clipping(np.round(slow * 32768) / 32768) is None


def test_lossy_file_ends_early() -> None:
    """A 15.5 kHz brick wall, as coders use."""
    read = read_take(scipy.signal.fftconvolve(GOOD, scipy.signal.firwin(801, 15500, fs=RATE), "same"), RATE, TAKE)
    edge = next(c for c in read.checks if c.code == "measure.band")
    assert edge.value == pytest.approx(15500, rel=0.05)


def test_a_steep_crossover_is_no_lossy_file() -> None:
    got = record(SIGNAL, 48000, [Path(butter("low", 8, 2500.0), 0.003)] * 2, snr_db=60)
    assert "measure.band" not in said(read_take(got.samples, RATE, TAKE))


def test_mono_and_silent_outputs() -> None:
    mono = record(SIGNAL.sum(axis=1, keepdims=True) / 2, 48000, [Path(cabin_like())], snr_db=50)
    assert "measure.channels" in said(read_take(mono.samples, RATE, TAKE))
    one = SIGNAL.copy()
    one[TAKE.sweeps[1].start : TAKE.pilots[1].start - 9600] = 0
    dead = read_take(record(one, 48000, [Path(cabin_like())] * 2, snr_db=50).samples, RATE, TAKE)
    assert "measure.silent" in said(dead)
    assert [r.name for r in dead.responses] == ["left"]


def test_stereo_recording_with_one_dead_channel() -> None:
    read = read_take(np.stack([0 * GOOD, GOOD], axis=1), RATE, TAKE)
    assert said(read) == {"measure.channels"}
    assert len(read.responses) == 2


def test_polarity_is_told_as_a_check() -> None:
    paths = [Path(cabin_like(), 0.003), Path(cabin_like(), 0.0041, -0.8)]
    read = read_take(record(SIGNAL, 48000, paths, snr_db=50).samples, RATE, TAKE)
    found = next(c for c in read.checks if c.code == "measure.polarity")
    assert (found.verdict, found.value, found.part) == ("caution", -1.0, "right")


def test_mean_of_places() -> None:
    """Two recordings, the second 6.02 dB softer: the mean as power is 10 log10((1 + 1/4)/2) under the first."""
    reads = [read_take(GOOD, RATE, TAKE), read_take(GOOD / 2, RATE, TAKE)]
    f, mean, spread = place_average(reads, "left")
    assert mean - reads[0].responses[0].magnitude_db == pytest.approx(np.full(f.size, -2.04), abs=0.05)
    assert spread == pytest.approx(np.full(f.size, 6.0206 / np.sqrt(2)), abs=0.05)
    with pytest.raises(InputError):
        place_average(reads, "rear")


def test_a_microphone_is_taken_off() -> None:
    plain, less = read_take(GOOD, RATE, TAKE), read_take(GOOD, RATE, TAKE, ([20.0, 20000.0], [3.0, 3.0]))
    assert less.responses[0].magnitude_db == pytest.approx(plain.responses[0].magnitude_db - 3.0)


def test_progress_rises_to_one() -> None:
    told: list[float] = []
    read_take(GOOD, RATE, TAKE, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
