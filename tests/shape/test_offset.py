"""Parallel outlines against shapely's buffer and closed forms, bands, distances."""

from __future__ import annotations

from math import hypot, pi

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.shape import Outline, band, circle, distance_mm, ellipse, offset, polygon, rounded_polygon

L_SHAPE = [(0.0, 0.0), (60.0, 0.0), (60.0, 30.0), (30.0, 30.0), (30.0, 60.0), (0.0, 60.0)]
SHAPES = {
    "circle": circle(82.5),
    "rounded": rounded_polygon([(-90, -80), (90, -80), (90, 80), (-90, 80)], 25.0),
    "square": polygon([(-40, -40), (40, -40), (40, 40), (-40, 40)]),
    "L": polygon(L_SHAPE),
    "rounded L": rounded_polygon(L_SHAPE, 6.0),
    "ellipse": ellipse(100.0, 60.0),
}


@pytest.mark.parametrize("name", SHAPES)
@settings(max_examples=25, deadline=None)
@given(out=st.floats(-12.0, 25.0).filter(lambda x: abs(x) > 1e-3))
def test_offsets_agree_with_shapely(name: str, out: float) -> None:
    shape = SHAPES[name]
    made = offset(shape, out)
    theirs = shape.polygon().buffer(out, quad_segs=96)
    assert made.area_mm2 == pytest.approx(theirs.area, rel=3e-4)
    assert shapely.hausdorff_distance(made.polygon().exterior, theirs.exterior) < 0.06


def test_offset_areas_against_steiner() -> None:
    # Steiner's formula for a convex shape: area + perimeter d + pi d^2 (any text on convex bodies).
    square = SHAPES["square"]
    assert offset(square, 3.0).area_mm2 == pytest.approx(6400.0 + 320.0 * 3.0 + pi * 9.0, rel=1e-12)
    assert offset(square, -3.0).area_mm2 == pytest.approx(74.0**2, rel=1e-12)
    assert offset(circle(50.0), -10.0).circle == pytest.approx((0.0, 0.0, 40.0))


def test_line_and_arc_rings_stay_lines_and_arcs() -> None:
    for name in ("rounded", "square", "L"):
        assert not offset(SHAPES[name], 4.0).smooth, name
        assert not offset(SHAPES[name], -4.0).smooth, name
    assert offset(SHAPES["ellipse"], -4.0).smooth


@pytest.mark.parametrize("name", SHAPES)
def test_nothing_left_is_refused(name: str) -> None:
    with pytest.raises(InputError):
        offset(SHAPES[name], -90.0)


def test_a_band_is_as_wide_as_asked() -> None:
    outer, inner = band(SHAPES["ellipse"], -4.0, 3.0)
    gap = [inner.polygon().exterior.distance(shapely.Point(p)) for p in outer.points()[::25]]
    assert gap == pytest.approx([3.0] * len(gap), abs=0.01)


@settings(deadline=None)
@given(st.floats(1, 40), st.floats(1, 40), st.floats(-90, 90), st.floats(-90, 90))
def test_distance_of_circles(ra: float, rb: float, x: float, y: float) -> None:
    a, b = circle(ra), circle(rb, x, y)
    assert distance_mm(a, b) == pytest.approx(a.polygon().exterior.distance(b.polygon().exterior), abs=0.01)
    assert distance_mm(a, b) == pytest.approx(distance_mm(b, a))
    assert distance_mm(a, circle(ra, hypot(x, y) + 2 * ra + 1.0)) == pytest.approx(hypot(x, y) + 1.0)


def test_distance_of_any_two() -> None:
    far: Outline = SHAPES["square"].moved(100.0, 0.0)
    assert distance_mm(SHAPES["square"], far) == pytest.approx(20.0)
    assert distance_mm(SHAPES["square"], SHAPES["square"].moved(50.0, 0.0)) == 0.0
    assert distance_mm(circle(10.0), SHAPES["square"]) == pytest.approx(30.0, abs=0.003)
