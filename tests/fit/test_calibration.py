"""Stated chances come true: 300 simulated shops here, 20,000 in benchmarks/calibration.py (docs/calibration.md)."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy import stats

from benchmarks import calibration
from benchmarks.calibration import Shop, anywhere, bins, shops_of, surface

CHI_SQUARED_99 = 29.1  # 99 % point with 14 degrees of freedom: seven rows, twice


@cache
def shops() -> tuple[Shop, ...]:
    return tuple(shops_of(20, 300))


def rows(which: str) -> list[float]:
    said = np.array([getattr(s, f"chance_{which}") for s in shops()])
    came = np.array([getattr(s, which) for s in shops()])
    assert ((said > 0.05) & (said < 0.95)).sum() > 50  # there was something to find out
    return [apart for *_, apart in bins(said, came)]


def test_stated_chances_come_true() -> None:
    apart = np.array(rows("clear") + rows("margin"))
    assert float(apart @ apart) < CHI_SQUARED_99, apart
    assert stats.chi2.ppf(0.99, len(apart)) == pytest.approx(CHI_SQUARED_99, abs=0.1)  # scipy


def test_overstated_readings_would_be_noticed() -> None:
    """The same shops, had every stated chance been drawn toward certainty as by errors taken half as large."""
    total = 0.0
    for which in ("clear", "margin"):
        said = np.array([getattr(s, f"chance_{which}") for s in shops()])
        sharper = stats.norm.cdf(2.0 * stats.norm.ppf(np.clip(said, 1e-9, 1 - 1e-9)))
        total += sum(apart**2 for *_, apart in bins(sharper, np.array([getattr(s, which) for s in shops()])))
    assert total > 2 * CHI_SQUARED_99


def test_shops_are_as_they_are_said_to_be() -> None:
    rng = np.random.default_rng(3)
    points = np.array([anywhere(rng, 2.0) for _ in range(2000)])
    assert (np.hypot(*points.T) <= 2.0).all()
    assert np.hypot(*points.T).mean() == pytest.approx(4.0 / 3.0, abs=0.05)  # of a disc: two thirds of its radius
    bow = surface(np.array([0.0, 30.0, 60.0, 80.0]), np.array([[0.0, 50.0], [60.0, 44.0]]), np.array([-0.6]))
    assert bow == pytest.approx([50.0, 46.4, 44.0, 44.0])
    assert shops()[0] == shops_of(20, 1)[0]
    assert {s.kind for s in shops()} == {"gauge", "half-width", "u", "list of three"}


def test_no_reading_tells_where_a_range_of_true_values_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where windows end at 20 mm, one read as 21 is never as wide as it was read; such shops are refused."""
    monkeypatch.setitem(calibration.RANGES, "window", (-10.0, 20.0, 0.1))
    with pytest.raises(AssertionError, match="window read"):
        shops_of(20, 20)
