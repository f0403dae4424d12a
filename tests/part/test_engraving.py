"""What is engraved stays in the land, is upright, does not touch, and is never mirrored."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
import shapely
from part.specs import full, random_spec

from backwave.part import AdapterSpec, Lettering, section
from backwave.part.engraving import inked, strokes_of
from backwave.part.features import marks
from backwave.shape import circle, ellipse


def ink(spec: AdapterSpec) -> list[shapely.Geometry]:
    return [shapely.union_all(inked(m)) for m in marks(spec).placed]


@pytest.mark.parametrize("spec", [full(), full(ellipse(100.0, 94.0)), full(circle(120.0))])
def test_marks_lie_on_the_land_apart_from_each_other_and_the_driver(spec: AdapterSpec) -> None:
    found = marks(spec)
    assert [m.text for m in found.placed] == ["up", "L", "NIGHT ROUND"]
    assert found.left_out == ()
    land = section(spec, spec.thickness_mm - 0.25)
    shapes = ink(spec)
    for k, shape in enumerate(shapes):
        assert land.buffer(-spec.least_wall_mm / 2.0).contains(shape)
        assert shape.distance(shapely.Point(0, 0)) >= spec.frame_radius_mm
        assert all(shape.distance(other) > 0.5 for other in shapes[k + 1 :])


def test_the_arrow_points_up_near_the_top() -> None:
    arrow = next(m for m in marks(full()).placed if m.text == "up")
    shaft, head = arrow.strokes_mm
    (x0, y0), (x1, y1) = shaft
    assert x0 == pytest.approx(x1)
    assert y1 > y0
    assert head[1] == pytest.approx((x1, y1))
    assert y0 > 40.0


def test_letters_are_not_mirrored_on_the_other_side() -> None:
    # An L has its foot to the right of its stem, whichever side of the vehicle it says.
    for outline in (circle(91.0), circle(91.0).mirrored()):
        side = next(m for m in marks(full(outline)).placed if m.text == "L")
        (stem_top, corner, foot) = side.strokes_mm[0]
        assert stem_top[1] > corner[1]
        assert foot[0] > corner[0]
        assert foot[1] == pytest.approx(corner[1])


def test_no_room_is_said() -> None:
    tight = replace(full(), frame_radius_mm=90.0)
    assert set(marks(tight).left_out) == {"up", "L", "NIGHT ROUND"}
    assert marks(tight).placed == ()
    assert marks(replace(full(), lettering=None)).placed == ()


def test_room_that_is_short_makes_letters_smaller_down_to_3_5_mm() -> None:
    # ISO 3098-1 heights run 1.8, 2.5, 3.5, 5, 7 ...; ours stop at 3.5 (from memory).
    heights = []
    for frame in (70.0, 82.0, 84.0):
        found = next(
            (m for m in marks(replace(full(circle(91.0)), frame_radius_mm=frame)).placed if m.text == "L"), None
        )
        assert found is not None
        ys = [y for stroke in found.strokes_mm for _, y in stroke]
        heights.append(max(ys) - min(ys))
    assert heights == sorted(heights, reverse=True)
    assert 3.5 <= heights[-1] <= heights[0] <= 7.0


def test_a_line_of_letters() -> None:
    strokes, length = strokes_of("Ab 1", 6.0)
    assert length == pytest.approx(4 * 6.0 - 2.0)
    assert min(y for s in strokes for _, y in s) == 0.0
    assert max(y for s in strokes for _, y in s) == 6.0
    assert strokes_of("ab", 6.0) == strokes_of("AB", 6.0)
    assert strokes_of("\x00", 6.0) == ((), 0.0)


def test_every_letter_and_figure_inks_to_simple_shapes() -> None:
    from backwave.part.engraving import Mark

    for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-./+":
        strokes, _ = strokes_of(letter, 5.0)
        shapes = inked(Mark(letter, strokes, 0.8))
        assert shapes, letter
        assert all(s.is_valid and s.area > 0.3 for s in shapes), letter


def test_random_parts_keep_their_marks_on_the_land() -> None:
    for seed in range(12):
        spec = replace(random_spec(np.random.default_rng(seed)), lettering=Lettering("R", True, "DEMO 1"))
        land = section(spec, spec.thickness_mm - 0.25)
        for shape in ink(spec):
            assert land.contains(shape), seed


def test_the_raster_of_a_part_of_any_size_is_bounded() -> None:
    """182 m typed for 182 mm, and lettering as tall as a house: memory, not only time."""
    tracemalloc.start()
    try:
        for outline, height in ((circle(91_000.0), 7.0), (circle(91_000.0), 40_000.0), (full().outline, 1e5)):
            spec = replace(full(outline), lettering=Lettering("L", True, "NIGHT ROUND", height))
            found = marks(spec)
            assert len(found.placed) + len(found.left_out) == 3
        assert tracemalloc.get_traced_memory()[1] < 60e6
    finally:
        tracemalloc.stop()
