"""Electrical tables against the standards they are from."""

from __future__ import annotations

from itertools import pairwise

import pytest

from backwave.errors import InputError
from backwave.power.cable import sizes_of
from backwave.stock import ConductorRow, FuseRow, cable_size, shipped, with_rows

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


def test_sizes_that_are_only_sold_lie_between_their_neighbors() -> None:
    sold = [r for r in sizes_of() if r.series == "sold"]
    assert {20, 21, 13, 8} <= {r.area_mm2 for r in sold}
    for row in sold:
        assert 1000 / (58 * row.area_mm2) < row.mohm_m < 1.17 * 1000 / (58 * row.area_mm2)
        assert row.outer_mm > row.conductor_mm > (4 * row.area_mm2 / 3.1416) ** 0.5
    for thin, thick in pairwise(r for r in sizes_of() if r.series != "awg"):
        assert thin.mohm_m > thick.mohm_m
        assert thin.outer_mm < thick.outer_mm


@pytest.mark.parametrize(
    ("said", "name"),
    [("35mm2", "35 mm2"), ("1,5 mm²", "1.5 mm2"), ("4 AWG", "AWG 4"), ("awg4", "AWG 4"), ("00 awg", "AWG 2/0"), ("1/0 AWG", "AWG 1/0"),
     ("8 gauge", "AWG 8"), ("", ""), (" 21 mm2 ", "21 mm2")],
)  # fmt: skip
def test_sizes_are_read_as_people_write_them(said: str, name: str) -> None:
    assert cable_size(said) == name


@pytest.mark.parametrize("said", ["banana", "17 mm2", "AWG 97", "35", "mm2"])
def test_a_size_nobody_sells_is_refused(said: str) -> None:
    with pytest.raises(InputError, match="no such size"):
        cable_size(said)


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
