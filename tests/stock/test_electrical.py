"""Electrical tables against the standards they are from."""

from __future__ import annotations

import pytest

from backwave.power.cable import sizes_of
from backwave.stock import ConductorRow, FuseRow, shipped, with_rows

# IEC 60228 class 5, plain copper, largest resistance at 20 degC, mohm/m.
CLASS_5 = {0.5: 39.0, 0.75: 26.0, 1: 19.5, 1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91, 16: 1.21, 25: 0.780,
           35: 0.554, 50: 0.386, 70: 0.272, 95: 0.206}  # fmt: skip


def test_metric_sizes_are_class_5() -> None:
    rows = sizes_of(series="metric")
    assert {r.area_mm2: r.mohm_m for r in rows} == CLASS_5
    # No cable beats solid copper, 1/58 ohm mm2/m (IEC 60028).
    assert all(r.mohm_m > 1000 / (58 * r.area_mm2) for r in rows)


def test_diameters_hold_the_conductor_and_rise() -> None:
    for series in ("metric", "awg"):
        rows = sizes_of(series=series)
        assert all(r.outer_mm > r.conductor_mm > (4 * r.area_mm2 / 3.1416) ** 0.5 for r in rows)
        assert [r.outer_mm for r in rows] == sorted(r.outer_mm for r in rows)


def test_copper_is_iec_60028() -> None:
    copper = next(r for r in shipped().rows("conductor") if r.name == "copper")
    assert isinstance(copper, ConductorRow)
    assert copper.resistivity_ohm_mm2_m == pytest.approx(1 / 58, rel=1e-12)
    assert copper.rise_per_k == 0.00393


def test_each_rating_of_a_colored_fuse_has_a_color() -> None:
    for row in shipped().rows("fuse"):
        assert isinstance(row, FuseRow)
        assert all(row.color(r) for r in row.ratings_a) or not row.colors


def test_a_persons_own_fuse_is_read_with_its_units() -> None:
    stock = with_rows({"fuse": [{"name": "blade", "breaking": "2000 A"}]})
    row = next(r for r in stock.rows("fuse") if r.name == "blade")
    assert isinstance(row, FuseRow)
    assert (row.breaking_a, row.standing) == (2000, "entered by you")
