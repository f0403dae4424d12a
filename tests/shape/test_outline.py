"""Outlines: exact areas and centers, points on the curve, what lies inside, mirrored and turned."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.shape import Outline, circle, ellipse, measured, path, polygon, rounded_polygon, smooth, within_reach
from backwave.uncertainty import Error, Reading

radii = st.floats(2.0, 300.0)
places = st.floats(-200.0, 200.0)


@st.composite
def rings(draw: st.DrawFn) -> Outline:
    """Star-shaped rings of points, as lines or as a smooth run; never crossing themselves."""
    count = draw(st.integers(12, 40))
    mean = draw(st.floats(40.0, 120.0))
    bumps = draw(st.lists(st.floats(-0.12, 0.12), min_size=4, max_size=4))
    turn = np.linspace(0.0, 2.0 * pi, count, endpoint=False)
    r = mean * (1.0 + sum(b * np.cos((k + 1) * turn) for k, b in enumerate(bumps)) / 2.0)
    ring = np.column_stack((r * np.cos(turn), r * np.sin(turn)))
    return smooth(ring) if draw(st.booleans()) else polygon(ring)


@settings(deadline=None)
@given(radii, places, places)
def test_a_circle_is_a_circle(r: float, x: float, y: float) -> None:
    c = circle(r, x, y)
    # Closed form: pi r^2, its center, its box.
    assert c.area_mm2 == pytest.approx(pi * r * r, rel=1e-12)
    assert c.bounds_mm == pytest.approx((x - r, y - r, x + r, y + r), abs=1e-9)
    assert c.circle == pytest.approx((x, y, r), abs=1e-9)


def test_areas_against_closed_forms() -> None:
    # Half disk, radius 30: area pi r^2 / 2.
    half = path([(30.0, 0.0, 1.0), (-30.0, 0.0, 0.0)])
    assert half.area_mm2 == pytest.approx(pi * 900.0 / 2.0, rel=1e-12)
    # Regular hexagon of side a: 3 sqrt(3) / 2 a^2.
    six = polygon([(20.0 * cos(radians(60 * k)), 20.0 * sin(radians(60 * k))) for k in range(6)])
    assert six.area_mm2 == pytest.approx(1.5 * sqrt(3.0) * 400.0, rel=1e-12)
    # A rounded rectangle loses (4 - pi) r^2 at its corners.
    box = rounded_polygon([(-50, -30), (50, -30), (50, 30), (-50, 30)], 10.0)
    assert box.area_mm2 == pytest.approx(100.0 * 60.0 - (4.0 - pi) * 100.0, rel=1e-12)
    assert polygon([(0, 0), (60, 0), (0, 30)]).area_mm2 == pytest.approx(900.0)


def test_circle_through_three_points_and_from_chord_and_sagitta() -> None:
    # design checks: circle through (0,0), (100,0), (30,60) has center (50, 12.5), R = 51.538820 (algebra);
    # chord 100 with sagitta 20 has R = c^2/(8 s) + s/2 = 72.5 (geometry).
    bow = path([(0.0, 0.0, -20.0 / 50.0), (100.0, 0.0, 0.0), (50.0, -80.0, 0.0)])
    arc = next(a for _, _, a in bow.edges() if a is not None)
    assert arc.radius_mm == pytest.approx(72.5, abs=1e-9)
    ring = np.hypot(*(np.array([(0, 0), (100, 0), (30, 60)]) - (50.0, 12.5)).T)
    assert circle(51.538820, 50.0, 12.5).circle == pytest.approx((50.0, 12.5, ring.mean()), abs=1e-6)


def test_an_ellipse_is_one_to_a_micrometer() -> None:
    e = ellipse(100.0, 60.0)
    assert e.area_mm2 == pytest.approx(pi * 6000.0, rel=1e-6)
    x, y = e.points(0.0005).T
    off = (np.hypot(x / 100.0, y / 60.0) - 1.0) * 60.0
    assert np.abs(off).max() < 1e-3


def test_a_smooth_run_goes_through_its_points_and_is_smooth() -> None:
    turn = np.linspace(0.0, 2.0 * pi, 16, endpoint=False)
    ring = np.column_stack((80.0 * np.cos(turn) + 5.0 * np.cos(3 * turn), 70.0 * np.sin(turn)))
    run = smooth(ring)
    h, c = run.cubics
    # Value, slope and bend at the end of each cubic are those at the start of the next (what makes it a spline).
    t = h[:, None]
    end = c[:, 0] + t * (c[:, 1] + t * (c[:, 2] + t * c[:, 3]))
    slope, bend = c[:, 1] + t * (2 * c[:, 2] + 3 * t * c[:, 3]), 2 * c[:, 2] + 6 * t * c[:, 3]
    for here, there in ((end, c[:, 0]), (slope, c[:, 1]), (bend, 2 * c[:, 2])):
        assert np.allclose(here, np.roll(there, -1, axis=0), atol=1e-9)
    # scipy's periodic spline through the same points with the same parameters is an independent writing of it.
    from scipy.interpolate import CubicSpline

    at = np.concatenate(([0.0], np.cumsum(h)))
    theirs = CubicSpline(at, np.vstack((c[:, 0], c[:1, 0])), bc_type="periodic")
    middle = (at[:-1] + at[1:]) / 2.0
    ours = c[:, 0] + t / 2 * (c[:, 1] + t / 2 * (c[:, 2] + t / 2 * c[:, 3]))
    assert np.allclose(theirs(middle), ours, atol=1e-9)


@settings(deadline=None)
@given(rings())
def test_the_exact_area_agrees_with_shapely(ring: Outline) -> None:
    fine = ring.polygon(0.0005)
    assert ring.area_mm2 == pytest.approx(fine.area, rel=1e-4)


@settings(deadline=None)
@given(rings(), st.floats(-180.0, 180.0), places, places)
def test_mirrored_turned_and_moved_keep_the_area(ring: Outline, angle: float, dx: float, dy: float) -> None:
    for other in (ring.mirrored(), ring.turned(angle), ring.moved(dx, dy)):
        assert other.area_mm2 == pytest.approx(ring.area_mm2, rel=1e-9)
    assert sorted(ring.mirrored().mirrored().vertices_mm) == sorted(ring.vertices_mm)
    left, low, right, high = ring.bounds_mm
    assert ring.mirrored().bounds_mm == pytest.approx((-right, low, -left, high), abs=1e-6)
    assert ring.moved(dx, dy).bounds_mm == pytest.approx((left + dx, low + dy, right + dx, high + dy), abs=1e-6)


def test_mirroring_swaps_left_and_right_and_keeps_arcs() -> None:
    d = path([(0.0, -40.0, 1.0), (0.0, 40.0, 0.0)])  # bulges to the right
    assert d.contains(30.0, 0.0)
    assert not d.contains(-5.0, 0.0)
    assert d.mirrored().contains(-30.0, 0.0)
    assert d.mirrored().area_mm2 == pytest.approx(d.area_mm2, rel=1e-12)
    assert d.mirrored().edges()[0][2] is not None or d.mirrored().edges()[1][2] is not None


@settings(deadline=None)
@given(rings(), places, places)
def test_inside_is_what_shapely_says(ring: Outline, x: float, y: float) -> None:
    import shapely

    inside, fine = ring.inside_mm(x, y), ring.polygon()
    spot = shapely.Point(x, y)
    assert (inside > 0.0) == fine.contains(spot)
    assert abs(inside) == pytest.approx(fine.exterior.distance(spot), abs=1e-9)


def test_points_with_corners_stay_a_polygon_and_many_become_a_run() -> None:
    assert not measured([(0, 0), (80, 0), (80, 50), (0, 50)]).smooth
    turn = np.linspace(0.0, 2.0 * pi, 12, endpoint=False)
    assert measured(np.column_stack((70 * np.cos(turn), 70 * np.sin(turn)))).smooth
    turn = np.linspace(0.0, 2.0 * pi, 700, endpoint=False)
    traced = measured(np.column_stack((80 * np.cos(turn), 60 * np.sin(turn))))
    assert traced.smooth
    assert len(traced.vertices_mm) == 90
    # TOOLS: 60 to 90 points hold a traced ring to 0.004 mm; thinning follows the chords of the trace besides.
    x, y = traced.points().T
    assert np.abs(np.hypot(x / 80.0, y / 60.0) - 1.0).max() * 60.0 < 0.01


@pytest.mark.parametrize(
    ("vertices", "found"),
    [
        (((0, 0, 0), (1, 0, 0)), "three or more"),
        (((0, 0, 0), (10, 0, 0), (20, 0, 0)), "encloses"),
        (((0, 0, 0), (10, 12, 0), (10, 0, 0), (0, 10, 0)), "cross"),
        (((0, 0, 0), (10, 0, 0), (float("nan"), 5, 0)), "millimeters"),
        (((0, 0, 0), (0, 0, 0), (10, 0, 0), (0, 10, 0)), "differ"),
    ],
)
def test_what_is_no_outline_is_refused(vertices: tuple[tuple[float, float, float], ...], found: str) -> None:
    with pytest.raises(InputError, match=found):
        Outline(vertices)


def test_clockwise_points_are_turned_round() -> None:
    there, back = polygon([(0, 0), (10, 0), (10, 10)]), polygon([(10, 10), (10, 0), (0, 0)])
    assert there.area_mm2 == back.area_mm2 == pytest.approx(50.0)


def test_a_corner_radius_too_large_for_its_edges_is_refused() -> None:
    with pytest.raises(InputError, match="corner radius"):
        rounded_polygon([(0, 0), (10, 0), (10, 10), (0, 10)], 5.5)
    assert rounded_polygon([(0, 0), (10, 0), (10, 10), (0, 10)], 5.0).area_mm2 == pytest.approx(pi * 25.0)


@pytest.mark.parametrize("radius", [1e-6, 0.001, 91.0, 91_000.0, 999_000.0])
def test_points_along_it_are_a_bounded_number_at_any_size(radius: float) -> None:
    ring = circle(radius).points()
    assert 4 <= len(ring) <= 8192
    assert np.hypot(*ring.T) == pytest.approx(radius)
    between = (ring + np.roll(ring, -1, axis=0)) / 2.0
    assert (radius - np.hypot(*between.T)).max() < max(0.002, 3e-7 * radius) + 1e-9


@pytest.mark.parametrize("far", [2e6, 1e300, float("inf"), float("nan")])
def test_what_reaches_beyond_a_kilometer_is_refused_in_words(far: float) -> None:
    with pytest.raises(InputError, match=r"outline|radius"):
        circle(far)
    with pytest.raises(InputError, match="outline"):
        polygon([(0.0, 0.0), (100.0, 0.0), (100.0, far)])


@dataclass(frozen=True)
class Held:
    """Of the test."""

    radius_mm: object
    turn_deg: float = 1e9


@pytest.mark.parametrize(
    "length", [1e7, -1e7, float("nan"), Reading("r", 1e300), Reading("r", 1.0, (Error("e", "normal", 1e300),)),
               np.array([1.0, np.inf]), ((1.0, 2e6), (0.0, 0.0))],
)  # fmt: skip
def test_a_length_is_looked_at_wherever_it_stands(length: object) -> None:
    with pytest.raises(InputError, match="driver: radius"):
        within_reach("driver", Held(length))
    within_reach(
        "driver", (Held(70.0), Held(None), Held(Reading("r", 70.0)), Held(np.array([1.0, 2.0])), "words", True)
    )
