"""Bands, smoothing and weighting against the standards' own figures; summaries and differences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.acoustics import (
    BANDS,
    band_centers,
    band_level,
    band_levels,
    corrected,
    log_frequencies,
    smoothed,
    spatial_mean,
)
from backwave.errors import InputError
from backwave.measure.averaging import compare, summary

F = log_frequencies(20.0, 20000.0, 48)


def test_exact_band_centers() -> None:
    """IEC 61260-1:2014, equations 1 to 3: 1000 G^x, G = 10^0.3."""
    octaves = [31.6228, 63.0957, 125.893, 251.189, 501.187, 1000, 1995.26, 3981.07, 7943.28, 15848.9]
    assert band_centers(1, 25.0, 20000.0) == pytest.approx(octaves, rel=1e-5)
    thirds = band_centers(3, 24.0, 20000.0)
    assert thirds[[0, -1]] == pytest.approx([25.1189, 19952.6], rel=1e-5)
    assert thirds == pytest.approx(1000 * 10 ** (np.arange(-16, 14) / 10), rel=1e-9)
    halves = band_centers(2, 400.0, 2700.0)  # equation 3, an even number of bands
    assert halves == pytest.approx(1000 * (10**0.3) ** (np.arange(-5, 7, 2) / 4), rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.floats(1, 12), st.floats(-40, 40), st.integers(0, 10**6))
def test_smoothing_keeps_flat_flat_and_stays_between_the_ends(fraction: float, level: float, seed: int) -> None:
    assert smoothed(F, np.full(F.size, level), fraction) == pytest.approx(np.full(F.size, level), abs=1e-9)
    curve = np.random.default_rng(seed).normal(0, 6, F.size)
    got = smoothed(F, curve, fraction)
    assert got.max() <= curve.max() + 1e-9
    assert got.min() >= curve.min() - 1e-9


def test_band_level_of_a_slope_is_its_integral() -> None:
    """Power f over log f: the mean from a to b is (b - a)/ln(b/a)."""
    fine = np.geomspace(20, 20000, 40000)
    got = band_level(fine, 10 * np.log10(fine), 100.0, 400.0)
    assert got == pytest.approx(10 * np.log10(300 / np.log(4)), abs=1e-4)
    # two neighboring bands hold what the whole holds
    parts = 10 ** (band_levels(F, 10 * np.log10(F), [100.0, 200.0], [200.0, 400.0]) / 10)
    assert 10 * np.log10(parts.mean()) == pytest.approx(band_level(F, 10 * np.log10(F), 100.0, 400.0), abs=1e-9)


def test_mean_of_places_and_microphone() -> None:
    mean, spread = spatial_mean([[0.0, 3.0], [0.0, 3.0], [0.0, 3.0]])
    assert mean == pytest.approx([0.0, 3.0])
    assert spread == pytest.approx([0.0, 0.0], abs=1e-12)
    mean, _ = spatial_mean([[0.0], [-300.0]])
    assert mean[0] == pytest.approx(10 * np.log10(0.5), abs=1e-9)  # half the power
    level, known = corrected([50.0, 100.0, 1000.0], [0.0, 0.0, 0.0], [100.0, 1000.0], [2.0, 0.0])
    assert level == pytest.approx([-2.0, -2.0, 0.0])
    assert known.tolist() == [False, True, True]


def test_extension_of_a_butterworth_corner() -> None:
    """|H|^2 = 1/(1 + (fc/f)^4) is 6.02 dB down at fc/3^(1/4) (Butterworth 1930)."""
    got = summary(F, -10 * np.log10(1 + (70 / F) ** 4))
    assert got.low_hz is not None
    assert got.low_hz == pytest.approx(70 / 3**0.25, rel=0.03)
    assert got.high_hz is None
    assert got.smooth_db < 0.2
    top = summary(F, -10 * np.log10(1 + (F / 9000) ** 4))
    assert top.high_hz is not None
    assert top.high_hz == pytest.approx(9000 * 3**0.25, rel=0.03)
    assert top.low_hz is None


def test_roughness_rises_with_ripple() -> None:
    """A ripple of amplitude a has the rms a/sqrt(2), a little less after a sixth of an octave."""
    ripple = 4 * np.sin(2 * np.pi * np.log2(F) * 1.0)
    assert summary(F, ripple).smooth_db == pytest.approx(4 / np.sqrt(2), rel=0.15)


def test_a_difference_within_repeatability_is_none() -> None:
    before = summary(F, np.zeros(F.size))
    after = summary(F, np.where(F < 60, 1.5, 0.0) + np.where((F > 60) & (F < 250), 4.0, 0.0))
    found = {d.name: d for d in compare(before, after, 1.0, 1.0)}
    assert set(found) == set(BANDS)
    assert not found["deep bass"].real
    assert found["mid-bass"].real
    assert found["mid-bass"].u_db == pytest.approx(np.sqrt(2))
    assert not found["air"].real


def test_curves_that_are_none_are_refused() -> None:
    with pytest.raises(InputError):
        band_level([100.0, 50.0], [0.0, 0.0], 60.0, 80.0)
    with pytest.raises(InputError):
        band_level(F, np.zeros(F.size), 30000.0, 40000.0)
