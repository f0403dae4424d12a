"""Filters against the W3C cookbook, published alignments, and scipy as the reference library."""

from __future__ import annotations

from math import log10, pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from backwave.acoustics import (
    BIQUADS,
    CROSSOVERS,
    Biquad,
    all_pass,
    biquad,
    crossover,
    delay,
    high_pass,
    high_shelf,
    low_pass,
    low_shelf,
    peak,
    shelf_q,
)
from backwave.errors import InputError


def db(h: np.ndarray) -> np.ndarray:
    return 20 * np.log10(np.abs(h))


# Coefficients b0 b1 b2 a1 a2 at 48 kHz, from the formulas of the Audio EQ Cookbook (W3C Note, 2021), to 10 digits.
COOKBOOK: list[tuple[Biquad, tuple[float, ...]]] = [
    (peak(1000, 6, 2), (1.0224727682, -1.9381165806, 0.9323677439, -1.9381165806, 0.9548405121)),
    (peak(120, -5, 4), (0.9988570902, -1.9945310729, 0.9959200735, -1.9945310729, 0.9947771637)),
    (low_shelf(200, 4, shelf_q(1, 4)), (1.0042806197, -1.9668482096, 0.9634164213, -1.9670048371, 0.9675404135)),
    (high_shelf(8000, -3, shelf_q(1, -3)), (0.7975568339, -0.4212841295, 0.1765263483, -0.7091048318, 0.2619038845)),
    (high_pass(80), (0.9926225428, -1.9852450855, 0.9926225428, -1.9851906579, 0.9852995131)),
    (low_pass(80), (2.72138e-5, 5.44276e-5, 2.72138e-5, -1.9851906579, 0.9852995131)),
    (all_pass(300, 0.7), (0.9454444356, -1.9439445685, 1.0, -1.9439445685, 0.9454444356)),
]


@pytest.mark.parametrize(("section", "expected"), COOKBOOK)
def test_digital_coefficients_of_the_cookbook(section: Biquad, expected: tuple[float, ...]) -> None:
    b, a = section.digital(48000)
    assert a[0] == 1
    assert [*b, *a[1:]] == pytest.approx(expected, abs=1e-9)


def test_gains_of_the_cookbook() -> None:
    # From the same text: gain at f0, half the shelf's gain at its middle, -3.0103 dB at the corner.
    at = [
        (peak(1000, 6, 2), 1000, 6.0), (peak(120, -5, 4), 120, -5.0), (low_shelf(200, 4), 200, 2.0),
        (high_shelf(8000, -3), 8000, -1.5), (high_pass(80), 80, -3.0103), (low_pass(80), 80, -3.0103),
        (all_pass(300, 0.7), 300, 0.0), (all_pass(300, 0.7), 77, 0.0),
    ]  # fmt: skip
    for section, f, gain in at:
        assert db(section.response([f]))[0] == pytest.approx(gain, abs=1e-5)


@pytest.mark.parametrize("section", [s for s, _ in COOKBOOK[:6]])
def test_analog_and_digital_agree_far_below_the_sampling_rate(section: Biquad) -> None:
    """Two roads: the order of the difference is 1/rate^2, so it cannot hide in a tolerance."""
    f = np.array([section.f0_hz / 2, section.f0_hz, section.f0_hz * 1.5])
    differences = []
    for rate in (200 * section.f0_hz, 400 * section.f0_hz):
        b, a = section.digital(rate)
        _, h = signal.freqz(b, a, f, fs=rate)
        differences.append(np.abs(h - section.response(f)).max())
    assert differences[1] < 1e-3
    assert log10(differences[0] / differences[1]) / log10(2) == pytest.approx(2, abs=0.05)


@given(st.floats(20, 20000), st.floats(-20, 20), st.floats(0.2, 10))
def test_opposite_peaks_cancel(f0: float, gain: float, q: float) -> None:
    f = np.geomspace(20, 20000, 30)
    both = peak(f0, gain, q).response(f) * peak(f0, -gain, q).response(f)
    assert np.allclose(both, 1, atol=1e-10)


@pytest.mark.parametrize("order", range(1, 9))
@pytest.mark.parametrize("side", ["low-pass", "high-pass"])
def test_butterworth_and_bessel_against_scipy(order: int, side: str) -> None:
    f = np.geomspace(20, 20000, 60)
    kind = {"low-pass": "low", "high-pass": "high"}[side]
    for name, made in (
        (f"BW{order}", signal.butter(order, 2 * pi * 500, kind, analog=True, output="zpk")),
        (f"BE{order}", signal.bessel(order, 2 * pi * 500, kind, analog=True, output="zpk", norm="mag")),
    ):
        _, h = signal.freqs_zpk(*made, 2 * pi * f)
        assert np.allclose(crossover(f, side, name, 500), h, rtol=1e-9, atol=0)  # type: ignore[arg-type]


@pytest.mark.parametrize("alignment", CROSSOVERS)
def test_level_at_the_crossover(alignment: str) -> None:
    expected = -20 * log10(2) if alignment.startswith("LR") else -10 * log10(2)
    for side in ("low-pass", "high-pass"):
        assert db(crossover([750.0], side, alignment, 750.0))[0] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("order", [2, 4, 6, 8])
def test_linkwitz_riley_sums_flat_in_the_right_polarity(order: int) -> None:
    # Linkwitz 1976, JAES 24(1):2-8 (from memory): they add to an all-pass; orders 2 and 6 with one reversed.
    f = np.geomspace(20, 20000, 60)
    low, high = (crossover(f, side, f"LR{order}", 800) for side in ("low-pass", "high-pass"))
    sign = -1 if order % 4 == 2 else 1
    assert np.abs(db(low + sign * high)).max() < 1e-6
    at = [crossover([800.0], side, f"LR{order}", 800)[0] for side in ("low-pass", "high-pass")]
    assert abs(at[0] - sign * at[1]) < 1e-12, "the other polarity cancels at the crossover"
    if order == 4:  # second-order all-pass of Q 0.70711, half a turn at f0
        assert np.allclose(low + high, all_pass(800, sqrt(0.5)).response(f), atol=1e-10)


def test_group_delay_at_dc() -> None:
    # BW1 1/w0, BW2 sqrt(2)/w0, LR4 2 sqrt(2)/w0 (from the denominators), at 1 kHz.
    for name, ms in (("BW1", 0.1591549), ("BW2", 0.2250791), ("LR4", 0.4501582)):
        phase = np.angle(crossover([0.01], "low-pass", name, 1000.0))[0]
        assert -phase / (2 * pi * 0.01) * 1e3 == pytest.approx(ms, rel=1e-6)


def test_bessel_low_pass_has_the_flattest_delay() -> None:
    # Thomson 1949 (from memory): the delay of order n is flat to w^(2n); at 0.3 f0 that of order 4 is still even.
    f, step = np.array([0.001, 0.3]), 1e-4

    def unevenness(alignment: str) -> float:
        above, below = (crossover(f + s, "low-pass", alignment, 1.0) for s in (step, -step))
        seconds = -np.angle(above / below) / (4 * pi * step)
        return float(abs(seconds[1] / seconds[0] - 1))

    assert unevenness("BE4") < 1e-4 < 0.04 < unevenness("BW4")


def test_delay() -> None:
    # 1.7 ms at 100 Hz is 61.2 degrees late.
    assert np.degrees(np.angle(delay([100.0], 1.7e-3)))[0] == pytest.approx(-61.2, abs=1e-9)


def test_by_name_and_refusals() -> None:
    for kind in BIQUADS:
        gain = 3.0 if kind in ("peak", "low shelf", "high shelf") else 0.0
        assert biquad(kind, 100.0, gain, 0.7).f0_hz == 100.0
    refusals = [
        (lambda: biquad("notch", 100.0), "low shelf"),  # type: ignore[arg-type]
        (lambda: biquad("low-pass", 100.0, 3.0), "no gain"),
        (lambda: peak(0.0, 3, 1), "above 0"),
        (lambda: peak(100.0, float("nan"), 1), "-200 to 200 dB"),
        (lambda: peak(100.0, -3e9, 2), "-200 to 200 dB"),
        (lambda: low_shelf(100.0, 1e300, 2), "-200 to 200 dB"),
        (lambda: peak(100.0, 3, 0.0), "0.0001 to 10000"),
        (lambda: high_pass(100.0, 1e300), "0.0001 to 10000"),
        (lambda: peak(900.0, 3, 1).digital(1000.0), "above 1800 Hz"),
        (lambda: shelf_q(5.0, 20.0), "below"),
        (lambda: crossover([1.0], "low-pass", "LR3", 100.0), "LR2"),
        (lambda: crossover([1.0], "band", "LR2", 100.0), "high-pass"),  # type: ignore[arg-type]
    ]
    for call, accepted in refusals:
        with pytest.raises(InputError, match=accepted):
            call()
