"""The stand-in, against solids of revolution by Pappus and shapes by hand."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from backwave.errors import BuildError
from backwave.part.fit_gauge import (
    HANDLE,
    cards,
    coded,
    gauge_depth_mm,
    half_section,
    margin_at_mm,
    split_code,
    terminal_box,
)
from backwave.part.types import StandInSpec

CAN = StandInSpec(((60.0, 0.0), (60.0, 10.0), (45.0, 10.0), (45.0, 60.0)), 20.0, 85.0)
"""A stepped driver: 60 mm radius to 10 mm, then a 45 mm can to 60 mm; seated 20 mm out of the metal."""


def test_only_what_is_behind_the_metal_is_in_it() -> None:
    # The rim's 10 mm lie before the metal: the can alone hangs 60 - 20 = 40 mm behind it.
    assert gauge_depth_mm(CAN) == 40.0
    assert half_section(CAN) == ((0.0, 0.0), (45.0, 0.0), (45.0, -40.0), (0.0, -40.0))


def test_depth_takes_the_margin_and_radius_only_what_the_hole_allows() -> None:
    spec = replace(CAN, margin_mm=5.0, growth_mm=0.7, passage_mm=3.0)
    assert gauge_depth_mm(spec) == 45.0
    # 0.7 mm wider down to 3 mm behind the metal, the can's own 45 mm below, 5 mm deeper at the end.
    corners = ((0.0, 0.0), (45.7, 0.0), (45.7, -3.0), (45.0, -3.0), (45.0, -45.0), (0.0, -45.0))
    assert half_section(spec) == corners


def test_everywhere_it_is_deeper_by_the_margin_and_no_more() -> None:
    """Against the profile itself, at many radii: a cone's dummy is the cone moved down, whatever its slope."""
    cone = StandInSpec(((70.0, 0.0), (66.0, 14.0), (46.0, 38.0), (46.0, 64.0)), 9.0, 85.0, 4.0)
    edge = half_section(cone)
    for radius in np.linspace(46.5, 69.0, 40):
        depth = float(np.interp(radius, [46.0, 66.0, 70.0], [38.0, 14.0, 0.0]))  # of the driver at that radius
        crossed = [
            z0 + (z1 - z0) * (radius - r0) / (r1 - r0)
            for (r0, z0), (r1, z1) in zip(edge, (*edge[1:], edge[0]))
            if min(r0, r1) <= radius < max(r0, r1)
        ]
        # What of the driver stands before the metal is not moved behind it: it may be wider than the hole.
        expected = 9.0 - depth - 4.0 if depth > 9.0 else 0.0
        assert min(crossed, default=0.0) == pytest.approx(expected, abs=1e-6), radius


def test_terminals_of_unknown_direction_go_all_round_and_tails_and_sectors_change_the_code() -> None:
    spec = replace(CAN, terminals_mm=(None, 34.0, 62.0, 26.0), margin_mm=2.0)
    assert terminal_box(spec) is None
    assert (62.0, -8.0) in half_section(spec)
    codes = {
        split_code(coded(one).code)
        for one in (
            spec, replace(spec, margin_mm=3.0), replace(spec, deeper=((0.0, 60.0, 5.0),)),
            replace(spec, terminals_mm=(90.0, 34.0, 62.0, 26.0)), replace(spec, tails_mm=((80.0, 0.0, 3.0, 12.0),)),
            replace(spec, profile_mm=((60.0, 0.0), (60.0, 10.0), (45.0, 10.0), (45.0, 60.1))),
        )
    }  # fmt: skip
    assert len(codes) == 6
    assert None not in codes
    letters, height = split_code(coded(spec).code) or ("", 0.0)
    assert split_code(f" {letters.lower()} - 20,0") == (letters, height)
    assert split_code(coded(replace(spec, seat_height_mm=22.5, name="other")).code) == (letters, 22.5)
    assert split_code("KO0L-20") is None


def test_a_direction_of_its_own_has_its_own_margin() -> None:
    spec = replace(CAN, margin_mm=3.0, deeper=((350.0, 60.0, 5.0),))
    assert [margin_at_mm(spec, a) for a in (349.0, 350.0, 0.0, 60.0, 61.0, 180.0)] == [3, 5, 5, 5, 3, 3]
    assert margin_at_mm(spec, None) == 5.0
    assert gauge_depth_mm(spec) == 45.0


def test_a_lower_seat_goes_deeper() -> None:
    deep = [gauge_depth_mm(replace(CAN, seat_height_mm=h)) for h in (30.0, 20.0, 5.0)]
    assert deep == [30.0, 40.0, 55.0]
    # At 5 mm the wide part reaches 10 - 5 = 5 mm behind the metal.
    assert (60.0, -5.0) in half_section(replace(CAN, seat_height_mm=5.0))


def test_a_driver_that_stays_before_the_metal_is_said() -> None:
    with pytest.raises(BuildError, match=r"5\.0 mm before the metal"):
        half_section(replace(CAN, seat_height_mm=65.0))


def test_the_card_is_the_cut_through_the_terminals() -> None:
    spec = replace(CAN, terminals_mm=(225.0, 34.0, 63.0, 26.0), margin_mm=2.0, growth_mm=1.0, passage_mm=0.0)
    assert terminal_box(spec) == (225.0, 36.0, 64.0, -8.0)
    (made,) = cards(spec)
    assert made.cut[0].bounds_mm == pytest.approx((-85.0, -42.0, 85.0, HANDLE))
    # Handle 170 x 30, can 90 x 42, terminals 8 tall from radius 45 to 64 on one half.
    assert made.area_mm2 == pytest.approx(170.0 * 30.0 + 90.0 * 42.0 + 8.0 * 19.0)


def test_screw_ends_are_on_a_card_of_their_own_as_on_the_solid() -> None:
    far = (70.0, 0.0), (-35.0, 60.6218), (-35.0, -60.6218)  # 0, 120 and 240 degrees
    spec = coded(
        replace(
            CAN, margin_mm=2.0, terminals_mm=(90.0, 34.0, 62.0, 26.0), tails_mm=tuple((x, y, 3.0, 14.0) for x, y in far)
        )
    )
    through, screw, *more = cards(spec)  # all three screws are one cut: the terminals lie beside it
    assert not more
    assert through.area_mm2 == pytest.approx(170.0 * 30.0 + 90.0 * 42.0 + 8.0 * 17.0)
    assert screw.area_mm2 == pytest.approx(170.0 * 30.0 + 90.0 * 42.0 + 3.0 * 14.0)
    assert {(68.5, -14.0), (71.5, -14.0)} <= {(x, y) for x, y in screw.cut[0].points(0.1)}
    # One at 90 degrees lies in the terminals' own cut; toward a wider glass margin the cut is another.
    deep = replace(spec, tails_mm=((0.0, 70.0, 3.0, 14.0), (70.0, 0.0, 3.0, 14.0)), deeper=((300.0, 60.0, 5.0),))
    own, beside = cards(deep)
    assert (71.5, -14.0) in own.cut[0].points(0.1)
    assert beside.cut[0].bounds_mm[1] == -45.0
    assert own.cut[0].bounds_mm[1] == -42.0


def test_the_cut_beside_the_terminals_middle_shows_what_of_their_width_lies_there() -> None:
    tails = ((60.0, 60.0, 3.0, 2.0),)  # 45 degrees from the terminals
    spec = replace(CAN, terminals_mm=(0.0, 80.0, 62.0, 26.0), tails_mm=tails)
    _, beside = cards(spec)
    reach = 40.0 / np.sin(np.pi / 4.0)  # half their width, seen along 45 degrees
    assert beside.area_mm2 == pytest.approx(
        (85.0 + 60.0 * 2**0.5 + 1.5) * 30.0 + 90.0 * 40.0 + 6.0 * (reach - 45.0) + 3.0 * 2.0
    )


@pytest.mark.parametrize("rim", [9.0, 18.0, 85.0])
def test_a_cards_code_can_be_read_and_lies_on_its_handle(rim: float) -> None:
    small = StandInSpec(((0.5 * rim, 0.0), (0.5 * rim, 30.0)), 4.0, rim, terminals_mm=(0.0, 4.0, 0.6 * rim, 20.0))
    (made,) = cards(coded(small))
    points = [p for stroke in made.engrave for p in stroke]
    low, _, high, top = made.cut[0].bounds_mm
    assert all(low + 0.5 < x < high - 0.5 and 1.0 < y < top - 1.0 for x, y in points)
    heights = [y for _, y in points if y > 0.55 * HANDLE]
    assert max(heights) - min(heights) >= 3.0


@pytest.mark.kernel
@pytest.mark.slow
@pytest.mark.parametrize(("rim", "least"), [(9.0, 2.5), (18.0, 3.0), (60.0, 7.0)])
def test_the_code_in_the_plate_can_be_read_on_the_smallest_dummy(rim: float, least: float) -> None:
    from backwave.part.fit_gauge import DEEP, build_standin

    small = coded(StandInSpec(((0.5 * rim, 0.0), (0.5 * rim, 30.0)), 4.0, rim))
    made = build_standin(small).solid
    boxes = [f.bounding_box() for f in made.faces()]
    walls = [b for b in boxes if abs(b.max.Z - 3.0) + abs(b.min.Z - 3.0 + DEEP) < 1e-6]
    for half in (1.0, -1.0):  # the letters above the middle, the stand-off below it
        ends = [y for b in walls for y in (b.min.Y, b.max.Y) if half * (b.min.Y + b.max.Y) > 0.0]
        assert least <= max(ends) - min(ends) <= 9.0


def test_terminals_before_the_metal_are_not_in_it() -> None:
    assert terminal_box(replace(CAN, terminals_mm=(0.0, 30.0, 60.0, 15.0))) is None


@pytest.mark.kernel
@pytest.mark.slow
def test_the_solid_has_the_volume_of_the_turned_section() -> None:
    from backwave.part.fit_gauge import SIGHT, build_standin
    from backwave.part.solid import mesh

    spec = replace(CAN, margin_mm=3.0)
    made = build_standin(spec).solid
    # Plate pi 85^2 3, can pi 45^2 43, less the hole to look through.
    whole = pi * (85.0**2 * 3.0 + 45.0**2 * 43.0 - SIGHT**2 * 46.0)
    assert made.volume == pytest.approx(whole, rel=1e-9)
    assert mesh(made).closed
    cone = StandInSpec(((50.0, 0.0), (20.0, 60.0)), 0.0, 60.0)
    frustum = pi * 60.0 / 3.0 * (50.0**2 + 50.0 * 20.0 + 20.0**2)  # pi h / 3 (R^2 + R r + r^2)
    plate = pi * 60.0**2 * 3.0
    assert build_standin(cone).solid.volume == pytest.approx(plate + frustum - pi * SIGHT**2 * 63.0, rel=1e-9)


@pytest.mark.kernel
@pytest.mark.slow
def test_terminals_point_where_they_do() -> None:
    from backwave.part.fit_gauge import build_standin

    box = build_standin(replace(CAN, rim_mm=46.0, terminals_mm=(90.0, 30.0, 70.0, 30.0))).solid.bounding_box()
    assert tuple(box.min) == pytest.approx((-46.0, -46.0, -40.0))
    assert tuple(box.max) == pytest.approx((46.0, 70.0, 3.0))


@pytest.mark.kernel
@pytest.mark.slow
def test_sectors_tails_and_the_code_are_on_the_solid() -> None:
    from backwave.part.fit_gauge import DEEP, build_standin
    from backwave.part.solid import mesh

    plain = build_standin(replace(CAN, margin_mm=3.0)).solid
    sector = build_standin(replace(CAN, margin_mm=3.0, deeper=((0.0, 90.0, 5.0),))).solid
    # A quarter of the can is 2 mm deeper; the hole to look through takes its quarter.
    assert sector.volume - plain.volume == pytest.approx(pi / 4.0 * (45.0**2 - 8.0**2) * 2.0, rel=1e-6)
    tails = build_standin(replace(CAN, margin_mm=3.0, tails_mm=((70.0, 0.0, 3.0, 14.0),))).solid
    assert tails.volume - plain.volume == pytest.approx(pi * 1.5**2 * 14.0, rel=1e-6)
    marked = build_standin(coded(replace(CAN, margin_mm=3.0)))
    cut = plain.volume - marked.solid.volume
    assert 20.0 < cut / DEEP < 400.0  # square millimeters of strokes
    assert mesh(marked.solid).closed
