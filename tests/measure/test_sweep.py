"""The sweep against the formulas it is published with; the take and its description."""

from __future__ import annotations

import json

import numpy as np
import pytest
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.measure.sweep import Sweep, Take, describe, plan_take, take_from, take_signal


@pytest.mark.parametrize(
    ("f1", "f2", "length", "L", "earlier"),
    [
        # L = T/ln(f2/f1) and L ln m of Novak, Lotton, Simon 2015 (JAES 63(10):786-798), worked out by hand.
        (20, 20000, 10, 1.4476483, {2: 1.0034333, 3: 1.5904042, 4: 2.0068666, 5: 2.3299000}),
        (10, 22000, 5, 0.6496702, {2: 0.4503171, 3: 0.7137357}),
    ],
)
def test_harmonics_come_earlier_by_the_published_time(
    f1: float, f2: float, length: float, L: float, earlier: dict[int, float]
) -> None:
    sweep = Sweep(f1, f2, length)
    assert pytest.approx(L, abs=1e-6) == sweep.L
    for m, t in earlier.items():
        assert sweep.time(m * 100.0) - sweep.time(100.0) == pytest.approx(t, abs=1e-6)


def test_the_harmonic_of_a_sweep_is_the_sweep_earlier() -> None:
    """What "synchronized" means (Novak and others 2015): phase(t + L ln m) = m phase(t), modulo nothing."""
    sweep = Sweep(20, 20000, 10)
    t = np.linspace(0, 5, 1000)
    for m in (2, 3, 4, 5):
        assert sweep.phase(t + sweep.L * np.log(m)) == pytest.approx(m * sweep.phase(t), rel=1e-12)


def test_samples_are_the_formula() -> None:
    """sin(2 pi f1 L exp(t/L)), Farina 2000 without its -1."""
    sweep = Sweep(20, 20000, 2.0, level_db=-20.0, fade_in_s=0.1, fade_out_s=0.05)
    t = np.arange(96000) / 48000
    inside = (t > 0.1) & (t < 1.95)
    expected = 0.1 * np.sin(2 * np.pi * 20 * sweep.L * np.exp(t / sweep.L))
    assert sweep.samples(48000.0, 96000)[inside] == pytest.approx(expected[inside], abs=1e-9)


def test_against_another_library() -> None:
    """scipy's logarithmic chirp has the same frequency at every time; phases differ by a constant."""
    sweep = Sweep(50, 5000, 1.0, level_db=0.0, fade_in_s=0.0, fade_out_s=0.0)
    t = np.arange(48000) / 48000
    offset = np.degrees(2 * np.pi * 50 * sweep.L)
    other = scipy.signal.chirp(t, 50, 1.0, 5000, method="logarithmic", phi=offset - 90)
    assert sweep.samples(48000.0, 48000) == pytest.approx(other, abs=1e-8)


def test_spectrum_falls_three_decibels_an_octave() -> None:
    """-3.0103 dB an octave (Farina 2000), at half the amplitude times sqrt(L/f) (Novak and others 2015)."""
    sweep = Sweep(20, 20000, 5.0, level_db=0.0)
    spectrum = np.abs(np.fft.rfft(sweep.samples(48000.0, 5 * 48000))) / 48000
    f = np.fft.rfftfreq(5 * 48000, 1 / 48000)
    for low in (100, 400, 1600):
        part = (f > low) & (f < 2 * low)
        assert np.sqrt(np.mean(spectrum[part] ** 2 * f[part])) == pytest.approx(0.5 * np.sqrt(sweep.L), rel=0.01)


@settings(max_examples=25, deadline=None)
@given(st.floats(-500, 500), st.floats(0, 1))
def test_a_sweep_on_another_clock_is_the_same_sound(ppm: float, start: float) -> None:
    """Sample k on a clock of rate r is the formula at k/r: nothing else is known of the other clock."""
    sweep = Sweep(30, 9000, 0.6)
    rate = 44100 * (1 + ppm * 1e-6)
    got = sweep.samples(rate, 20000, start)
    t = start + np.arange(20000) / rate
    inside = (t > 0.1) & (t < 0.57)
    expected = sweep.amplitude * np.sin(sweep.phase(t))
    assert got[inside] == pytest.approx(expected[inside], abs=1e-8)
    assert not got[t > 0.601].any()


def test_take_is_laid_out_and_made_again_from_its_description() -> None:
    take = plan_take(44100, ("left", "right"), sweep=Sweep(length_s=1.0))
    assert [e.name for e in take.sweeps] == ["left", "right", "all"]
    again = take_from(json.loads(json.dumps(describe(take))))
    assert again == take
    signal = take_signal(take)
    assert signal.shape == (take.count, 2)
    assert np.abs(signal).max() <= 10 ** (-12 / 20) + 1e-12
    left, right, both = take.sweeps
    assert not signal[left.start : right.start, 1].any()
    assert not signal[right.start : both.start, 0].any()
    assert (signal[both.start : both.start + 1000, 0] == signal[both.start : both.start + 1000, 1]).all()
    assert not signal[: take.pilots[0].start].any()


def test_a_tweeter_is_played_no_bass_by_the_pilots() -> None:
    take = plan_take(outputs=("tweeter",), sweep=Sweep(2500.0, 20000.0, 2.0))
    assert take.pilot.f1_hz == 2500.0
    signal = take_signal(take)[:, 0]
    power = np.abs(np.fft.rfft(signal)) ** 2
    f = np.fft.rfftfreq(signal.size, 1 / take.rate_hz)
    assert power[f < 1200].sum() < 1e-4 * power.sum()


def broken(**change: object) -> dict[str, object]:
    return describe(plan_take(sweep=Sweep(length_s=1.0))) | change


@pytest.mark.parametrize(
    "record",
    [
        {}, {"kind": "take"}, broken(format=2), broken(events=[]), broken(rate_hz=8000), broken(count=10),
        broken(sweep={"f1_hz": -1, "f2_hz": 5}), broken(outputs=["left"]), broken(events=[{"kind": "pilot"}]),
        broken(count=10**12, events=7), broken(count=float("inf")), broken(rate_hz=10**400), broken(rate_hz="fast"),
        *(broken(sweep={name: value}) for name in ("f1_hz", "length_s", "level_db", "fade_in_s")
          for value in (float("inf"), float("nan"), 10**400, -(10**400), "1", [1.0], None)),
        broken(events=[{"kind": "sweep", "name": "x", "outputs": [float("inf")], "start": 0}] * 3),
    ],
)  # fmt: skip
def test_a_description_that_is_none_is_refused(record: dict[str, object]) -> None:
    with pytest.raises(InputError):
        take_from(record)


@pytest.mark.parametrize(
    "wrong",
    [
        {"rate_hz": 22050}, {"outputs": ()}, {"outputs": ("left", "left")}, {"outputs": ("all",)},
        {"sounding": ("rear",)}, {"sweep": Sweep(level_db=-3.0)}, {"sweep": Sweep(f2_hz=23900.0)},
    ],
)  # fmt: skip
def test_a_take_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError):
        plan_take(**wrong)  # type: ignore[arg-type]


def test_a_take_holds_no_array() -> None:
    assert isinstance(plan_take(), Take)
    assert hash(plan_take()) == hash(plan_take())
