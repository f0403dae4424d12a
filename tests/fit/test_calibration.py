"""Stated chances come true: 300 simulated shops here, 1000 in benchmarks/calibration.py (docs/calibration.md)."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy import stats

from benchmarks.calibration import CHI_SQUARED_99, Shop, bins, shop


@cache
def shops() -> tuple[Shop, ...]:
    rng = np.random.default_rng(20)
    return tuple(shop(rng, draws=5000) for _ in range(300))


def rows(which: str) -> list[float]:
    stated = np.array([getattr(s, f"chance_{which}") for s in shops()])
    came = np.array([getattr(s, which) for s in shops()])
    assert ((stated > 0.05) & (stated < 0.95)).sum() > 50  # there was something to find out
    return [apart for *_, apart in bins(stated, came)]


def test_stated_chances_come_true() -> None:
    apart = np.array(rows("clear") + rows("margin"))
    assert float(apart @ apart) < CHI_SQUARED_99, apart
    assert stats.chi2.ppf(0.99, len(apart)) == pytest.approx(CHI_SQUARED_99, abs=0.1)  # scipy


def test_overstated_readings_would_be_noticed() -> None:
    """The same shops, had every stated chance been drawn toward certainty as by errors taken half as large."""
    total = 0.0
    for which in ("clear", "margin"):
        stated = np.array([getattr(s, f"chance_{which}") for s in shops()])
        sharper = stats.norm.cdf(2.0 * stats.norm.ppf(np.clip(stated, 1e-9, 1 - 1e-9)))
        total += sum(apart**2 for *_, apart in bins(sharper, np.array([getattr(s, which) for s in shops()])))
    assert total > 2 * CHI_SQUARED_99
