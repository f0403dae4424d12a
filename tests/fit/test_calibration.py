"""Stated chances come true: 300 simulated shops here, 1000 in benchmarks/calibration.py (docs/calibration.md)."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from benchmarks.calibration import Shop, bins, shop


@cache
def shops() -> tuple[Shop, ...]:
    rng = np.random.default_rng(20)
    return tuple(shop(rng, draws=5000) for _ in range(300))


@pytest.mark.parametrize("which", ["clear", "margin"])
def test_stated_chance_comes_true(which: str) -> None:
    stated = np.array([getattr(s, f"chance_{which}") for s in shops()])
    came = np.array([getattr(s, which) for s in shops()])
    rows = bins(stated, came)
    # Seven bins, twice: sound code passes 3.3 standard deviations once in 70 seeds; this seed is fixed.
    assert all(abs(apart) < 3.3 for *_, apart in rows), rows
    between = (stated > 0.05) & (stated < 0.95)
    assert between.sum() > 60  # there was something to find out


def test_overstated_readings_would_be_noticed() -> None:
    """The same shops, had every stated chance been drawn toward certainty as by errors taken half as large."""
    from scipy.stats import norm

    stated = np.array([s.chance_margin for s in shops()])
    sharper = norm.cdf(2.0 * norm.ppf(np.clip(stated, 1e-9, 1 - 1e-9)))
    rows = bins(sharper, np.array([s.margin for s in shops()]))
    assert max(abs(apart) for *_, apart in rows) > 3.3
