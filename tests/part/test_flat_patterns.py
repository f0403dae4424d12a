"""Flat patterns: areas in closed form, layers that stack up to the part."""

from __future__ import annotations

from dataclasses import replace
from math import acos, pi, sqrt

import pytest

from backwave.errors import InputError
from backwave.part.flat_patterns import check_ring, flat_ring, sheet_layers
from backwave.part.types import (
    AdapterSpec,
    Collar,
    Fixing,
    Groove,
    Lettering,
    Notch,
    RingSpec,
    SheetStock,
    Spigot,
    Thread,
)
from backwave.shape import circle, rounded_polygon

RING = AdapterSpec(circle(82.5), 18.0, 70.0)
SCREWS = tuple(Fixing(x, 0.0, 4.5, 9.0, 6.0, 8.0, 5.0, f"fixing {k}") for k, x in enumerate((-76.0, 76.0)))


def test_a_plain_ring_is_two_circles() -> None:
    (layer,) = sheet_layers(RING, SheetStock((18.0,)))
    assert [o.circle for o in layer.cut] == [(0.0, 0.0, 82.5), (0.0, 0.0, 70.0)]
    assert layer.area_mm2 == pytest.approx(pi * (82.5**2 - 70.0**2), rel=1e-12)
    assert layer.area_mm2 * 18.0 == pytest.approx(107795.898, abs=1e-3)  # pi/4 (D^2 - d^2) h


def test_holes_are_drilled_and_counterbores_are_pockets() -> None:
    back, front = sheet_layers(replace(RING, fixings=SCREWS), SheetStock((9.0, 9.0)))
    assert set(back.drill) == {(-76.0, 0.0, 4.5), (76.0, 0.0, 4.5)} == set(front.drill)
    assert not back.pockets
    assert [(p.outline.circle, p.depth_mm, p.face) for p in front.pockets] == [
        ((-76.0, 0.0, 4.5), 6.0, "front"),
        ((76.0, 0.0, 4.5), 6.0, "front"),
    ]
    # With the glue line at the counterbore's floor it is a hole through the front layer.
    back, front = sheet_layers(replace(RING, fixings=SCREWS), SheetStock((12.0, 6.0)))
    assert set(front.drill) == {(-76.0, 0.0, 9.0), (76.0, 0.0, 9.0)}
    assert not front.pockets


def test_the_relief_is_a_chamfer_by_hand_on_each_layer() -> None:
    back, front = sheet_layers(replace(RING, relief_mm=6.0), SheetStock((4.0, 14.0)))
    assert back.cut[1].circle == pytest.approx((0.0, 0.0, 72.0))  # 70 + 6 less 4 at 45 degrees
    assert [size for _, size in back.notes] == pytest.approx([4.0])
    assert front.cut[1].circle == pytest.approx((0.0, 0.0, 70.0))
    assert [size for _, size in front.notes] == pytest.approx([2.0])


def test_spigot_and_collar_are_layers_of_their_own() -> None:
    spec = replace(RING, spigot=Spigot(75.0, 5.0), collar=Collar(76.0, 80.0, 3.0))
    parts = sheet_layers(spec, SheetStock((9.0, 9.0)))
    assert [p.name for p in parts] == ["spigot", "layer 1 of 2", "layer 2 of 2", "collar"]
    assert [p.thickness_mm for p in parts] == [5.0, 9.0, 9.0, 3.0]
    assert parts[0].area_mm2 == pytest.approx(pi * (75.0**2 - 70.0**2), rel=1e-9)
    assert parts[3].area_mm2 == pytest.approx(pi * (80.0**2 - 76.0**2), rel=1e-9)


def test_cuts_that_run_into_each_other_share_an_edge() -> None:
    (layer,) = sheet_layers(replace(RING, notches=(Notch(0.0, 10.0, 4.0),)), SheetStock((18.0,)))
    bore = layer.cut[1]
    assert bore.circle is None
    assert bore.bounds_mm[2] == pytest.approx(74.0, abs=0.01)
    assert bore.area_mm2 == pytest.approx(pi * 70.0**2 + 10.0 * 4.0, rel=1e-3)


def test_grooves_keep_their_island_and_lettering_its_strokes() -> None:
    square = rounded_polygon([(-95.0, -95.0), (95.0, -95.0), (95.0, 95.0), (-95.0, 95.0)], 20.0)
    groove = Groove("back", "flange", 5.0, 3.0, 2.0)
    spec = replace(RING, outline=square, grooves=(groove,), lettering=Lettering("R", True, "van"))
    back, front = sheet_layers(spec, SheetStock((9.0, 9.0)))
    (pocket,) = back.pockets
    assert (pocket.face, pocket.depth_mm, len(pocket.islands)) == ("back", 2.0, 1)
    assert pocket.outline.bounds_mm[2] - pocket.islands[0].bounds_mm[2] == pytest.approx(3.0)
    assert front.engrave
    assert not back.engrave


@pytest.mark.parametrize("layers", [(9.0, 8.0), (20.0,), ()])
def test_layers_must_add_up(layers: tuple[float, ...]) -> None:
    with pytest.raises(InputError, match="18 mm"):
        sheet_layers(RING, SheetStock(layers))


def test_a_flange_that_falls_apart_is_said() -> None:
    with pytest.raises(InputError, match="pieces"):
        sheet_layers(replace(RING, notches=(Notch(0.0, 10.0, 14.0), Notch(180.0, 10.0, 14.0))), SheetStock((18.0,)))


def test_check_ring_has_every_hole_of_the_part() -> None:
    thread = Thread(0.0, 76.0, "insert", "M4", 5.6, 9.0)
    ring = check_ring(replace(RING, fixings=SCREWS, threads=(thread,)))
    assert ring.thickness_mm == 0.6
    assert set(ring.holes_mm) == {(-76.0, 0.0, 4.5), (76.0, 0.0, 4.5), (0.0, 76.0, 5.6)}
    part = flat_ring(ring)
    assert part.area_mm2 == pytest.approx(pi * (82.5**2 - 70.0**2 - 2 * 2.25**2 - 2.8**2))


def test_a_ring_is_cut_with_its_holes_and_with_notches_where_they_reach_its_edge() -> None:
    # A disc of 8.6 mm on a circle of 78 mm radius: within a band from 70.5 to 84 a hole, through one to 77.5 a notch.
    hole = ((78.0, 0.0, 8.6),)
    whole = flat_ring(RingSpec(circle(84.0), circle(70.5), 10.0, hole))
    assert (len(whole.cut), whole.drill) == (2, hole)
    cut = flat_ring(RingSpec(circle(77.5), circle(70.5), 10.0, hole))
    assert cut.drill == ()
    outer, inner = cut.cut
    assert inner.circle == (0.0, 0.0, 70.5)
    # The notch takes what disc and circle share (lens of two circles, plane geometry) off the outer disc.
    a = (78.0**2 + 77.5**2 - 4.3**2) / (2 * 78.0)
    b = 78.0 - a
    lens = 77.5**2 * acos(a / 77.5) - a * sqrt(77.5**2 - a**2) + 4.3**2 * acos(b / 4.3) - b * sqrt(4.3**2 - b**2)
    assert outer.area_mm2 == pytest.approx(pi * 77.5**2 - lens, rel=1e-4)
