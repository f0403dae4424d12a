"""The stand-in, against solids of revolution by Pappus and shapes by hand."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest

from backwave.errors import BuildError
from backwave.part.fit_gauge import HANDLE, card, gauge_depth_mm, half_section, terminal_box
from backwave.part.types import StandInSpec

CAN = StandInSpec(((60.0, 0.0), (60.0, 10.0), (45.0, 10.0), (45.0, 60.0)), 20.0, 85.0, 71.0)
"""A stepped driver: 60 mm radius to 10 mm, then a 45 mm can to 60 mm; seated 20 mm out of the metal."""


def test_only_what_is_behind_the_metal_is_in_it() -> None:
    # The rim's 10 mm lie before the metal: the can alone hangs 60 - 20 = 40 mm behind it.
    assert gauge_depth_mm(CAN) == 40.0
    assert half_section(CAN) == ((0.0, 0.0), (45.0, 0.0), (45.0, -40.0), (0.0, -40.0))


def test_the_margin_is_added_to_radius_and_depth() -> None:
    spec = replace(CAN, margin_mm=5.0)
    assert gauge_depth_mm(spec) == 45.0
    assert half_section(spec) == ((0.0, 0.0), (50.0, 0.0), (50.0, -45.0), (0.0, -45.0))


def test_a_lower_seat_goes_deeper() -> None:
    deep = [gauge_depth_mm(replace(CAN, seat_height_mm=h)) for h in (30.0, 20.0, 5.0)]
    assert deep == [30.0, 40.0, 55.0]
    # At 5 mm the wide part reaches 10 - 5 = 5 mm behind the metal.
    assert (60.0, -5.0) in half_section(replace(CAN, seat_height_mm=5.0))


def test_a_driver_that_stays_before_the_metal_is_said() -> None:
    with pytest.raises(BuildError, match=r"5\.0 mm before the metal"):
        half_section(replace(CAN, seat_height_mm=65.0))


def test_the_card_is_the_cut_through_the_terminals() -> None:
    spec = replace(CAN, terminals_mm=(225.0, 34.0, 62.0, 26.0), margin_mm=2.0)
    assert terminal_box(spec) == (225.0, 38.0, 64.0, -8.0)
    made = card(spec)
    assert made.cut[0].bounds_mm == pytest.approx((-85.0, -42.0, 85.0, HANDLE))
    # Handle 170 x 30, can 94 x 42, terminals 8 tall from radius 47 to 64 on one half.
    assert made.area_mm2 == pytest.approx(170.0 * 30.0 + 94.0 * 42.0 + 8.0 * 17.0)


def test_terminals_before_the_metal_are_not_in_it() -> None:
    assert terminal_box(replace(CAN, terminals_mm=(0.0, 30.0, 60.0, 15.0))) is None


@pytest.mark.kernel
@pytest.mark.slow
def test_the_solid_has_the_volume_of_the_turned_section() -> None:
    from backwave.part.fit_gauge_solid import SIGHT, build_standin
    from backwave.part.mesh import mesh

    spec = replace(CAN, margin_mm=3.0)
    made = build_standin(spec).solid
    # Plate pi 85^2 3, can pi 48^2 43, less the hole to look through.
    whole = pi * (85.0**2 * 3.0 + 48.0**2 * 43.0 - SIGHT**2 * 46.0)
    assert made.volume == pytest.approx(whole, rel=1e-9)
    assert mesh(made).closed
    cone = StandInSpec(((50.0, 0.0), (20.0, 60.0)), 0.0, 60.0, 55.0)
    frustum = pi * 60.0 / 3.0 * (50.0**2 + 50.0 * 20.0 + 20.0**2)  # pi h / 3 (R^2 + R r + r^2)
    plate = pi * 60.0**2 * 3.0
    assert build_standin(cone).solid.volume == pytest.approx(plate + frustum - pi * SIGHT**2 * 63.0, rel=1e-9)


@pytest.mark.kernel
@pytest.mark.slow
def test_terminals_point_where_they_do() -> None:
    from backwave.part.fit_gauge_solid import build_standin

    box = build_standin(replace(CAN, rim_mm=46.0, terminals_mm=(90.0, 30.0, 70.0, 30.0))).solid.bounding_box()
    assert tuple(box.min) == pytest.approx((-46.0, -46.0, -40.0))
    assert tuple(box.max) == pytest.approx((46.0, 70.0, 3.0))
