"""The display list and its SVG."""

from __future__ import annotations

import itertools
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, Polygon, box

from backwave.drawing.callouts import spread
from backwave.drawing.dimensions import hatch
from backwave.drawing.sheet import BoxStroke, Sheet, circle_points, clip, overlaps, to_svg

coordinate = st.floats(-200, 200).map(lambda v: round(v, 3))
points = st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=12)


def test_it_is_found_when_texts_touch_or_leave() -> None:
    s = Sheet(200, 100, "x")
    s.words(10, 30, "first", "label")
    assert overlaps(s) == []
    s.words(30, 33, "second", "label")
    assert overlaps(s) == ["'first' overlaps 'second'"]
    s.words(190, 80, "third", "label")
    assert overlaps(s)[1:] == ["'third' leaves the sheet"]


@given(st.text())
def test_what_people_write_stays_text(text: str) -> None:
    s = Sheet(100, 100, text)
    s.words(1, 50, text + "<script>&\"'", "label")
    root = ElementTree.fromstring(to_svg(s))
    (node,) = root.iter("{http://www.w3.org/2000/svg}text")
    assert (node.text or "").endswith("<script>&\"'")
    assert not list(node)
    assert not [n for n in root.iter() if n.tag.endswith("script")]


def test_an_arc_goes_counterclockwise_as_seen() -> None:
    from backwave.drawing.sheet import ArcStroke

    s = Sheet(100, 100)
    s.marks.append(ArcStroke(50, 50, 10, 0, 90, "line"))
    assert 'd="M60 50A10 10 0 0 0 50 40"' in to_svg(s)  # from the right to the top; SVG 2, 9.3.8: sweep 0


@given(points, st.floats(2, 20), st.floats(0, 180))
def test_hatching_lies_inside_and_covers(outline: list[tuple[float, float]], spacing: float, angle: float) -> None:
    shape = Polygon(outline) if len(outline) > 2 else Polygon()
    if not shape.is_valid or shape.area < 100 * spacing:
        return
    lines = MultiLineString([LineString(seg) for seg in hatch([outline], spacing, angle)])
    assert shape.buffer(1e-6).covers(lines)  # shapely as the judge
    # Cavalieri: the chords times their distance add up to the area, but for the two ends.
    assert lines.length * spacing == pytest.approx(shape.area, abs=spacing * shape.length)


def test_hatching_of_a_square_adds_up() -> None:
    square = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
    hole = [(30.0, 30.0), (70.0, 30.0), (70.0, 70.0), (30.0, 70.0)]
    total = sum(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in hatch([square, hole], 0.5))
    assert total * 0.5 == pytest.approx(100**2 - 40**2, rel=1e-3)  # closed form


def test_one_part_cut_twice_is_hatched_alike() -> None:
    # ISO 128-3: hatching of all cuts of one part runs alike; the lines of a moved window are the same lines.
    a = hatch([[(0.0, 0.0), (60.0, 0.0), (60.0, 30.0), (0.0, 30.0)]], 6.0)
    b = hatch([[(0.0, 30.0), (60.0, 30.0), (60.0, 60.0), (0.0, 60.0)]], 6.0)
    levels = [{round((x + y) / (6.0 * 2**0.5), 6) for (x, y), _ in lines} for lines in (a, b)]
    assert all(abs(level % 1 - 0.5013) < 1e-5 for level in levels[0] | levels[1])


@given(points)
def test_clipping_is_what_geometry_says(run: list[tuple[float, float]]) -> None:
    window = BoxStroke(-60, -40, 80, 90)
    got = sum(LineString(part).length for part in clip(run, window) if len(part) > 1)
    segments = [LineString(pair) for pair in itertools.pairwise(run)]
    want = sum(seg.intersection(box(-60, -40, 80, 90)).length for seg in segments)  # shapely, segment by segment
    assert got == pytest.approx(want, abs=1e-6)


def test_a_circle_of_lines_is_round() -> None:
    area = Polygon(circle_points(3, 4, 50, 0.01)).area
    assert area == pytest.approx(np.pi * 50**2, rel=5e-4)


@given(st.lists(st.tuples(st.floats(-100, 500), st.floats(5, 60)), max_size=15))
def test_blocks_are_spread_without_touching(blocks: list[tuple[float, float]]) -> None:
    blocks = sorted(blocks)
    tops = spread([w for w, _ in blocks], [h for _, h in blocks], 0.0, 4.0)
    assert all(top >= 0 for top in tops)
    for (_, height), top, following in zip(blocks, tops, tops[1:]):
        assert following >= top + height + 4.0 - 1e-6


def test_blocks_with_room_stay_where_they_want_to_be() -> None:
    assert spread([10.0, 50.0, 100.0], [20.0, 20.0, 20.0], 0.0, 5.0) == [10.0, 50.0, 100.0]
    # Two that want one place share it evenly (least squares).
    assert spread([50.0, 50.0], [20.0, 20.0], 0.0, 0.0) == [40.0, 60.0]
